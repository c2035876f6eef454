//! What an answer means.

use std::time::Duration;

use super::{
    ANSWER_FOR, Counts, MOST_UNSURE, Reading, Settle, SettleEffect, SettleLine, Settled, Step,
};
use crate::dialogue::VoiceChange;
use crate::interpret::Said;
use crate::plan::Command;

impl Settle {
    pub(super) fn said(&mut self, said: Said, words: String, out: &mut Vec<SettleEffect>) {
        match said {
            Said::Command { command } => return self.command(command, words, out),
            Said::TakeBack => return self.take_back(out),
            _ => {}
        }
        let Some(doubt) = self.doubts.get(self.index).cloned() else {
            // After the last one, yes is as good as the end.
            if matches!(said, Said::Rep(details) if details.is_empty()) {
                return self.over(out);
            }
            return out.push(SettleEffect::Show(SettleLine::NotNow { words }));
        };
        match said {
            Said::Rep(details) if details.is_empty() => self.count(&doubt.first, out),
            // Said as it was.
            Said::Rep(details) => self.settle(Settled::Rep(details), out),
            Said::Miss(details) if !details.is_empty() => {
                self.settle(Settled::Miss(details), out);
            }
            Said::Miss(_) => self.settle(Settled::Nothing { no_rep: false }, out),
            Said::Change(details) if details.is_empty() => match &doubt.second {
                Some(second) => self.count(second, out),
                None => {
                    out.push(SettleEffect::Say(SettleLine::NoOther));
                    self.ask(out);
                }
            },
            Said::Change(later) => match doubt.first.counts {
                Counts::Rep(details) => self.settle(Settled::Rep(details.changed_by(later)), out),
                Counts::Miss(details) if later.of_a_miss() == later => {
                    self.settle(Settled::Miss(details.changed_by(later)), out);
                }
                _ => out.push(SettleEffect::Show(SettleLine::NotNow { words })),
            },
            _ => out.push(SettleEffect::Show(SettleLine::NotNow { words })),
        }
    }

    /// It was this reading.
    fn count(&mut self, reading: &Reading, out: &mut Vec<SettleEffect>) {
        match reading.counts {
            Counts::Rep(details) => self.settle(Settled::Rep(details), out),
            Counts::Miss(details) => self.settle(Settled::Miss(details), out),
            Counts::NoRep => self.settle(Settled::Nothing { no_rep: true }, out),
            Counts::NoTag => self.settle(Settled::Nothing { no_rep: false }, out),
            // Where one began and the other ended is not known any more.
            Counts::Several => self.leave(SettleLine::Several, out),
        }
    }

    fn settle(&mut self, settled: Settled, out: &mut Vec<SettleEffect>) {
        self.step = Step::Settling(settled);
        self.wait = None;
        out.push(SettleEffect::Settle { doubt: self.index, settled });
    }

    fn leave(&mut self, line: SettleLine, out: &mut Vec<SettleEffect>) {
        self.answered.push((self.index, None));
        out.push(SettleEffect::Say(line));
        self.go_on(out);
    }

    /// On to the next one.
    fn go_on(&mut self, out: &mut Vec<SettleEffect>) {
        self.silent = 0;
        self.index += 1;
        self.ask(out);
    }

    fn take_back(&mut self, out: &mut Vec<SettleEffect>) {
        match self.answered.last() {
            Some(&(index, Some(_))) => {
                self.step = Step::TakingBack(index);
                self.wait = None;
                out.push(SettleEffect::TakeBack { doubt: index });
            }
            // It was left for later, so there is nothing on disk.
            Some(&(index, None)) => self.back_at(index, out),
            None => {
                out.push(SettleEffect::Say(SettleLine::NothingBack));
                self.ask(out);
            }
        }
    }

    fn back_at(&mut self, index: usize, out: &mut Vec<SettleEffect>) {
        self.answered.pop();
        self.silent = 0;
        self.index = index;
        out.push(SettleEffect::Say(SettleLine::TakenBack));
        self.ask(out);
    }

    pub(super) fn saved(&mut self, out: &mut Vec<SettleEffect>) {
        match self.step {
            Step::Settling(settled) => {
                self.answered.push((self.index, Some(settled)));
                out.push(SettleEffect::Say(SettleLine::Settled { settled }));
                self.go_on(out);
            }
            Step::TakingBack(index) => self.back_at(index, out),
            Step::Asking | Step::Over => {}
        }
    }

    /// Somebody else was quicker: theirs stands, and nothing is written.
    pub(super) fn gone(&mut self, out: &mut Vec<SettleEffect>) {
        match self.step {
            Step::Settling(_) => self.leave(SettleLine::Gone, out),
            Step::TakingBack(index) => self.back_at(index, out),
            Step::Asking | Step::Over => {}
        }
    }

    fn command(&mut self, command: Command, words: String, out: &mut Vec<SettleEffect>) {
        let change = match command {
            Command::Finish | Command::Quit => return self.over(out),
            Command::GoOn if self.index < self.doubts.len() => {
                return self.leave(SettleLine::Later, out);
            }
            Command::Repeat => {
                self.silent = 0;
                return self.ask(out);
            }
            Command::Slower => VoiceChange::Slower,
            Command::Faster => VoiceChange::Faster,
            Command::Louder => VoiceChange::Louder,
            Command::Quieter => VoiceChange::Quieter,
            _ => return out.push(SettleEffect::Show(SettleLine::NotNow { words })),
        };
        // It is about how the question sounds, not an answer.
        out.push(SettleEffect::Voice(change));
        self.silent = 0;
        self.ask(out);
    }

    /// Somebody is there, so the question waits again; but not for ever, since it may be talk in the room.
    pub(super) fn unsure(&mut self, now: Duration, words: String, out: &mut Vec<SettleEffect>) {
        if let Some(wait) = self.wait.as_mut().filter(|wait| wait.unsure < MOST_UNSURE) {
            wait.unsure += 1;
            wait.until = wait.until.map(|_| now + ANSWER_FOR);
        }
        out.push(SettleEffect::Show(SettleLine::NotSure { words }));
    }
}
