//! A MIDI pedal, pad or keyboard as the one switch: the bytes of its device file, read on a thread of their own.

use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use midi_convert::midi_types::MidiMessage;
use midi_convert::parse::MidiParser;
use minijinja::context;
use tokio::sync::mpsc::UnboundedSender;

use crate::clock::Clock;
use crate::run::Typed;
use crate::wording::filled;

/// A device that was pulled out is looked for again this often.
const AGAIN: Duration = Duration::from_secs(1);
/// A controller is down from here on (MIDI 1.0 Detailed Specification, on switch controllers 64 to 69, from memory).
const DOWN_FROM: u8 = 64;
/// From here on controllers are mode messages, which no foot sends.
const MODES_FROM: u8 = 120;

/// Reads the pedal from now on. What it reports goes the way of typed keys.
pub(super) fn start(path: PathBuf, clock: Clock, tell: UnboundedSender<Typed>) {
    std::thread::spawn(move || {
        let mut told = String::new();
        while !tell.is_closed() {
            // Its end means that it was pulled out.
            match File::open(&path).and_then(|device| read(device, &clock, &tell)) {
                Ok(()) => told.clear(),
                Err(error) => {
                    let trouble = trouble(&path, &error);
                    if trouble != told && tell.send(Typed::Trouble(trouble.clone())).is_err() {
                        return;
                    }
                    told = trouble;
                }
            }
            std::thread::sleep(AGAIN);
        }
    });
}

fn trouble(path: &Path, error: &io::Error) -> String {
    let values = context! { path => path.display().to_string(), error => error.to_string() };
    filled("screen.no_pedal", values)
}

fn read(mut from: impl Read, clock: &Clock, tell: &UnboundedSender<Typed>) -> io::Result<()> {
    let mut contact = Contact::default();
    let mut block = [0; 64];
    loop {
        let count = from.read(&mut block)?;
        let at = clock.now();
        let mut changes: Vec<bool> =
            block[..count].iter().filter_map(|byte| contact.take(*byte)).collect();
        if count == 0 && contact.down {
            // One that is pulled out while it is down comes up.
            changes.push(false);
        }
        for down in changes {
            if tell.send(Typed::Pedal { down, at }).is_err() {
                return Ok(());
            }
        }
        if count == 0 {
            return Ok(());
        }
    }
}

/// One contact, made of whatever is pressed: any note, any controller.
#[derive(Debug, Default)]
struct Contact {
    parser: MidiParser,
    down: bool,
}

impl Contact {
    /// Takes a byte of the stream; returns whether it went down or came up by it.
    fn take(&mut self, byte: u8) -> Option<bool> {
        let down = match self.parser.parse(byte)? {
            MidiMessage::NoteOn(_, _, velocity) => u8::from(velocity) > 0,
            MidiMessage::NoteOff(..) => false,
            MidiMessage::ControlChange(_, control, value) if u8::from(control) < MODES_FROM => {
                u8::from(value) >= DOWN_FROM
            }
            _ => return None,
        };
        (std::mem::replace(&mut self.down, down) != down).then_some(down)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn changes(bytes: &[u8]) -> Vec<bool> {
        let mut contact = Contact::default();
        bytes.iter().filter_map(|byte| contact.take(*byte)).collect()
    }

    #[test]
    fn notes_and_controllers_go_down_and_come_up() {
        assert_eq!(changes(&[0x90, 60, 100, 0x80, 60, 0]), [true, false]);
        // Running status, a clock within a message, and a note on of no velocity for its end.
        assert_eq!(changes(&[0x93, 60, 0xf8, 1, 60, 0, 60, 90]), [true, false, true]);
        assert_eq!(changes(&[0xb0, 64, 127, 64, 0]), [true, false]);
    }

    #[test]
    fn half_way_counts_once_and_other_messages_are_not_a_switch() {
        assert_eq!(changes(&[0xb0, 4, 10, 4, 63, 4, 64, 4, 90, 4, 127, 4, 63]), [true, false]);
        let others = [0xfe, 0xf8, 0xc0, 5, 0xe0, 0, 64, 0xd0, 99, 0xb0, 122, 127, 0xf0, 1, 2, 0xf7];
        assert!(changes(&others).is_empty());
    }

    proptest::proptest! {
        #[test]
        fn whatever_comes_down_and_up_alternate(bytes in proptest::collection::vec(0u8.., 0..300)) {
            let changes = changes(&bytes);
            proptest::prop_assert!(changes.iter().step_by(2).all(|down| *down));
            proptest::prop_assert!(changes.iter().skip(1).step_by(2).all(|down| !*down));
        }
    }
}
