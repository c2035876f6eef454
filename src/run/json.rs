//! One JSON object a line for every event. The format is documented in DEVELOPERS.md; later tools read it.

use std::io::Write;

use serde_json::{Map, Value, json};

use super::{Happening, Printer};
use crate::at::At;
use crate::interpret::Said;
use crate::session::{Derived, Event, Input, NudgeKind, Outcome, Rep};

/// Writes events as JSON lines.
pub struct JsonLines<W: Write>(pub W);

impl<W: Write> Printer for JsonLines<W> {
    fn event(&mut self, happening: &Happening, saved: Option<At>) {
        let line = Value::Object(object(happening, saved));
        // A reader that has gone away ends the program at the next line elsewhere; nothing is lost here.
        let _gone = writeln!(self.0, "{line}").and_then(|()| self.0.flush());
    }

    fn nudge(&mut self, _: At, _: NudgeKind) {}

    fn remark(&mut self, text: &str) {
        eprintln!("{text}");
    }

    fn said(&mut self, at: At, text: &str) {
        let line = json!({ "at_s": seconds(at), "kind": "said", "words": "", "text": text });
        let _gone = writeln!(self.0, "{line}").and_then(|()| self.0.flush());
    }
}

fn seconds(at: At) -> f64 {
    // Nanoseconds would pretend; a millisecond is sixteen samples.
    (at.as_secs_f64() * 1000.0).round() / 1000.0
}

/// The object for one event: `at_s`, `kind`, `words`, and what the kind carries.
pub(crate) fn object(happening: &Happening, saved: Option<At>) -> Map<String, Value> {
    let Happening { logged, heard, rep } = *happening;
    let mut object = Map::new();
    let mut put = |name: &str, value: Value| {
        object.insert(name.to_owned(), value);
    };
    put("at_s", json!(seconds(logged.at)));
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
    }
    match &logged.event {
        Event::Input(Input::Tagged { said, .. }) => match said {
            Said::State { mood } => put("mood", json!(mood)),
            Said::Command { command } => put("command", json!(command)),
            Said::Own { name } => put("name", json!(name)),
            _ => {}
        },
        Event::Input(Input::Doubted { other, .. }) => put("other", json!(other)),
        Event::Input(Input::Gap { lasted, why }) => {
            put("lasted_s", json!(lasted.as_secs_f64()));
            put("why", json!(why));
        }
        Event::Input(Input::Noted { text }) => put("text", json!(text)),
        Event::Derived(Derived::Began { step }) => put("step", json!(step)),
        Event::Derived(Derived::HoldRanOut) => {}
        Event::Derived(Derived::Nudged { nudge, reason }) => {
            put("nudge", json!(nudge.name()));
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
                Said::Miss => "miss",
                Said::State { .. } => "state",
                Said::Cue => "cue",
                Said::HoldStart => "hold_start",
                Said::TakeBack => "take_back",
                Said::PutBack { .. } => "put_back",
                Said::Change(_) => "change",
                Said::Command { .. } => "command",
                Said::Own { .. } => "own",
            };
            (kind, words)
        }
        Event::Input(Input::Doubted { words, .. }) => ("unsure", words),
        Event::Input(Input::Gap { .. }) => ("gap", ""),
        Event::Input(Input::Noted { .. }) => ("note", ""),
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
        Outcome::Rewarded(value) => put("value", json!(value)),
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
}
