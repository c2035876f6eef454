//! What the engine costs: one event through all detectors, a long log, the start of a session.

use std::hint::black_box;
use std::io;
use std::time::Duration;

use criterion::Criterion;
use hushtally::at::At;
use hushtally::clock::Clock;
use hushtally::interpret::{Details, Said};
use hushtally::run::tags::replay_tags;
use hushtally::run::{Desk, JsonLines};
use hushtally::session::{Input, Prior, Session};

use crate::population::{Seeds, cases, plan};

/// A session in full swing that knows earlier ones.
fn in_full_swing() -> (Session, At) {
    let case = cases(Seeds::Tuning, 1).remove(0);
    let mut session = Session::with_prior(plan(), case.prior);
    let mut now = At::ZERO;
    for (at, input) in case.simulated.inputs.iter().take(60) {
        let _ = session.handle(*at, input.clone());
        now = *at;
    }
    (session, now)
}

fn criterion() -> Criterion {
    Criterion::default()
        .without_plots()
        .sample_size(30)
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(2))
}

/// Seconds of one call: the median of the batches that criterion asks for, so that a moment in which
/// the machine did something else does not count.
fn typical_s<T>(name: &str, mut set_up: impl FnMut() -> T, mut call: impl FnMut(&mut T)) -> f64 {
    // Criterion writes its own estimate to files only.
    let mut batches = Vec::new();
    criterion().bench_function(name, |bencher| {
        bencher.iter_custom(|times| {
            let mut taken = Duration::ZERO;
            for _ in 0..times {
                let mut ready = set_up();
                let clock = start();
                call(black_box(&mut ready));
                taken += clock.elapsed();
            }
            batches.push(taken.as_secs_f64() / times as f64);
            taken
        });
    });
    batches.sort_by(f64::total_cmp);
    batches[batches.len() / 2]
}

#[expect(clippy::disallowed_methods, reason = "a bench has to read a clock")]
fn start() -> std::time::Instant {
    std::time::Instant::now()
}

/// One rep half a second and a look after the last event: through all detectors, checkpoint included.
pub(crate) fn event_cost_us() -> f64 {
    let (session, now) = in_full_swing();
    let input = Input::said(Said::Rep(Details::default()), "yes");
    let next = now + Duration::from_millis(1500);
    let set_up = || (session.clone(), input.clone());
    1e6 * typical_s("one event", set_up, |(session, input)| {
        let _ = black_box(session.handle(next, input.clone()));
    })
}

/// Ten hours of one rep every six seconds and a miss every thirty.
pub(crate) fn ten_hour_replay_s() -> f64 {
    let inputs: Vec<(At, Input)> = (1..=6000_u32)
        .map(|tag| {
            let said = if tag % 5 == 0 {
                Said::Miss(Details::default())
            } else {
                Said::Rep(Details::default())
            };
            (At::from_secs_f64(f64::from(tag) * 6.0), Input::said(said, "tag"))
        })
        .collect();
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let mut session = Session::new(plan());
        let clock = start();
        for (at, input) in &inputs {
            let _ = black_box(session.handle(*at, input.clone()));
        }
        best = best.min(clock.elapsed().as_secs_f64());
        assert_eq!(session.reps().len(), 6000);
    }
    best
}

/// The same ten hours as timed tags, read as text and printed as JSON lines.
pub(crate) fn ten_hour_tags_s() -> f64 {
    let line = |tag: u32| {
        let kind = if tag.is_multiple_of(5) { "miss" } else { "rep" };
        format!("{{\"at_s\":{},\"kind\":\"{kind}\"}}\n", tag * 6)
    };
    let lines: String = (1..=6000).map(line).collect();
    let mut best = f64::INFINITY;
    for _ in 0..5 {
        let mut desk = Desk::new(Box::new(JsonLines::at_leisure(io::sink())), Clock::real());
        let clock = start();
        let replayed = replay_tags(lines.as_bytes(), &plan(), &[], &Prior::default(), &mut desk);
        best = best.min(clock.elapsed().as_secs_f64());
        assert!(replayed.is_ok_and(|replayed| replayed.tags == 6000));
    }
    best
}

/// A session with six earlier ones, and its first event.
pub(crate) fn session_start_ms() -> f64 {
    let prior = cases(Seeds::Tuning, 1).remove(0).prior;
    let input = Input::said(Said::Rep(Details::default()), "yes");
    let set_up = || (plan(), prior.clone(), input.clone());
    1e3 * typical_s("session start", set_up, |(plan, prior, input)| {
        let mut session = Session::with_prior(plan.clone(), prior.clone());
        let _ = black_box(session.handle(At::from_secs_f64(1.0), input.clone()));
    })
}
