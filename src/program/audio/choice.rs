//! Which microphone or output a person means. Pure: looks at names only.

use std::fmt;

/// A device as the user chose it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum DeviceChoice {
    /// Whatever the system uses when nobody says anything.
    #[default]
    SystemDefault,
    /// The device with this id or name, or the only one whose name contains this.
    Named(String),
}

impl DeviceChoice {
    /// From a setting: nothing, blank or `default` is the system's choice.
    pub fn from_setting(setting: Option<&str>) -> Self {
        match setting.map(str::trim) {
            None | Some("" | "default") => DeviceChoice::SystemDefault,
            Some(name) => DeviceChoice::Named(name.to_owned()),
        }
    }
}

impl fmt::Display for DeviceChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            DeviceChoice::SystemDefault => f.write_str("the system's default"),
            DeviceChoice::Named(name) => f.write_str(name),
        }
    }
}

/// A device that the sound system lists.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Unique, stable, and what to put in the settings.
    pub id: String,
    /// For people.
    pub name: String,
}

/// Why a name does not choose a device.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChoiceError {
    /// No device has this in its name.
    #[error("no sound device is called {wanted:?}. There are: {}", listed(.there))]
    Unknown {
        /// What was asked for.
        wanted: String,
        /// Ids of what is there.
        there: Vec<String>,
    },
    /// More than one device has this in its name.
    #[error("{wanted:?} could be any of {}. Give the whole name of one of them", listed(.fits))]
    Ambiguous {
        /// What was asked for.
        wanted: String,
        /// Ids of what it could be.
        fits: Vec<String>,
    },
}

fn listed(ids: &[String]) -> String {
    if ids.is_empty() { "none".to_owned() } else { ids.join(", ") }
}

/// The place in `devices` of the one that `wanted` means: by id, else by whole name, else by part of
/// either. Capitals do not matter.
///
/// # Errors
/// [`ChoiceError`] when none or several fit equally well.
pub fn choose(devices: &[Device], wanted: &str) -> Result<usize, ChoiceError> {
    let low = wanted.to_lowercase();
    let tests: [&dyn Fn(&Device) -> bool; 4] = [
        &|d| d.id == wanted,
        &|d| d.id.to_lowercase() == low || d.name.to_lowercase() == low,
        &|d| d.id.to_lowercase().contains(&low),
        &|d| d.name.to_lowercase().contains(&low),
    ];
    for fits in tests {
        let found: Vec<usize> = (0..devices.len()).filter(|i| fits(&devices[*i])).collect();
        match found[..] {
            [] => {}
            [one] => return Ok(one),
            _ => {
                let fits = found.iter().map(|i| devices[*i].id.clone()).collect();
                return Err(ChoiceError::Ambiguous { wanted: wanted.to_owned(), fits });
            }
        }
    }
    let there = devices.iter().map(|d| d.id.clone()).collect();
    Err(ChoiceError::Unknown { wanted: wanted.to_owned(), there })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn devices() -> Vec<Device> {
        [
            ("pulse", "Sound Server"),
            ("hw:CARD=USB", "Desk Microphone"),
            ("plughw:CARD=USB", "Desk Microphone"),
        ]
        .map(|(id, name)| Device { id: id.to_owned(), name: name.to_owned() })
        .to_vec()
    }

    #[test]
    fn an_id_a_name_or_a_part_chooses() {
        assert_eq!(
            choose(&devices(), "hw:CARD=USB"),
            Ok(1),
            "an exact id before a part of another"
        );
        assert_eq!(choose(&devices(), "sound server"), Ok(0));
        assert_eq!(choose(&devices(), "server"), Ok(0));
        assert_eq!(choose(&devices(), "plug"), Ok(2));
    }

    #[test]
    fn a_name_that_fits_none_or_many_lists_what_there_is() {
        let unknown = choose(&devices(), "headset").unwrap_err().to_string();
        assert_eq!(
            unknown,
            "no sound device is called \"headset\". There are: pulse, hw:CARD=USB, plughw:CARD=USB"
        );
        let ambiguous = choose(&devices(), "Desk Microphone").unwrap_err().to_string();
        assert!(ambiguous.ends_with("Give the whole name of one of them"), "{ambiguous}");
        assert!(choose(&[], "a").unwrap_err().to_string().ends_with("There are: none"));
    }

    #[test]
    fn blank_settings_mean_the_systems_choice() {
        for setting in [None, Some(""), Some(" default ")] {
            assert_eq!(DeviceChoice::from_setting(setting), DeviceChoice::SystemDefault);
        }
        assert_eq!(DeviceChoice::from_setting(Some("usb ")), DeviceChoice::Named("usb".to_owned()));
    }
}
