//! The verbs about weeks of sessions, from end to end on a record of their own.

mod bad_input;
mod decided;
mod demo;
mod plans;
mod shown;

use std::path::PathBuf;

use assert_cmd::Command;
use tempfile::TempDir;

/// A folder with a record in it.
pub(crate) struct Desk {
    folder: TempDir,
}

impl Desk {
    pub(crate) fn new() -> Self {
        Desk { folder: tempfile::tempdir().unwrap() }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) -> PathBuf {
        std::fs::write(self.path(name), text).unwrap();
        self.path(name)
    }

    /// Runs a verb in the folder: exit code, what it printed, what it complained of.
    pub(crate) fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        let output = Command::new(env!("CARGO_BIN_EXE_hushtally"))
            .current_dir(self.folder.path())
            .env("HUSHTALLY_DB", self.path("record.db"))
            .env("HUSHTALLY_HOME", self.folder.path())
            .env("TZ", "Europe/Berlin")
            .args(arguments)
            .output()
            .unwrap();
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
    }

    /// What a verb printed; it must go well.
    pub(crate) fn ok(&self, arguments: &[&str]) -> String {
        let (code, out, complaint) = self.run(arguments);
        assert_eq!(code, 0, "{arguments:?}: {complaint}");
        out
    }

    /// The JSON that a verb printed.
    pub(crate) fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let mut all = arguments.to_vec();
        all.push("--json");
        serde_json::from_str(&self.ok(&all)).unwrap()
    }
}
