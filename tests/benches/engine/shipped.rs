//! What a user has: sessions by the conductor, the desk and the recorder of the program, told by the record what it
//! knows when they begin. Every animal is judged twice on the same long session: as its first ever, and as its
//! twentieth.

use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use hushtally::clock::{Clock, FakeHands};
use hushtally::plan::Plan;
use hushtally::run::{Conductor, Desk, Origin, Plain, Recorder};
use hushtally::session::Output;
use hushtally::sim::worlds::{Half, Subject};
use hushtally::sim::{self, Simulated};
use hushtally::store::{Filter, Source, Store};
use rand::RngExt;

use crate::measure::{self, Score, Scorer};
use crate::population::{Case, Seeds, USUAL};
use crate::worlds::{self, LONG_S};

/// Sessions before the one that is judged.
const BEFORE: usize = 19;
const DAY: Duration = Duration::from_secs(86_400);

/// One animal's record, and the program's clock.
struct Program {
    _folder: tempfile::TempDir,
    record: PathBuf,
    clock: Clock,
    hands: FakeHands,
    plan: Plan,
    text: String,
}

impl Program {
    fn new(plan: Plan, text: String) -> Self {
        // In memory where there is such a place: how fast the disk is, is not asked here.
        let memory = Path::new("/dev/shm");
        let folder =
            if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
        let folder = folder.expect("a temporary folder");
        let (clock, hands) = Clock::fake("2026-01-02T09:00:00Z".parse().expect("a time"));
        let record = folder.path().join("record.db");
        Program { _folder: folder, record, clock, hands, plan, text }
    }

    /// A session of these tags, a day after the one before. What it nudged.
    fn session(&self, simulated: &Simulated) -> Vec<Output> {
        let mut desk = Desk::new(Box::new(Plain::new(io::sink())), self.clock.clone());
        let origin = Origin {
            plan: self.plan.clone(),
            plan_file: "plan.toml".into(),
            plan_text: self.text.clone(),
            source: Source::Live,
            source_name: None,
            person: None,
            place: None,
        };
        let store = Store::open(&self.record).expect("a record");
        desk.recorder = Some(Recorder::new(store, self.clock.clone(), origin));
        let mut conductor = Conductor::new(self.plan.clone());
        conductor.make_ready(&mut desk);
        for (at, input) in &simulated.inputs {
            conductor.take(*at, input.clone(), None, &mut desk);
        }
        conductor.close(simulated.truth.ended, &mut desk);
        self.hands.advance(DAY);
        let store = Store::open(&self.record).expect("a record");
        let latest = Filter { latest: Some(1), ..Filter::default() };
        let rows = store.sessions(&latest).expect("rows");
        let events = rows.first().map(|row| store.events(row.id).expect("events"));
        let logged = events.into_iter().flatten().filter_map(|stored| stored.logged());
        logged.map(Output::Append).collect()
    }
}

/// One animal, judged as its first and as its twentieth session.
fn judged(seed: u64, law: sim::worlds::Law) -> [Scorer; 2] {
    let mut dice = sim::dice(seed * 16 + law as u64);
    let (world, plan, text) = worlds::pair(law, &mut dice);
    let cues = world.cues;
    let mut animal = Subject::draw(world, &mut dice);
    let planned = plan.limits.planned.as_secs_f64();
    let before: Vec<Simulated> = (0..BEFORE)
        .map(|_| animal.session(planned * dice.random_range(0.7..1.5), &plan, &mut dice))
        .collect();
    let simulated = animal.session(LONG_S, &plan, &mut dice);
    let first = Program::new(plan.clone(), text.clone()).session(&simulated);
    let program = Program::new(plan.clone(), text);
    for one in &before {
        program.session(one);
    }
    let later = program.session(&simulated);
    let case = Case { simulated, prior: Default::default(), working: 1, cues, plan };
    [first, later].map(|out| {
        let mut scorer = Scorer::default();
        scorer.add(&case, measure::of_decline(&case, &out).into_iter().map(|(at, ..)| at));
        scorer
    })
}

/// Measures this many animals a law, and reports the figures.
pub(crate) fn measure(
    seeds: Seeds,
    animals: u64,
    figure: impl Fn(&str, f64, &str, &str, &[(String, f64)]),
) {
    let (half, from) = match seeds {
        Seeds::Tuning => (Half::Tuning, 5_000_000),
        Seeds::Reported => (Half::Reported, 4_000_000),
    };
    let mut both = [Scorer::default(), Scorer::default()];
    for law in half.laws().iter().copied() {
        for seed in from..from + animals {
            let judged = judged(seed, law);
            both.iter_mut().zip(&judged).for_each(|(all, one)| all.absorb(one));
        }
    }
    for (name, scorer) in ["first_session", "later_session"].into_iter().zip(both) {
        let hours = scorer.good_hours();
        let Score { false_per_hour, median_delay, noticed, before_breakdown, .. } =
            scorer.score(format!("{USUAL} an hour"));
        eprintln!("as shipped, {name}: {hours:.1} hours of good work, {half:?} laws");
        figure(&format!("{name}_false_nudges_per_hour"), false_per_hour, "per h", "<=1", &[]);
        figure(&format!("{name}_decline_delay_s"), median_delay, "s", "-", &[]);
        figure(&format!("{name}_declines_noticed_share"), noticed, "", "-", &[]);
        if before_breakdown.is_finite() {
            figure(&format!("{name}_before_breakdown_share"), before_breakdown, "", "-", &[]);
        }
    }
}
