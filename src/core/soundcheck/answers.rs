//! What an answer means at each step: outputs, voice, keeping.

use std::time::Duration;

use super::{
    ANSWER_FOR, Advice, Check, EAR_FOR, EarKind, SoundcheckEffect, SoundcheckLine, Step, THINK_FOR,
    Wait,
};
use crate::dialogue::VoiceChange;
use crate::interpret::Said;
use crate::plan::Command;

impl Check {
    pub(super) fn said(
        &mut self,
        now: Duration,
        said: Said,
        words: String,
        keyed: bool,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        if let Step::Words { index, .. } = self.step
            && self.setup.words[index].said == said
            && !keyed
        {
            return self.word_heard(now, out);
        }
        match said {
            Said::Command { command } => self.command(now, command, words, keyed, out),
            Said::Miss(_) | Said::TakeBack => self.answer(now, Some(false), words, keyed, out),
            Said::Rep(details) if details.is_empty() => {
                self.answer(now, Some(true), words, keyed, out);
            }
            _ => self.answer(now, None, words, keyed, out),
        }
    }

    /// Something that may be a tag answers nothing; where a word is asked for, it was not heard.
    pub(super) fn unsure(&mut self, now: Duration, words: String, out: &mut Vec<SoundcheckEffect>) {
        match self.step {
            Step::Words { .. } => return self.word_missed(now, Some(words), out),
            Step::Level { heard: None, .. } => return self.heard_without_level(now, out),
            _ => {}
        }
        out.push(SoundcheckEffect::Show(SoundcheckLine::NotNow { words }));
    }

    fn command(
        &mut self,
        now: Duration,
        command: Command,
        words: String,
        keyed: bool,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        let change = match command {
            Command::Quit => return self.end(SoundcheckLine::NotKept, out),
            Command::Repeat => return self.repeat(now, out),
            Command::Slower => VoiceChange::Slower,
            Command::Faster => VoiceChange::Faster,
            Command::Louder => VoiceChange::Louder,
            Command::Quieter => VoiceChange::Quieter,
            _ => return self.answer(now, None, words, keyed, out),
        };
        out.push(SoundcheckEffect::Voice(change));
        if matches!(self.step, Step::Voice(_)) {
            let line = SoundcheckLine::Changed { change, yes: self.setup.yes.clone() };
            self.ask(now, line, THINK_FOR, out);
        } else {
            // It is about how the question sounds, not an answer.
            self.repeat(now, out);
        }
    }

    /// Says the question again; it waits as long as at first. Nothing is measured again.
    fn repeat(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        let (Some(line), Some(wait)) = (self.last_line.clone(), self.wait) else { return };
        let announced = matches!(self.step, Step::Ear { announced: true, .. });
        // A sound that is being waited for was not a sentence.
        if !announced {
            self.ask(now, line, wait.length, out);
        }
    }

    /// Yes, no, or something else.
    fn answer(
        &mut self,
        now: Duration,
        yes: Option<bool>,
        words: String,
        keyed: bool,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        match (&self.step, yes) {
            // The level decides, not the word; a key goes on without it.
            (Step::Level { .. }, Some(true)) if keyed => self.begin_ears(now, out),
            (Step::Level { heard: None, .. }, _) if !keyed => self.heard_without_level(now, out),
            (Step::Level { .. }, _) => {}
            (Step::Ear { next, announced: true }, Some(true)) => {
                let ear = next.saturating_sub(1);
                self.choose_ear(now, ear, out);
            }
            (Step::Ear { next, announced: true }, Some(false)) => {
                let next = *next;
                self.play(now, next, out);
            }
            (Step::Kind, Some(yes)) => {
                let kind = if yes { EarKind::Earphone } else { EarKind::Loudspeaker };
                self.report.ear_kind = Some(kind);
                self.report.advice.extend((!yes).then_some(Advice::Earphone));
                self.begin_words(now, out);
            }
            (Step::Words { .. }, _) if keyed => self.word_skipped(now, out),
            (Step::Words { .. }, _) => self.word_missed(now, Some(words), out),
            (Step::Voice(index), Some(false)) if self.setup.voices.len() > 1 => {
                let next = (index + 1) % self.setup.voices.len();
                self.step = Step::Voice(next);
                out.push(SoundcheckEffect::UseVoice(next));
                let (yes, no) = (self.setup.yes.clone(), self.setup.no.clone());
                self.ask(now, SoundcheckLine::OtherVoice { yes, no }, THINK_FOR, out);
            }
            (Step::Voice(index), Some(yes)) => {
                self.report.voice_confirmed = yes;
                // The first one is what the settings have, or the best without them.
                let chosen = self.setup.voices.get(*index).filter(|_| yes && *index > 0);
                self.report.voice = chosen.cloned();
                self.ask_keep(now, out);
            }
            (Step::Keep, Some(true)) => {
                self.step = Step::Saving;
                self.wait = None;
                out.push(SoundcheckEffect::Save);
            }
            (Step::Keep, Some(false)) => self.end(SoundcheckLine::NotKept, out),
            _ => out.push(SoundcheckEffect::Show(SoundcheckLine::NotNow { words })),
        }
    }

    pub(super) fn begin_ears(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        if self.report.mic.is_none() {
            // A key went past the level: the microphone is open, and nothing else is known of it.
            self.report.mic = Some(self.setup.mics[self.mic].clone());
        }
        let count = self.setup.ears.len();
        if count == 0 {
            out.push(SoundcheckEffect::Show(SoundcheckLine::NoEar));
            return self.begin_words(now, out);
        }
        self.step = Step::Ear { next: 0, announced: false };
        let line = SoundcheckLine::WhichEar { count, yes: self.setup.yes.clone() };
        self.ask(now, line, Duration::ZERO, out);
    }

    /// Plays the sound on this output, if there is one more.
    pub(super) fn play(&mut self, now: Duration, next: usize, out: &mut Vec<SoundcheckEffect>) {
        let Some(name) = self.setup.ears.get(next).cloned() else {
            // The questions still need a voice: the one that there was.
            out.push(SoundcheckEffect::UseEar(0));
            out.push(SoundcheckEffect::Say(SoundcheckLine::NoEar));
            return self.begin_words(now, out);
        };
        self.step = Step::Ear { next: next + 1, announced: true };
        out.push(SoundcheckEffect::Show(SoundcheckLine::Playing { name }));
        out.push(SoundcheckEffect::Play(next));
        self.asked_at = now;
        self.wait = Some(Wait { length: EAR_FOR, until: None });
    }

    pub(super) fn ear_failed(
        &mut self,
        now: Duration,
        why: String,
        out: &mut Vec<SoundcheckEffect>,
    ) {
        let Step::Ear { next, announced: true } = self.step else { return };
        let name = self.setup.ears[next.saturating_sub(1)].clone();
        out.push(SoundcheckEffect::Show(SoundcheckLine::EarFailed { name, why }));
        self.play(now, next, out);
    }

    fn choose_ear(&mut self, now: Duration, ear: usize, out: &mut Vec<SoundcheckEffect>) {
        self.ear = Some(ear);
        self.report.ear = Some(self.setup.ears[ear].clone());
        out.push(SoundcheckEffect::UseEar(ear));
        self.step = Step::Kind;
        let line =
            SoundcheckLine::WhichKind { yes: self.setup.yes.clone(), no: self.setup.no.clone() };
        self.ask(now, line, ANSWER_FOR, out);
    }

    pub(super) fn ask_voice(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        self.step = Step::Voice(0);
        let several = self.setup.voices.len() > 1;
        let line = SoundcheckLine::Voice {
            attention: self.setup.attention.clone(),
            phrases: self.setup.changes.clone(),
            yes: self.setup.yes.clone(),
            no: several.then(|| self.setup.no.clone()),
        };
        self.ask(now, line, THINK_FOR, out);
    }

    pub(super) fn ask_keep(&mut self, now: Duration, out: &mut Vec<SoundcheckEffect>) {
        self.step = Step::Keep;
        let line = SoundcheckLine::Keep {
            mic: self.setup.mics[self.mic].clone(),
            ear: self.report.ear.clone(),
            ear_kind: self.report.ear_kind,
            voice: self.report.voice_confirmed,
            yes: self.setup.yes.clone(),
        };
        self.ask(now, line, THINK_FOR, out);
    }
}
