//! How long an animal stays good, as the program would say it, beside what is true.

use hushtally::history::{AnimalHistory, Ladder, Session, length};
use hushtally::known::as_try;
use hushtally::plan::Plan;
use hushtally::session::Session as Engine;
use hushtally::sim::worlds::{Half, Law, Subject, World};
use hushtally::sim::{self, Animal, Dice, Simulated, Trainer};
use rand::RngExt;

use crate::{figure, verdicts};

/// Animals of each law, and sessions of each animal; the truth is drawn from more and longer ones.
const ANIMALS: u64 = 40;
const QUICK_ANIMALS: u64 = 10;
const SESSIONS: usize = 40;
const TRUE_SESSIONS: usize = 300;
const LONG_S: f64 = 1_000.0;
/// Sessions end at these parts of the planned length, whatever the animal does.
const ENDS: std::ops::Range<f64> = 0.7..1.5;

/// A simulated session as the record has it.
pub(crate) fn recorded(plan: &Plan, simulated: &Simulated, day: usize, version: i64) -> Session {
    let mut plan = plan.clone();
    plan.start_step = simulated.truth.working;
    let mut engine = Engine::new(plan);
    for (at, input) in &simulated.inputs {
        let _ = engine.handle(*at, input.clone());
    }
    let _ = engine.close(simulated.truth.ended);
    Session {
        last_step: engine.working(),
        active_s: engine.active().as_secs_f64(),
        declined_s: engine.declining_since().map(|since| since.as_secs_f64()),
        tries: engine.reps().iter().map(as_try).collect(),
        ..verdicts::session(day, version, 0, 1)
    }
}

/// A source of sessions that last this many seconds.
enum Source {
    First(Box<Animal>, Trainer),
    Other(Subject),
}

impl Source {
    fn session(&mut self, seconds: f64, plan: &Plan, dice: &mut Dice) -> Simulated {
        match self {
            Source::First(animal, trainer) => {
                trainer.stops_after = seconds;
                sim::run(animal, trainer, plan, 1, dice)
            }
            Source::Other(animal) => animal.session(seconds, plan, dice),
        }
    }
}

/// What the program says of one animal beside what is true: the time by which a quarter has declined.
struct Found {
    said: Option<f64>,
    truth: f64,
    held: bool,
    /// Chance to last the planned time: said, and true.
    lasts: Option<(f64, f64)>,
}

fn one(mut source: Source, dice: &mut Dice) -> Found {
    let mut plan = verdicts::plan();
    plan.limits.planned = std::time::Duration::from_secs(180);
    let planned = plan.limits.planned.as_secs_f64();
    let mut declines: Vec<f64> = (0..TRUE_SESSIONS)
        .map(|_| {
            let truth = source.session(LONG_S, &plan, dice).truth;
            truth.declined.map_or(f64::INFINITY, |at| at.as_secs_f64())
        })
        .collect();
    declines.sort_by(f64::total_cmp);
    let truth = declines[TRUE_SESSIONS / 4];
    let sessions: Vec<Session> = (0..SESSIONS)
        .map(|day| {
            let seconds = planned * dice.random_range(ENDS);
            recorded(&plan, &source.session(seconds, &plan, dice), day, 1)
        })
        .collect();
    let history = AnimalHistory::new("A", "s", vec![Ladder::of(1, &plan)], sessions);
    let found = length::advise(&history, &plan.behaviour, &plan.limits);
    let quarter = found.until_decline_s.known();
    let lasted = declines.iter().filter(|at| **at > found.planned_s).count();
    Found {
        said: quarter.map(|q| q.point),
        truth,
        held: quarter.is_some_and(|q| {
            q.low.unwrap_or(0.0) <= truth && truth <= q.high.unwrap_or(f64::INFINITY)
        }),
        lasts: found.lasts.known().map(|lasts| (lasts.point, lasted as f64 / TRUE_SESSIONS as f64)),
    }
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

/// Prints the figure; the smoother and its prior were chosen on the tuning half's laws and seeds.
pub(crate) fn report(tuning: bool, quick: bool) {
    let half = if tuning { Half::Tuning } else { Half::Reported };
    let from = if tuning { 171_000 } else { 172_000 };
    let animals = if quick { QUICK_ANIMALS } else { ANIMALS };
    let mut ratios = Vec::new();
    let (mut held, mut said) = (0_u32, 0_usize);
    let laws = half.laws().iter().copied().map(Some).chain([None]);
    for law in laws {
        let found: Vec<Found> = (from..from + animals)
            .map(|seed| {
                let mut dice = sim::dice(seed);
                let source = match law {
                    Some(law) => {
                        let world = World::draw(law, &mut dice);
                        Source::Other(Subject::draw(world, &mut dice))
                    }
                    None => {
                        let animal = Animal::draw(1, &mut dice);
                        Source::First(Box::new(animal), Trainer::draw(180.0, &mut dice))
                    }
                };
                one(source, &mut dice)
            })
            .collect();
        let of_law: Vec<f64> = found.iter().filter_map(|f| Some(f.said? / f.truth)).collect();
        let off: Vec<f64> = found.iter().filter_map(|f| f.lasts).map(|(s, t)| s - t).collect();
        let share = |part: usize| 100.0 * part as f64 / found.len() as f64;
        eprintln!(
            "how long it stays good, {}: said of {:.0} %, said / true {:.2}, interval holds the truth {:.0} %, \
             chance to last as planned said too high by {:+.2}",
            law.map_or("first world", Law::name),
            share(of_law.len()),
            median(of_law.clone()),
            100.0 * found.iter().filter(|f| f.held).count() as f64 / of_law.len() as f64,
            median(off)
        );
        held += found.iter().map(|f| u32::from(f.held)).sum::<u32>();
        said += of_law.len();
        if law != Some(Law::Never) {
            ratios.extend(of_law);
        }
    }
    figure("good_time_bias", median(ratios), "", "<=1.1", &[]);
    // Of those of which it was said at all, at a nominal 95 %; the truth is a quantile of 300 sessions.
    let holds = 100.0 * f64::from(held) / said as f64;
    figure("good_time_intervals_hold", holds, "%", ">=93", &[]);
}
