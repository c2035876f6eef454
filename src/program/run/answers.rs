//! Answers to questions outside a session: heard, pressed or typed.

use std::time::Duration;

use super::typed::understood;
use super::{Desk, Typed};
use crate::hear::{Doubt, Heard};
use crate::interpret::pedal::Switches;
use crate::interpret::switch::{Press, Pressed};
use crate::interpret::{Details, Said};
use crate::plan::{Command, Words};

/// An answer, and when it began by the steady clock.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Answer {
    pub(super) at: Duration,
    pub(super) what: What,
}

/// How an answer came.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum What {
    /// Heard.
    Heard { said: Said, words: String },
    /// By a key or a line.
    Keyed { said: Said, words: String },
    /// Heard by half.
    Unsure { words: String },
}

/// What was heard, one answer a tag, without our own voice. Whoever speaks is listened to: we fall silent.
pub(super) fn heard(desk: &mut Desk, heard: Heard) -> Vec<Answer> {
    match heard {
        Heard::Tags(tags) => {
            let (Some(first), Some(last)) = (tags.first(), tags.last()) else { return Vec::new() };
            let (from, to) = (desk.clock_time(first.at), desk.clock_time(last.end));
            let words: Vec<&str> = tags.iter().map(|tag| tag.words.as_str()).collect();
            if is_own(desk, &words.join(" "), from, to) {
                return Vec::new();
            }
            hush(desk);
            let answer = |tag: &crate::hear::HeardTag| Answer {
                at: desk.clock_time(tag.at),
                what: What::Heard { said: tag.said.clone(), words: tag.words.clone() },
            };
            tags.iter().map(answer).collect()
        }
        Heard::Doubt(Doubt { at, end, words, .. }) => {
            let (from, to) = (desk.clock_time(at), desk.clock_time(end));
            if is_own(desk, &words, from, to) {
                return Vec::new();
            }
            vec![Answer { at: from, what: What::Unsure { words } }]
        }
        _ => Vec::new(),
    }
}

/// What was typed or pressed `now`; what is none of the words is told.
pub(super) fn typed(
    desk: &mut Desk,
    typed: Typed,
    words: &Words,
    switches: &mut Switches,
    now: Duration,
) -> Vec<Answer> {
    let presses = match typed {
        Typed::Line(typed) => return line(desk, &typed, words, now),
        Typed::Key(at) => switches.key.key(at),
        Typed::Pedal { down: true, at } => switches.pedal.down(at),
        Typed::Pedal { down: false, at } => switches.pedal.up(at),
        Typed::Trouble(trouble) => {
            desk.printer.remark(&trouble);
            return Vec::new();
        }
        Typed::Draft(_) => return Vec::new(),
    };
    pressed(desk, presses)
}

fn line(desk: &mut Desk, line: &str, words: &Words, now: Duration) -> Vec<Answer> {
    let line = line.trim().to_lowercase();
    let said = understood(&line, words, desk);
    hush(desk);
    let keyed = |said| Answer { at: now, what: What::Keyed { said, words: line.clone() } };
    said.into_iter().map(keyed).collect()
}

/// A switch: short is yes, long is no, double asks to say it again.
pub(super) fn pressed(desk: &mut Desk, pressed: Vec<Pressed>) -> Vec<Answer> {
    if !pressed.is_empty() {
        hush(desk);
    }
    let answer = |pressed: Pressed| {
        let said = match pressed.press {
            Press::Short => Said::Rep(Details::default()),
            Press::Long => Said::Miss(Details::default()),
            Press::Double => Said::Command { command: Command::Repeat },
        };
        Answer { at: pressed.at, what: What::Keyed { said, words: String::new() } }
    };
    pressed.into_iter().map(answer).collect()
}

fn is_own(desk: &mut Desk, words: &str, from: Duration, to: Duration) -> bool {
    desk.sounds.as_mut().is_some_and(|sounds| sounds.may_be_own(words, from, to))
}

fn hush(desk: &mut Desk) {
    if let Some(sounds) = &mut desk.sounds {
        sounds.hush();
    }
}
