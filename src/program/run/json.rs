//! One JSON object a line for every event. [`lines`] lists them, and so does `json/LINES.md`; later tools read them.

pub(crate) mod lines;

use std::collections::BTreeMap;
use std::io::Write;

use serde_json::{Map, Value, json};

use super::{Happening, Printer};
use crate::at::At;
use crate::interpret::Said;
use crate::session::{Derived, Event, Input, MissedBecause, NudgeKind, Outcome, Rep};
use crate::terminal::tell;

/// Writes events as JSON lines. From the first event on, each carries the number of its session.
pub struct JsonLines<W: Write> {
    out: W,
    at_once: bool,
    /// The latest number that was given.
    latest: u64,
    /// Whose events come now, of a sitting.
    turn: usize,
    /// The number of each session of the sitting, and whether it is over.
    of: BTreeMap<usize, Numbered>,
}

struct Numbered {
    number: u64,
    over: bool,
}

impl<W: Write> JsonLines<W> {
    /// Writes each line at once, for a reader that follows a session as it happens.
    pub fn new(out: W) -> Self {
        JsonLines { out, at_once: true, latest: 0, turn: 0, of: BTreeMap::new() }
    }

    /// Leaves it to `out` when to write on, for thousands of sessions in one go.
    pub fn at_leisure(out: W) -> Self {
        JsonLines { at_once: false, ..JsonLines::new(out) }
    }

    fn line(&mut self, mut object: Map<String, Value>) {
        if let Some(Numbered { number, .. }) = self.of.get(&self.turn) {
            object.insert("session".to_owned(), json!(number));
        }
        debug_assert_eq!(lines::wrong_with(&object), None);
        let line = Value::Object(object);
        // A reader that has gone away ends the program at the next line elsewhere; nothing is lost here.
        let _gone = writeln!(self.out, "{line}").and_then(|()| match self.at_once {
            true => self.out.flush(),
            false => Ok(()),
        });
    }
}

impl<W: Write> Printer for JsonLines<W> {
    fn event(&mut self, happening: &Happening, saved: Option<At>) {
        if self.of.get(&self.turn).is_none_or(|session| session.over) {
            self.session(self.latest.saturating_add(1));
        }
        if let Some(session) = self.of.get_mut(&self.turn) {
            session.over =
                matches!(happening.logged.event, Event::Derived(Derived::Finished { .. }));
        }
        self.line(object(happening, saved));
    }

    fn turn_to(&mut self, place: usize) {
        self.turn = place;
    }

    fn nudge(&mut self, _: At, _: NudgeKind) {}

    fn session(&mut self, number: u64) {
        self.latest = self.latest.max(number);
        self.of.insert(self.turn, Numbered { number, over: false });
    }

    fn remark(&mut self, text: &str) {
        tell!("{text}");
    }

    fn said(&mut self, at: At, text: &str) {
        let mut object = Map::new();
        for (name, value) in [("kind", "said"), ("words", ""), ("text", text)] {
            object.insert(name.to_owned(), json!(value));
        }
        object.insert("at_s".to_owned(), json!(exact(at)));
        self.line(object);
    }
}

fn seconds(at: At) -> f64 {
    // Nanoseconds would pretend; a millisecond is sixteen samples.
    (at.as_secs_f64() * 1000.0).round() / 1000.0
}

/// Not rounded: what is read back must be the same session. A sample is 62.5 microseconds.
fn exact(at: At) -> f64 {
    at.as_secs_f64()
}

/// The object for one event: `at_s`, `kind`, `words`, and what the kind carries.
pub(crate) fn object(happening: &Happening, saved: Option<At>) -> Map<String, Value> {
    let Happening { logged, heard, rep, working, person, .. } = *happening;
    let mut object = Map::new();
    let mut put = |name: &str, value: Value| {
        object.insert(name.to_owned(), value);
    };
    put("at_s", json!(exact(logged.at)));
    let (kind, words) = kind_and_words(&logged.event);
    put("kind", json!(kind));
    put("words", json!(words));
    if let Some(times) = heard {
        put("end_s", json!(seconds(times.end)));
        put("decided_s", json!(seconds(times.decided)));
    }
    if let Some(saved) = saved {
        put("saved_s", json!(seconds(saved)));
    }
    if let Some((number, rep)) = rep {
        put("rep", json!(number));
        put_rep(&mut put, rep);
        if let (Some(person), true) = (person, matches!(kind, "rep" | "miss")) {
            put("person", json!(person));
        }
    }
    match &logged.event {
        Event::Input(Input::Tagged { said, .. }) => match said {
            Said::State { mood } => put("mood", json!(mood)),
            Said::Command { command } => {
                put("command", json!(command));
                if command.is_of_steps() {
                    put("step", json!(working));
                }
            }
            Said::Own { name } | Said::Behaviour { name } | Said::Animal { name } => {
                put("name", json!(name));
            }
            Said::TakesOver { person } => put("person", json!(person)),
            Said::PutBack { said_at } => put("said_at_s", json!(exact(*said_at))),
            _ => {}
        },
        Event::Input(Input::Doubted { other, .. }) => put("other", json!(other)),
        Event::Input(Input::Gap { lasted, why }) => {
            put("lasted_s", json!(lasted.as_secs_f64()));
            put("why", json!(why));
        }
        Event::Input(Input::Trouble { why }) => put("why", json!(why)),
        Event::Input(Input::Noted { text }) => put("text", json!(text)),
        Event::Input(Input::Elsewhere(elsewhere)) => put("elsewhere", json!(elsewhere)),
        Event::Derived(Derived::Began { step }) => {
            put("step", json!(step));
            if let Some(plan) = happening.of {
                put("animal", json!(plan.animal));
                put("behaviour", json!(plan.behaviour));
            }
        }
        // Also where a take-back at the same moment has taken the rep away.
        Event::Derived(Derived::HoldRanOut) => put("because", json!(MissedBecause::HoldRanOut)),
        Event::Derived(Derived::Nudged { nudge, reason }) => {
            put("nudge", json!(nudge.name()));
            if let Some(family) = nudge.family() {
                put("family", json!(family.name()));
            }
            put("reason", json!(reason));
        }
        Event::Derived(Derived::Finished { why }) => put("why", json!(why)),
    }
    object
}

fn kind_and_words(event: &Event) -> (&'static str, &str) {
    match event {
        Event::Input(Input::Tagged { said, words }) => {
            let kind = match said {
                Said::Rep(_) => "rep",
                Said::Detail(_) => "detail",
                Said::Miss(_) => "miss",
                Said::State { .. } => "state",
                Said::Cue => "cue",
                Said::HoldStart => "hold_start",
                Said::TakeBack => "take_back",
                Said::PutBack { .. } => "put_back",
                Said::Change(_) => "change",
                Said::Command { .. } => "command",
                Said::Own { .. } => "own",
                Said::TakesOver { .. } => "takes_over",
                Said::Behaviour { .. } => "behaviour",
                Said::Animal { .. } => "animal",
            };
            (kind, words)
        }
        Event::Input(Input::Doubted { words, .. }) => ("unsure", words),
        Event::Input(Input::Gap { .. }) => ("gap", ""),
        Event::Input(Input::Trouble { .. }) => ("trouble", ""),
        Event::Input(Input::Noted { .. }) => ("note", ""),
        Event::Input(Input::Elsewhere(_)) => ("elsewhere", ""),
        Event::Derived(Derived::Began { .. }) => ("began", ""),
        Event::Derived(Derived::HoldRanOut) => ("miss", ""),
        Event::Derived(Derived::Nudged { .. }) => ("nudge", ""),
        Event::Derived(Derived::Finished { .. }) => ("finished", ""),
    }
}

fn put_rep(put: &mut impl FnMut(&str, Value), rep: &Rep) {
    put("active_s", json!(rep.active.as_secs_f64()));
    put("working", json!(rep.working));
    put("step", json!(rep.step));
    match rep.outcome {
        Outcome::Rewarded(value) => {
            put("value", json!(value));
            put("value_named", json!(rep.value_named));
        }
        Outcome::Missed(because) => put("because", json!(because)),
    }
    if let Some(side) = rep.side {
        put("side", json!(side));
    }
    if let Some(latency) = rep.latency {
        put("latency_s", json!(latency.as_secs_f64()));
    }
    if let Some(duration) = rep.duration {
        put("duration_s", json!(duration.as_secs_f64()));
    }
    if !rep.links.is_empty() {
        put("links", json!(rep.links));
    }
}
