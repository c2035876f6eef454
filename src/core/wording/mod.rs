//! Answers and lines as sentences, by the templates in `prompts/`. Pure: numbers in, words out.
//!
//! ```
//! use hushtally_core::session::{Answer, Tries};
//! use hushtally_core::wording::Wording;
//! let answer = Answer::Count { tries: Tries { rewarded: 1, missed: 2 }, planned: 20 };
//! assert_eq!(Wording::english().say(&answer), "3 tries: 1 rewarded, 2 missed. Planned: 20 rewarded.");
//! ```

pub mod handover;

pub use crate::sentences::{Signs, count, span};

use std::sync::Arc;

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use crate::decide::Decision;
use crate::dialogue::DialogueLine;
use crate::history::body::{self, Alarm, NotedSigns, WeightTrend};
use crate::history::closer::Closer;
use crate::history::length::Length;
use crate::history::next::Next;
use crate::history::progress::ChangeOverTime;
use crate::history::record::FallBack;
use crate::lesson::LessonLine;
use crate::machine::Label;
use crate::plan::Moment;
use crate::quiz::QuizLine;
use crate::sentences::{Sentences, in_part};
use crate::session::{Answer, NudgeKind, Summary, Took, Tries};
use crate::settle::SettleLine;
use crate::soundcheck::SoundcheckLine;

/// What a closer look shows, in sentences; a kind that says nothing has none.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Looked {
    /// Minute by minute.
    pub minutes: Vec<String>,
    /// Sessions that a step takes.
    pub sessions: Vec<String>,
    /// What treats and jackpots do.
    pub treats: Vec<String>,
    /// The trainers' own hands.
    pub hands: Vec<String>,
}

impl Looked {
    /// All of it.
    pub fn all(&self) -> impl Iterator<Item = &str> {
        [&self.minutes, &self.sessions, &self.treats, &self.hands]
            .into_iter()
            .flatten()
            .map(String::as_str)
    }
}

/// The text of this name on a page or a screen: `page.saved`, in English.
pub fn text(name: &str) -> String {
    filled(name, context! {})
}

/// The text of this name with these values in it.
pub fn filled(name: &str, values: Value) -> String {
    Sentences::english().render(name, values)
}

/// As [`filled`], for the templates of pages.
///
/// # Errors
/// There is no such text, or a value that it needs is missing; a test renders every page.
pub fn try_filled(name: &str, values: Value) -> Result<String, minijinja::Error> {
    Sentences::english().try_render(name, values)
}

/// How everything is said in one language.
#[derive(Clone)]
pub struct Wording(Arc<Sentences>);

impl Wording {
    /// English, from `prompts/en/`.
    pub fn english() -> Self {
        Wording(Sentences::english().clone())
    }

    /// The language that a locale names (`de`, `de_CH.UTF-8`), as far as there is one.
    pub fn of(locale: &str) -> Self {
        Wording(Arc::new(Sentences::of(locale)))
    }

    /// A line of a lesson.
    pub fn lesson(&self, line: &LessonLine) -> String {
        self.0.render_line("learn", line)
    }

    /// The sentences for an answer.
    pub fn say(&self, answer: &Answer) -> String {
        let name = match answer {
            Answer::Time { .. } => "time",
            Answer::Rate { .. } => "rate",
            Answer::Count { .. } => "count",
            Answer::Treats { .. } => "treats",
            Answer::Refilled { .. } => "refilled",
            Answer::TakesOver { .. } => "takes_over",
            Answer::WorksOn { .. } => "works_on",
            Answer::Step { .. } => "step",
            Answer::Why { .. } => "why",
            Answer::Begun { .. } => "begun",
            Answer::Now { .. } => "now",
            Answer::TookBack { .. } => "took_back",
            Answer::Idle { .. } => "idle",
            Answer::Recap(summary) => return self.recap(summary, &[], false),
            Answer::RecapOfAll { sessions } => return self.recap_of_all(sessions, "", &[], false),
        };
        self.0.render(name, Value::from(Serde(answer)))
    }

    /// A session in a few sentences: what is open of the animal's health first. While that keeps it from training as
    /// planned, nothing is said of a next step. `used_up` is set when the day allows no more treats.
    pub fn recap(&self, summary: &Summary, concerns: &[Alarm], used_up: bool) -> String {
        self.recap_held(summary, concerns, body::holds(concerns), used_up)
    }

    fn recap_held(
        &self,
        summary: &Summary,
        concerns: &[Alarm],
        held: bool,
        used_up: bool,
    ) -> String {
        let told = self.decision(&summary.next, None);
        let concerns = Value::from(Serde(concerns));
        self.0.render(
            "recap",
            context! { told, held, concerns, used_up, ..Value::from(Serde(summary)) },
        )
    }

    /// A sitting: each of its sessions as one is told, with how many tries it got. These concerns are of this animal, and
    /// told with the first of its sessions; that the day allows it no more treats is told at the end.
    pub fn recap_of_all(
        &self,
        sessions: &[Summary],
        animal: &str,
        concerns: &[Alarm],
        used_up: bool,
    ) -> String {
        let its = |one: &Summary| one.animal == animal;
        let first = sessions.iter().position(its);
        let told = sessions.iter().enumerate().map(|(place, summary)| {
            let here = if first == Some(place) { concerns } else { &[] };
            let held = its(summary) && body::holds(concerns);
            self.recap_held(summary, here, held, used_up && place + 1 == sessions.len())
        });
        told.collect::<Vec<String>>().join(" ")
    }

    /// How many tries, of them rewarded and missed.
    pub fn tries(&self, tries: Tries) -> String {
        self.0.render("tries", Value::from(Serde(&tries)))
    }

    /// What else there is to say of a session's tries and time: who scored how many where hands changed, and breaks for
    /// play. Without full stops.
    pub fn also(&self, summary: &Summary) -> Vec<String> {
        let values = || Value::from(Serde(summary));
        let hands = (!summary.hands.is_empty()).then(|| self.0.render("hands", values()));
        let breaks = (summary.breaks > 0).then(|| self.0.render("breaks", values()));
        hands.into_iter().chain(breaks).collect()
    }

    /// What a take-back took, as the end of "took back ...".
    pub fn took(&self, took: &Took) -> String {
        self.0.render("took", Value::from(Serde(took)))
    }

    /// What is decided about a step, without a full stop; `name` is that of the step to work on.
    pub fn decision(&self, decision: &Decision, name: Option<&str>) -> String {
        self.0.render("decision", of_decision(decision, name))
    }

    /// What else is to be said of a decision: which link of a chain to work on, how many more tries would tell, and a goal
    /// that nobody measured.
    pub fn beside(&self, decision: &Decision) -> Vec<String> {
        let values = || of_decision(decision, None);
        let more = decision.more_tries.map(|_| self.0.render("more", values()));
        let unmeasured = decision.unmeasured.map(|_| self.0.render("unmeasured", values()));
        let link = decision.link.as_ref().map(|_| self.0.render("link", values()));
        link.into_iter().chain(more).chain(unmeasured).collect()
    }

    /// A step to warm up on and to go back to, without a full stop.
    pub fn fall_back(&self, back: &FallBack) -> String {
        self.0.render("fall_back", Value::from(Serde(back)))
    }

    /// Said when the day allows no more treats, without a full stop.
    pub fn used_up(&self) -> String {
        self.0.render("used_up", context! {})
    }

    /// What a recap leaves out, for those who ask.
    pub fn details(&self, summary: &Summary) -> String {
        self.0.render("recap_details", Value::from(Serde(summary)))
    }

    /// The next session in a few sentences for the ear.
    pub fn next(&self, next: &Next) -> String {
        let told = self.decision(&next.decision, Some(&next.work.name));
        let beside = self.beside(&next.decision);
        self.0.render("next", context! { told, beside, ..Value::from(Serde(next)) })
    }

    /// How rewarded tries a minute change over time; `None` where no change is shown.
    pub fn change_over_time(&self, change: &ChangeOverTime) -> Option<String> {
        let said = self.0.render("change_over_time", Value::from(Serde(change)));
        (!said.is_empty()).then_some(said)
    }

    /// How long it stays good.
    pub fn stays_good(&self, length: &Length) -> String {
        self.closer("length", length)
    }

    /// What a closer look shows, a sentence or two a kind; what would say nothing is left out.
    pub fn look(&self, closer: &Closer) -> Looked {
        let kept = |lines: Vec<String>| lines.into_iter().filter(|line| !line.is_empty()).collect();
        Looked {
            minutes: kept(vec![self.closer("minutes", &closer.minutes)]),
            sessions: kept(vec![self.closer("to_criterion", &closer.to_criterion)]),
            treats: kept(
                closer
                    .pays
                    .iter()
                    .map(|pays| self.closer("pays", pays))
                    .chain(closer.jackpots.iter().map(|jackpots| self.closer("jackpots", jackpots)))
                    .collect(),
            ),
            hands: kept(closer.hands.iter().map(|hands| self.closer("hands", hands)).collect()),
        }
    }

    /// Said when the record has not enough for an answer.
    pub fn nothing_yet(&self) -> String {
        self.closer("nothing", &())
    }

    fn closer(&self, name: &str, of: &impl Serialize) -> String {
        self.0.render(&in_part("closer", name), Value::from(Serde(of)))
    }

    /// What needs attention of this animal, a sentence each, without its full stop.
    pub fn warnings(&self, animal: &str, alarms: &[Alarm]) -> Vec<String> {
        let warning = |alarm: &Alarm| {
            let name = serde_json::to_value(alarm).unwrap_or_default()["warning"].clone();
            let name = in_part("health", name.as_str().unwrap_or_default());
            self.0.render(&name, context! { animal, alarm => Value::from(Serde(alarm)) })
        };
        alarms.iter().map(warning).collect()
    }

    /// How the weight goes over the latest weighings.
    pub fn weight_trend(&self, trend: &WeightTrend) -> String {
        self.0.render(&in_part("health", "weight_trend"), Value::from(Serde(trend)))
    }

    /// Shows back words of injury or illness in a note, and says how to answer.
    pub fn noted_signs(&self, noted: &NotedSigns) -> String {
        self.0.render(&in_part("health", "noted_signs"), Value::from(Serde(noted)))
    }

    /// What the word of this name means; see [`by_moment`](crate::plan::by_moment).
    pub fn meaning<'a>(&'a self, name: &'a str) -> &'a str {
        self.0.meaning(name)
    }

    /// The heading for words that are said at this moment.
    pub fn moment(&self, moment: Moment) -> &str {
        self.0.moment(match moment {
            Moment::Before => "before",
            Moment::During => "during",
            Moment::After => "after",
            Moment::Always => "always",
        })
    }

    /// A line of the dialogue.
    pub fn line(&self, line: &DialogueLine) -> String {
        self.0.render_line("line", line)
    }

    /// What the script of the review's pages says, as JSON: texts by their names, with `{}` where a value goes.
    pub fn script(&self) -> &str {
        self.0.script()
    }

    /// A line of the sound check.
    pub fn check(&self, line: &SoundcheckLine) -> String {
        self.0.render_line("check", line)
    }

    /// A line of settling doubts.
    pub fn settle(&self, line: &SettleLine) -> String {
        self.0.render_line("settle", line)
    }

    /// A line of the quiz of sounds.
    pub fn quiz(&self, line: &QuizLine) -> String {
        self.0.render_line("quiz", line)
    }

    /// What can be taken by a switch.
    pub fn choice(&self, label: &Label) -> String {
        self.0.render_line("choice", label)
    }

    /// What a nudge means, in words.
    pub fn nudge(&self, kind: NudgeKind) -> &str {
        self.0.nudge(kind.name())
    }
}

fn of_decision(decision: &Decision, name: Option<&str>) -> Value {
    context! { name, ..Value::from(Serde(decision)) }
}

#[cfg(test)]
mod tests;
