//! Help: the words, by the moment at which they are said, three at a time; and what was probably meant by what is none.

use std::time::Duration;

use super::tags::{is_no, is_yes};
use super::{Dialogue, DialogueEffect, DialogueLine, Place, Question};
use crate::interpret::{Said, nearest_command};
use crate::plan::{Moment, Role, WordMeaning, by_moment};

/// So many are told at once.
const AT_ONCE: usize = 3;

impl Dialogue {
    /// The word for no, for use in sentences.
    pub(super) fn no(&self) -> String {
        self.words.of(&Role::Miss).first().cloned().unwrap_or_default()
    }

    /// All words with their moments, in the order in which they are told here: in a session those of a session first.
    fn told_words(&self) -> Vec<(Moment, WordMeaning)> {
        let mut all: Vec<(Moment, WordMeaning)> = by_moment(&self.words)
            .into_iter()
            .flat_map(|(moment, words)| words.into_iter().map(move |word| (moment, word)))
            .collect();
        if matches!(self.place, Place::Training(_)) {
            all.sort_by_key(|(moment, _)| *moment != Moment::During);
        }
        all
    }

    /// The command: tells the first words, and those that follow when it is said once more.
    pub(super) fn help(
        &mut self,
        now: Duration,
        asked: Option<&Question>,
        out: &mut Vec<DialogueEffect>,
    ) {
        let told = match asked {
            Some(Question::Help { told }) => *told,
            _ => 0,
        };
        self.tell_words(now, told, out);
    }

    fn tell_words(&mut self, now: Duration, told: usize, out: &mut Vec<DialogueEffect>) {
        let all = self.told_words();
        let Some((moment, _)) = all.get(told) else {
            return out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
        };
        let page = all[told..].iter().take(AT_ONCE).take_while(|(other, _)| other == moment);
        let words: Vec<WordMeaning> = page.map(|(_, word)| word.clone()).collect();
        let told = told + words.len();
        let more = told < all.len();
        let training = matches!(self.place, Place::Training(_));
        let (attention, yes, no) = (self.attention.clone(), self.yes.clone(), self.no());
        let moment = *moment;
        out.push(DialogueEffect::Say(DialogueLine::Help {
            moment,
            words,
            more,
            training,
            attention,
            yes,
            no,
        }));
        if more {
            self.ask(now, Question::Help { told });
        }
    }

    /// Something was said after the attention word that is not a command. In a session it is a doubt, and no more.
    pub(super) fn no_command(&mut self, now: Duration, words: &str, out: &mut Vec<DialogueEffect>) {
        if matches!(self.place, Place::Training(_)) {
            return;
        }
        match nearest_command(&self.words, words) {
            Some((command, phrase)) => {
                out.push(DialogueEffect::Say(DialogueLine::DidYouMean {
                    phrase,
                    yes: self.yes.clone(),
                }));
                self.ask(now, Question::Meant(command));
            }
            // It may be ordinary talk, so it gets no spoken answer.
            None => out.push(DialogueEffect::Show(DialogueLine::NoCommand {
                words: words.to_owned(),
                attention: self.attention.clone(),
            })),
        }
    }

    /// A tag that may ask for more words, or say that a command was meant; whether it did.
    pub(super) fn answers_help(
        &mut self,
        now: Duration,
        open: Option<&Question>,
        said: &Said,
        out: &mut Vec<DialogueEffect>,
    ) -> bool {
        let (yes, no) = (is_yes(said), is_no(said));
        match open {
            Some(Question::Help { told }) if yes => {
                self.question = None;
                self.tell_words(now, *told, out);
            }
            Some(Question::Help { told }) if no => {
                // On to the words of the next moment.
                self.question = None;
                let all = self.told_words();
                let moment = all.get(told.saturating_sub(1)).map(|(moment, _)| *moment);
                let rest = all.iter().skip(*told).position(|(other, _)| Some(*other) != moment);
                self.tell_words(now, rest.map_or(all.len(), |skipped| told + skipped), out);
            }
            Some(Question::Meant(command)) if yes => {
                self.question = None;
                self.command(now, *command, String::new(), out);
            }
            Some(Question::Meant(_)) if no => {
                self.question = None;
                out.push(DialogueEffect::Show(DialogueLine::NothingChanged));
            }
            _ => return false,
        }
        true
    }

    /// Whether yes, no or a command that was typed or dictated is meant as such by a part of a plan that is asked for.
    pub fn is_no_part(&self, said: &[Said]) -> bool {
        let asked = matches!(self.question(), Some(Question::Draft(_) | Question::DraftWhich));
        asked
            && match said {
                [Said::Command { .. }] => true,
                [one] => is_yes(one) || is_no(one),
                _ => false,
            }
    }
}
