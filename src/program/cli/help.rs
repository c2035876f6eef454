//! Help that fits a terminal of 80 columns and is broken once: paragraphs are joined before they are wrapped, and an example
//! stands above what it says where both have no room in a line.

use clap::Command;

/// So wide is what a terminal shows at least.
const WIDE: usize = 80;
/// Columns of an example up to which what it says stands beside it.
const BESIDE: usize = 34;

/// The command line with such help, of every verb.
pub(super) fn fitted(command: Command) -> Command {
    let mut command = command.max_term_width(WIDE);
    command.build();
    with_help(command)
}

fn with_help(mut command: Command) -> Command {
    if let Some(after) = command.get_after_help().map(ToString::to_string) {
        command = command.after_help(reflowed(&after));
    }
    let usage = command.render_usage().to_string();
    let usage = usage.trim_start_matches("Usage: ");
    if usage.lines().any(|line| line.chars().count() + "Usage: ".len() > WIDE) {
        command = command.override_usage(wrapped(usage, 0, "Usage: ".len(), "Usage: ".len()));
    }
    command.mut_subcommands(with_help)
}

/// Text with its paragraphs and examples broken where a line ends, and nowhere else.
fn reflowed(text: &str) -> String {
    let mut shown = String::new();
    let mut paragraph: Vec<&str> = Vec::new();
    let mut examples: Vec<&str> = Vec::new();
    for line in text.lines().chain([""]) {
        let indented = line.starts_with(' ');
        if !examples.is_empty() && !indented {
            shown += &of_examples(&std::mem::take(&mut examples));
        }
        if !paragraph.is_empty() && (indented || line.is_empty()) {
            shown += &wrapped(&std::mem::take(&mut paragraph).join(" "), 0, 0, 0);
            shown.push('\n');
        }
        match line {
            "" => shown.push('\n'),
            line if indented => examples.push(line),
            line => paragraph.push(line),
        }
    }
    shown.trim_end().to_owned()
}

/// Lines of two columns: what to write, and what it says.
fn of_examples(lines: &[&str]) -> String {
    if lines.iter().all(|line| line.chars().count() <= WIDE) {
        return lines.iter().map(|line| format!("{line}\n")).collect();
    }
    let mut entries: Vec<(String, String)> = Vec::new();
    for line in lines {
        let text = line.trim_start();
        let deep = line.len() - text.len();
        match entries.last_mut() {
            // What goes on is far in.
            Some((_, says)) if deep > 8 => *says = format!("{says} {text}").trim().to_owned(),
            _ => {
                let (write, says) = text.split_once("  ").unwrap_or((text, ""));
                entries.push((write.to_owned(), says.trim().to_owned()));
            }
        }
    }
    let widest = entries.iter().map(|(write, _)| write.chars().count()).max().unwrap_or(0);
    let mut shown = String::new();
    for (write, says) in entries {
        if widest <= BESIDE {
            let line = format!("  {write:widest$}  ");
            shown += line.trim_end_matches(|c| says.is_empty() && c == ' ');
            shown += &wrapped(&says, widest + 4, widest + 4, widest + 4);
        } else {
            shown += "  ";
            shown += &wrapped(&write, 2, 2, 6);
            if !says.is_empty() {
                shown += "\n      ";
                shown += &wrapped(&says, 6, 6, 6);
            }
        }
        shown.push('\n');
    }
    shown
}

/// Words in lines: `at` columns are taken in the first, `from` is where others begin, `_` where they go on.
fn wrapped(text: &str, at: usize, from: usize, further: usize) -> String {
    let mut shown = String::new();
    let mut column = at.max(from);
    for (place, word) in text.split_whitespace().enumerate() {
        let width = word.chars().count();
        if place > 0 && column + 1 + width > WIDE {
            shown.push('\n');
            shown += &" ".repeat(further);
            column = further;
        } else if place > 0 {
            shown.push(' ');
            column += 1;
        }
        shown += word;
        column += width;
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    fn each(command: &Command, see: &mut dyn FnMut(&Command)) {
        see(command);
        command.get_subcommands().for_each(|sub| each(sub, see));
    }

    #[test]
    fn no_line_of_any_help_is_wider_than_a_terminal() {
        let mut seen = 0;
        each(&fitted(crate::cli::Cli::command()), &mut |command| {
            let mut command = command.clone();
            for help in [command.render_help(), command.render_long_help()] {
                for line in help.to_string().lines() {
                    assert!(line.chars().count() <= WIDE, "{}: {line}", command.get_name());
                }
            }
            seen += 1;
        });
        assert!(seen > 40, "{seen}");
    }

    #[test]
    fn a_paragraph_is_broken_once_and_an_example_stands_above_what_it_says() {
        let says = "what it does, and then a little";
        let text = format!(
            "Examples:\n  hushtally verb with-a-long-name --and an-option    {says}\n{:51}more of it\n\n\
             One sentence that was\nbroken.",
            ""
        );
        assert_eq!(
            reflowed(&text),
            format!(
                "Examples:\n  hushtally verb with-a-long-name --and an-option\n      {says} more of it\n\n\
                 One sentence that was broken."
            )
        );
        let short = "Examples:\n  a  one\n  bb  two";
        assert_eq!(reflowed(short), short);
    }
}
