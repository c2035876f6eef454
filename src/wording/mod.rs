//! Answers as sentences, by the templates in `prompts/`. Pure: numbers in, words out.
//!
//! ```
//! use hushtally::session::Answer;
//! use hushtally::wording::Wording;
//! let answer = Answer::Count { rewarded: 1, missed: 2, planned: 20 };
//! assert_eq!(Wording::english().say(&answer), "1 rep and 2 misses, of 20 planned.");
//! ```

use std::collections::BTreeMap;

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Deserialize;

use crate::history::next::Next;
use crate::session::{Answer, NudgeKind};

const ENGLISH: &str = include_str!("../../prompts/en/say.toml");
const ENGLISH_HISTORY: &str = include_str!("../../prompts/en/history.toml");

#[derive(Deserialize)]
struct Prompts {
    states: BTreeMap<String, String>,
    nudges: BTreeMap<String, String>,
    #[serde(flatten)]
    templates: BTreeMap<String, String>,
}

/// The sentences of one language.
pub struct Wording {
    templates: Environment<'static>,
    states: BTreeMap<String, String>,
    nudges: BTreeMap<String, String>,
}

impl Wording {
    /// English, from `prompts/en/say.toml`.
    pub fn english() -> Self {
        let mut prompts: Prompts =
            toml::from_str(ENGLISH).expect("the embedded prompts are tested");
        let history: BTreeMap<String, String> =
            toml::from_str(ENGLISH_HISTORY).expect("the embedded prompts are tested");
        prompts.templates.extend(history);
        let mut templates = Environment::new();
        templates.add_filter("count", count);
        templates.add_filter("span", span);
        templates.add_filter("tidy", tidy);
        for (name, template) in prompts.templates {
            templates.add_template_owned(name, template).expect("the embedded prompts are tested");
        }
        Wording { templates, states: prompts.states, nudges: prompts.nudges }
    }

    /// The sentences for an answer.
    pub fn say(&self, answer: &Answer) -> String {
        let name = match answer {
            Answer::Time { .. } => "time",
            Answer::Rate { .. } => "rate",
            Answer::Count { .. } => "count",
            Answer::Treats { .. } => "treats",
            Answer::Step { .. } => "step",
            Answer::Why { .. } => "why",
            Answer::Now { .. } => "now",
            Answer::Recap(_) => "recap",
        };
        let shared = context! { nudges => Value::from(Serde(&self.nudges)), states => Value::from(Serde(&self.states)) };
        self.render(name, context! { ..Value::from(Serde(answer)), ..shared })
    }

    /// The next session in a few sentences for the ear.
    pub fn next(&self, next: &Next) -> String {
        self.render("next", Value::from(Serde(next)))
    }

    fn render(&self, name: &str, values: Value) -> String {
        let text = self
            .templates
            .get_template(name)
            .and_then(|template| template.render(values))
            .expect("a test renders every template");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// What a nudge means, in words.
    pub fn nudge(&self, kind: NudgeKind) -> &str {
        self.nudges.get(kind.name()).map_or(kind.name(), String::as_str)
    }
}

/// `3 | count("rep")` is "3 reps"; a second word is the plural when an s is not enough.
fn count(number: u64, one: &str, many: Option<String>) -> String {
    match number {
        1 => format!("1 {one}"),
        _ => format!("{number} {}", many.unwrap_or_else(|| format!("{one}s"))),
    }
}

/// Seconds as "40 seconds", "2 minutes" or "2 minutes 10 seconds", to the nearest five seconds past a minute.
fn span(seconds: f64) -> String {
    let whole = if seconds < 60.0 { seconds.round() } else { (seconds / 5.0).round() * 5.0 } as u64;
    match (whole / 60, whole % 60) {
        (0, s) => count(s, "second", None),
        (m, 0) => count(m, "minute", None),
        (m, s) => format!("{} {}", count(m, "minute", None), count(s, "second", None)),
    }
}

/// A number as one would say it: one decimal below ten unless that is zero, none above.
fn tidy(number: f64) -> String {
    let short = format!("{number:.1}");
    match short.strip_suffix(".0") {
        Some(whole) => whole.to_owned(),
        None if number.abs() < 10.0 => short,
        None => format!("{number:.0}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::Plan;
    use crate::session::Summary;
    use std::time::Duration;

    #[test]
    fn the_next_session_is_told_in_a_few_sentences() {
        use crate::history::{Ladder, Past, body, next};
        use jiff::civil::date;
        let plan = Plan::of_default_words();
        let past = Past::new("Pepino", "cockatiel", vec![Ladder::of(1, &plan)], Vec::new());
        let body = body::read(&[], date(2026, 1, 2));
        let told = Wording::english().next(&next::plan(&past, &plan, &body, date(2026, 1, 2)));
        insta::assert_snapshot!(told, @"Pepino, any behaviour. Begin with step 1, as it comes. Lay out 24 pieces of a treat. 3 minutes or 20 reps.");
        let ill = body::Noted { day: date(2026, 1, 2), fact: body::Fact::Ill("sneezes".into()) };
        let body = body::read(&[ill], date(2026, 1, 2));
        let told = Wording::english().next(&next::plan(&past, &plan, &body, date(2026, 1, 2)));
        insta::assert_snapshot!(told, @"Pepino: told ill today: sneezes. No training until told well; see a veterinarian. Do not train today.");
    }

    #[test]
    fn every_template_renders() {
        let english = Wording::english();
        let plan = Plan::of_default_words();
        let summary =
            Summary::of(&plan, &[], 1, Duration::from_secs(130), 1, Some(NudgeKind::EndSoon));
        let answers = [
            Answer::Time { active_s: 61.0, planned_s: 180.0 },
            Answer::Rate { per_min: 7.04, floor_per_min: 6.0 },
            Answer::Count { rewarded: 3, missed: 0, planned: 20 },
            Answer::Treats { given: 1, left: None },
            Answer::Treats { given: 1, left: Some(1) },
            Answer::Step { number: 2, name: "touches the file".into() },
            Answer::Why { nudge: None, reason: None },
            Answer::Now { state: "begun" },
            Answer::Recap(summary),
        ];
        let said: Vec<String> = answers.iter().map(|answer| english.say(answer)).collect();
        insta::assert_snapshot!(said.join("\n"), @r"
        1 minute of 3 minutes.
        7 a minute. The floor is 6.
        3 reps, of 20 planned.
        1 treat given.
        1 treat left.
        Step 2, touches the file.
        There was no nudge yet.
        Begun.
        any animal, any behaviour: 0 reps in 2 minutes 10 seconds. Working on step 1, as it comes. End soon, on a good one. 1 tag to settle in the review.
        ");
        for kind in NudgeKind::ALL {
            assert_ne!(english.nudge(kind), kind.name(), "a nudge without words");
        }
    }
}
