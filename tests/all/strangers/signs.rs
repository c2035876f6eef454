//! Control characters and marks of direction in names, notes, plans, imports and names of files.

use std::process::{Command, Stdio};

use anyhow::Result;

use super::{Stage, ended, text};
use crate::needs;

/// Wipes the screen, names the window, colours by a C1 sequence, turns what follows around (UAX #9), goes back to the
/// begin of the line, rubs out.
const TAIL: &str = "\u{1b}[2J\u{1b}]0;x\u{7}\u{9b}31m\u{202e}\u{2066}\u{200f}\r\u{7f}";

fn harmful(text: &str) -> Option<char> {
    text.chars().find(|c| {
        (c.is_control() && !"\n\t".contains(*c))
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    })
}

/// What is meant for programs and goes to them as it is.
fn is_data(line: &[String]) -> bool {
    line[0] == "export" || line.contains(&"--show".to_owned())
}

#[test]
fn no_verb_hands_on_what_a_terminal_would_act_on() -> Result<()> {
    let stage = Stage::new(TAIL)?;
    let mut shown = 0;
    for line in stage.every_verb() {
        let words: Vec<&str> = line.iter().map(String::as_str).collect();
        let output = stage.run(&words)?;
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        if !is_data(&line) {
            assert_eq!(harmful(&out), None, "{line:?}: {out:?}");
        }
        assert_eq!(harmful(&err), None, "{line:?}: {err:?}");
        shown += [out, err].concat().matches("\\u{202e}").count();
        if words.contains(&"--json") && output.status.success() {
            // The same names as before, for those that read it.
            for document in text(&output.stdout).lines() {
                serde_json::from_str::<serde_json::Value>(document)?;
            }
        }
    }
    assert!(shown > 50, "the names were not even shown: {shown}");
    Ok(())
}

#[test]
fn data_is_as_it_was_in_a_file_and_visible_on_a_terminal() -> Result<()> {
    if !needs::program("script") {
        return Ok(());
    }
    let stage = Stage::new(TAIL)?;
    let piped = text(&stage.run(&["export", "reps"])?.stdout);
    assert!(piped.contains(&format!("Pepino{TAIL}")));
    for line in ["export reps", "export journal --format jsonl", "export sessions"] {
        let command = format!("exec {} {line}", env!("CARGO_BIN_EXE_hushtally"));
        let mut script = Command::new("script");
        script.args(["--quiet", "--return", "--command", &command, "/dev/null"]);
        stage.settle(&mut script);
        let output = ended(script.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn()?)?;
        assert!(output.status.success(), "{line}: {}", text(&output.stdout));
        // The terminal itself puts the one before every line end.
        let shown = text(&output.stdout).replace("\r\n", "\n");
        assert!(shown.contains("Pepino"), "{line}: {shown}");
        assert_eq!(harmful(&shown), None, "{line}: {shown:?}");
    }
    Ok(())
}
