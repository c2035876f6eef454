//! How much of the program can be reached by voice: by the list of functions beside the benches.

use std::collections::{BTreeMap, BTreeSet};

use clap::CommandFactory;
use serde::Deserialize;

use super::Cli;
use crate::interpret::{Grammar, Said};
use crate::plan::{Command, Role, Words};

const LIST: &str = include_str!("../../../tests/bench.d/functions.toml");

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Functions {
    listen: Part,
    settle: Part,
    soundcheck: Part,
    lesson: Part,
    quiz: Part,
    same_as: BTreeMap<String, Vec<String>>,
    left_out: BTreeMap<String, String>,
}

type Part = BTreeMap<String, Function>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Function {
    is: String,
    say: Option<String>,
}

fn functions() -> Functions {
    toml::from_str(LIST).expect("the list of functions")
}

#[test]
fn every_verb_is_in_the_list() {
    let all = functions();
    let listed = |verb: &str| {
        verb == "listen" || all.same_as.contains_key(verb) || all.left_out.contains_key(verb)
    };
    let cli = Cli::command();
    for verb in cli.get_subcommands().filter(|verb| verb.get_name() != "help") {
        let within: Vec<String> = verb
            .get_subcommands()
            .filter(|inner| inner.get_name() != "help")
            .map(|inner| format!("{} {}", verb.get_name(), inner.get_name()))
            .collect();
        let whole = listed(verb.get_name());
        // What is within body and forget is told in their own lines.
        let each = within.iter().all(|name| listed(name));
        assert!(whole || (!within.is_empty() && each), "{} is not in the list", verb.get_name());
    }
    for (verb, names) in &all.same_as {
        assert!(names.iter().all(|name| all.listen.contains_key(name)), "{verb}: {names:?}");
    }
}

/// What cannot be said is not reached; the bench reads the figure that this prints.
#[test]
fn what_the_list_has_said_means_something_and_every_command_is_said() {
    let all = functions();
    let mut words = Words::english();
    words.set(Role::Own("sneeze".into()), vec!["sneeze".into()]);
    words.set(Role::TakesOver("Ada".into()), vec!["ada takes over".into()]);
    words.add_behaviour("wave", &["wave".into()]);
    words.add_animal("Pip", &["pip".into()]);
    let grammar = Grammar::new(&words);
    let parts = [&all.listen, &all.settle, &all.soundcheck, &all.lesson, &all.quiz];
    let (mut reached, mut not) = (0, Vec::new());
    let mut said = BTreeSet::new();
    for (name, function) in parts.into_iter().flatten() {
        let Some(say) = &function.say else {
            not.push((name, &function.is));
            continue;
        };
        let say: Vec<&str> = say.split_whitespace().collect();
        let means = grammar.parse(&say).unwrap_or_default();
        assert!(say.is_empty() || !means.is_empty(), "{name}: {say:?} means nothing");
        said.extend(means.into_iter().filter_map(|reading| match reading.said {
            Said::Command { command } => Some(command),
            _ => None,
        }));
        reached += 1;
    }
    let unsaid: Vec<Command> =
        Command::ALL.into_iter().filter(|command| !said.contains(command)).collect();
    assert_eq!(unsaid, [], "not in the list of functions");
    let share = f64::from(reached) / (f64::from(reached) + not.len() as f64);
    println!("\nvoice_reach_share\t{share:.3}");
    assert!(share >= 0.95, "{share}: {not:?}");
}
