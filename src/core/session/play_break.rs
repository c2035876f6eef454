//! A break for play: time in which no food is due. At 602ce15 there was none, and play was a pause.

use std::time::Duration;

use super::{Answer, NudgeKind, Output, Session};
use crate::at::At;
use crate::interpret::{Details, Said};
use crate::plan::{Command, Plan};
use crate::session::Input;

struct Trainer(Session);

impl Trainer {
    fn new() -> Self {
        Trainer(Session::new(Plan::of_default_words()))
    }

    fn say(&mut self, at: f64, said: Said) -> Vec<Output> {
        self.0.handle(At::from_secs_f64(at), Input::said(said, "w"))
    }

    fn yes(&mut self, at: f64) -> Vec<Output> {
        self.say(at, Said::Rep(Details::default()))
    }

    fn command(&mut self, at: f64, command: Command) -> Vec<Output> {
        self.say(at, Said::Command { command })
    }

    /// Twelve tries, one every five seconds, up to second 60.
    fn warmed_up() -> Self {
        let mut trainer = Trainer::new();
        (1..=12).for_each(|number| drop(trainer.yes(f64::from(number) * 5.0)));
        trainer
    }
}

fn nudges(out: &[Output]) -> Vec<NudgeKind> {
    let nudge = |output: &Output| match output {
        Output::Play(kind) if *kind != NudgeKind::Heard => Some(*kind),
        _ => None,
    };
    out.iter().filter_map(nudge).collect()
}

#[test]
fn play_is_not_watched_and_the_next_tag_ends_it() {
    let mut trainer = Trainer::warmed_up();
    let out = trainer.command(62.0, Command::PlayBreak);
    assert!(out.contains(&Output::Say(Answer::Now { state: "playing" })), "{out:?}");
    let out = trainer.0.advance(At::from_secs_f64(200.0));
    assert_eq!(nudges(&out), []);
    // What is asked does not end it, nor does a take-back; a tag does, and counts.
    let _ = trainer.command(210.0, Command::Count);
    assert!(trainer.0.playing() && !trainer.0.paused());
    let _ = trainer.yes(242.0);
    assert!(!trainer.0.playing());
    assert_eq!(trainer.0.reps().len(), 13);
    assert_eq!(trainer.0.breaks(), (1, Duration::from_secs(180)));
    assert_eq!(trainer.0.active(), Duration::from_secs(57));
    let summary = trainer.0.summary();
    assert_eq!((summary.breaks, summary.played_s), (1, 180.0));
}

#[test]
fn go_on_ends_it_and_a_pause_is_none_of_it() {
    let mut trainer = Trainer::warmed_up();
    let _ = trainer.command(60.0, Command::PlayBreak);
    let _ = trainer.command(70.0, Command::Pause);
    assert!(trainer.0.paused());
    let _ = trainer.command(100.0, Command::PlayBreak);
    let out = trainer.command(120.0, Command::GoOn);
    assert!(out.contains(&Output::Say(Answer::Now { state: "going_on" })), "{out:?}");
    assert_eq!(trainer.0.breaks(), (2, Duration::from_secs(30)));
    let out = trainer.command(121.0, Command::GoOn);
    assert!(out.contains(&Output::Say(Answer::Now { state: "running" })), "{out:?}");
    let out = Trainer::new().command(1.0, Command::PlayBreak);
    assert!(out.contains(&Output::Say(Answer::Now { state: "not_begun" })), "{out:?}");
}

/// "Yes" to a playing animal, taken back: it plays on, as if nothing had been said.
#[test]
fn a_tag_that_is_taken_back_leaves_the_play_as_it_was() {
    let (mut with, mut without) = (Trainer::warmed_up(), Trainer::warmed_up());
    let _ = (with.command(62.0, Command::PlayBreak), without.command(62.0, Command::PlayBreak));
    let _ = with.yes(80.0);
    let _ = with.say(81.0, Said::TakeBack);
    assert!(with.0.playing());
    let _ = with.say(82.0, Said::PutBack { said_at: At::from_secs_f64(81.0) });
    assert!(!with.0.playing());
    let _ = with.say(83.0, Said::TakeBack);
    let _ = (with.yes(110.0), without.yes(110.0));
    let tries = |trainer: &Trainer| -> Vec<_> {
        trainer.0.reps().iter().map(|rep| (rep.at, rep.active, rep.outcome)).collect()
    };
    assert_eq!(tries(&with), tries(&without));
    assert_eq!((with.0.breaks(), with.0.active()), (without.0.breaks(), without.0.active()));
}
