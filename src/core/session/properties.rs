//! Properties over whole sequences of tags and ticks.

use proptest::prelude::*;

use super::{Event, Input, Logged, Output, PastSession, Prior, Rep, Session};
use crate::at::At;
use crate::decide::Known;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Dimension, Mood, Plan, RewardValue, Side};
use crate::stats::faded::fade;

/// One thing that happens after `wait` milliseconds; a negative wait is a clock that went backwards.
#[derive(Debug, Clone)]
struct Step {
    wait: i32,
    input: Input,
}

impl Step {
    /// When it happens, after something that happened at `before`.
    fn moment(&self, before: At) -> At {
        match u64::try_from(self.wait) {
            Ok(wait) => before + std::time::Duration::from_millis(wait),
            Err(_) => {
                before.back(std::time::Duration::from_millis(self.wait.unsigned_abs().into()))
            }
        }
    }
}

fn details() -> impl Strategy<Value = Details> {
    let side = prop_oneof![Just(Side::Left), Just(Side::Right)];
    let value =
        prop_oneof![Just(RewardValue::Low), Just(RewardValue::High), Just(RewardValue::Jackpot)];
    (prop::option::of(0..6_u8), prop::option::of(side), prop::option::of(value))
        .prop_map(|(step, side, value)| Details { step, side, value, ..Details::default() })
}

/// Tags that change the record, without take-backs, changes and commands.
fn tag() -> impl Strategy<Value = Said> {
    let mood = prop_oneof![Just(Mood::Worried), Just(Mood::Tired), Just(Mood::Calm)];
    prop_oneof![
        5 => details().prop_map(Said::Rep),
        2 => details().prop_map(|details| Said::Miss(details.of_a_miss())),
        2 => Just(Said::Cue),
        1 => Just(Said::HoldStart),
        1 => mood.prop_map(|mood| Said::State { mood }),
        1 => Just(Said::Own { name: "lift".into() }),
    ]
}

fn input() -> impl Strategy<Value = Input> {
    let command = prop_oneof![
        Just(Command::Begin),
        Just(Command::Pause),
        Just(Command::PlayBreak),
        Just(Command::GoOn),
        Just(Command::GoOn),
        Just(Command::StepUp),
        Just(Command::StepBack),
        Just(Command::Why),
        Just(Command::Rate),
        Just(Command::Refilled),
    ];
    let said = prop_oneof![
        12 => tag(),
        1 => Just(Said::TakeBack),
        1 => details().prop_map(Said::Change),
        1 => details().prop_map(Said::Detail),
        1 => Just(Said::TakesOver { person: "Ada".into() }),
        2 => command.prop_map(|command| Said::Command { command }),
    ];
    prop_oneof![
        20 => said.prop_map(|said| Input::said(said, "words")),
        1 => Just(Input::Doubted { words: "yes".into(), other: "yet".into() }),
        1 => Just(Input::Trouble { why: "test".into() }),
        1 => Just(Input::Gap { lasted: std::time::Duration::from_secs(3), why: "test".into() }),
    ]
}

fn steps(most: usize) -> impl Strategy<Value = Vec<Step>> {
    let wait = prop_oneof![8 => 0..9000_i32, 1 => -5000..0_i32, 1 => 9000..90_000_i32];
    prop::collection::vec((wait, input()).prop_map(|(wait, input)| Step { wait, input }), 0..most)
}

/// A session with every detector at work, and earlier sessions.
fn session() -> Session {
    static READY: std::sync::LazyLock<Session> = std::sync::LazyLock::new(prepare);
    READY.clone()
}

fn prepare() -> Session {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 4];
    plan.steps[1].dimension = Dimension::Duration;
    plan.steps[2].dimension = Dimension::Latency;
    plan.limits.limited_hold = Some(std::time::Duration::from_secs(6));
    plan.limits.treats_laid_out = Some(30);
    plan.limits.false_nudges_per_hour = 20.0;
    let mut prior = Prior::default();
    for earlier in 0..3_u32 {
        let mut past = Session::new(plan.clone());
        let begin = Input::said(Said::Command { command: Command::Begin }, "begin");
        let _ = past.handle(At::from_secs_f64(1.0), begin);
        // Later tries come more slowly and fail more often, as at the end of a session.
        for number in 0..40_u32 {
            let at = At::from_secs_f64(5.0 + f64::from(number * (5 + number / 8 + earlier)));
            let missed = (number * 7 + earlier) % (12 - number / 5) < 2;
            let details = Details::default();
            let said = if missed { Said::Miss(details) } else { Said::Rep(details) };
            let _ = past.handle(at, Input::said(said, "word"));
        }
        let _ = past.close(At::from_secs_f64(500.0));
        prior.sessions.push(PastSession::of(&past));
    }
    Session::with_prior(plan, prior)
}

/// Goes through the steps; between them time is reported `ticks` times.
fn go(session: &mut Session, steps: &[Step], ticks: u32) -> Vec<Output> {
    let mut out = Vec::new();
    let mut now = At::ZERO;
    for step in steps {
        let before = now;
        now = step.moment(now);
        for tick in 1..=ticks {
            out.extend(session.advance(before + now.since(before) * tick / (ticks + 1)));
        }
        out.extend(session.handle(now, step.input.clone()));
    }
    out
}

/// What is known of the step worked on, by going through all tries once more.
fn folded(session: &Session) -> Known {
    let (plan, step, since) = (session.plan(), session.working(), session.declining_since());
    let reps = session.reps().iter();
    let fresh = reps.take_while(|rep| since.is_none_or(|since| rep.active <= since));
    let here: Vec<&Rep> = fresh.filter(|rep| rep.working == step).collect();
    let before = session.prior().step(step, &plan.advice);
    let fade = fade(plan.advice.tries);
    let faded = here.iter().fold(before.faded, |faded, rep| faded.and(rep.met_criterion(), fade));
    let measured = here.iter().any(|rep| match plan.step(step).dimension {
        Dimension::Duration => rep.duration.is_some(),
        Dimension::Latency => rep.latency.is_some(),
        _ => false,
    });
    let known =
        before.clone().with(here.iter().map(|rep| rep.met_criterion()), measured, &plan.advice);
    assert_eq!((known.faded, known.measured), (faded, before.measured || measured));
    known
}

fn logged(out: &[Output]) -> Vec<&Logged> {
    let appended = out.iter().filter_map(|output| match output {
        Output::Append(logged) => Some(logged),
        _ => None,
    });
    appended.collect()
}

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    /// What is known of the step is kept up try by try; whatever is taken back, changed or corrected, it is to the bit
    /// what going through all tries once more gives.
    #[test]
    fn what_is_known_of_the_step_is_the_fold_of_its_tries(steps in steps(60)) {
        let (mut session, mut now) = (session(), At::ZERO);
        for step in &steps {
            now = step.moment(now);
            let _ = session.handle(now, step.input.clone());
            session.catch_up_at_step();
            let known = session.core.at_step.known(session.plan(), session.prior());
            prop_assert_eq!(known, folded(&session));
        }
    }

    #[test]
    fn how_often_time_is_reported_makes_no_difference(steps in steps(60), ticks in 1..7_u32) {
        let (mut seldom, mut often) = (session(), session());
        let (few, many) = (go(&mut seldom, &steps, 0), go(&mut often, &steps, ticks));
        prop_assert_eq!(few, many);
        prop_assert_eq!(seldom, often);
    }

    #[test]
    fn the_log_goes_forwards_and_its_inputs_give_the_same_session(steps in steps(80)) {
        let mut live = session();
        let out = go(&mut live, &steps, 0);
        let log = logged(&out);
        prop_assert!(log.is_sorted_by_key(|logged| logged.at));
        let mut again = session();
        let mut second = Vec::new();
        for entry in &log {
            if let Event::Input(input) = &entry.event {
                second.extend(again.handle(entry.at, input.clone()));
            }
        }
        // Nudges may still come due between the last input and the last moment.
        second.extend(again.advance(live.now));
        prop_assert_eq!(log, logged(&second));
        prop_assert_eq!(live, again);
    }

    #[test]
    fn taking_back_is_as_if_never_said(before in steps(40), said in tag(), wait in 0..9000_u64, later in 0..9000_u64) {
        let (mut with, mut without) = (session(), session());
        let begin = Step { wait: 0, input: Input::said(Said::Command { command: Command::Begin }, "b") };
        let before: Vec<Step> = std::iter::once(begin).chain(before).collect();
        let _ = (go(&mut with, &before, 0), go(&mut without, &before, 0));
        prop_assume!(!with.paused());
        let at = with.now + std::time::Duration::from_millis(wait);
        let end = at + std::time::Duration::from_millis(later);
        let _ = with.handle(at, Input::said(said, "words"));
        let _ = with.handle(end, Input::said(Said::TakeBack, "scratch that"));
        let _ = without.advance(end);
        prop_assert_eq!(&with.reps, &without.reps);
        prop_assert_eq!(&with.core, &without.core);
    }

    #[test]
    fn what_was_said_before_the_start_can_be_taken_back_and_the_start_stands(
        early in prop_oneof![Just(Input::said(Said::TakesOver { person: "Ada".into() }, "w")), Just(Input::Doubted { words: "yes".into(), other: "yet".into() })],
        put_back in any::<bool>(),
        after in prop::collection::vec((0..9000_u64, tag()), 1..12),
    ) {
        let (mut with, mut without) = (session(), session());
        let _ = with.handle(At::ZERO, early);
        let begin = Input::said(Said::Command { command: Command::Begin }, "b");
        let mut now = At::ZERO + std::time::Duration::from_millis(700);
        let _ = (with.handle(now, begin.clone()), without.handle(now, begin));
        let _ = with.handle(now, Input::said(Said::TakeBack, "scratch that"));
        if put_back {
            let said_at = now;
            now = now + std::time::Duration::from_millis(300);
            let _ = with.handle(now, Input::said(Said::PutBack { said_at }, "that was not mine"));
        }
        for (wait, said) in after {
            now = now + std::time::Duration::from_millis(wait);
            let _ = (with.handle(now, Input::said(said.clone(), "w")), without.handle(now, Input::said(said, "w")));
        }
        let outcomes = |session: &Session| -> Vec<_> { session.reps.iter().map(|rep| (rep.active, rep.outcome)).collect() };
        prop_assert_eq!(outcomes(&with), outcomes(&without));
        prop_assert_eq!(&with.core.detectors, &without.core.detectors);
        prop_assert_eq!(with.core.next_look, without.core.next_look);
    }

    #[test]
    fn putting_back_is_as_if_never_taken_back(
        before in steps(40),
        said in prop_oneof![tag(), details().prop_map(Said::Change), details().prop_map(Said::Detail)],
        // A tag in the take-back's own moment would be undone with it.
        waits in [0..9000_u64, 1..9000_u64, 0..9000_u64],
    ) {
        let (mut with, mut without) = (session(), session());
        let begin = Step { wait: 0, input: Input::said(Said::Command { command: Command::Begin }, "b") };
        let before: Vec<Step> = std::iter::once(begin).chain(before).collect();
        let _ = (go(&mut with, &before, 0), go(&mut without, &before, 0));
        prop_assume!(!with.paused());
        let mut now = with.now;
        let [at, said_at, end] = waits.map(|wait| {
            now = now + std::time::Duration::from_millis(wait);
            now
        });
        let _ = (with.handle(at, Input::said(said.clone(), "w")), without.handle(at, Input::said(said, "w")));
        let _ = with.handle(said_at, Input::said(Said::TakeBack, "scratch that"));
        prop_assert_eq!(with.undoing(said_at), [Said::PutBack { said_at }]);
        let _ = with.handle(end, Input::said(Said::PutBack { said_at }, "that was not mine"));
        let _ = without.advance(end);
        prop_assert_eq!(&with.reps, &without.reps);
        prop_assert_eq!(&with.core, &without.core);
    }

    #[test]
    fn undoing_leaves_nothing_of_what_was_said_since(before in steps(30), after in steps(8)) {
        let (mut with, mut without) = (session(), session());
        let _ = (go(&mut with, &before, 0), go(&mut without, &before, 0));
        prop_assume!(with.begun() && !with.paused());
        let mut now = with.now + std::time::Duration::from_millis(1);
        let since = now;
        for Step { wait, input } in after {
            // Commands are not taken back.
            if matches!(input, Input::Tagged { said: Said::Command { .. }, .. }) {
                continue;
            }
            let _ = with.handle(now, input);
            now = now + std::time::Duration::from_millis(u64::from(wait.unsigned_abs()) + 1);
        }
        for said in with.undoing(since) {
            let _ = with.handle(now, Input::said(said, "that was talk"));
        }
        let _ = (with.advance(now), without.advance(now));
        prop_assert_eq!(&with.reps, &without.reps);
        prop_assert_eq!(&with.core, &without.core);
    }

    #[test]
    fn what_a_nudge_says_of_the_step_is_what_is_decided_of_it(steps in steps(120), missed in 0..9_usize) {
        use super::NudgeKind::{StepReady, StepTooMuch};
        use crate::decide::Says;
        let mut session = session();
        let agrees = |session: &Session, out: &[Output]| {
            for entry in logged(out) {
                let Event::Derived(super::Derived::Nudged { nudge, .. }) = &entry.event else { continue };
                let says = session.decision().says;
                let right = match nudge {
                    StepReady => matches!(says, Says::Ready | Says::Held),
                    StepTooMuch => says == Says::TooHard,
                    _ => true,
                };
                // A hold that ran out in the same moment came after the nudge.
                let ran_out = out.iter().any(|one| matches!(one, Output::Append(Logged { event: Event::Derived(super::Derived::HoldRanOut), .. })));
                if !right && !ran_out {
                    return Err(TestCaseError::fail(format!("{nudge:?}, and decided is {says:?}")));
                }
            }
            Ok(())
        };
        let mut now = At::ZERO;
        for (place, step) in steps.into_iter().enumerate() {
            now = now + std::time::Duration::from_millis(step.wait.unsigned_abs().into());
            // Each deadline for itself: what is decided is asked at the nudge's own moment.
            while let Some(due) = session.wake_at().filter(|due| *due <= now) {
                let out = session.advance(due);
                agrees(&session, &out)?;
            }
            let miss = place % 10 < missed && matches!(&step.input, Input::Tagged { said: Said::Rep(_), .. });
            let input = if miss { Input::said(Said::Miss(Details::default()), "miss") } else { step.input };
            let out = session.handle(now, input);
            agrees(&session, &out)?;
        }
    }

    #[test]
    fn counts_agree_with_the_reps(steps in steps(120)) {
        let mut session = session();
        let _ = go(&mut session, &steps, 0);
        let (reps, tally) = (session.reps(), session.tally());
        let count = |keep: fn(&super::Rep) -> bool| reps.iter().filter(|rep| keep(rep)).count();
        prop_assert_eq!(tally.tries as usize, reps.len());
        prop_assert_eq!(tally.rewarded as usize, count(super::Rep::rewarded));
        prop_assert_eq!(tally.met as usize, count(super::Rep::met_criterion));
        prop_assert!(reps.is_sorted_by_key(|rep| rep.active));
        let summary = serde_json::to_string(&session.summary());
        prop_assert!(summary.is_ok_and(|text| !text.contains("null,\"paid\"")));
        for suggestion in session.advice() {
            for input in &suggestion.reason.inputs {
                prop_assert!(input.value.is_finite(), "{:?}", input);
            }
            let probability = suggestion.reason.probability;
            prop_assert!(probability.is_none_or(|p| (0.0..=1.0).contains(&p)));
        }
        for entry in logged(&go(&mut session, &steps, 0)) {
            if let Event::Derived(super::Derived::Nudged { reason, .. }) = &entry.event {
                prop_assert!(reason.inputs.iter().all(|input| input.value.is_finite()), "{reason:?}");
                prop_assert!(reason.probability.is_none_or(|p| (0.0..=1.0).contains(&p)), "{reason:?}");
            }
        }
    }
}

#[test]
fn ten_thousand_tags_in_a_second_and_none_at_all() {
    let mut session = session();
    for tag in 0..10_000_u32 {
        let at = At::from_secs_f64(5.0 + f64::from(tag) / 10_000.0);
        let said = if tag % 3 == 0 {
            Said::Miss(Details::default())
        } else {
            Said::Rep(Details::default())
        };
        let _ = session.handle(at, Input::said(said, "yes"));
    }
    let _ = session.close(At::from_secs_f64(60.0));
    assert_eq!(session.reps().len(), 10_000);
    assert!(!session.advice().is_empty());

    let mut empty = Session::new(Plan::of_default_words());
    assert!(empty.close(At::from_secs_f64(3600.0)).is_empty());
    assert_eq!(empty.rate_per_min(), None);
    assert_eq!(PastSession::of(&empty).active_s, 0.0);
    assert!(empty.advice()[0].reason.because.contains("not tried yet"));
}

#[test]
fn begin_said_in_a_pause_goes_on() {
    let mut session = session();
    let command = |command| Input::said(Said::Command { command }, "juniper");
    let rep = || Input::said(Said::Rep(Details::default()), "yes");
    let _ = session.handle(At::from_secs_f64(1.0), command(Command::Begin));
    let _ = session.handle(At::from_secs_f64(2.0), rep());
    let _ = session.handle(At::from_secs_f64(3.0), command(Command::Pause));
    assert!(session.paused());
    let _ = session.handle(At::from_secs_f64(9.0), command(Command::Begin));
    assert!(!session.paused());
    let _ = session.handle(At::from_secs_f64(10.0), rep());
    assert_eq!(session.reps().len(), 2);
    assert_eq!(session.active(), std::time::Duration::from_secs(3));
}

#[test]
fn a_plan_that_contradicts_itself_is_survived() {
    let mut plan = Plan::of_default_words();
    plan.advice.raise_at = 0.2;
    plan.advice.ease_below = 0.9;
    plan.advice.tries = 0;
    plan.advice.misses_in_a_row = 0;
    plan.limits.planned = std::time::Duration::ZERO;
    plan.limits.planned_reps = 0;
    plan.limits.rate_floor_per_min = 0.0;
    plan.limits.rate_window = std::time::Duration::ZERO;
    plan.limits.false_nudges_per_hour = 0.0;
    let mut session = Session::new(plan);
    for try_ in 0..50 {
        let said = if try_ % 2 == 0 {
            Said::Miss(Details::default())
        } else {
            Said::Rep(Details::default())
        };
        let _ = session.handle(At::from_secs_f64(f64::from(try_)), Input::said(said, "x"));
    }
    let _ = session.close(At::from_secs_f64(100.0));
    assert_eq!(session.reps().len(), 50);
    assert!(!session.advice().is_empty());
}
