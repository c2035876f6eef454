//! What is heard, and what becomes of it.

use super::*;
use crate::hear::{Doubt, HeardTag};
use crate::interpret::Details;
use crate::plan::{Command, Mood};
use crate::session::Answer;

/// Keeps nothing but which nudges were played.
#[derive(Default)]
struct Nowhere(Vec<NudgeKind>);

impl Shell for Nowhere {
    fn append(&mut self, _: &[Logged]) -> bool {
        true
    }
    fn show(&mut self, _: Happening) {}
    fn play(&mut self, _: At, nudge: NudgeKind) {
        self.0.push(nudge);
    }
    fn say(&mut self, _: At, _: &Answer) {}
}

fn tags(said: &[(f64, Said)]) -> Heard {
    let tag = |(at, said): &(f64, Said)| {
        let at = At::from_secs_f64(*at);
        HeardTag { at, end: at, said: said.clone(), words: "w".into(), decided: at }
    };
    Heard::Tags(said.iter().map(tag).collect())
}

fn talk(since: f64, end: f64) -> Heard {
    let (at, end) = (At::from_secs_f64(since), At::from_secs_f64(end));
    Heard::Withdrawn(Doubt { at, end, words: "w".into(), other: "talk".into(), decided: end })
}

/// Moments of tries and doubts, and when time was started, for a plan of these words.
fn heard_by_word(heard: impl IntoIterator<Item = Heard>, begins: bool) -> (Vec<f64>, usize, bool) {
    let mut plan = Plan::of_default_words();
    plan.words.set_marker_begins(begins);
    let mut conductor = Conductor::new(plan).begun_by_word();
    let mut shell = Nowhere::default();
    for heard in heard {
        conductor.hear(heard, &mut shell);
    }
    let session = conductor.session();
    let at = session.reps().iter().map(|rep| rep.at.as_secs_f64()).collect();
    (at, session.summary().unsure, session.begun())
}

/// A disk that takes nothing up to a moment; what is played, and when.
struct Disk(At, Vec<(At, NudgeKind)>, At);

impl Shell for Disk {
    fn append(&mut self, logged: &[Logged]) -> bool {
        self.2 = logged.last().map_or(self.2, |logged| logged.at);
        self.2 >= self.0
    }
    fn show(&mut self, _: Happening) {}
    fn play(&mut self, at: At, nudge: NudgeKind) {
        self.1.push((at, nudge));
    }
    fn say(&mut self, _: At, _: &Answer) {}
}

#[test]
fn trouble_with_the_disk_sounds_as_every_nudge_does_one_at_a_time_and_not_for_each_tag() {
    let at = At::from_secs_f64;
    let mut disk = Disk(at(200.0), Vec::new(), At::ZERO);
    let mut plan = Plan::of_default_words();
    plan.limits.rate_floor_per_min = 0.0;
    let mut conductor = Conductor::new(plan);
    // Anxious: a nudge of another kind comes in the middle of it.
    for second in (1..=58).map(|n| f64::from(n) * 4.0) {
        let said = match second {
            100.0 => Said::State { mood: Mood::Worried },
            _ => Said::Rep(Details::default()),
        };
        conductor.take(at(second), Input::said(said, "w"), None, &mut disk);
        conductor.pass(at(second + 3.0), &mut disk);
    }
    let of = |kind: NudgeKind| -> Vec<f64> {
        let kind = disk.1.iter().filter(|(_, played)| *played == kind);
        kind.map(|(at, _)| at.as_secs_f64()).collect()
    };
    let trouble = of(NudgeKind::Trouble);
    assert!((3..=4).contains(&trouble.len()), "{:?}", disk.1);
    assert!(trouble[0] < 8.0, "told at once: {trouble:?}");
    assert!(trouble.windows(2).all(|two| two[1] - two[0] >= 60.0), "{trouble:?}");
    // No receipt for what is not on disk, and every one after that.
    assert!(of(NudgeKind::Heard).iter().all(|at| *at >= 200.0), "{:?}", disk.1);
    assert!(of(NudgeKind::Heard).len() >= 7, "{:?}", disk.1);
    let nudges = disk.1.iter().filter(|(_, kind)| kind.family().is_some());
    let nudges: Vec<f64> = nudges.map(|(at, _)| at.as_secs_f64()).collect();
    assert!(nudges.len() > trouble.len(), "{:?}", disk.1);
    // What follows trouble keeps the gap; trouble itself does not wait.
    let after = |from: f64| nudges.iter().find(|at| **at > from).copied();
    for at in &trouble {
        assert!(after(*at).is_none_or(|next| next - at >= 20.0), "{:?}", disk.1);
    }
}

#[test]
fn a_tag_that_is_heard_begins_nothing_unless_the_plan_says_so() {
    let yes = || Said::Rep(Details::default());
    let command = |command| Said::Command { command };
    let radio = || tags(&[(1.0, yes()), (2.0, Said::Miss(Details::default()))]);
    assert_eq!(heard_by_word([radio()], false), (vec![], 2, false));
    assert_eq!(heard_by_word([radio()], true), (vec![1.0, 2.0], 0, true));
    let begun = || tags(&[(5.0, command(Command::Begin)), (6.0, yes())]);
    assert_eq!(heard_by_word([radio(), begun()], false), (vec![6.0], 2, true));
    // What was heard after the end waits in a session of its own, and counts nowhere.
    let after = tags(&[(9.0, command(Command::Finish)), (12.0, yes())]);
    assert_eq!(heard_by_word([begun(), after], false), (vec![], 1, false));
}

#[test]
fn what_is_typed_or_pressed_is_meant_and_begins() {
    let mut conductor = Conductor::new(Plan::of_default_words()).begun_by_word();
    let yes = Input::said(Said::Rep(Details::default()), "short press");
    conductor.take(At::from_secs_f64(3.0), yes, None, &mut Nowhere::default());
    assert!(conductor.session().begun() && !conductor.waits_for_begin());
}

#[test]
fn what_never_began_ends_without_a_recap_and_is_not_gone_on_with() {
    let mut session = Session::new(Plan::of_default_words());
    let doubt = Input::Doubted { words: "yes".into(), other: NotCounted::BeforeBegin.into() };
    let _ = session.handle(At::from_secs_f64(3.0), doubt);
    let out = session.close(At::from_secs_f64(9.0));
    let finished = |output: &Output| {
        matches!(
            output,
            Output::Append(Logged { event: Event::Derived(Derived::Finished { .. }), .. })
        )
    };
    assert!(out.iter().any(finished), "{out:?}");
    assert!(!out.iter().any(|output| matches!(output, Output::Say(_))), "{out:?}");
}

/// The reps' moments and the number of doubts after all this.
fn reps(heard: impl IntoIterator<Item = Heard>) -> (Vec<f64>, usize) {
    let mut conductor = Conductor::new(Plan::of_default_words());
    let mut shell = Nowhere::default();
    for heard in heard {
        conductor.hear(heard, &mut shell);
    }
    let session = conductor.session();
    let at = session.reps().iter().map(|rep| rep.at.as_secs_f64()).collect();
    (at, session.summary().unsure)
}

#[test]
fn a_doubt_is_told_but_not_each_repetition_by_another() {
    let told = |other: &str| {
        let mut conductor = Conductor::new(Plan::of_default_words());
        let mut shell = Nowhere::default();
        let (at, end) = (At::from_secs_f64(5.0), At::from_secs_f64(5.4));
        let doubt = Doubt { at, end, words: "yes".into(), other: other.into(), decided: end };
        conductor.hear(Heard::Doubt(doubt), &mut shell);
        conductor.pass(At::from_secs_f64(30.0), &mut shell);
        (shell.0, conductor.session().summary().unsure)
    };
    assert_eq!(told("yet"), (vec![NudgeKind::NotSure], 1));
    assert_eq!(told(NotCounted::SaidByAnother.name()), (vec![], 1));
}

#[test]
fn talk_withdraws_what_was_said_with_it_and_nothing_before() {
    let yes = || Said::Rep(Details::default());
    let before = || tags(&[(1.0, yes())]);
    let after = |said: &[(f64, Said)]| reps([before(), tags(said), talk(5.0, 6.0)]);
    assert_eq!(after(&[(5.0, yes()), (5.5, yes())]), (vec![1.0], 1), "yes, yes, I am coming");
    assert_eq!(after(&[(5.0, Said::TakeBack)]), (vec![1.0], 1), "cancel, that was not mine");
    assert_eq!(after(&[(5.0, yes()), (5.5, Said::TakeBack)]), (vec![1.0], 1), "both");
    // The tag never came to the session: it was our own voice, or an answer.
    assert_eq!(reps([before(), talk(5.0, 6.0)]), (vec![1.0], 1));
}
