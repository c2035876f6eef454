//! What each command does where.

use std::time::Duration;

use super::{
    Aside, DETAILS_WITHIN, Dialogue, DialogueEffect, DialogueLine, Health, Place, Question, Then,
    VoiceChange, Weeks,
};
use crate::interpret::Said;
use crate::plan::Command;

impl Dialogue {
    pub(super) fn command(
        &mut self,
        now: Duration,
        command: Command,
        words: String,
        out: &mut Vec<DialogueEffect>,
    ) {
        let asked = self.question.take().map(|open| open.question);
        let stays = matches!(
            command,
            Command::Repeat
                | Command::Slower
                | Command::Faster
                | Command::Louder
                | Command::Quieter
                | Command::SoundCheck
        );
        if let (Some(question), true) = (&asked, stays) {
            // These are about how the question sounds, not an answer: it waits as long as at first.
            self.ask(now, question.clone());
            if question.is_dictated_to() && !matches!(self.place, Place::Training(_)) {
                // Its answer was this command.
                self.dictates_again = true;
            }
        } else if let (Some(Question::WeightIs { grams, said }), Command::Weight, true) =
            (&asked, command, matches!(self.place, Place::Training(_)))
        {
            out.push(DialogueEffect::Weight { grams: *grams, said: said.clone() });
            out.push(DialogueEffect::Say(DialogueLine::WeightKept { grams: *grams }));
            return out.push(DialogueEffect::Pass { said: Said::Command { command }, words });
        } else if let Some(Question::WeightIs { grams, said }) = &asked {
            // Another command instead of an answer: what was dictated is kept, as a note.
            out.push(DialogueEffect::Note(said.clone()));
            out.push(DialogueEffect::Say(DialogueLine::WeightNoted { grams: *grams }));
        } else if let Some(Question::ChangeIs(change)) = &asked {
            self.noted(now, change.clone(), out);
        } else if let (Some(Question::PlanChangeIs { text, .. }), true) =
            (&asked, command != Command::ChangePlan)
        {
            out.push(DialogueEffect::Note(text.clone()));
        }
        let training = matches!(self.place, Place::Training(_));
        if training {
            // In a session every command stands in its log, whoever carries it out.
            out.push(DialogueEffect::Pass {
                said: Said::Command { command },
                words: words.clone(),
            });
        }
        match command {
            Command::Quit => self.quit(now, asked.as_ref(), out),
            Command::NextPlan => self.next_plan(now, asked.as_ref(), out),
            Command::Note => self.dictate(now, Question::Note, out),
            Command::Capture | Command::TestChange if training => {
                out.push(DialogueEffect::Say(DialogueLine::AfterSession))
            }
            Command::Concern | Command::Ill | Command::Sore | Command::Well | Command::Food => {
                if let Some(what) = Health::of(command) {
                    self.health(now, what, asked.as_ref(), out);
                }
            }
            Command::Weight => match self.place {
                Place::Ready(_) | Place::Training(_) => self.dictate(now, Question::Weight, out),
                _ => self.ask_which(now, 0, Then::Weight, out),
            },
            Command::Capture => match self.place {
                Place::Ready(choice) => self.capture(choice, out),
                _ => self.ask_which(now, 0, Then::Capture, out),
            },
            Command::TestChange => self.trials(now, asked.as_ref(), out),
            Command::Probe => self.probe(now, out),
            Command::Settle | Command::Quiz | Command::Learn | Command::SetUp => {
                if let Some(aside) = Aside::of(command) {
                    self.begin_aside(now, aside, out);
                }
            }
            Command::Help => self.help(now, asked.as_ref(), out),
            Command::NewPlan => self.make_plan(now, out),
            Command::ChangePlan => self.change_plan(now, asked, out),
            Command::Report | Command::Backup if training => {
                out.push(DialogueEffect::Say(DialogueLine::AfterSession));
            }
            Command::Backup => out.push(DialogueEffect::Backup),
            Command::WhatNext | Command::HandOver | Command::Report => {
                let (then, effect) = match command {
                    Command::WhatNext => (Then::WhatNext, DialogueEffect::WhatNext),
                    Command::HandOver => (Then::HandOver, DialogueEffect::HandOver),
                    _ => (Then::Report, DialogueEffect::Report),
                };
                match self.place {
                    Place::Ready(_) | Place::Training(_) => out.push(effect),
                    _ => self.ask_which(now, 0, then, out),
                }
            }
            Command::Recap => {
                let details = self.recapped.is_some_and(|at| now <= at + DETAILS_WITHIN);
                out.push(DialogueEffect::Recap { details });
            }
            Command::Repeat => out.push(DialogueEffect::Repeat),
            Command::SoundCheck => out.push(DialogueEffect::SoundCheck),
            Command::Slower => self.voice(VoiceChange::Slower, out),
            Command::Faster => self.voice(VoiceChange::Faster, out),
            Command::Louder => self.voice(VoiceChange::Louder, out),
            Command::Quieter => self.voice(VoiceChange::Quieter, out),
            // The session has it already.
            _ if training => {}
            Command::GoOn if self.resumable => {
                if self.may_train(now, Some(command), asked.as_ref(), out) {
                    self.resumable = false;
                    out.push(DialogueEffect::Pass { said: Said::Command { command }, words });
                }
            }
            Command::Begin => match self.place {
                Place::Ready(_) => {
                    if self.may_train(now, Some(command), asked.as_ref(), out) {
                        out.push(DialogueEffect::Pass { said: Said::Command { command }, words });
                    }
                }
                _ => self.ask_which(now, 0, Then::Wait, out),
            },
            Command::Time | Command::Rate | Command::Count | Command::Treats
                if matches!(self.place, Place::Ready(_)) =>
            {
                out.push(DialogueEffect::Weeks(match command {
                    Command::Time => Weeks::Time,
                    Command::Rate => Weeks::Rate,
                    Command::Count => Weeks::Count,
                    _ => Weeks::Treats,
                }));
            }
            Command::WorkOn(step) if matches!(self.place, Place::Ready(_)) => {
                out.push(DialogueEffect::StartAt(step));
            }
            Command::GoOn
            | Command::Pause
            | Command::PlayBreak
            | Command::Finish
            | Command::StepUp
            | Command::Stay
            | Command::StepBack
            | Command::WorkOn(_)
            | Command::Time
            | Command::Rate
            | Command::Count
            | Command::Treats
            | Command::Refilled
            | Command::Why => {
                out.push(DialogueEffect::Say(DialogueLine::NoSession {
                    attention: self.attention.clone(),
                }));
            }
        }
    }

    fn quit(&mut self, now: Duration, asked: Option<&Question>, out: &mut Vec<DialogueEffect>) {
        if let Place::Training(choice) = self.place {
            if asked != Some(&Question::Quit) {
                let animal = self.choices[choice].animal.clone();
                out.push(DialogueEffect::Say(DialogueLine::StillGoing { animal, what: "quit" }));
                return self.ask(now, Question::Quit);
            }
            out.push(DialogueEffect::Close);
        }
        self.place = Place::Over;
        out.push(DialogueEffect::Say(DialogueLine::Goodbye));
        out.push(DialogueEffect::Quit);
    }

    /// Outside a session: suggests the plan that has waited longest. In one: asks, since it would end.
    fn next_plan(
        &mut self,
        now: Duration,
        asked: Option<&Question>,
        out: &mut Vec<DialogueEffect>,
    ) {
        match self.place {
            Place::Training(choice) if asked != Some(&Question::Leave) => {
                let animal = self.choices[choice].animal.clone();
                out.push(DialogueEffect::Say(DialogueLine::StillGoing {
                    animal,
                    what: "next_plan",
                }));
                return self.ask(now, Question::Leave);
            }
            Place::Training(choice) => {
                out.push(DialogueEffect::Close);
                self.place = Place::Ready(choice);
                self.paused = false;
            }
            _ => {}
        }
        // Said again, it reads the whole list: the suggestion was not what was wanted.
        if let Some(Question::Next(_)) = asked {
            return self.ask_which(now, 0, Then::Wait, out);
        }
        if let Some(Question::Which { first, then }) = asked {
            return self.ask_which(now, first + super::PAGE, *then, out);
        }
        let waited = |index: &usize| self.choices[*index].days_ago.unwrap_or(i64::MAX);
        let others = (0..self.choices.len()).filter(|index| self.place != Place::Ready(*index));
        // Of equals the first: `max_by_key` would take the last.
        match others.rev().max_by_key(waited) {
            Some(index) => {
                let choice = self.choices[index].clone();
                out.push(DialogueEffect::Say(DialogueLine::Next { choice, yes: self.yes.clone() }));
                self.ask(now, Question::Next(index));
            }
            None => self.ask_which(now, 0, Then::Wait, out),
        }
    }

    fn voice(&self, change: VoiceChange, out: &mut Vec<DialogueEffect>) {
        out.push(DialogueEffect::Voice(change));
        out.push(DialogueEffect::Say(DialogueLine::Voice { change }));
    }
}
