//! Answers to questions outside a session: heard, pressed or typed.

use std::time::Duration;

use super::Desk;
use super::stage::Came;
use super::typed::understood;
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::switch::{Press, Pressed};
use crate::interpret::{Details, Said};
use crate::machine::Answer;
use crate::plan::{Command, Words};

/// An answer, and when it began by the steady clock.
pub(super) type Timed = (Duration, Answer);

/// What of that which came in answers a question, by these words; `now` counts for what is typed.
pub(super) fn answers(came: Came, words: &Words, desk: &mut Desk, now: Duration) -> Vec<Timed> {
    match came {
        Came::Heard(heard) => self::heard(desk, heard),
        Came::Line(line) => self::line(desk, &line, words, now),
        Came::Pressed(presses) => pressed(desk, presses),
        _ => Vec::new(),
    }
}

/// What was heard, one answer a tag, without our own voice. Whoever speaks is listened to: we fall silent.
fn heard(desk: &mut Desk, heard: Heard) -> Vec<Timed> {
    match heard {
        Heard::Tags(tags) => {
            let (Some(first), Some(last)) = (tags.first(), tags.last()) else { return Vec::new() };
            let (from, to) = (desk.clock_time(first.at), desk.clock_time(last.end));
            let words: Vec<&str> = tags.iter().map(|tag| tag.words.as_str()).collect();
            if is_own(desk, &words.join(" "), from, to) {
                return Vec::new();
            }
            hush(desk);
            let answer = |tag: &HeardTag| {
                let (said, words) = (tag.said.clone(), tag.words.clone());
                (desk.clock_time(tag.at), Answer::Said { said, words, keyed: false })
            };
            tags.iter().map(answer).collect()
        }
        Heard::Doubt(Doubt { at, end, words, .. }) => {
            let (from, to) = (desk.clock_time(at), desk.clock_time(end));
            if is_own(desk, &words, from, to) {
                return Vec::new();
            }
            vec![(from, Answer::Unsure { words })]
        }
        _ => Vec::new(),
    }
}

/// What is none of the words is reported.
fn line(desk: &mut Desk, line: &str, words: &Words, now: Duration) -> Vec<Timed> {
    let line = line.trim().to_lowercase();
    let said = understood(&line, words, desk);
    hush(desk);
    let keyed = |said| (now, Answer::Said { said, words: line.clone(), keyed: true });
    said.into_iter().map(keyed).collect()
}

/// A switch: short is yes, long is no, double asks to say it again.
fn pressed(desk: &mut Desk, pressed: Vec<Pressed>) -> Vec<Timed> {
    if !pressed.is_empty() {
        hush(desk);
    }
    let answer = |pressed: Pressed| {
        let said = match pressed.press {
            Press::Short => Said::Rep(Details::default()),
            Press::Long => Said::Miss(Details::default()),
            Press::Double | Press::Triple => Said::Command { command: Command::Repeat },
        };
        (pressed.at, Answer::Said { said, words: String::new(), keyed: true })
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
