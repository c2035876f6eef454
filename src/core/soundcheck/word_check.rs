//! The words, one after the other.

use std::collections::BTreeSet;
use std::time::Duration;

use super::{
    Advice, Check, Missed, NotSure, SoundcheckEffect, SoundcheckLine, Step, WORD_FOR, WordOutcome,
    WordResult,
};

/// How often a word is asked for.
const TRIES: u8 = 2;
/// After this many words in a row in silence, nobody seems to be there.
const SILENT: u8 = 3;
/// From this share of missed words on, at a right level, it is hardly the words.
const MANY: f32 = 0.3;
/// Of more words than this only the names are said, as the template has it; what may take their place is shown.
const SAID: usize = 5;

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
        self.note(WordOutcome::Heard, Missed { phrase, taken_for: None }, tries + 1);
        self.ask_word(now, index + 1, 0, 0, out);
    }

    pub(super) fn word_skipped(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let Step::Words { index, tries, .. } = self.step else { return };
        let phrase = self.setup.words[index].phrase.clone();
        self.note(WordOutcome::Skipped, Missed { phrase, taken_for: None }, tries + 1);
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
        self.note(
            if nothing { WordOutcome::Silent } else { WordOutcome::Missed },
            missed,
            tries + 1,
        );
        if silent < SILENT {
            return self.ask_word(now, index + 1, 0, silent, out);
        }
        out.push(SoundcheckEffect::Say(SoundcheckLine::WordsLeftOut));
        self.words_over(now, out);
    }

    fn note(&mut self, result: WordOutcome, missed: Missed, tries: u8) {
        self.report.words.push(WordResult { missed, result, tries });
    }

    fn words_over(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let (right, of) = self.report.heard();
        let level_is_right = self.report.above_db.is_some()
            && self.report.advice.iter().all(|advice| *advice == Advice::Earphone);
        let missed =
            self.report.words.iter().filter(|word| word.result == WordOutcome::Missed).count();
        if missed > 0 && level_is_right && missed as f32 > MANY * of as f32 {
            self.report.advice.push(Advice::OtherMicrophone);
        }
        let words = self.not_sure();
        let shown = (words.len() > SAID).then(|| SoundcheckLine::Instead { words: words.clone() });
        self.report.advice.extend((!words.is_empty()).then_some(Advice::OtherWords { words }));
        let advice = self.report.advice.clone();
        out.push(SoundcheckEffect::Say(SoundcheckLine::Heard { right, of, advice }));
        out.extend(shown.map(SoundcheckEffect::Show));
        self.ask_voice(now, out);
    }

    /// Every word that was missed, or heard only when it was said again, with what may take its place.
    fn not_sure(&self) -> Vec<NotSure> {
        let mut offered: BTreeSet<&String> = BTreeSet::new();
        let sure = |word: &&WordResult| word.result == WordOutcome::Heard && word.tries == 1;
        let asked = self
            .report
            .words
            .iter()
            .filter(|word| matches!(word.result, WordOutcome::Heard | WordOutcome::Missed));
        let asked: Vec<&WordResult> = asked.filter(|word| !sure(word)).collect();
        // There are not many such words, and each that is needed gets one.
        let offered_each = if asked.len() > 2 { 1 } else { 2 };
        let mut words = Vec::new();
        for word in asked {
            let phrase = &word.missed.phrase;
            let role = self.setup.words.iter().find(|prompt| prompt.phrase == *phrase);
            let of_role = role.and_then(|prompt| self.setup.instead.get(&prompt.role));
            let free = of_role.into_iter().flatten().filter(|word| !offered.contains(word));
            let instead: Vec<&String> = free.take(offered_each).collect();
            offered.extend(&instead);
            let instead = instead.into_iter().cloned().collect();
            words.push(NotSure { missed: word.missed.clone(), instead });
        }
        words
    }
}
