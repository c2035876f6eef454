//! Shows a session as it goes on, a line an event, for people.

use std::io::Write;

use minijinja::context;

use super::Happening;
use crate::at::At;
use crate::interpret::{OtherReading, Said};
use crate::plan::Words;
use crate::session::{Derived, Event, Input, NudgeKind, Rep, Session};
use crate::wording::{Wording, filled, text};

/// Shows what happens.
pub trait Printer {
    /// An event, after it was saved; live also when, in session time.
    fn event(&mut self, happening: &Happening, saved: Option<At>);
    /// A nudge was played.
    fn nudge(&mut self, at: At, nudge: NudgeKind);
    /// What follows is of the session at this place of the sitting.
    fn turn_to(&mut self, _place: usize) {}
    /// What follows belongs to the session of this number.
    fn session(&mut self, _: u64) {}
    /// Something was said to the trainer.
    fn said(&mut self, at: At, text: &str);
    /// How the session stands, a few times a second; for a line that is written over.
    fn status(&mut self, _: &Status) {}
    /// Whether it shows that.
    fn shows_status(&self) -> bool {
        false
    }
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
    /// The lines of one moment that sessions of one sitting have shown. A switch and the end are events of several of them,
    /// and are one thing that happened.
    shown: Option<(At, Vec<String>)>,
}

impl<W: Write> Plain<W> {
    /// Writes to `out`.
    pub fn new(out: W) -> Self {
        Plain { out, wording: Wording::english(), shown: None }
    }

    /// Where it has written to so far.
    pub fn written(&self) -> &W {
        &self.out
    }

    fn line(&mut self, at: At, words: &str, what: &str) {
        let line = format!("{:>9}  {words:<22}  {what}", at.to_string());
        if let Some((moment, lines)) = &mut self.shown {
            if std::mem::replace(moment, at) != at {
                lines.clear();
            }
            if lines.contains(&line) {
                return;
            }
            lines.push(line.clone());
        }
        // A terminal that has gone away must not end the session.
        let _gone = writeln!(self.out, "{line}").and_then(|()| self.out.flush());
    }
}

impl<W: Write> Printer for Plain<W> {
    fn event(&mut self, happening: &Happening, _: Option<At>) {
        let at = happening.logged.at;
        let rep = happening.rep;
        if happening.of.is_some() {
            self.shown.get_or_insert_with(|| (at, Vec::new()));
        }
        match &happening.logged.event {
            Event::Input(Input::Tagged { said, words }) => {
                let what = match (said, rep) {
                    (Said::Change(_), Some((number, _))) if happening.idle => {
                        filled("screen.event_nothing_changed", context! { number })
                    }
                    (_, Some((number, rep))) => rep_line(number, rep, happening.words),
                    (Said::State { mood }, _) => format!("{mood:?}").to_lowercase(),
                    (Said::Cue, _) => text("screen.event_cue"),
                    (Said::TakesOver { person }, _) => {
                        filled("screen.takes_over", context! { person })
                    }
                    (Said::HoldStart, _) => text("screen.event_hold"),
                    (Said::TakeBack, _) => match happening.took {
                        Some(took) => self.wording.took(took),
                        None => text("screen.event_took_back"),
                    },
                    (Said::PutBack { .. }, _) => text("screen.event_put_back"),
                    (Said::Own { name } | Said::Behaviour { name } | Said::Animal { name }, _) => {
                        name.clone()
                    }
                    _ => String::new(),
                };
                self.line(at, words, &what);
            }
            Event::Input(Input::Doubted { words, other }) => {
                let (because, other) = match other {
                    OtherReading::Nothing => (None, None),
                    OtherReading::NotCounted(reason) => (Some(reason.name()), None),
                    OtherReading::Read(text) => (None, Some(text)),
                };
                let what = filled("screen.event_not_sure", context! { because, other });
                self.line(at, &format!("{words}?"), &what);
            }
            Event::Input(Input::Gap { lasted, why }) => {
                let lasted_s = lasted.as_secs_f64();
                let what = filled("screen.event_no_sound", context! { lasted_s, why });
                self.line(at, "", &what);
            }
            Event::Input(Input::Trouble { why }) => {
                self.line(at, "", &filled("screen.trouble", context! { why }));
            }
            // It says nothing new.
            Event::Input(Input::Elsewhere(_)) => {}
            Event::Input(Input::Noted { text: note }) => self.line(at, &text("screen.note"), note),
            Event::Derived(Derived::Began { step }) => {
                self.line(at, "", &filled("screen.event_begins", context! { step }));
            }
            Event::Derived(Derived::HoldRanOut) => {
                let what = rep.map(|(number, rep)| rep_line(number, rep, happening.words));
                let what = what.unwrap_or_default();
                self.line(at, "", &what);
            }
            Event::Derived(Derived::Nudged { nudge, reason }) => {
                let what = format!("{} ({})", self.wording.nudge(*nudge), reason.because);
                self.line(at, "~", &what);
            }
            Event::Derived(Derived::Finished { .. }) => {
                self.line(at, "", &text("screen.event_ends"));
            }
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

fn rep_line(number: usize, rep: &Rep, words: &Words) -> String {
    let values = context! {
        number,
        step => rep.step,
        at_working => rep.step == rep.working,
        paid => rep.paid_as(words),
        side => rep.side.map(|side| format!("{side:?}").to_lowercase()),
        latency_s => rep.latency.map(|latency| latency.as_secs_f64()),
        held_s => rep.duration.map(|duration| duration.as_secs_f64()),
    };
    filled("screen.event_try", values)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Clock;
    use crate::plan::Plan;
    use crate::run::{Desk, tags};
    use crate::session::{Logged, Prior};

    /// What the screen shows of these lines, without times and words.
    fn shown(lines: &[&str], say: bool) -> Vec<String> {
        #[derive(Clone, Default)]
        struct Page(std::sync::Arc<std::sync::Mutex<Vec<u8>>>);
        impl Write for Page {
            fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
                self.0.lock().unwrap().write(bytes)
            }
            fn flush(&mut self) -> std::io::Result<()> {
                Ok(())
            }
        }
        let page = Page::default();
        let (clock, _hands) = Clock::fake("2026-01-02T03:04:05Z".parse().unwrap());
        let mut desk = Desk::new(Box::new(Plain::new(page.clone())), clock);
        let mut plan = Plan::of_default_words();
        plan.steps = vec![plan.steps[0].clone(); 3];
        plan.words.set_say_taken_back(say);
        let lines: String = (1..)
            .zip(lines)
            .map(|(at, line)| format!("{{\"at_s\":{at},\"kind\":{line}}}\n"))
            .collect();
        tags::replay_tags(lines.as_bytes(), &plan, &[], &Prior::default(), &mut desk).unwrap();
        let text = String::from_utf8(page.0.lock().unwrap().clone()).unwrap();
        // Events are indented, what is said is not.
        let what = |line: &str| {
            let event = line.starts_with(' ').then(|| line.get(35..)).flatten();
            event.unwrap_or(line).trim().to_owned()
        };
        text.lines().map(what).filter(|line| !line.is_empty()).collect()
    }

    /// A line for each of these events, without times.
    fn lines_of(events: &[Event]) -> Vec<String> {
        lines_of_plan(events, None)
    }

    fn lines_of_plan(events: &[Event], of: Option<&Plan>) -> Vec<String> {
        let words = Words::english();
        let mut plain = Plain::new(Vec::new());
        for event in events {
            let logged = Logged { at: At::ZERO, event: event.clone() };
            let happening = Happening {
                logged: &logged,
                heard: None,
                rep: None,
                words: &words,
                took: None,
                idle: false,
                working: 1,
                of,
                person: None,
            };
            plain.event(&happening, None);
        }
        let text = String::from_utf8(plain.written().clone()).unwrap();
        text.lines().map(|line| line.get(11..).unwrap_or_default().to_owned()).collect()
    }

    #[test]
    fn what_happens_to_several_sessions_of_a_sitting_has_one_line() {
        let turns =
            Input::said(Said::Behaviour { name: "waves".into() }, "juniper behaviour waves");
        let ends = Derived::Finished { why: crate::session::WhyEnded::Said };
        let both = [
            Event::Input(turns.clone()),
            Event::Input(turns),
            Event::Derived(ends.clone()),
            Event::Derived(ends),
        ];
        assert_eq!(lines_of_plan(&both, Some(&Plan::of_default_words())).len(), 2);
        assert_eq!(lines_of(&both).len(), 4);
    }

    #[test]
    fn what_is_no_try_has_its_line_too() {
        let tag = |said, words: &str| Event::Input(Input::said(said, words));
        let doubt = |other| {
            Event::Input(Input::Doubted { words: "yes".into(), other: OtherReading::from(other) })
        };
        let lasted = std::time::Duration::from_millis(2_340);
        let lines = lines_of(&[
            Event::Derived(Derived::Began { step: 2 }),
            tag(Said::Cue, "go"),
            tag(Said::HoldStart, "start"),
            tag(Said::TakesOver { person: "Ada".into() }, "juniper ada"),
            tag(Said::TakeBack, "cancel"),
            doubt(""),
            doubt("no"),
            doubt("said in a pause"),
            Event::Input(Input::Gap { lasted, why: "stalled".into() }),
            Event::Input(Input::Trouble { why: "no sound".into() }),
            Event::Input(Input::Noted { text: "a  note".into() }),
        ]);
        let told = [
            "                        session begins at step 2",
            "go                      cue given",
            "start                   hold begins",
            "juniper ada             Ada trains from here",
            "cancel                  took back the last",
            "yes?                    not sure; kept for the review",
            "yes?                    not sure, or \"no\"; kept for the review",
            "yes?                    not sure: said in a pause; kept for the review",
            "                        no sound for 2.3 s: stalled",
            "                        trouble: no sound",
            "note                    a  note",
        ];
        assert_eq!(lines, told);
    }

    #[test]
    fn a_value_that_was_named_is_told_from_one_that_was_not() {
        let lines = [
            r#""rep""#,
            r#""rep","value":"high""#,
            r#""rep","value":"low","side":"left""#,
            r#""rep","value":"jackpot""#,
            r#""miss","side":"right","step":2"#,
            r#""change","step":3"#,
        ];
        let shown = shown(&lines, false);
        assert_eq!(
            shown[1..7],
            [
                "try 1: step 1, high",
                "try 2: step 1, bonus (high)",
                "try 3: step 1, ordinary (low), left",
                "try 4: step 1, jackpot",
                "try 5: step 2, missed, right",
                "try 5: step 3, missed, right",
            ]
        );
    }

    #[test]
    fn cancel_says_what_it_took_and_a_correction_that_it_changed_nothing() {
        let lines = [
            r#""rep""#,
            r#""rep","step":2,"side":"left""#,
            r#""change""#,
            r#""change","step":2"#,
            r#""change","value":"low""#,
            r#""take_back""#,
            r#""take_back""#,
            r#""take_back""#,
            r#""take_back""#,
            r#""state","mood":"calm""#,
            r#""take_back""#,
        ];
        let told = [
            "try 2: nothing changed",
            "try 2: nothing changed",
            "try 2: step 2, ordinary (low), left",
            "took back what was said last of try 2; it is step 2, high, left again",
            "took back what was said last of try 2; it is step 2, high, left again",
            "took back what was said last of try 2; it is step 2, high, left again",
            "took back try 2: step 2, high, left",
            "calm",
            "took back calm",
        ];
        assert_eq!(shown(&lines, false)[3..12], told);
        let said: Vec<String> =
            shown(&lines, true).into_iter().filter(|line| line.ends_with('.')).collect();
        assert_eq!(
            said[..5],
            [
                "Nothing changed: try 2 was like that already.",
                "Took back what was said last of try 2; it is step 2, high, left again.",
                "Took back what was said last of try 2; it is step 2, high, left again.",
                "Took back what was said last of try 2; it is step 2, high, left again.",
                "Took back try 2: step 2, high, left.",
            ]
        );
    }
}
