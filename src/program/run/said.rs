//! What was heard, typed or pressed, as the dialogue is told.

use std::time::Duration;

use minijinja::context;

use super::HeardTimes;
use super::stage::{Onset, Stage, Told};
use crate::dialogue::DialogueInput;
use crate::hear::HeardTag;
use crate::interpret::Said;
use crate::wording::filled;

/// Tags of one breath, without our own voice. The trainer comes first: a tag ends the read-out at once.
pub(super) fn hear_tags(tags: Vec<HeardTag>, stage: &mut Stage<'_>) -> Vec<Told<DialogueInput>> {
    let words: Vec<&str> = tags.iter().map(|tag| tag.words.as_str()).collect();
    let words = words.join(" ");
    // A tag has its times by the sound's clock, our voice by the steady one.
    let offset = stage.offset;
    let from = tags.first().map_or(Duration::ZERO, |tag| stage.desk.clock_time(tag.at + offset));
    let to = tags.last().map_or(Duration::MAX, |tag| stage.desk.clock_time(tag.end + offset));
    if let Some(sounds) = &mut stage.desk.sounds {
        if sounds.may_be_own(&words, from, to) {
            stage.desk.printer.remark(&filled("screen.own_voice", context! { words }));
            return Vec::new();
        }
        sounds.hush();
    }
    let told = |tag: HeardTag| {
        let times = HeardTimes { end: tag.end, decided: tag.decided };
        Told {
            // It counts from when it was said, however late that is known.
            at: stage.desk.clock_time(tag.at + offset),
            input: DialogueInput::Said { said: tag.said, words: tag.words, keyed: false },
            onset: Some(Onset { at: tag.at, times: Some(times) }),
        }
    };
    tags.into_iter().map(told).collect()
}

/// Something was typed or pressed; when, by the time of the sound, if that is not now.
pub(super) fn said_by_hand(
    said: Said,
    words: String,
    onset: Option<Onset>,
    stage: &mut Stage<'_>,
) -> Told<DialogueInput> {
    if let Some(sounds) = &mut stage.desk.sounds {
        sounds.hush();
    }
    let at = match onset {
        Some(onset) => stage.desk.clock_time(onset.at + stage.offset),
        None => stage.clock.now(),
    };
    Told { at, input: DialogueInput::Said { said, words, keyed: true }, onset }
}
