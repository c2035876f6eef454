//! Files made to do harm: no panic, no memory without bound, an error that says something or what is there.
//!
//! Every target takes a good file from `corpus/` (or makes one), spoils it at random and gives it to the
//! program. A few hundred times in the ordinary run; `tests/nightly/hostile` gives each target ten minutes.
//! What once failed is kept beside the targets and tried first from then on. The targets for sound are in
//! [`crate::audio`]; here it is only about its memory.

mod bombs;
mod corrupt;
mod database;
mod text;

use std::env;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Result, bail};
use proptest::strategy::Strategy;
use proptest::test_runner::{
    Config, FileFailurePersistence, TestCaseError, TestCaseResult, TestRunner,
};

use crate::needs;

/// Tries a target on corrupted files: this many times, or for `HUSHTALLY_HOSTILE_SECONDS`.
pub(crate) fn attack<S: Strategy>(
    source: &'static str,
    corrupted: &S,
    cases: u32,
    target: impl Fn(S::Value) -> TestCaseResult,
) {
    let asked = |name| env::var(name).ok().and_then(|value| value.parse::<u32>().ok());
    let seconds = asked("HUSHTALLY_HOSTILE_SECONDS").map(|s| Duration::from_secs(s.into()));
    let cases = asked("HUSHTALLY_HOSTILE_CASES").unwrap_or(cases);
    let begun = Instant::now();
    let mut tried = 0;
    loop {
        let config = Config {
            cases,
            source_file: Some(source),
            failure_persistence: Some(Box::new(FileFailurePersistence::WithSource("regressions"))),
            ..Config::default()
        };
        if let Err(error) = TestRunner::new(config).run(corrupted, &target) {
            panic!("after {tried} files: {error}");
        }
        tried += cases;
        if seconds.is_none_or(|seconds| begun.elapsed() >= seconds) {
            println!("{source}: {tried} corrupted files in {:?}", begun.elapsed());
            return;
        }
    }
}

fn fail(reason: impl ToString) -> TestCaseError {
    TestCaseError::fail(reason.to_string())
}

/// The targets once more, in a process that gets no more memory than this. A panic or an allocation that
/// fails ends that process.
#[test]
fn the_targets_need_little_memory() -> Result<()> {
    if !needs::program("sh") {
        return Ok(());
    }
    let output = Command::new("sh")
        .args(["-c", "ulimit -v 1000000; exec \"$@\"", "sh"])
        .arg(env::current_exe()?)
        .args(["hostile::text::", "hostile::database::", "--test-threads=1"])
        .env("HUSHTALLY_HOSTILE_CASES", "40")
        .env("MALLOC_ARENA_MAX", "1")
        .env_remove("HUSHTALLY_HOSTILE_SECONDS")
        .stdin(Stdio::null())
        .output()?;
    let said = String::from_utf8_lossy(&output.stdout);
    if !output.status.success() || said.contains("running 0 tests") {
        bail!("{}: {said}{}", output.status, String::from_utf8_lossy(&output.stderr));
    }
    Ok(())
}
