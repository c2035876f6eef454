//! Shows a session as it goes on, a line an event, for people.

use std::io::Write;

use super::Happening;
use crate::at::At;
use crate::interpret::Said;
use crate::session::{Derived, Event, Input, NOT_READINGS, NudgeKind, Outcome, Rep, Session};
use crate::wording::Wording;

/// Shows what happens.
pub trait Printer {
    /// An event, after it was saved; live also when, in session time.
    fn event(&mut self, happening: &Happening, saved: Option<At>);
    /// A nudge was played.
    fn nudge(&mut self, at: At, nudge: NudgeKind);
    /// What follows belongs to the session of this number.
    fn session(&mut self, _: u64) {}
    /// Something was said to the trainer.
    fn said(&mut self, at: At, text: &str);
    /// How the session stands, a few times a second; for a line that is written over.
    fn status(&mut self, _: &Status) {}
    /// What is being typed, for a line that is written over; nothing when that is over.
    fn draft(&mut self, _: &str) {}
    /// Something about Hushtally itself, such as a microphone that went away.
    fn remark(&mut self, text: &str);
}

/// How a live session stands.
#[derive(Debug, Clone, Copy)]
pub struct Status<'a> {
    /// Session time.
    pub at: At,
    /// Level of the microphone in dBFS (RMS).
    pub level_dbfs: f32,
    /// The session.
    pub session: &'a Session,
    /// Times that sound was lost.
    pub lost: u32,
}

/// Plain lines: time, what was heard, what it became.
pub struct Plain<W: Write> {
    out: W,
    wording: Wording,
}

impl<W: Write> Plain<W> {
    /// Writes to `out`.
    pub fn new(out: W) -> Self {
        Plain { out, wording: Wording::english() }
    }

    /// Where it has written to so far.
    pub fn written(&self) -> &W {
        &self.out
    }

    fn line(&mut self, at: At, words: &str, what: &str) {
        let at = at.to_string();
        // A terminal that has gone away must not end the session.
        let _gone =
            writeln!(self.out, "{at:>9}  {words:<22}  {what}").and_then(|()| self.out.flush());
    }
}

impl<W: Write> Printer for Plain<W> {
    fn event(&mut self, happening: &Happening, _: Option<At>) {
        let at = happening.logged.at;
        let rep = happening.rep;
        match &happening.logged.event {
            Event::Input(Input::Tagged { said, words }) => {
                let what = match (said, rep) {
                    (_, Some((number, rep))) => rep_line(number, rep),
                    (Said::State { mood }, _) => format!("{mood:?}").to_lowercase(),
                    (Said::Cue, _) => "cue given".into(),
                    (Said::HoldStart, _) => "hold begins".into(),
                    (Said::TakeBack, _) => "took back the last".into(),
                    (Said::PutBack { .. }, _) => "put back what was taken back".into(),
                    (Said::Own { name }, _) => name.clone(),
                    _ => String::new(),
                };
                self.line(at, words, &what);
            }
            Event::Input(Input::Doubted { words, other }) => {
                let or = match other.as_str() {
                    "" => String::new(),
                    reason if NOT_READINGS.contains(&reason) => format!(": {reason}"),
                    other => format!(", or \"{other}\""),
                };
                self.line(at, &format!("{words}?"), &format!("not sure{or}; kept for the review"));
            }
            Event::Input(Input::Gap { lasted, why }) => {
                let what = format!("no sound for {:.1} s: {why}", lasted.as_secs_f64());
                self.line(at, "", &what);
            }
            Event::Input(Input::Noted { text }) => self.line(at, "note", text),
            Event::Derived(Derived::Began { step }) => {
                self.line(at, "", &format!("session begins at step {step}"));
            }
            Event::Derived(Derived::HoldRanOut) => {
                let what = rep.map(|(number, rep)| rep_line(number, rep)).unwrap_or_default();
                self.line(at, "", &what);
            }
            Event::Derived(Derived::Nudged { nudge, reason }) => {
                let what = format!("{} ({})", self.wording.nudge(*nudge), reason.because);
                self.line(at, "~", &what);
            }
            Event::Derived(Derived::Finished { .. }) => self.line(at, "", "session ends"),
        }
    }

    fn nudge(&mut self, _: At, _: NudgeKind) {}

    fn said(&mut self, _: At, text: &str) {
        let _gone = writeln!(self.out, "\n{text}\n").and_then(|()| self.out.flush());
    }

    fn remark(&mut self, text: &str) {
        let _gone = writeln!(self.out, "           {text}").and_then(|()| self.out.flush());
    }
}

fn rep_line(number: usize, rep: &Rep) -> String {
    let mut line = match rep.outcome {
        Outcome::Rewarded(value) => {
            format!("try {number}: step {}, {}", rep.step, format!("{value:?}").to_lowercase())
        }
        Outcome::Missed(_) => format!("try {number}: missed"),
    };
    if let Some(side) = rep.side {
        line += &format!(", {side:?}").to_lowercase();
    }
    if let Some(latency) = rep.latency {
        line += &format!(", {:.1} s after the cue", latency.as_secs_f64());
    }
    if let Some(duration) = rep.duration {
        line += &format!(", held {:.1} s", duration.as_secs_f64());
    }
    line
}
