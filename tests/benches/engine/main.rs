//! Measures the engine on simulated animals beside rules of thumb, and its speed.
//!
//! `cargo bench --bench engine -- [--tuning] [--quick] [--only PART]... [--sessions N] [--chart FILE.svg]`
//! prints a figure a line, fields apart by tabs, and everything else on stderr. Thresholds of the engine
//! are chosen with `--tuning`, whose animals, laws of tiring and recordings are other ones than those
//! that are reported. The parts are `usual` (the first simulated world), `worlds` (the others), `shipped` (those by the
//! whole program and its record, an animal's first session and its twentieth),
//! `animals` (records of real ones, from the folder in HUSHTALLY_SHARED or beside the checkout),
//! `verdicts` (over weeks, and how long it stays good) and `speed`; `--quick` takes so few sessions of
//! each that a constant can be chosen by it.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "tells what was done and measured")]

mod animals;
mod chart;
mod good_time;
mod measure;
mod plain_rules;
mod population;
mod shipped;
mod speed;
mod verdicts;
mod worlds;

use measure::Score;
use plain_rules::{Seen, families};
use population::{Case, Seeds, USUAL, cases, replay};
use worlds::Curves;

/// False nudges an hour that the engine is told to stand, for its curve.
const BUDGETS: [f64; 8] = [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// Sessions for the points of the curve other than the usual one.
const CURVE_SESSIONS: usize = 2_500;

/// Where records of real animals lie, if anywhere.
const SHARED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../shared");
/// Animals a law of those that are trained by the whole program.
const SHIPPED_ANIMALS: u64 = 40;
/// Sessions of the first world in a quick run.
const QUICK_SESSIONS: u64 = 500;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let given = |flag: &str| args.iter().any(|arg| arg == flag);
    let after = |flag: &str| {
        let place = args.iter().position(|arg| arg == flag)?;
        args.get(place + 1).cloned()
    };
    let wanted = |part: &str| {
        let mut only = args.windows(2).filter(|pair| pair[0] == "--only").map(|pair| &pair[1]);
        !given("--only") || only.any(|wanted| wanted == part)
    };
    let seeds = if given("--tuning") { Seeds::Tuning } else { Seeds::Reported };
    let quick = given("--quick");
    let usual = if quick { QUICK_SESSIONS } else { 10_000 };
    let mut panels = Vec::new();
    if wanted("usual") {
        let sessions = after("--sessions").and_then(|n| n.parse().ok()).unwrap_or(usual);
        panels.push(("first world", first_world(seeds, sessions)));
    }
    if wanted("worlds") {
        let size = if quick { worlds::QUICK } else { worlds::WHOLE };
        panels.push(("other worlds", worlds::measure(seeds, size, figure)));
    }
    if wanted("shipped") {
        let animals = if quick { 2 } else { SHIPPED_ANIMALS };
        shipped::measure(seeds, animals, figure);
    }
    if wanted("animals") {
        let shared = std::env::var_os("HUSHTALLY_SHARED").unwrap_or_else(|| SHARED.into());
        let folder = std::path::Path::new(&shared).join("animals");
        if folder.is_dir() {
            if let Err(error) = animals::measure(&folder, seeds, quick, figure) {
                eprintln!("the records in {} cannot be read: {error}", folder.display());
                std::process::exit(1);
            }
        } else {
            eprintln!("no records of real animals in {}: not measured", folder.display());
        }
    }
    if wanted("verdicts") {
        verdicts::report(given("--tuning"), quick);
        good_time::report(given("--tuning"), quick);
    }
    if wanted("speed") {
        speed();
    }
    if let Some(file) = after("--chart") {
        match chart::draw(&file, &panels) {
            Ok(()) => eprintln!("the whole curves are drawn in {file}"),
            Err(error) => eprintln!("no chart in {file}: {error}"),
        }
    }
}

/// The simulated animal that the engine was first made for.
fn first_world(seeds: Seeds, sessions: u64) -> Curves {
    let all = cases(seeds, sessions);
    let seen = seen(&all);
    let ours = measure::ours(&all, USUAL, true);
    eprintln!(
        "{} sessions, {:.0} hours of good work, seeds: {seeds:?}",
        all.len(),
        ours.good_hours()
    );
    let ours = ours.score("plan's default".into());
    let curve = our_curve(&all, &ours);
    let peers = peers(&seen);
    report(&ours, &peers);
    details(&all, &seen);
    advice(&all);
    Curves { ours: curve, peers }
}

fn seen(all: &[Case]) -> Vec<(Seen, &Case)> {
    let see = |case| {
        let case: &Case = case;
        let (session, _) = replay(&case.plan(USUAL), case.prior.clone(), &case.simulated);
        Seen::of(session.reps(), case.simulated.truth.ended.as_secs_f64())
    };
    all.iter().map(|case| (see(case), case)).collect()
}

fn our_curve(all: &[Case], usual: &Score) -> Vec<Score> {
    let some = &all[..all.len().min(CURVE_SESSIONS)];
    let score = |budget: f64| {
        if budget == USUAL {
            return usual.clone();
        }
        measure::ours(some, budget, true).score(format!("{budget} an hour"))
    };
    BUDGETS.map(score).to_vec()
}

fn peers(seen: &[(Seen, &Case)]) -> Vec<(&'static str, Vec<Score>)> {
    let family = |rules: Vec<plain_rules::Rule>| {
        rules
            .into_iter()
            .map(|rule| measure::plain(rule, seen).score(format!("{rule:?}")))
            .collect()
    };
    families().into_iter().map(|(name, rules)| (name, family(rules))).collect()
}

fn figure(name: &str, value: f64, unit: &str, reach: &str, peers: &[(String, f64)]) {
    let peers: Vec<String> = peers
        .iter()
        .filter(|(_, value)| value.is_finite())
        .map(|(name, value)| format!("\t{name}={value:.4}"))
        .collect();
    println!("{name}\t{value:.4}\t{unit}\t{reach}{}", peers.concat());
}

fn report(ours: &Score, peers: &[(&str, Vec<Score>)]) {
    let at_ours: Vec<(String, f64)> = peers
        .iter()
        .map(|(name, front)| ((*name).to_owned(), measure::delay_at(front, ours.false_per_hour)))
        .collect();
    let best = at_ours.iter().map(|(_, delay)| *delay).fold(f64::INFINITY, f64::min);
    figure("decline_delay_ratio", ours.median_delay / best, "", "<=0.5", &[]);
    figure("decline_delay_s", ours.median_delay, "s", "-", &at_ours);
    figure("false_nudges_per_hour", ours.false_per_hour, "per h", "<=1", &[]);
    figure("declines_noticed_share", ours.noticed, "", "-", &[]);
    let before: Vec<(String, f64)> = peers
        .iter()
        .filter_map(|(name, front)| {
            let quiet = front.iter().filter(|s| s.false_per_hour <= ours.false_per_hour);
            let best = quiet.map(|score| score.before_breakdown).reduce(f64::max)?;
            Some(((*name).to_owned(), best))
        })
        .collect();
    figure("before_breakdown_share", ours.before_breakdown, "", "-", &before);
    for (name, front) in peers {
        let quiet = front.iter().filter(|score| score.false_per_hour <= ours.false_per_hour);
        let best = quiet.min_by(|a, b| a.median_delay.total_cmp(&b.median_delay));
        if let Some(best) = best {
            eprintln!(
                "{name}, no louder than ours: {} ({:.2} false an hour, median delay {:.0} s)",
                best.setting, best.false_per_hour, best.median_delay
            );
        }
    }
}

/// What the headline hides: by how fast the animal fades, by cue, without history, by detector.
fn details(all: &[Case], seen: &[(Seen, &Case)]) {
    type Part = (&'static str, fn(&Case) -> bool);
    let parts: [Part; 5] = [
        ("breaks down within 90 s of the decline", |case| case.lasts().is_some_and(|s| s < 90.0)),
        ("within 90 to 180 s", |case| case.lasts().is_some_and(|s| (90.0..180.0).contains(&s))),
        ("later or never", |case| case.lasts().is_none_or(|s| s >= 180.0)),
        ("cue tagged", |case| case.cues),
        ("no cue tagged", |case| !case.cues),
    ];
    for (name, keep) in parts {
        let mine: Vec<Case> = all.iter().filter(|case| keep(case)).cloned().collect();
        let theirs: Vec<(Seen, &Case)> = seen
            .iter()
            .filter(|(_, case)| keep(case))
            .map(|(s, case)| (s.clone(), *case))
            .collect();
        let ours = measure::ours(&mine, USUAL, true).score(String::new());
        let best = peers(&theirs)
            .iter()
            .map(|(_, front)| measure::delay_at(front, ours.false_per_hour))
            .fold(f64::INFINITY, f64::min);
        eprintln!(
            "{name} ({} sessions): {:.0} s, best plain rule {best:.0} s, ratio {:.2}, {:.2} false an hour",
            mine.len(),
            ours.median_delay,
            ours.median_delay / best,
            ours.false_per_hour
        );
    }
    let none = measure::ours(all, USUAL, false).score(String::new());
    eprintln!(
        "without earlier sessions: {:.0} s, {:.2} false an hour",
        none.median_delay, none.false_per_hour
    );
    for (name, wrong, first) in measure::by_detector(all, true) {
        eprintln!("{name}: spoke falsely {wrong} times, noticed first {first} times");
    }
}

fn advice(all: &[Case]) {
    let ours = measure::advice(all, measure::our_advice);
    let eight = measure::advice(all, measure::eight_of_ten);
    let three = measure::advice(all, measure::three_misses);
    let peers = [("8 of 10".to_owned(), eight.right), ("three misses".to_owned(), three.right)];
    figure("advice_right_share", ours.right, "", "-", &peers);
    eprintln!("criterion advice: ours {ours:?}; 8 of 10 {eight:?}; three misses {three:?}");
}

fn speed() {
    figure("event_cost_us", speed::event_cost_us(), "us", "<=50", &[]);
    figure("ten_hour_replay_s", speed::ten_hour_replay_s(), "s", "<=0.5", &[]);
    figure("ten_hour_tags_s", speed::ten_hour_tags_s(), "s", "<=0.5", &[]);
    figure("session_start_ms", speed::session_start_ms(), "ms", "<=5", &[]);
}
