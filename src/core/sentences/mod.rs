//! The sentences in `prompts/`, by their names. Pure: values in, words out; no type of what is told about.
//!
//! A language is a folder in `prompts/`. What a language does not say yet is said in English. `wording` says which sentence
//! belongs to what.

mod filters;
mod signs;

pub use filters::{count, span};
pub use signs::Signs;

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::{Deserialize, Serialize};

use crate::reason::Quantity;

/// Languages and their files; the first is the one that the others fall back to.
pub(crate) const LANGUAGES: [(&str, [&str; 14]); 1] = [(
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
        include_str!("../../../prompts/en/choices.toml"),
        include_str!("../../../prompts/en/pages.toml"),
        include_str!("../../../prompts/en/screen.toml"),
        include_str!("../../../prompts/en/help.toml"),
    ],
)];

#[derive(Deserialize, Default)]
pub(crate) struct Prompts {
    #[serde(default)]
    states: BTreeMap<String, String>,
    #[serde(default)]
    nudges: BTreeMap<String, String>,
    #[serde(default)]
    changes: BTreeMap<String, String>,
    #[serde(default)]
    meaning: BTreeMap<String, String>,
    #[serde(default)]
    moments: BTreeMap<String, String>,
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
    choice: BTreeMap<String, String>,
    #[serde(default)]
    families: BTreeMap<String, String>,
    #[serde(default)]
    closer: BTreeMap<String, String>,
    #[serde(default)]
    health: BTreeMap<String, String>,
    #[serde(default)]
    because: BTreeMap<String, String>,
    #[serde(default)]
    says: BTreeMap<String, String>,
    #[serde(default)]
    page: BTreeMap<String, String>,
    #[serde(default)]
    screen: BTreeMap<String, String>,
    #[serde(default)]
    script: BTreeMap<String, String>,
    #[serde(default)]
    times_of_day: BTreeMap<String, String>,
    #[serde(default)]
    signs: BTreeMap<String, String>,
    #[serde(default)]
    undefined_as: BTreeMap<String, String>,
    see_vet: Option<String>,
    #[serde(flatten)]
    templates: BTreeMap<String, String>,
}

impl Prompts {
    pub(crate) fn parse(text: &str) -> Self {
        toml::from_str(text).expect("a test renders every embedded prompt")
    }

    /// With those of `other` in place of the ones it has.
    pub(crate) fn add(&mut self, other: Prompts) {
        self.states.extend(other.states);
        self.nudges.extend(other.nudges);
        self.changes.extend(other.changes);
        self.meaning.extend(other.meaning);
        self.moments.extend(other.moments);
        self.line.extend(other.line);
        self.learn.extend(other.learn);
        self.check.extend(other.check);
        self.settle.extend(other.settle);
        self.quiz.extend(other.quiz);
        self.choice.extend(other.choice);
        self.families.extend(other.families);
        self.closer.extend(other.closer);
        self.health.extend(other.health);
        self.because.extend(other.because);
        self.says.extend(other.says);
        self.page.extend(other.page);
        self.screen.extend(other.screen);
        self.script.extend(other.script);
        self.times_of_day.extend(other.times_of_day);
        self.signs.extend(other.signs);
        self.undefined_as.extend(other.undefined_as);
        self.see_vet = other.see_vet.or(self.see_vet.take());
        self.templates.extend(other.templates);
    }
}

/// The sentences of one language.
pub struct Sentences {
    templates: Environment<'static>,
    nudges: BTreeMap<String, String>,
    meaning: BTreeMap<String, String>,
    moments: BTreeMap<String, String>,
    script: String,
    /// What every template may use.
    shared: Value,
}

impl Sentences {
    /// English, from `prompts/en/`; read once.
    pub fn english() -> &'static Arc<Self> {
        static ENGLISH: LazyLock<Arc<Sentences>> =
            LazyLock::new(|| Arc::new(Sentences::of(LANGUAGES[0].0)));
        &ENGLISH
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
        Sentences::from_prompts(prompts)
    }

    pub(crate) fn from_prompts(prompts: Prompts) -> Self {
        let mut templates = Environment::new();
        filters::add_to(&mut templates);
        let parts = [
            ("line", prompts.line),
            ("learn", prompts.learn),
            ("check", prompts.check),
            ("settle", prompts.settle),
            ("quiz", prompts.quiz),
            ("choice", prompts.choice),
            ("closer", prompts.closer),
            ("health", prompts.health),
            ("because", prompts.because),
            ("says", prompts.says),
            ("page", prompts.page),
            ("screen", prompts.screen),
        ];
        let named = parts.into_iter().flat_map(|(part, lines)| {
            lines.into_iter().map(move |(name, text)| (in_part(part, &name), text))
        });
        for (name, template) in prompts.templates.into_iter().chain(named) {
            templates.add_template_owned(name, template).expect("a test renders every prompt");
        }
        let shared = context! {
            nudges => Value::from(Serde(&prompts.nudges)),
            families => prompts.families,
            states => prompts.states,
            changes => prompts.changes,
            meaning => Value::from(Serde(&prompts.meaning)),
            moments => Value::from(Serde(&prompts.moments)),
            times_of_day => prompts.times_of_day,
            signs_named => prompts.signs,
            undefined_as => Value::from(Serde(&prompts.undefined_as)),
            see_vet => prompts.see_vet.unwrap_or_default(),
        };
        let script = serde_json::to_string(&prompts.script).expect("texts by their names");
        let Prompts { nudges, meaning, moments, .. } = prompts;
        Sentences { templates, nudges, meaning, moments, script, shared }
    }

    /// What the script of the review's pages says, as JSON.
    pub fn script(&self) -> &str {
        &self.script
    }

    /// What the word of this name means; its name where that is not told.
    pub fn meaning<'a>(&'a self, name: &'a str) -> &'a str {
        self.meaning.get(name).map_or(name, String::as_str)
    }

    /// The heading for words of this moment.
    pub fn moment<'a>(&'a self, name: &'a str) -> &'a str {
        self.moments.get(name).map_or(name, String::as_str)
    }

    /// The words for a nudge of this name; its name where there are none.
    pub fn nudge<'a>(&'a self, name: &'a str) -> &'a str {
        self.nudges.get(name).map_or(name, String::as_str)
    }

    /// That the animal was last weighed this many days ago.
    pub fn weighed_ago(&self, days: i32) -> String {
        self.render(&in_part("health", "weighed_ago"), context! { days })
    }

    /// One side does more than the other: left and right this often.
    pub fn sides(&self, left: u32, right: u32) -> String {
        self.render(&in_part("health", "sides_uneven"), context! { left, right })
    }

    /// A line of this part, which says its own name.
    pub(crate) fn render_line(&self, part: &str, line: &impl Serialize) -> String {
        let values = Value::from(Serde(line));
        let name = values.get_attr("line").map(|name| name.to_string()).unwrap_or_default();
        self.render(&in_part(part, &name), values)
    }

    /// The sentence of this name with these values.
    pub(crate) fn render(&self, name: &str, values: Value) -> String {
        self.try_render(name, values).expect("a test renders every template")
    }

    /// The same, for templates of pages, which say what is wrong in them.
    pub(crate) fn try_render(&self, name: &str, values: Value) -> Result<String, minijinja::Error> {
        let shared = self.shared.clone();
        let template = self.templates.get_template(name)?;
        let text = template.render(context! { ..values, ..shared })?;
        Ok(text.split_whitespace().collect::<Vec<_>>().join(" "))
    }
}

/// Why something is so, by the template of this name and the numbers that it rests on, which it calls by their names
/// with underscores; `words` are what it needs beside. In English: it is kept with what it is said of.
pub(crate) fn because(name: &str, inputs: &[Quantity], words: &[(&str, &str)]) -> String {
    by_numbers("because", name, inputs, words)
}

/// A sentence or a part of one in the same way, of those that stand in `[says]`.
pub(crate) fn says(name: &str, inputs: &[Quantity], words: &[(&str, &str)]) -> String {
    by_numbers("says", name, inputs, words)
}

fn by_numbers(part: &str, name: &str, inputs: &[Quantity], words: &[(&str, &str)]) -> String {
    let key = |name: &str| -> String {
        let plain = name.chars().filter(|c| c.is_alphanumeric() || *c == ' ');
        plain.collect::<String>().replace(' ', "_")
    };
    let numbers = inputs.iter().map(|input| (key(&input.name), Value::from(input.value)));
    let words = words.iter().map(|(name, word)| ((*name).to_owned(), Value::from(*word)));
    let values: BTreeMap<String, Value> = numbers.chain(words).collect();
    Sentences::english().render(&in_part(part, name), Value::from(Serde(values)))
}

/// Lines of a part have names of their own, apart from the answers' and from other parts'.
pub(crate) fn in_part(part: &str, name: &str) -> String {
    format!("{part}.{name}")
}
