//! The whole program on sound files: what is heard by whom, and what it says to bad input.

mod around;
mod bad_input;
mod begins;
mod demo;
mod lines;
mod people;
mod talk;
mod timed_tags;
mod voices;
mod without_sound;

use std::path::Path;
use std::process::{Command, Output, Stdio};

use anyhow::{Context, Result};
use serde_json::Value;

/// `hushtally` with these arguments; no settings of the user's.
pub(crate) fn hushtally(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_hushtally"));
    command.args(arguments).stdin(Stdio::null());
    for setting in ["HUSHTALLY_DB", "HUSHTALLY_MODEL", "HUSHTALLY_MIC", "HUSHTALLY_EAR"] {
        command.env_remove(setting);
    }
    command
}

/// The JSON lines of `replay`.
pub(crate) fn replay(file: &Path, plan: &Path) -> Result<Vec<Value>> {
    let output = hushtally(&["replay", "--json"]).arg(file).arg(plan).output()?;
    let complaint = complaint(&output);
    anyhow::ensure!(output.status.success(), "{}: {complaint}", file.display());
    String::from_utf8(output.stdout)?
        .lines()
        .map(|line| serde_json::from_str(line).with_context(|| line.to_owned()))
        .collect()
}

/// Words of everything that was taken for a tag, in order.
pub(crate) fn tags(lines: &[Value]) -> Vec<&str> {
    lines
        .iter()
        .filter(|line| line["kind"] != "unsure")
        .filter_map(|line| line["words"].as_str())
        .filter(|words| !words.is_empty())
        .collect()
}

pub(crate) fn complaint(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}
