//! Keys of a terminal, one by one, with the time of each: for one switch, and for typed words beside it.

use std::io::{self, IsTerminal, Read};

use rustix::termios::{LocalModes, OptionalActions, Termios, tcgetattr, tcsetattr};
use tokio::sync::mpsc::UnboundedSender;

use crate::clock::Clock;
use crate::run::Typed;

/// Enter as it comes from a terminal.
const ENTER: [u8; 2] = *b"\n\r";
const ERASE: [u8; 2] = [0x08, 0x7f];
const END: u8 = 0x04;
const ESCAPE: u8 = 0x1b;

/// A terminal that gives every key at once; it is put back as it was when this is dropped.
pub(super) struct Keys {
    before: Termios,
}

impl Keys {
    /// Reads the terminal of the standard input key by key; `None` if that is not a terminal, or cannot be changed.
    /// Ctrl-C works as ever, and so does what is printed.
    pub(super) fn open(clock: Clock, tell: UnboundedSender<Typed>) -> Option<Self> {
        let stdin = io::stdin();
        if !stdin.is_terminal() {
            return None;
        }
        let before = tcgetattr(&stdin).ok()?;
        let mut ours = before.clone();
        ours.local_modes -= LocalModes::ICANON | LocalModes::ECHO;
        tcsetattr(&stdin, OptionalActions::Now, &ours).ok()?;
        std::thread::spawn(move || read(io::stdin(), &clock, &tell));
        Some(Keys { before })
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        // A terminal that has gone away needs no mending.
        let _gone = tcsetattr(io::stdin(), OptionalActions::Now, &self.before);
    }
}

fn read(mut from: impl Read, clock: &Clock, tell: &UnboundedSender<Typed>) {
    let mut typing = Typing::default();
    let mut block = [0; 64];
    while let Ok(count @ 1..) = from.read(&mut block) {
        let at = clock.now();
        for typed in typing.take(&block[..count], at) {
            if tell.send(typed).is_err() {
                return;
            }
        }
        if block[..count].contains(&END) {
            return;
        }
    }
}

/// What is being typed. A key that begins no word is the switch: Enter, the space bar, and whatever sends more than
/// a letter, such as arrows, page and function keys.
#[derive(Debug, Default)]
struct Typing {
    line: Vec<u8>,
}

impl Typing {
    fn take(&mut self, mut bytes: &[u8], at: std::time::Duration) -> Vec<Typed> {
        let mut out = Vec::new();
        while let Some((&byte, rest)) = bytes.split_first() {
            bytes = rest;
            match byte {
                ESCAPE => {
                    bytes = after_escape(rest);
                    out.push(Typed::Key(at));
                }
                b' ' if self.line.is_empty() => out.push(Typed::Key(at)),
                enter if ENTER.contains(&enter) && self.line.is_empty() => {
                    out.push(Typed::Key(at));
                }
                enter if ENTER.contains(&enter) => {
                    out.push(Typed::Line(self.text()));
                    self.line.clear();
                }
                erase if ERASE.contains(&erase) => {
                    // A letter may be several bytes: those that only go on belong to it.
                    while self.line.pop().is_some_and(|byte| byte & 0xc0 == 0x80) {}
                    out.push(Typed::Draft(self.text()));
                }
                control if control < b' ' => {}
                letter => {
                    self.line.push(letter);
                    out.push(Typed::Draft(self.text()));
                }
            }
        }
        out
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.line).into_owned()
    }
}

/// What comes after the rest of one key's sequence (ECMA-48: a letter or `~` ends it).
fn after_escape(rest: &[u8]) -> &[u8] {
    match rest {
        [b'[', more @ ..] => {
            let end = more.iter().position(|byte| (0x40..=0x7e).contains(byte));
            end.map_or(&[], |end| &more[end + 1..])
        }
        [b'O', _, more @ ..] => more,
        _ => rest,
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn taken(bytes: &[u8]) -> Vec<Typed> {
        Typing::default().take(bytes, Duration::ZERO)
    }

    #[test]
    fn keys_that_begin_no_word_are_the_switch() {
        let key = Typed::Key(Duration::ZERO);
        for bytes in [b"\n".as_slice(), b"\r", b" ", b"\x1b[5~", b"\x1b[A", b"\x1bOP", b"\x1b"] {
            assert_eq!(taken(bytes), std::slice::from_ref(&key), "{bytes:?}");
        }
        assert_eq!(taken(b"\x1b[6~\n").len(), 2);
        assert!(taken(b"\x01\x04").is_empty());
    }

    #[test]
    fn letters_make_a_line_that_can_be_mended() {
        let typed = taken("stäp\x7f\x7fep up\n".as_bytes());
        assert_eq!(typed.last(), Some(&Typed::Line("step up".into())));
        assert!(typed.contains(&Typed::Draft("st".into())));
        assert!(
            !typed.iter().any(|typed| matches!(typed, Typed::Key(_))),
            "the space is in a word"
        );
    }
}
