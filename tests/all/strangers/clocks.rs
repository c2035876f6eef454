//! A computer's clock that tells the year 1960 or 11000.

use std::fs;
use std::process::Command;

use anyhow::Result;

use super::{Stage, text};
use crate::needs;

/// In place of the C library's clock for the time of day; every other clock goes on.
const CLOCK: &str = "\
#define _GNU_SOURCE
#include <time.h>
#include <unistd.h>
#include <sys/syscall.h>
int clock_gettime(clockid_t which, struct timespec *time) {
    long said = syscall(SYS_clock_gettime, which, time);
    if (which == CLOCK_REALTIME) time->tv_sec = SECONDS;
    return said;
}
";

#[test]
fn a_clock_that_cannot_be_believed_is_refused_with_words_and_nothing_is_recorded() -> Result<()> {
    if !cfg!(target_os = "linux") || !needs::program("cc") {
        return Ok(());
    }
    let stage = Stage::new("")?;
    let source = stage.work("clock.c");
    fs::write(&source, CLOCK)?;
    let before = text(&stage.run(&["export", "journal"])?.stdout);
    // 1960-06-01, 11000-06-01 and 2026-06-01; the last is as ever.
    for (year, seconds) in
        [("1960", "-302486400L"), ("11000", "284972601600L"), ("2026", "1780272000L")]
    {
        let library = stage.work(&format!("clock-{year}.so"));
        let made = Command::new("cc")
            .args(["-shared", "-fPIC", &format!("-DSECONDS={seconds}"), "-o"])
            .args([&library, &source])
            .status()?;
        assert!(made.success());
        let mut codes = Vec::new();
        for line in stage.every_verb() {
            if ["completions", "man", "devices", "backup", "verify", "restore", "forget"]
                .contains(&line[0].as_str())
                || line.contains(&"change".to_owned())
            {
                continue;
            }
            let mut command = stage.command();
            command.args(&line).env("LD_PRELOAD", &library);
            let output = command.output()?;
            let said = text(&output.stderr);
            assert_ne!(output.status.code(), Some(101), "{line:?}: {said}");
            if year != "2026" {
                let words = format!("the year {year}");
                // What is not a command is reported first.
                let wrong_use = output.status.code() == Some(2);
                assert!(said.contains(&words) || wrong_use, "{line:?}: {said}");
            }
            codes.push(output.status.code());
        }
        let fine = codes.iter().filter(|code| **code == Some(0)).count();
        assert_eq!(fine > 20, year == "2026", "{year}: {codes:?}");
        if year != "2026" {
            assert_eq!(text(&stage.run(&["export", "journal"])?.stdout), before);
        }
    }
    Ok(())
}
