//! How much of the program can be reached by voice: by the list of functions beside this file.

use clap::CommandFactory;

use super::Cli;
use crate::plan::{Command, Role, Words};

const FUNCTIONS: &str = include_str!("functions.tsv");

/// A function of the program: its verb, the commands by voice, and why it is left out.
fn functions() -> Vec<(&'static str, Vec<&'static str>, Option<&'static str>)> {
    let rows = FUNCTIONS.lines().filter(|line| !line.starts_with('#'));
    rows.map(|row| {
        let cells: Vec<&str> = row.split('\t').collect();
        let [verb, what, commands, why] = cells[..] else { panic!("four cells: {row}") };
        assert!(!what.is_empty(), "{row}");
        let commands = if commands == "-" { Vec::new() } else { commands.split(',').collect() };
        (verb, commands, Some(why).filter(|why| *why != "-"))
    })
    .collect()
}

#[test]
fn every_verb_is_in_the_list_and_every_command_in_it_can_be_said() {
    let all = functions();
    let cli = Cli::command();
    for verb in cli.get_subcommands().filter(|verb| verb.get_name() != "help") {
        let listed = |name: &str| all.iter().any(|(verb, ..)| *verb == name);
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
    let words = Words::english();
    for (verb, commands, why) in &all {
        for name in commands.iter().filter(|name| **name != "always") {
            let command = Command::try_from((*name).to_owned()).unwrap();
            assert!(!words.of(&Role::Command(command)).is_empty(), "{verb}: {name} is not said");
        }
        assert!(commands.is_empty() || why.is_none(), "{verb} is reached and left out");
    }
    // And every command that can be said does something that the list has.
    let unlisted: Vec<Command> = Command::ALL
        .into_iter()
        .filter(|command| all.iter().all(|(_, names, _)| !names.contains(&&*command.name())))
        .collect();
    assert_eq!(unlisted, [], "not in the list of functions");
    let counted: Vec<_> = all.iter().filter(|(.., why)| why.is_none()).collect();
    let reached = counted.iter().filter(|(_, commands, _)| !commands.is_empty()).count();
    let share = reached as f64 / counted.len() as f64;
    println!("\nvoice_reach_share\t{share:.3}");
    assert!(share >= 0.85, "{share}: {counted:?}");
}
