//! Carries out what the dialogue asks for.

use jiff::ZonedDateTime;

use super::live::{Live, Onset, PhaseEnd};
use super::phase::Phase;
use super::{HeardTimes, Known, Shell, concerns};
use crate::dialogue::{self, Effect, Health, Heardness, Line, Place, Question, Weeks};
use crate::history::course::Course;
use crate::history::{Ladder, closer, length};
use crate::plan::RewardValue;
use crate::session::{Answer, Input, NudgeKind, Summary};
use crate::store::{AnimalRef, AnimalRow, Entry, EventId, Filter, NewEntry, StoreError};

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
    /// Carries out effects in order; what was said last, when that was.
    pub(super) fn carry_out(&mut self, effects: Vec<Effect>, onset: Option<Onset>) {
        let mut effects = effects.into_iter();
        while let Some(effect) = effects.next() {
            match effect {
                Effect::Load(index) if self.phase != Phase::Plan(index) => {
                    // The phase ends, and the next one loads it: what follows is said when it is ready.
                    self.later.extend(effects.by_ref());
                }
                Effect::Load(_) => {}
                Effect::Say(line) => self.desk.tell_line(self.latest, &line),
                Effect::Show(line) => self.desk.show_line(&line),
                Effect::Pass { said, words } if self.phase == Phase::Lobby => {
                    self.deferred.push((said, words));
                }
                Effect::Pass { said, words } => {
                    let now = self.latest.back(self.offset);
                    self.settle_resumable(&said, onset.map_or(now, |onset| onset.at));
                    if self.going_on.is_some() {
                        self.deferred.push((said, words));
                        continue;
                    }
                    let at = onset.map_or(self.latest, |onset| onset.at + self.offset);
                    let heard = onset.and_then(|onset| onset.times);
                    let times = heard.map(|times| HeardTimes {
                        end: times.end + self.offset,
                        decided: times.decided + self.offset,
                    });
                    self.conductor.take(at, Input::Tagged { said, words }, times, self.desk);
                    self.sync();
                }
                Effect::StartAt(step) => {
                    self.conductor.start_at(step, self.desk);
                    let at = self.begins_at();
                    self.desk.tell_line(self.latest, &at);
                }
                // Hearing takes a note from its command on, by itself; a receipt says that it does.
                Effect::Dictate
                    if onset.is_some_and(|onset| onset.times.is_some())
                        && self.dialogue.question() == Some(&Question::Note) =>
                {
                    self.desk.play(self.latest, NudgeKind::Heard);
                }
                Effect::Dictate => self.dictate = true,
                Effect::Note(text) => self.note(text),
                Effect::Weight { grams, said } => {
                    self.journal(Entry::Weight { grams, said: Some(said) });
                }
                Effect::Health { what, text } => self.journal(entry(what, text)),
                Effect::Concern { yes: true, text } => self.journal(Entry::Concern { text }),
                Effect::Concern { yes: false, text } => self.journal(Entry::NoConcern { text }),
                Effect::Capture => {
                    let behaviour = self.conductor.session().plan().behaviour.clone();
                    // A captured behaviour is worth the high reward (common practice, no source).
                    let value = RewardValue::High;
                    self.journal(Entry::Captured { behaviour, value, context: None });
                }
                Effect::Recap { details } => self.recap(details),
                Effect::Weeks(asked) => self.weeks(asked),
                Effect::Repeat => self.desk.repeat(self.latest),
                Effect::Voice(change) => {
                    if let Some(sounds) = &mut self.desk.sounds {
                        sounds.change(change);
                    }
                }
                Effect::SoundCheck => self.sound_check(),
                Effect::Close => {
                    self.conductor.close(self.latest, self.desk);
                    // The dialogue is past it already.
                    self.desk.session_ended = false;
                }
                Effect::Quit => self.end = Some(PhaseEnd::Quit),
            }
        }
    }

    fn note(&mut self, text: String) {
        if matches!(self.dialogue.place(), Place::Training(_)) {
            self.conductor.take(self.latest, Input::Noted { text }, None, self.desk);
            self.look_at_health();
        } else {
            self.journal(Entry::Note { text });
        }
    }

    fn journal(&mut self, entry: Entry) {
        let plan = self.conductor.session().plan();
        let animal = matches!(self.dialogue.place(), Place::Ready(_) | Place::Training(_))
            .then(|| AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() });
        let new = NewEntry {
            id: EventId(self.clock.new_id()),
            animal,
            when: ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system()),
            person: None,
            place: None,
            entry,
        };
        let written = match &self.desk.recorder {
            Some(recorder) => recorder.store().write_entry(&new),
            None => return self.desk.printer.remark("there is no record, so this was not kept"),
        };
        if let Err(error) = written {
            self.desk.tell(self.latest, format!("That could not be kept: {error}"));
        }
        self.look_at_health();
    }

    /// Tells dialogue and desk what is open of the animal's health, as the record has it now.
    pub(super) fn look_at_health(&mut self) {
        let Some(recorder) = &self.desk.recorder else { return };
        let plan = self.conductor.session().plan();
        let today = ZonedDateTime::new(self.clock.utc(), jiff::tz::TimeZone::system()).date();
        match concerns(recorder.store(), plan, today) {
            Ok(concerns) => {
                self.desk.concerns = (plan.animal.clone(), concerns.clone());
                let input = dialogue::Input::Concerns(concerns);
                let effects = self.dialogue.handle(self.clock.now(), input);
                self.carry_out(effects, None);
            }
            Err(error) => {
                self.desk.tell(self.latest, format!("The record cannot be read: {error}"));
            }
        }
    }

    fn recap(&mut self, details: bool) {
        let summary = match self.latest_summary() {
            Ok(Some(summary)) => summary,
            Ok(None) => {
                return self.desk.tell_line(self.latest, &Line::NothingYet);
            }
            Err(error) => {
                return self.desk.tell(self.latest, format!("The record cannot be read: {error}"));
            }
        };
        if details {
            self.desk.tell_details(self.latest, &summary);
        } else {
            self.desk.say(self.latest, &Answer::Recap(summary));
        }
        let effects = self.dialogue.handle(self.clock.now(), dialogue::Input::Recapped);
        self.carry_out(effects, None);
    }

    /// Tells of the weeks of the animal and behaviour chosen.
    fn weeks(&mut self, asked: Weeks) {
        let text = match self.weeks_text(asked) {
            Ok(text) if text.is_empty() => self.desk.wording().nothing_yet(),
            Ok(text) => text,
            Err(error) => format!("The record cannot be read: {error}"),
        };
        self.desk.tell(self.latest, text);
    }

    fn weeks_text(&self, asked: Weeks) -> Result<String, StoreError> {
        let Some(recorder) = &self.desk.recorder else { return Ok(String::new()) };
        let store = recorder.store();
        let plan = self.conductor.session().plan();
        let named = |row: &AnimalRow| row.name == plan.animal && row.species == plan.species;
        let Some(animal) = store.animals()?.into_iter().find(named) else {
            return Ok(String::new());
        };
        let known = Known::read(store, &animal)?;
        let present = Ladder::of(0, plan);
        let course = Course::new(&known.past, &plan.behaviour, &present);
        let wording = self.desk.wording();
        if asked == Weeks::Time {
            let length = length::advise(&known.past, &plan.behaviour, &plan.limits);
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

    fn latest_summary(&self) -> Result<Option<Summary>, StoreError> {
        let session = self.conductor.session();
        if session.begun() {
            return Ok(Some(session.summary()));
        }
        let Some(recorder) = &self.desk.recorder else { return Ok(None) };
        let store = recorder.store();
        let Some(latest) = store.sessions(&Filter::latest())?.into_iter().next() else {
            return Ok(None);
        };
        Ok(Some(store.fold(latest.id)?.summary))
    }

    fn sound_check(&mut self) {
        let spoke = self.spoke.map(|(level, _)| level);
        let heardness = Heardness::of(spoke, self.noise.dbfs());
        self.desk.tell_line(self.latest, &Line::SoundCheck { heardness });
    }
}
