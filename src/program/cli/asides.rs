//! What `hushtally listen` lets take the stage: the same as verbs of their own do, with the plan and the person at hand.

use super::shelf::PlanShelf;
use super::{Class, Failure, learn, nudges, places, settle, soundcheck};
use crate::dialogue::Aside;
use crate::plan::Plan;
use crate::run::{Devices, OnStage};
use crate::store::{Filter, SessionId, Store, StoreError};
use crate::wording::text;

impl PlanShelf {
    /// What this aside is made of.
    pub(super) fn on_stage(
        &mut self,
        aside: Aside,
        index: Option<usize>,
    ) -> Result<OnStage, Failure> {
        let chosen = index.map(|index| self.plan(index)).transpose()?;
        Ok(match aside {
            Aside::Settle => self.settling(chosen.as_ref())?,
            Aside::Quiz => {
                let plan = Plan::of_default_words();
                let (model, learnt) = (self.around.model.clone(), self.around.learnt.clone());
                OnStage::Quiz(nudges::quizzing(plan, Some((model, learnt)), &self.clock))
            }
            Aside::Lesson => {
                let plan = chosen.unwrap_or_else(|| self.plan_of_words());
                let whose = learn::Whose {
                    person: self.around.whose.person.clone(),
                    store: places::learnt_store(self.around.db.as_deref())?,
                };
                let (tags, times) = (learn::tags(&plan), usize::from(learn::TIMES));
                let model = self.around.model.as_deref();
                OnStage::Lesson(learn::teaching(&plan, tags, times, whose, model)?)
            }
            Aside::SetUp => {
                let plan = chosen.unwrap_or_else(|| self.plan_of_words());
                let (model, sound) = (self.around.model.clone(), &self.around.sound);
                let settings = places::settings()?;
                OnStage::SetUp(soundcheck::check_up(plan, model, sound, &settings)?)
            }
        })
    }

    fn settling(&self, chosen: Option<&Plan>) -> Result<OnStage, Failure> {
        let store = places::record(self.around.db.as_deref())?;
        let session = to_settle(&store, chosen)?;
        let ears = {
            let (learnt, model) = (self.around.learnt.clone(), self.around.model.clone());
            move |plan: &Plan| {
                places::taught_ears(model.as_deref(), plan, &learnt).map_err(|f| f.error)
            }
        };
        let by = self.around.whose.person.clone();
        Ok(OnStage::Settle(settle::settling(store, session, by, &self.clock, ears)?))
    }

    fn plan(&self, index: usize) -> Result<Plan, Failure> {
        Ok(places::plan(self.file(index)?)?.0)
    }

    /// A plan of nothing but the words that are listened for while choosing.
    fn plan_of_words(&self) -> Plan {
        Plan { words: self.words.clone(), ..Plan::of_default_words() }
    }

    /// Learnt sounds and devices as they are now, after an aside. What a sound check has `saved` stands above the
    /// devices that were named when the program began.
    pub(super) fn devices_now(&mut self, saved: bool) -> Result<Devices, Failure> {
        self.around.learnt = self.around.whose.load(self.around.db.as_deref())?;
        let settings = places::settings()?;
        if saved {
            self.around.sound = self.around.sound.by_settings();
        }
        let sound = &self.around.sound;
        let ear = (!self.around.quiet).then(|| (sound.ear(&settings), sound.tuning(&settings)));
        Ok(Devices { microphone: sound.microphone(&settings), ear })
    }
}

/// Of the animal chosen, or of any: the latest session with something unsure in it, or else the latest.
fn to_settle(store: &Store, chosen: Option<&Plan>) -> Result<SessionId, Failure> {
    let animal = chosen.map(|plan| store.find_animal(&plan.animal, Some(&plan.species)));
    let rows = match animal.transpose() {
        Err(StoreError::NoAnimal(_)) => Vec::new(),
        animal => {
            let animal = animal?.map(|row| row.id);
            store.sessions(&Filter { animal, ..Filter::default() })?
        }
    };
    let unsure = rows.iter().filter(|row| row.unsure > 0).max_by_key(|row| row.began);
    let latest = unsure.or_else(|| rows.iter().max_by_key(|row| row.began));
    let none = || Failure::new(Class::Failed, anyhow::anyhow!(text("screen.no_session_yet")));
    latest.map(|row| row.id).ok_or_else(none)
}
