//! Answers and lines as sentences, by the templates in `prompts/`. Pure: numbers in, words out.
//!
//! A language is a folder in `prompts/`. What a language does not say yet is said in English.
//!
//! ```
//! use hushtally_core::session::{Answer, Tries};
//! use hushtally_core::wording::Wording;
//! let answer = Answer::Count { tries: Tries { rewarded: 1, missed: 2 }, planned: 20 };
//! assert_eq!(Wording::english().say(&answer), "3 tries: 1 rewarded, 2 missed. Planned: 20 rewarded.");
//! ```

mod filters;
mod signs;
mod teaching;

pub use filters::{count, span};
pub use signs::Signs;
pub use teaching::Teaching;

use std::collections::BTreeMap;
use std::sync::LazyLock;

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::{Deserialize, Serialize};

use crate::decide::Decision;
use crate::dialogue::Line;
use crate::history::body::{self, Alarm, NotedSigns, WeightTrend};
use crate::history::closer::Closer;
use crate::history::length::Length;
use crate::history::next::Next;
use crate::history::progress::ChangeOverTime;
use crate::history::record::FallBack;
use crate::quiz;
use crate::reason::Quantity;
use crate::session::{Answer, NudgeKind, Summary, Took, Tries};
use crate::settle;
use crate::soundcheck;

/// Languages and their files; the first is the one that the others fall back to.
const LANGUAGES: [(&str, [&str; 10]); 1] = [(
    "en",
    [
        include_str!("../../../prompts/en/say.toml"),
        include_str!("../../../prompts/en/dialogue.toml"),
        include_str!("../../../prompts/en/history.toml"),
        include_str!("../../../prompts/en/learn.toml"),
        include_str!("../../../prompts/en/soundcheck.toml"),
        include_str!("../../../prompts/en/settle.toml"),
        include_str!("../../../prompts/en/health.toml"),
        include_str!("../../../prompts/en/quiz.toml"),
        include_str!("../../../prompts/en/decide.toml"),
        include_str!("../../../prompts/en/because.toml"),
    ],
)];

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

#[derive(Deserialize, Default)]
struct Prompts {
    #[serde(default)]
    states: BTreeMap<String, String>,
    #[serde(default)]
    nudges: BTreeMap<String, String>,
    #[serde(default)]
    changes: BTreeMap<String, String>,
    #[serde(default)]
    line: BTreeMap<String, String>,
    #[serde(default)]
    learn: BTreeMap<String, String>,
    #[serde(default)]
    check: BTreeMap<String, String>,
    #[serde(default)]
    settle: BTreeMap<String, String>,
    #[serde(default)]
    quiz: BTreeMap<String, String>,
    #[serde(default)]
    families: BTreeMap<String, String>,
    #[serde(default)]
    closer: BTreeMap<String, String>,
    #[serde(default)]
    health: BTreeMap<String, String>,
    #[serde(default)]
    because: BTreeMap<String, String>,
    see_vet: Option<String>,
    #[serde(flatten)]
    templates: BTreeMap<String, String>,
}

impl Prompts {
    fn parse(text: &str) -> Self {
        toml::from_str(text).expect("a test renders every embedded prompt")
    }

    /// With those of `other` in place of the ones it has.
    fn add(&mut self, other: Prompts) {
        self.states.extend(other.states);
        self.nudges.extend(other.nudges);
        self.changes.extend(other.changes);
        self.line.extend(other.line);
        self.learn.extend(other.learn);
        self.check.extend(other.check);
        self.settle.extend(other.settle);
        self.quiz.extend(other.quiz);
        self.families.extend(other.families);
        self.closer.extend(other.closer);
        self.health.extend(other.health);
        self.because.extend(other.because);
        self.see_vet = other.see_vet.or(self.see_vet.take());
        self.templates.extend(other.templates);
    }
}

/// The sentences of one language.
pub struct Wording {
    templates: Environment<'static>,
    states: BTreeMap<String, String>,
    nudges: BTreeMap<String, String>,
    families: BTreeMap<String, String>,
    changes: BTreeMap<String, String>,
    see_vet: String,
}

impl Wording {
    /// English, from `prompts/en/`.
    pub fn english() -> Self {
        Wording::of("en")
    }

    /// The language that a locale names (`de`, `de_CH.UTF-8`), as far as there is one.
    pub fn of(locale: &str) -> Self {
        let language = locale.split(['_', '-', '.', '@']).next().unwrap_or_default();
        let mut prompts = Prompts::default();
        for (name, files) in LANGUAGES {
            if name == LANGUAGES[0].0 || name == language {
                files.iter().for_each(|file| prompts.add(Prompts::parse(file)));
            }
        }
        Wording::from_prompts(prompts)
    }

    fn from_prompts(prompts: Prompts) -> Self {
        let mut templates = Environment::new();
        filters::add_to(&mut templates);
        let parts = [
            ("line", prompts.line),
            ("learn", prompts.learn),
            ("check", prompts.check),
            ("settle", prompts.settle),
            ("quiz", prompts.quiz),
            ("closer", prompts.closer),
            ("health", prompts.health),
            ("because", prompts.because),
        ];
        let named = parts.into_iter().flat_map(|(part, lines)| {
            lines.into_iter().map(move |(name, text)| (in_part(part, &name), text))
        });
        for (name, template) in prompts.templates.into_iter().chain(named) {
            templates.add_template_owned(name, template).expect("a test renders every prompt");
        }
        Wording {
            templates,
            states: prompts.states,
            nudges: prompts.nudges,
            families: prompts.families,
            changes: prompts.changes,
            see_vet: prompts.see_vet.unwrap_or_default(),
        }
    }

    /// What is said while sounds are learnt.
    pub fn teaching(&self, line: &Teaching) -> String {
        self.render_line("learn", line)
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
            Answer::Begun { .. } => "begun",
            Answer::Now { .. } => "now",
            Answer::TookBack { .. } => "took_back",
            Answer::Idle { .. } => "idle",
            Answer::Recap(summary) => return self.recap(summary, &[]),
        };
        self.render(name, Value::from(Serde(answer)))
    }

    /// A session in a few sentences: what is open of the animal's health first. While that keeps it from training as
    /// planned, nothing is said of a next step.
    pub fn recap(&self, summary: &Summary, concerns: &[Alarm]) -> String {
        let held = body::holds(concerns);
        let told = self.decision(&summary.next, None);
        let concerns = Value::from(Serde(concerns));
        self.render("recap", context! { told, held, concerns, ..Value::from(Serde(summary)) })
    }

    /// How many tries, of them rewarded and missed.
    pub fn tries(&self, tries: Tries) -> String {
        self.render("tries", Value::from(Serde(&tries)))
    }

    /// What a take-back took, as the end of "took back ...".
    pub fn took(&self, took: &Took) -> String {
        self.render("took", Value::from(Serde(took)))
    }

    /// What is decided about a step, without a full stop; `name` is that of the step to work on.
    pub fn decision(&self, decision: &Decision, name: Option<&str>) -> String {
        self.render("decision", of_decision(decision, name))
    }

    /// What else is to be said of a decision: how many more tries would tell, and a goal that nobody measured.
    pub fn beside(&self, decision: &Decision) -> Vec<String> {
        let values = || of_decision(decision, None);
        let more = decision.more_tries.map(|_| self.render("more", values()));
        let unmeasured = decision.unmeasured.map(|_| self.render("unmeasured", values()));
        more.into_iter().chain(unmeasured).collect()
    }

    /// A step to warm up on and to go back to, without a full stop.
    pub fn fall_back(&self, back: &FallBack) -> String {
        self.render("fall_back", Value::from(Serde(back)))
    }

    /// Said when the day allows no more treats, without a full stop.
    pub fn used_up(&self) -> String {
        self.render("used_up", context! {})
    }

    /// What a recap leaves out, for those who ask.
    pub fn details(&self, summary: &Summary) -> String {
        self.render("recap_details", Value::from(Serde(summary)))
    }

    /// The next session in a few sentences for the ear.
    pub fn next(&self, next: &Next) -> String {
        let told = self.decision(&next.decision, Some(&next.work.name));
        let beside = self.beside(&next.decision);
        self.render("next", context! { told, beside, ..Value::from(Serde(next)) })
    }

    /// How rewarded tries a minute change over time; `None` where no change is shown.
    pub fn change_over_time(&self, change: &ChangeOverTime) -> Option<String> {
        let said = self.render("change_over_time", Value::from(Serde(change)));
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
        self.render(&in_part("closer", name), Value::from(Serde(of)))
    }

    /// The one sentence that sends to the veterinarian, without its full stop.
    pub fn see_vet(&self) -> &str {
        &self.see_vet
    }

    /// What needs attention of this animal, a sentence each, without its full stop.
    pub fn warnings(&self, animal: &str, alarms: &[Alarm]) -> Vec<String> {
        let warning = |alarm: &Alarm| {
            let name = serde_json::to_value(alarm).unwrap_or_default()["warning"].clone();
            let name = in_part("health", name.as_str().unwrap_or_default());
            self.render(&name, context! { animal, alarm => Value::from(Serde(alarm)) })
        };
        alarms.iter().map(warning).collect()
    }

    /// How the weight goes over the latest weighings.
    pub fn weight_trend(&self, trend: &WeightTrend) -> String {
        self.render(&in_part("health", "weight_trend"), Value::from(Serde(trend)))
    }

    /// That the animal was last weighed so many days ago.
    pub fn weighed_ago(&self, days: i32) -> String {
        self.render(&in_part("health", "weighed_ago"), context! { days })
    }

    /// One side does more than the other: left and right so often.
    pub fn sides(&self, left: u32, right: u32) -> String {
        self.render(&in_part("health", "sides_uneven"), context! { left, right })
    }

    /// Shows back words of injury or illness in a note, and says how to answer.
    pub fn noted_signs(&self, noted: &NotedSigns) -> String {
        self.render(&in_part("health", "noted_signs"), Value::from(Serde(noted)))
    }

    /// A line of the dialogue.
    pub fn line(&self, line: &Line) -> String {
        self.render_line("line", line)
    }

    /// A line of the sound check.
    pub fn check(&self, line: &soundcheck::Line) -> String {
        self.render_line("check", line)
    }

    /// A line of settling doubts.
    pub fn settle(&self, line: &settle::Line) -> String {
        self.render_line("settle", line)
    }

    /// A line of the quiz of sounds.
    pub fn quiz(&self, line: &quiz::Line) -> String {
        self.render_line("quiz", line)
    }

    /// What a nudge means, in words.
    pub fn nudge(&self, kind: NudgeKind) -> &str {
        self.nudges.get(kind.name()).map_or(kind.name(), String::as_str)
    }

    /// A line of this part, which says its own name.
    fn render_line(&self, part: &str, line: &impl Serialize) -> String {
        let values = Value::from(Serde(line));
        let name = values.get_attr("line").map(|name| name.to_string()).unwrap_or_default();
        self.render(&in_part(part, &name), values)
    }

    fn render(&self, name: &str, values: Value) -> String {
        let shared = context! {
            nudges => Value::from(Serde(&self.nudges)),
            families => Value::from(Serde(&self.families)),
            states => Value::from(Serde(&self.states)),
            changes => Value::from(Serde(&self.changes)),
            see_vet => self.see_vet.as_str(),
        };
        let text = self
            .templates
            .get_template(name)
            .and_then(|template| template.render(context! { ..values, ..shared }))
            .expect("a test renders every template");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

fn of_decision(decision: &Decision, name: Option<&str>) -> Value {
    context! { name, ..Value::from(Serde(decision)) }
}

/// Why something is so, by the template of this name and the numbers that it rests on, which it calls by their names
/// with underscores; `words` are what it needs beside.
pub(crate) fn because(name: &str, inputs: &[Quantity], words: &[(&str, &str)]) -> String {
    static ENGLISH: LazyLock<Wording> = LazyLock::new(Wording::english);
    let key = |name: &str| -> String {
        name.chars()
            .filter(|c| c.is_alphanumeric() || *c == ' ')
            .collect::<String>()
            .replace(' ', "_")
    };
    let numbers = inputs.iter().map(|input| (key(&input.name), Value::from(input.value)));
    let words = words.iter().map(|(name, word)| ((*name).to_owned(), Value::from(*word)));
    let values: BTreeMap<String, Value> = numbers.chain(words).collect();
    ENGLISH.render(&in_part("because", name), Value::from(Serde(values)))
}

/// Lines of a part have names of their own, apart from the answers' and from other parts'.
fn in_part(part: &str, name: &str) -> String {
    format!("{part}.{name}")
}

#[cfg(test)]
mod tests;
