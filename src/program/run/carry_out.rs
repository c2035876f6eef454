//! Carries out what the dialogue asks for.

use jiff::ZonedDateTime;
use minijinja::context;

use super::live::{Live, PhaseEnd};
use super::phase::Phase;
use super::stage::{Onset, Stage, Told};
use super::{Desk, HeardTimes, Recorder, Shell};
use crate::dialogue::{
    Audibility, Dialogue, DialogueEffect, DialogueInput, DialogueLine, Health, Place, Question,
    Weeks,
};
use crate::history::course::Course;
use crate::history::{Ladder, closer, length};
use crate::interpret::Said;
use crate::known::{Known, concerns};
use crate::plan::RewardValue;
use crate::session::{Answer, Input, NudgeKind, Summary};
use crate::store::{
    AnimalRef, AnimalRow, Entry, EventId, Filter, NewEntry, SessionRow, StoreError,
};
use crate::wording::{filled, text};

/// As the journal keeps it.
fn entry(what: Health, text: String) -> Entry {
    match what {
        Health::Ill => Entry::Ill { text },
        Health::Sore => Entry::Sore { text },
        Health::Concern => Entry::Concern { text },
        Health::NoConcern => Entry::NoConcern { text },
        Health::Well => Entry::Well { text },
        // How much of what is not guessed: "two carrots" are not two grams.
        Health::Food => Entry::Food { what: text, grams: None, kcal: None },
    }
}

impl Live<'_> {
    /// Carries out one effect; what was said for it, when that was. Tells what became of it.
    pub(super) fn carry_out_one(
        &mut self,
        effect: DialogueEffect,
        onset: Option<Onset>,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        match effect {
            DialogueEffect::Pass { said, words } if self.phase == Phase::Lobby => {
                self.deferred.push((said, words));
            }
            // What follows the choice of a plan is said when that is ready.
            effect if self.leaves => self.later.push(effect),
            // The phase ends, and the next one loads it.
            DialogueEffect::Load(index) => self.leaves = self.phase != Phase::Plan(index),
            DialogueEffect::Say(line) => stage.desk.tell_line(stage.latest, &line),
            DialogueEffect::Show(line) => stage.desk.show_line(&line),
            DialogueEffect::Pass { said, words } => return self.pass_on(said, words, onset, stage),
            DialogueEffect::Overheard { said, words } => {
                return self.tag(said, words, onset, stage);
            }
            DialogueEffect::StartAt(step) => {
                self.conductor.start_at(step, stage.desk);
                stage.desk.tell_line(stage.latest, &self.begins_at());
            }
            // Hearing takes a note from its command on, by itself; a receipt says that it does.
            DialogueEffect::Dictate
                if onset.is_some_and(|onset| onset.times.is_some())
                    && dialogue.question() == Some(&Question::Note) =>
            {
                stage.desk.play(stage.latest, NudgeKind::Heard);
            }
            DialogueEffect::Dictate => self.dictate = true,
            DialogueEffect::Note(text) if matches!(dialogue.place(), Place::Training(_)) => {
                let noted = Input::Noted { text };
                let turns = self.conductor.take(stage.latest, noted, None, stage.desk);
                let mut told = self.turned(turns);
                told.extend(self.look_at_health(stage));
                return told;
            }
            DialogueEffect::Note(text) => {
                return self.journal(Entry::Note { text }, dialogue, stage);
            }
            DialogueEffect::Weight { grams, said } => {
                return self.journal(Entry::Weight { grams, said: Some(said) }, dialogue, stage);
            }
            DialogueEffect::Health { what, text } => {
                return self.journal(entry(what, text), dialogue, stage);
            }
            DialogueEffect::Concern { yes, text } => {
                let what = if yes { Health::Concern } else { Health::NoConcern };
                return self.journal(entry(what, text), dialogue, stage);
            }
            DialogueEffect::Capture => {
                let behaviour = self.conductor.session().plan().behaviour.clone();
                // A captured behaviour is worth the high reward (common practice, no source).
                let value = RewardValue::High;
                let captured = Entry::Captured { behaviour, value, context: None };
                return self.journal(captured, dialogue, stage);
            }
            DialogueEffect::Recap { details } => return self.recap(details, stage),
            DialogueEffect::Weeks(asked) => self.weeks(asked, stage),
            DialogueEffect::Trials => return self.trials(stage),
            DialogueEffect::BeginTrial { change } => {
                return self.begin_trial(&change, dialogue, stage);
            }
            DialogueEffect::WhatNext => self.what_next(stage),
            DialogueEffect::HandOver => self.hand_over(stage),
            DialogueEffect::Report => self.report(stage),
            DialogueEffect::Backup => self.backup(stage),
            DialogueEffect::Probe { given, came } => {
                return self.probe(given, came, dialogue, stage);
            }
            DialogueEffect::Aside(aside) => {
                (self.aside, self.end) = (Some(aside), Some(PhaseEnd::Switch));
            }
            DialogueEffect::KeepDraft(draft) => {
                if let Err(error) = self.shelf.keep_draft(draft.as_ref()) {
                    let error = format!("{error:#}");
                    let told = filled("screen.draft_not_kept", context! { error });
                    stage.desk.printer.remark(&told);
                }
            }
            DialogueEffect::MakePlan(new) => return vec![self.make_plan(&new)],
            DialogueEffect::ReadChange(text) => return vec![self.read_change(text)],
            DialogueEffect::ChangePlan(change) => return vec![self.change_plan(&change)],
            DialogueEffect::Reload => {
                (self.leaves, self.reload) = (true, true);
                self.end = Some(PhaseEnd::Switch);
            }
            DialogueEffect::Repeat => stage.desk.repeat(stage.latest),
            DialogueEffect::Voice(change) => stage.change(change),
            DialogueEffect::SoundCheck => self.sound_check(stage),
            // The dialogue is past it already, so it is not told.
            DialogueEffect::Close => drop(self.conductor.close(stage.latest, stage.desk)),
            DialogueEffect::Quit => self.end = Some(PhaseEnd::Quit),
        }
        Vec::new()
    }

    /// Hands what was said to the session.
    fn pass_on(
        &mut self,
        said: Said,
        words: String,
        onset: Option<Onset>,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let now = stage.latest.back(stage.offset);
        let at = onset.map_or(now, |onset| onset.at);
        let resumed = self.settle_resumable(&said, at, stage);
        if self.going_on.is_some() {
            self.deferred.push((said, words));
            return Vec::new();
        }
        let mut told = self.turned(resumed);
        told.extend(self.tag(said, words, onset, stage));
        told
    }

    fn tag(
        &mut self,
        said: Said,
        words: String,
        onset: Option<Onset>,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let at = onset.map_or(stage.latest, |onset| onset.at + stage.offset);
        let times = onset.and_then(|onset| onset.times).map(|times| HeardTimes {
            end: times.end + stage.offset,
            decided: times.decided + stage.offset,
        });
        let turns = self.conductor.take(at, Input::Tagged { said, words }, times, stage.desk);
        self.turned(turns)
    }

    pub(super) fn journal(
        &mut self,
        entry: Entry,
        dialogue: &Dialogue,
        stage: &mut Stage<'_>,
    ) -> Vec<Told<DialogueInput>> {
        let plan = self.conductor.session().plan();
        let animal = matches!(dialogue.place(), Place::Ready(_) | Place::Training(_))
            .then(|| AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() });
        let by = stage.desk.recorder.as_ref().map(Recorder::origin);
        let new = NewEntry {
            id: EventId(self.clock.new_id()),
            animal,
            when: ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system()),
            person: by.and_then(|origin| origin.person.clone()),
            place: by.and_then(|origin| origin.place.clone()),
            entry,
        };
        let written = match &stage.desk.recorder {
            Some(recorder) => recorder.store().write_entry(&new),
            None => {
                stage.desk.printer.remark(&text("screen.not_kept"));
                return Vec::new();
            }
        };
        if let Err(error) = written {
            let error = error.to_string();
            stage.desk.tell(stage.latest, filled("screen.could_not_be_kept", context! { error }));
        }
        self.look_at_health(stage)
    }

    /// Tells dialogue and desk what is open of the animal's health, as the record has it now.
    pub(super) fn look_at_health(&self, stage: &mut Stage<'_>) -> Vec<Told<DialogueInput>> {
        let Some(recorder) = &stage.desk.recorder else { return Vec::new() };
        let plan = self.conductor.session().plan();
        let today = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system()).date();
        match concerns(recorder.store(), plan, today) {
            Ok(concerns) => {
                stage.desk.concerns = (plan.animal.clone(), concerns.clone());
                vec![Told::new(self.clock.now(), DialogueInput::Concerns(concerns))]
            }
            Err(error) => {
                stage.desk.tell(stage.latest, unreadable(&error));
                Vec::new()
            }
        }
    }

    fn recap(&self, details: bool, stage: &mut Stage<'_>) -> Vec<Told<DialogueInput>> {
        match self.latest_summaries(stage.desk) {
            Ok(mut all) if all.len() > 1 && !details => {
                let sessions = std::mem::take(&mut all);
                stage.desk.say(stage.latest, &Answer::RecapOfAll { sessions });
            }
            Ok(mut all) => match all.pop() {
                Some(summary) if details => stage.desk.tell_details(stage.latest, &summary),
                Some(summary) => stage.desk.say(stage.latest, &Answer::Recap(summary)),
                None => {
                    stage.desk.tell_line(stage.latest, &DialogueLine::NothingYet);
                    return Vec::new();
                }
            },
            Err(error) => {
                stage.desk.tell(stage.latest, unreadable(&error));
                return Vec::new();
            }
        }
        vec![Told::new(self.clock.now(), DialogueInput::Recapped)]
    }

    /// Tells of the weeks of the animal and behaviour chosen.
    fn weeks(&self, asked: Weeks, stage: &mut Stage<'_>) {
        let text = match self.weeks_text(asked, stage.desk) {
            Ok(text) if text.is_empty() => stage.desk.wording().nothing_yet(),
            Ok(text) => text,
            Err(error) => unreadable(&error),
        };
        stage.desk.tell(stage.latest, text);
    }

    fn weeks_text(&self, asked: Weeks, desk: &Desk) -> Result<String, StoreError> {
        let Some(known) = self.known(desk)? else { return Ok(String::new()) };
        let plan = self.conductor.session().plan();
        let present = Ladder::of(0, plan);
        let course = Course::new(&known.history, &plan.behaviour, &present);
        let wording = desk.wording();
        if asked == Weeks::Time {
            let length = length::advise(&known.history, &plan.behaviour, &plan.limits);
            return Ok(wording.stays_good(&length));
        }
        let looked = wording.look(&closer::look(&course, plan));
        let lines = match asked {
            Weeks::Time | Weeks::Rate => [looked.minutes, looked.hands].concat(),
            Weeks::Count => looked.sessions,
            Weeks::Treats => looked.treats,
        };
        Ok(lines.join(" "))
    }

    /// What the record knows of the animal chosen; `None` without a record, or while it has nothing.
    pub(super) fn known(&self, desk: &Desk) -> Result<Option<Known>, StoreError> {
        let Some(recorder) = &desk.recorder else { return Ok(None) };
        let store = recorder.store();
        let plan = self.conductor.session().plan();
        let named = |row: &AnimalRow| row.name == plan.animal && row.species == plan.species;
        let animal = store.animals()?.into_iter().find(named);
        animal.map(|animal| Known::read(store, &animal)).transpose()
    }

    /// The session at hand or the latest in the record, with the others of its sitting.
    fn latest_summaries(&self, desk: &Desk) -> Result<Vec<Summary>, StoreError> {
        if self.conductor.sitting().begun() {
            return Ok(self.conductor.sitting().summaries());
        }
        let Some(recorder) = &desk.recorder else { return Ok(Vec::new()) };
        let store = recorder.store();
        let mut rows = store.sessions(&Filter::latest())?;
        if let Some(first) = rows.first().and_then(|row| row.sitting) {
            rows = store.sessions(&Filter {
                sitting: Some(first),
                begun: true,
                ..Filter::default()
            })?;
        }
        let summary = |row: &SessionRow| {
            let mut summary = store.fold(row.id)?.summary;
            summary.was_begun_by(row.person.as_deref());
            Ok(summary)
        };
        rows.iter().map(summary).collect()
    }

    fn sound_check(&self, stage: &mut Stage<'_>) {
        let spoke = self.spoke.map(|(level, _)| level);
        let audibility = Audibility::of(spoke, stage.noise.dbfs());
        stage.desk.tell_line(stage.latest, &DialogueLine::SoundCheck { audibility });
    }
}

/// Said where an answer would come from the record.
pub(super) fn unreadable(error: &StoreError) -> String {
    filled("screen.record_unreadable", context! { error => error.to_string() })
}
