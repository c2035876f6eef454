//! The scripts around the tests: what is missing is said before the first of them runs, and the slowest are named.

use std::io::{self, BufRead, BufReader, Write};
use std::process::{Command, Output, Stdio};
use std::thread;
use std::time::Duration;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

fn needed(without: &str, shared: &str) -> (bool, String) {
    let mut command = Command::new(format!("{ROOT}/tests/needed"));
    command.arg("shared").env("HUSHTALLY_SHARED", shared).env("HUSHTALLY_WITHOUT", without);
    let Output { status, stderr, .. } = command.output().unwrap();
    (status.success(), String::from_utf8(stderr).unwrap())
}

#[test]
fn a_machine_without_recordings_is_told_at_once_and_may_say_so() {
    let (passed, said) = needed("", "/nowhere");
    assert!(!passed && said.contains("missing here: animals checks.json speech"), "{said}");
    assert_eq!(needed("shared", "/nowhere"), (true, String::new()));
    assert_eq!(needed("checks.json speech animals", "/nowhere"), (true, String::new()));
    let (passed, said) = needed("animals", "/nowhere");
    assert!(!passed && said.contains("missing here: checks.json speech"), "{said}");
    // A slip of the pen leaves nothing out.
    let (passed, said) = needed("shard", "/");
    assert!(!passed && said.contains("\"shard\""), "{said}");
}

/// Two threads: "a" and "b" start at once, "c" when "b" has ended. Names that end out of order, two binaries, a failure.
#[test]
fn the_slowest_tests_are_named_and_all_results_added_up() {
    let mut command = Command::new("python3");
    command.arg(format!("{ROOT}/tests/tally.py")).args(["--", "--test-threads=2"]);
    let mut tally = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut input = tally.stdin.take().unwrap();
    let mut said = BufReader::new(tally.stdout.take().unwrap());
    for (wait_ms, line) in [
        (0, "running 3 tests"),
        (300, "test b - should panic ... ok"),
        (900, "test c ... FAILED"),
        (200, "test a ... ok"),
        (0, "test result: FAILED. 2 passed; 1 failed; 0 ignored; 0 measured; 5 filtered out"),
        (0, "running 1 test"),
        (0, "test d ... ignored"),
        (0, "test result: ok. 0 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out"),
    ] {
        thread::sleep(Duration::from_millis(wait_ms));
        writeln!(input, "{line}").unwrap();
        // It is said on at once, and times count from here however long the script took to start.
        said.read_line(&mut String::new()).unwrap();
    }
    drop(input);
    let said = io::read_to_string(said).unwrap();
    assert!(tally.wait().unwrap().success());
    assert!(said.ends_with("\n2 passed, 1 failed, 1 skipped\n"), "{said}");
    let rows = said.split("The slowest:\n").nth(1).unwrap();
    let slowest: Vec<&str> =
        rows.lines().take(4).map(|row| row.split_whitespace().last().unwrap()).collect();
    assert_eq!(slowest, ["a", "c", "b", "d"], "{said}");
}
