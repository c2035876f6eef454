//! The rule of the module, on sessions made for it.

use std::time::Duration;

use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Mood, Plan, RewardValue};
use crate::session::{
    Answer, Derived, Event, Input, Logged, NudgeFamily, NudgeKind, Output, Session,
};

/// A session, and what was logged and played of nudges.
struct Trial {
    session: Session,
    logged: Vec<(f64, NudgeKind)>,
    played: Vec<NudgeKind>,
}

impl Trial {
    fn new(change: impl FnOnce(&mut Plan)) -> Self {
        let mut plan = Plan::of_default_words();
        plan.steps = vec![plan.steps[0].clone(); 4];
        plan.limits.planned = Duration::from_secs(100);
        plan.limits.planned_reps = 1000;
        change(&mut plan);
        Trial { session: Session::new(plan), logged: Vec::new(), played: Vec::new() }
    }

    fn say(&mut self, seconds: f64, said: Said) -> Vec<Output> {
        let out = self.session.handle(At::from_secs_f64(seconds), Input::said(said, "words"));
        self.keep(&out);
        out
    }

    fn until(&mut self, seconds: f64) {
        let out = self.session.advance(At::from_secs_f64(seconds));
        self.keep(&out);
    }

    fn keep(&mut self, out: &[Output]) {
        for output in out {
            match output {
                Output::Append(Logged {
                    at,
                    event: Event::Derived(Derived::Nudged { nudge, .. }),
                }) => self.logged.push((at.as_secs_f64(), *nudge)),
                Output::Play(kind) if kind.family().is_some() => self.played.push(*kind),
                _ => {}
            }
        }
    }

    /// Good work, a rep every five seconds, up to `seconds`.
    fn work(&mut self, from: u32, to: u32) {
        for second in (from..to).step_by(5) {
            self.say(f64::from(second), yes());
        }
    }

    fn why(&mut self, seconds: f64) -> (Option<NudgeKind>, Vec<NudgeKind>) {
        let out = self.say(seconds, Said::Command { command: Command::Why });
        let why = out.into_iter().find_map(|output| match output {
            Output::Say(Answer::Why { nudge, held_back, .. }) => {
                Some((nudge, held_back.into_iter().map(|one| one.nudge).collect()))
            }
            _ => None,
        });
        why.expect("an answer")
    }

    fn at(&self, kind: NudgeKind) -> Vec<f64> {
        self.logged.iter().filter(|(_, nudge)| *nudge == kind).map(|(at, _)| *at).collect()
    }
}

fn yes() -> Said {
    Said::Rep(Details::default())
}

fn jackpot() -> Said {
    Said::Rep(Details { value: Some(RewardValue::Jackpot), ..Details::default() })
}

fn worried() -> Said {
    Said::State { mood: Mood::Worried }
}

#[test]
fn two_nudges_are_twenty_seconds_apart_and_the_same_a_minute() {
    let mut trial = Trial::new(|plan| plan.limits.treats_laid_out = Some(16));
    trial.work(0, 70);
    trial.say(70.5, jackpot()); // a high point, and jackpots begin
    trial.say(75.0, jackpot());
    trial.say(80.0, worried());
    trial.say(84.0, jackpot());
    trial.work(90, 108);
    trial.until(109.0);
    assert_eq!(trial.logged.iter().map(|(_, kind)| *kind).collect::<Vec<_>>(), trial.played);
    for pair in trial.logged.windows(2) {
        assert!(pair[1].0 - pair[0].0 >= 20.0, "{:?}", trial.logged);
        assert_ne!(pair[0].1, pair[1].1, "{:?}", trial.logged);
    }
    assert!(trial.logged.len() >= 2, "{:?}", trial.logged);
}

#[test]
fn a_new_reason_to_stop_now_does_not_wait() {
    let mut trial = Trial::new(|_| ());
    trial.work(0, 20);
    trial.say(21.0, worried());
    trial.say(26.0, worried());
    trial.until(30.0);
    let (soon, now) = (trial.at(NudgeKind::EndSoon), trial.at(NudgeKind::EndNow));
    assert_eq!((soon.len(), now.len()), (1, 1), "{:?}", trial.logged);
    assert!(now[0] - soon[0] < 6.0, "{:?}", trial.logged);
    // Another such reason within the minute is not said again: the planned end is past.
    trial.work(30, 80);
    trial.until(84.0);
    assert_eq!(trial.at(NudgeKind::EndNow).len(), 1, "{:?}", trial.logged);
    trial.until(130.0);
    assert_eq!(trial.at(NudgeKind::EndNow).len(), 2, "{:?}", trial.logged);
}

#[test]
fn what_is_held_back_is_told_when_asked_and_in_the_details() {
    let mut trial = Trial::new(|plan| plan.limits.treats_laid_out = Some(40));
    trial.work(0, 70);
    trial.say(70.5, jackpot());
    trial.say(74.0, worried());
    trial.until(78.0);
    assert_eq!(trial.played, [NudgeKind::HighPoint]);
    assert_eq!(trial.why(79.0), (Some(NudgeKind::HighPoint), vec![NudgeKind::EndSoon]));
    let closed = trial.session.close(At::from_secs_f64(80.0));
    let Some(Output::Say(Answer::Recap(summary))) = closed.last() else { panic!("{closed:?}") };
    assert_eq!(summary.main_nudge, Some(NudgeKind::HighPoint));
    assert_eq!(summary.held_back, [NudgeKind::EndSoon]);
}

#[test]
fn a_high_point_that_was_cancelled_is_forgotten() {
    // Given already: nobody is told of it any more.
    let mut trial = Trial::new(|_| ());
    trial.work(0, 70);
    trial.say(70.5, jackpot());
    trial.until(72.0);
    assert_eq!(trial.played, [NudgeKind::HighPoint]);
    trial.say(73.0, Said::TakeBack);
    assert_eq!(trial.why(74.0), (None, vec![]));
    assert_eq!(trial.session.summary().main_nudge, None);
    // Talk that sounded like a take-back is put back, and the high point with it.
    trial.say(75.0, Said::PutBack { said_at: At::from_secs_f64(73.0) });
    assert_eq!(trial.why(76.0), (Some(NudgeKind::HighPoint), vec![]));

    // Still waiting: it never sounds.
    let mut trial = Trial::new(|_| ());
    trial.work(0, 65);
    trial.session.nudging.raise(At::from_secs_f64(64.0), NudgeKind::Trouble, None);
    trial.say(65.0, jackpot());
    trial.until(67.0);
    trial.say(68.0, Said::TakeBack);
    trial.work(70, 88);
    assert!(!trial.played.contains(&NudgeKind::HighPoint), "{:?}", trial.played);
}

#[test]
fn changed_to_no_jackpot_it_is_not_a_high_point_and_back_again_it_is_one() {
    let mut trial = Trial::new(|_| ());
    trial.work(0, 70);
    trial.say(70.5, jackpot());
    trial.until(72.0);
    let high = Details { value: Some(RewardValue::High), ..Details::default() };
    trial.say(73.0, Said::Change(high));
    assert_eq!(trial.why(74.0).0, None);
    trial.say(75.0, Said::TakeBack);
    assert_eq!(trial.why(76.0).0, Some(NudgeKind::HighPoint));
}

#[test]
fn one_sound_tells_all_that_waits_for_the_same_thing_to_do() {
    let mut trial = Trial::new(|_| ());
    trial.work(0, 60);
    trial.session.nudging.raise(At::from_secs_f64(56.0), NudgeKind::Trouble, None);
    trial.say(62.0, jackpot());
    trial.say(63.0, worried());
    trial.work(65, 76);
    trial.until(79.5);
    assert_eq!(trial.played, [NudgeKind::Trouble, NudgeKind::EndSoon], "{:?}", trial.logged);
    let (told, held) = trial.why(79.6);
    assert_eq!((told, held), (Some(NudgeKind::EndSoon), vec![NudgeKind::HighPoint]));
}

#[test]
fn a_doubt_holds_no_nudge_back() {
    let mut trial = Trial::new(|_| ());
    trial.work(0, 20);
    let doubt = Input::Doubted { words: "yes".into(), other: "yet".into() };
    let out = trial.session.handle(At::from_secs_f64(21.0), doubt);
    trial.keep(&out);
    trial.say(24.0, worried());
    trial.until(26.0);
    assert_eq!(trial.played, [NudgeKind::NotSure, NudgeKind::EndSoon]);
}

#[test]
fn every_nudge_but_a_receipt_belongs_to_one_of_four_families() {
    let without: Vec<_> =
        NudgeKind::ALL.into_iter().filter(|kind| kind.family().is_none()).collect();
    assert_eq!(without, [NudgeKind::Heard, NudgeKind::GoodOne]);
    for family in NudgeFamily::ALL {
        assert!(NudgeKind::ALL.iter().any(|kind| kind.family() == Some(family)), "{family:?}");
    }
}
