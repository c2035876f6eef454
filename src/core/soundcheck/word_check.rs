//! The words, one after the other.

use std::time::Duration;

use super::{Advice, Check, Missed, SoundcheckEffect, SoundcheckLine, Step, WORD_FOR, WordResult};

/// How often a word is asked for.
const TRIES: u8 = 2;
/// After so many words in a row in silence, nobody seems to be there.
const SILENT: u8 = 3;
/// From this share of missed words on, at a right level, it is hardly the words.
const MANY: f32 = 0.3;

impl Check {
    pub(super) fn begin_words(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let count = self.setup.words.len();
        if count == 0 {
            return self.ask_voice(now, out);
        }
        out.push(SoundcheckEffect::Say(SoundcheckLine::Words { count }));
        self.ask_word(now, 0, 0, 0, out);
    }

    fn ask_word(
        &mut self,
        now: Duration,
        index: usize,
        tries: u8,
        silent: u8,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        let Some(prompt) = self.setup.words.get(index) else { return self.words_over(now, out) };
        let phrase = prompt.phrase.clone();
        self.step = Step::Words { index, tries, silent };
        self.ask(now, SoundcheckLine::Word { phrase }, WORD_FOR, out);
    }

    pub(super) fn word_heard(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let Step::Words { index, tries, .. } = self.step else { return };
        let phrase = self.setup.words[index].phrase.clone();
        out.push(SoundcheckEffect::Show(SoundcheckLine::WordHeard { phrase: phrase.clone() }));
        self.note("heard", Missed { phrase, taken_for: None }, tries + 1);
        self.ask_word(now, index + 1, 0, 0, out);
    }

    pub(super) fn word_skipped(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let Step::Words { index, tries, .. } = self.step else { return };
        let phrase = self.setup.words[index].phrase.clone();
        self.note("skipped", Missed { phrase, taken_for: None }, tries + 1);
        self.ask_word(now, index + 1, 0, 0, out);
    }

    /// The word asked for was not heard, or taken for another.
    pub(super) fn word_missed(
        &mut self,
        now: Duration,
        taken_for: Option<String>,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        let Step::Words { index, tries, silent } = self.step else { return };
        let phrase = self.setup.words[index].phrase.clone();
        let missed = Missed { phrase, taken_for };
        let nothing = !self.spoke && missed.taken_for.is_none();
        let silent = if nothing { silent + 1 } else { 0 };
        let again = tries + 1 < TRIES && silent < SILENT;
        out.push(SoundcheckEffect::Show(SoundcheckLine::WordMissed {
            missed: missed.clone(),
            again,
        }));
        if again {
            return self.ask_word(now, index, tries + 1, silent, out);
        }
        self.note(if nothing { "silent" } else { "missed" }, missed, tries + 1);
        if silent < SILENT {
            return self.ask_word(now, index + 1, 0, silent, out);
        }
        out.push(SoundcheckEffect::Say(SoundcheckLine::WordsLeftOut));
        self.words_over(now, out);
    }

    fn note(&mut self, result: &'static str, missed: Missed, tries: u8) {
        self.report.words.push(WordResult { missed, result, tries });
    }

    fn words_over(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let (right, of) = self.report.heard();
        let level_is_right = self.report.above_db.is_some()
            && self.report.advice.iter().all(|advice| *advice == Advice::Earphone);
        let missed: Vec<Missed> = self
            .report
            .words
            .iter()
            .filter(|word| word.result == "missed")
            .map(|word| word.missed.clone())
            .collect();
        if !missed.is_empty() && level_is_right && missed.len() as f32 > MANY * of as f32 {
            self.report.advice.push(Advice::OtherMicrophone);
        } else if !missed.is_empty() {
            let instead = self.setup.instead.clone();
            self.report.advice.push(Advice::OtherWords { missed, instead });
        }
        let advice = self.report.advice.clone();
        out.push(SoundcheckEffect::Say(SoundcheckLine::Heard { right, of, advice }));
        self.ask_voice(now, out);
    }
}
