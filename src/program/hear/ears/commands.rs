//! Ears that are called: the attention word, and the command after it.

use super::give::place;
use super::noise::with_ways;
use super::others::by_another;
use super::{Ears, FOLLOWS, Stretch};
use crate::hear::judge;
use crate::hear::recogniser::{Alternative, spoken, texts};
use crate::hear::{Doubt, Heard, HeardTag};
use crate::interpret::Said;
use crate::plan::Command;

impl Ears {
    /// What a stretch is when it is the attention word, with or without a command, or a command after it.
    pub(super) fn command(&mut self, stretch: &Stretch) -> Option<Vec<Heard>> {
        let &Stretch { began, end, first, last, tags, open, ways } = stretch;
        let called = self.called.take().filter(|(until, _)| began <= *until);
        let calls = |alternatives: &[Alternative]| {
            let best = spoken(alternatives)?;
            let texts = best.texts();
            let length = self.grammar.called(&texts);
            (length > 0).then_some(length == texts.len())
        };
        let (by_tags, by_open) = (calls(tags), calls(open));
        if called.is_none() && by_tags.is_none() && by_open.is_none() {
            return None;
        }
        let read = self.commands.finish(&self.past, first, last);
        let made;
        let ways = if ways.is_empty() {
            made = self.ways(first, last);
            &made
        } else {
            ways
        };
        let read = with_ways(read, &mut self.commands, ways);
        let bounds = if self.gate.was_in_noise() { judge::IN_NOISE } else { judge::IN_QUIET };
        let asked = judge::command(&read, called.is_some(), bounds, &self.grammar);
        if let Some((command, opening, words)) = asked {
            let texts = texts(&words);
            let at = match called {
                Some((_, at)) if opening == 0 => at,
                _ => self.begin_of(began),
            };
            let said = Said::Command { command };
            let ended = place(first, words.last().map_or(0.0, |word| word.end));
            let tag =
                HeardTag { at, end: ended, said, words: texts.join(" "), decided: self.now() };
            return Some(self.give_command(end, tag));
        }
        if by_open == Some(true) && by_tags == Some(true) {
            self.called = Some((end + FOLLOWS, self.begin_of(began)));
            return Some(Vec::new());
        }
        if let (Some(best), true, true) = (spoken(&read), by_open.is_some(), by_tags.is_some()) {
            // Called by name, and not understood: that is told, not dropped.
            let words = best.words.clone();
            return Some(vec![Heard::Doubt(self.doubt(
                began,
                first,
                &words,
                "no command".to_owned(),
            ))]);
        }
        None
    }

    /// A command ends things, so it waits a moment: what it begins may be a sentence. But for a note, whose
    /// words may follow at once.
    pub(super) fn give_command(&mut self, end: usize, tag: HeardTag) -> Vec<Heard> {
        if self.is_by_another() {
            let HeardTag { at, end, words, decided, .. } = tag;
            return vec![by_another(Doubt { at, end, words, other: String::new(), decided })];
        }
        if tag.said == (Said::Command { command: Command::Note }) {
            self.dictation.begin(&self.model, tag.at, self.gate.steps());
            return vec![Heard::Tags(vec![tag])];
        }
        self.give_later(end, tag)
    }
}
