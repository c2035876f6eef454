//! `hushtally devices`

use super::Failure;
use crate::audio::choice::Device;
use crate::audio::device::{Direction, list};
use crate::terminal::say;

/// Entries of the Linux sound system that are parts or plugs of other devices, and no use to a person.
const NO_USE: [&str; 19] = [
    "center_lfe",
    "dmix",
    "dsnoop",
    "front",
    "hw:",
    "iec958",
    "jack",
    "lavrate",
    "modem",
    "null",
    "oss",
    "phoneline",
    "rear",
    "samplerate",
    "side",
    "speex",
    "surround",
    "upmix",
    "vdownmix",
];

pub(super) fn run() -> Result<(), Failure> {
    for (direction, title) in
        [(Direction::Input, "Microphones (--mic):"), (Direction::Output, "Outputs (--ear):")]
    {
        say!("{title}");
        match list(direction) {
            Ok(devices) => lines(devices).iter().for_each(|line| say!("  {line}")),
            Err(error) => say!("  {error}"),
        }
    }
    Ok(())
}

/// Those that can be chosen with use, the one that is used when nobody chooses first.
pub(super) fn useful(mut devices: Vec<Device>) -> Vec<Device> {
    devices.retain(|device| !NO_USE.iter().any(|start| device.id.starts_with(start)));
    devices.sort_by_key(|device| device.id != "default");
    devices
}

/// A line for each useful device, the one that is used when nobody chooses first.
fn lines(devices: Vec<Device>) -> Vec<String> {
    let devices = useful(devices);
    if devices.is_empty() {
        return vec!["none; plug one in, or start the sound server".to_owned()];
    }
    let line = |device: &Device| match device.id.as_str() {
        "default" => "default   used unless you choose another".to_owned(),
        id if id == device.name => id.to_owned(),
        id => format!("{id}   {}", device.name),
    };
    devices.iter().map(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_can_be_chosen_with_use_is_listed_and_the_default_comes_first() {
        let device = |id: &str, name: &str| Device { id: id.to_owned(), name: name.to_owned() };
        let there = vec![
            device("null", "Discard all samples"),
            device("surround51:CARD=PCH", "Built-in"),
            device("plughw:CARD=USB", "Headset"),
            device("default", "Default Audio Device"),
        ];
        let expected = ["default   used unless you choose another", "plughw:CARD=USB   Headset"];
        assert_eq!(lines(there), expected);
        assert_eq!(lines(Vec::new()).len(), 1);
    }
}
