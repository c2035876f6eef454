//! Twelve weeks of two invented animals, so that every view has something to show. Made by the simulated
//! animal, seeded, and written down as simulated: nothing of it ever happened.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Span, ZonedDateTime};
use rand::RngExt;
use uuid::Uuid;

use crate::plan::{Plan, RewardValue};
use crate::session::{Output, Session};
use crate::sim::{self, Dated, Dice};
use crate::store::{
    AnimalRef, Entry, EventId, NewEntry, NewSession, ProbeCue, SessionId, Source, Store, StoreError,
};

/// The plan of the invented cockatiel.
pub(super) const PEPINO: &str = include_str!("../../../../demo/pepino.toml");
/// The plan of the invented donkey.
pub(super) const BRINDLE: &str = include_str!("../../../../demo/brindle.toml");

/// How many days are made up.
const DAYS: u32 = 84;
/// On this day the reward gets better, and with it the plan another version.
const PLAN_CHANGES: u32 = 42;
const PERSONS: [&str; 2] = ["first invented trainer", "second invented trainer"];

/// What was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Written {
    /// Sessions.
    pub sessions: usize,
    /// Reps in them, misses included.
    pub reps: usize,
    /// Entries of the journal.
    pub entries: usize,
}

/// Writes twelve weeks that end the day before `today` into `store`. The same seed and day give the same
/// record.
///
/// # Errors
/// The database cannot be written, or holds the same sessions already.
pub(super) fn write(
    store: &Store,
    seed: u64,
    today: Date,
    zone: &TimeZone,
) -> Result<Written, StoreError> {
    let mut scene = Scene {
        store,
        dice: sim::dice(seed),
        first: today.checked_sub(Span::new().days(i64::from(DAYS))).unwrap_or(today),
        zone,
        keys: 0,
        written: Written::default(),
    };
    let places = ["kitchen", "living room"];
    scene.animal("demo/pepino.toml", PEPINO, "a sunflower heart", seed, places, 92.0)?;
    let places = ["stable", "paddock"];
    scene.animal("demo/brindle.toml", BRINDLE, "a slice of carrot", seed + 1, places, 178_000.0)?;
    Ok(scene.written)
}

struct Scene<'a> {
    store: &'a Store,
    dice: Dice,
    first: Date,
    zone: &'a TimeZone,
    keys: u64,
    written: Written,
}

impl Scene<'_> {
    fn animal(
        &mut self,
        file: &str,
        text: &str,
        high: &str,
        seed: u64,
        places: [&str; 2],
        grams: f64,
    ) -> Result<(), StoreError> {
        let refuse = |error: crate::plan::PlanErrors| StoreError::Refused(error.to_string());
        let plan = Plan::parse(file, text).map_err(refuse)?;
        // The better reward comes as a change in the plan's text, as it would from a person.
        let better = text.replace(high, &high.replacen("a ", "a fresh ", 1));
        let later = Plan::parse(file, &better).map_err(refuse)?;
        let dated = sim::weeks(&plan, seed, DAYS as usize);
        for one in dated.iter().filter(|one| one.day < DAYS) {
            let (plan, text) =
                if one.day < PLAN_CHANGES { (&plan, text) } else { (&later, better.as_str()) };
            let familiar = self.dice.random_bool(0.7);
            let person = PERSONS[usize::from(!self.dice.random_bool(0.7))];
            self.session(file, text, plan, one, person, places[usize::from(!familiar)])?;
        }
        self.journal(&plan, grams)
    }

    fn key(&mut self, at: &ZonedDateTime) -> Uuid {
        self.keys += 1;
        let mut counter = [0; 10];
        counter[2..].copy_from_slice(&self.keys.to_be_bytes());
        let millis = u64::try_from(at.timestamp().as_millisecond()).unwrap_or(0);
        uuid::Builder::from_unix_timestamp_millis(millis, &counter).into_uuid()
    }

    /// A day and second of it, on the wall clock of the zone.
    fn at(&self, day: u32, second_of_day: u32) -> ZonedDateTime {
        let date = self.first.checked_add(Span::new().days(i64::from(day))).unwrap_or(self.first);
        let (hour, rest) = (second_of_day / 3600 % 24, second_of_day % 3600);
        let time = jiff::civil::time(hour as i8, (rest / 60) as i8, (rest % 60) as i8, 0);
        let civil = date.to_datetime(time);
        civil
            .to_zoned_datetime(self.zone.clone())
            .unwrap_or_else(|_| ZonedDateTime::new(jiff::Timestamp::UNIX_EPOCH, TimeZone::UTC))
    }

    fn session(
        &mut self,
        file: &str,
        text: &str,
        plan: &Plan,
        one: &Dated,
        person: &str,
        place: &str,
    ) -> Result<(), StoreError> {
        let began = self.at(one.day, one.second_of_day);
        let mut plan = plan.clone();
        plan.start_step = one.simulated.truth.working;
        let id = self.store.begin_session(&NewSession {
            id: SessionId(self.key(&began)),
            animal: AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() },
            behaviour: plan.behaviour.clone(),
            plan_file: file.into(),
            plan_text: text.into(),
            start_step: plan.start_step,
            told: Default::default(),
            person: Some(person.into()),
            place: Some(place.into()),
            began: began.clone(),
            source: Source::Simulated,
            source_name: None,
            made_by: concat!("simulated animal, ", env!("CARGO_PKG_VERSION")).into(),
            sitting: None,
        })?;
        let mut session = Session::new(plan);
        let mut logged = Vec::new();
        for (at, input) in &one.simulated.inputs {
            for output in session.handle(*at, input.clone()) {
                if let Output::Append(event) = output {
                    logged.push((event, EventId(self.key(&began))));
                }
            }
        }
        self.store.append_all(id, &logged, began.timestamp())?;
        let folded = self.store.finish(id)?;
        self.written.sessions += 1;
        self.written.reps += folded.reps.len();
        Ok(())
    }

    fn journal(&mut self, plan: &Plan, grams: f64) -> Result<(), StoreError> {
        for week in 0..DAYS / 7 {
            let scatter = 1.0 + 0.01 * (2.0 * self.dice.random::<f64>() - 1.0);
            self.entry(
                plan,
                week * 7,
                Entry::Weight { grams: (grams * scatter).round(), said: None },
            )?;
        }
        for day in 0..DAYS {
            if self.dice.random_bool(0.2) {
                let behaviour = "stretches by itself".into();
                self.entry(
                    plan,
                    day,
                    Entry::Captured { behaviour, value: RewardValue::Low, context: None },
                )?;
            }
        }
        for number in 0..24_u32 {
            let cue = match number % 3 {
                0 => ProbeCue::Own,
                1 => ProbeCue::None,
                _ => ProbeCue::Other("turn round".into()),
            };
            let chance = if cue == ProbeCue::Own { 0.9 } else { 0.15 };
            let entry = Entry::Probe {
                behaviour: plan.behaviour.clone(),
                cue,
                came: self.dice.random_bool(chance),
                instead: None,
                latency_s: None,
                context: None,
            };
            self.entry(plan, DAYS - 24 + number, entry)?;
        }
        Ok(())
    }

    fn entry(&mut self, plan: &Plan, day: u32, entry: Entry) -> Result<(), StoreError> {
        let when = self.at(day, 8 * 3600);
        let id = EventId(self.key(&when));
        let animal = AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() };
        self.store.write_entry(&NewEntry {
            id,
            animal: Some(animal),
            when,
            person: Some(PERSONS[0].into()),
            place: None,
            entry,
        })?;
        self.written.entries += 1;
        Ok(())
    }
}
