//! Does every acknowledged tag survive? Child processes write tags into a database and say "ack" when one is
//! acknowledged; they are killed at any instant, their disk fails, loses power or fills up, and the
//! parent then looks for every tag that was acknowledged.
//!
//! Few of each by default, as a test. Many, and with figures:
//!
//!     cargo test --release --test faults -- --kill-points 1000 --io-faults 500 --power-cuts 2000 --json
//!
//! Points in the middle of system calls need `strace`, a small file system the right to mount one; without them the
//! others are made, and it is said.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "tells what was done and measured")]
#![allow(clippy::unwrap_used, reason = "a test fails where it stands")]

mod cut_off;
mod disk_full;
mod forgets;
mod half_way;
mod io_faults;
mod kill;
mod ledger;
#[path = "../all/needs.rs"]
#[allow(dead_code, reason = "the other tests ask for more")]
mod needs;
mod power;
mod shown;
mod torn;
mod trace;
mod trainer;
mod two_programs;
mod writer;

use std::process::ExitCode;
use std::time::Instant;

use ledger::FaultCounts;

/// How many of each.
#[derive(Debug, Clone, Copy)]
struct Wanted {
    kill_points: u32,
    io_faults: u32,
    power_cuts: u32,
    torn_logs: u32,
    forgets: u32,
    two_program_rounds: u32,
    kills_at_syncs: u32,
    seed: u64,
}

#[expect(
    clippy::disallowed_methods,
    reason = "a progress report of a test, no part of the program"
)]
fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    if args.first().is_some_and(|arg| arg == "child") {
        return match args.get(1).map(String::as_str) {
            Some("train") => trainer::main(&args[2..]),
            _ => writer::main(&args[1..]),
        };
    }
    if args.iter().any(|arg| arg == "--list") {
        println!("faults: test");
        return ExitCode::SUCCESS;
    }
    let given = |name: &str| {
        let place = args.iter().position(|arg| arg == name)?;
        args.get(place + 1)?.parse::<u64>().ok()
    };
    let many =
        |name: &str, few: u32| given(name).and_then(|n| u32::try_from(n).ok()).unwrap_or(few);
    let takes_value = |i: usize| i > 0 && args[i - 1].starts_with("--") && args[i - 1] != "--json";
    let filter = args.iter().enumerate().find(|(i, arg)| !arg.starts_with('-') && !takes_value(*i));
    if filter.is_some_and(|(_, filter)| !"faults".contains(filter.as_str())) {
        println!("test result: ok. 0 passed; 0 failed; 0 ignored; 0 measured; 1 filtered out");
        return ExitCode::SUCCESS;
    }
    let json = args.iter().any(|arg| arg == "--json");
    if !json {
        // As the usual test harness says it, for whoever adds up.
        println!("running 1 test");
    }
    let wanted = Wanted {
        kill_points: many("--kill-points", 24),
        io_faults: many("--io-faults", 16),
        power_cuts: many("--power-cuts", 40),
        torn_logs: many("--torn-logs", 20),
        forgets: many("--forgets", 12),
        two_program_rounds: many("--two-program-rounds", 16),
        kills_at_syncs: many("--kills-at-syncs", 24),
        seed: given("--seed").unwrap_or(20_260_102),
    };
    let mut random = fastrand::Rng::with_seed(wanted.seed);
    let mut counts = FaultCounts::default();
    type Area = (&'static str, fn(Wanted, &mut fastrand::Rng, &mut FaultCounts));
    let areas: [Area; 9] = [
        ("killed at any instant", kill::run),
        ("killed in an upgrade or a restore", half_way::run),
        ("the disk reports errors", io_faults::run),
        ("power lost, unsynced writes gone", power::run),
        ("write-ahead log torn or overwritten", torn::run),
        ("disk full for real", disk_full::run),
        ("names forgotten", forgets::run),
        ("several programs on one record", two_programs::run),
        ("killed at every sync and write of a session", cut_off::run),
    ];
    let only = args.iter().position(|arg| arg == "--only").and_then(|at| args.get(at + 1));
    for (name, area) in
        areas.into_iter().filter(|(name, _)| only.is_none_or(|only| name.contains(only)))
    {
        let start = Instant::now();
        area(wanted, &mut random, &mut counts);
        eprintln!("{name}: done in {:.1} s", start.elapsed().as_secs_f64());
    }
    counts.report(json)
}
