//! Measures the record: a million earlier reps taken in, views over them, and the cost of a durable write.
//! Prints a figure a line as `tests/bench --help` says. `--rows N` for another size.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "tells what was done and measured")]

use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::plan::Plan;
use hushtally::run::Outset;
use hushtally::session::{Event, Input, Logged};
use hushtally::store::import::ImportOptions;
use hushtally::store::{
    AnimalRef, EventId, Filter, JournalFilter, MarkKind, NewSession, SessionId, Source, Store,
};

const ANIMALS: u64 = 200;
const PER_SESSION: u64 = 50;

#[expect(clippy::disallowed_methods, reason = "a stopwatch of a bench")]
fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let start = Instant::now();
    let done = work();
    (done, start.elapsed().as_secs_f64())
}

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let rows = args.iter().position(|arg| arg == "--rows").and_then(|at| args.get(at + 1));
    let rows: u64 = rows.and_then(|rows| rows.parse().ok()).unwrap_or(1_000_000);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut sizes = Vec::new();
    for part in [8, 4, 2, 1] {
        let db = folder.path().join(format!("rows-{part}.db"));
        let seconds = import(folder.path(), &db, rows / part);
        eprintln!("{} rows: {seconds:.2} s, {:.0} MB peak", rows / part, peak_mb());
        sizes.push(((rows / part) as f64, seconds));
    }
    let db = folder.path().join("rows-1.db");
    figure("import_million_s", sizes[3].1, "s", "<=20");
    figure("import_growth_exponent", slope(&sizes), "", "-");
    figure("import_memory_mb", peak_mb(), "MB", "<=300");
    let bytes = std::fs::metadata(&db).map_or(0, |meta| meta.len());
    figure("bytes_per_rep", bytes as f64 / rows as f64, "B", "-");
    views(&db);
    writes(&db, folder.path());
}

/// Takes in this many reps, spread over three years.
fn import(folder: &Path, db: &Path, rows: u64) -> f64 {
    let csv = folder.join("earlier.csv");
    let mut out = std::io::BufWriter::new(std::fs::File::create(&csv).expect("a file"));
    writeln!(out, "began,animal,species,behaviour,person,at_s,outcome,step,working,side")
        .expect("a line");
    for session in 0..rows / PER_SESSION {
        let animal = session % ANIMALS;
        let minute = session * 78;
        let (day, time) = (minute / 1_440, minute % 1_440);
        let date = format!("{}-{:02}-{:02}", 2023 + day / 336, day % 336 / 28 + 1, day % 28 + 1);
        let step = 1 + session / ANIMALS % 6;
        for rep in 0..PER_SESSION {
            let outcome = ["high", "low", "missed", "high", "jackpot", "high"]
                [(session * 7 + rep * 5) as usize % 6];
            writeln!(
                out,
                "{date} {:02}:{:02},animal {animal},parrot,behaviour {},person {},{}.25,{outcome},{step},{step},{}",
                time / 60,
                time % 60,
                session / ANIMALS % 3,
                session % 5,
                3 + rep * 4,
                if rep % 2 == 0 { "left" } else { "right" },
            )
            .expect("a line");
        }
    }
    drop(out);
    let options = ImportOptions {
        zone: jiff::tz::TimeZone::UTC,
        file: "earlier.csv".into(),
        made_by: "bench".into(),
        columns: Vec::new(),
        dry_run: false,
    };
    let store = Store::open(db).expect("a database");
    let mut file = std::io::BufReader::new(std::fs::File::open(&csv).expect("a file"));
    let (done, seconds) = timed(|| store.import_csv(&mut file, &options));
    assert_eq!(done.expect("a clean file").reps, rows / PER_SESSION * PER_SESSION);
    seconds
}

/// Every view once, each by a program that has just started.
fn views(db: &Path) {
    let (_, opened) = timed(|| Store::open(db).expect("the database"));
    figure("open_for_writing_s", opened, "s", "-");
    let store = || Store::open_read_only(db).expect("the database");
    let animal = store().find_animal("animal 7", None).expect("an animal").id;
    let latest = store().sessions(&Filter { latest: Some(1), ..Filter::default() }).expect("one");
    let (session, day) = (latest[0].id, latest[0].day);
    let month =
        Filter { from: Some(day.saturating_sub(jiff::ToSpan::days(30))), ..Filter::default() };
    let behaviour = Filter { behaviour: Some("behaviour 1".into()), ..Filter::animal(animal) };
    type View<'a> = (&'a str, Box<dyn Fn(&Store) -> usize + 'a>);
    let views: [View; 11] = [
        ("animals", Box::new(|s| s.animals().expect("rows").len())),
        ("all sessions", Box::new(|s| s.sessions(&Filter::default()).expect("rows").len())),
        ("sessions of a month", Box::new(|s| s.sessions(&month).expect("rows").len())),
        (
            "sessions of an animal",
            Box::new(|s| s.sessions(&Filter::animal(animal)).expect("rows").len()),
        ),
        ("reps of an animal", Box::new(|s| s.reps(&Filter::animal(animal)).expect("rows").len())),
        ("reps of a behaviour", Box::new(|s| s.reps(&behaviour).expect("rows").len())),
        ("reps of a session", Box::new(|s| s.reps(&Filter::session(session)).expect("rows").len())),
        (
            "nudges of an animal",
            Box::new(|s| s.marks(&Filter::animal(animal), &[MarkKind::Nudge]).expect("rows").len()),
        ),
        ("events of a session", Box::new(|s| s.events(session).expect("rows").len())),
        ("unfinished sessions", Box::new(|s| s.open_sessions().expect("rows").len())),
        ("journal", Box::new(|s| s.journal(&JournalFilter::default()).expect("rows").len())),
    ];
    let mut slowest = 0.0_f64;
    for (name, view) in &views {
        let (rows, seconds) = timed(|| view(&store()));
        eprintln!("{name}: {rows} rows in {:.1} ms", seconds * 1e3);
        slowest = slowest.max(seconds);
    }
    figure("slowest_view_s", slowest, "s", "<=0.3");
    begins(db);
    let (_, verified) = timed(|| store().verify("bench").expect("a verdict"));
    figure("verify_s", verified, "s", "-");
}

/// What a session is told when it begins, by a program that has just started.
fn begins(db: &Path) {
    let text = "animal = 'animal 7'\nspecies = 'parrot'\nbehaviour = 'behaviour 1'\n[[step]]\nname = 'step 1'\n";
    let plan = Plan::parse("plan.toml", text).expect("a plan");
    let store = Store::open(db).expect("the database");
    let now: jiff::ZonedDateTime = "2026-06-01T10:00:00+00:00[UTC]".parse().expect("a time");
    let (outset, seconds) = timed(|| Outset::of_record(&store, &plan, Some("person 1"), &now));
    let sessions = outset.expect("what the record knows").told.prior.sessions.len();
    eprintln!("a session begins, told of {sessions} before it: {:.1} ms", seconds * 1e3);
    figure("session_begins_s", seconds, "s", "<=0.3");
}

/// What it costs to have a tag on disk before it is acknowledged, beside a bare write with a sync.
fn writes(db: &Path, folder: &Path) {
    let store = Store::open(db).expect("the database");
    let key = |n: u64| {
        uuid::Builder::from_unix_timestamp_millis(1_900_000_000_000 + n, &[9; 10]).into_uuid()
    };
    let began: jiff::Timestamp = "2026-06-01T10:00:00Z".parse().expect("a time");
    let session = SessionId(key(0));
    store
        .begin_session(&NewSession {
            id: session,
            animal: AnimalRef::Named { name: "animal 7".into(), species: "parrot".into() },
            behaviour: "behaviour 1".into(),
            plan_file: "plan.toml".into(),
            plan_text:
                "animal = \"a\"\nspecies = \"b\"\nbehaviour = \"c\"\n[[step]]\nname = \"d\"\n"
                    .into(),
            start_step: 1,
            told: Default::default(),
            person: None,
            place: None,
            began: began.to_zoned_datetime(jiff::tz::TimeZone::UTC),
            source: Source::Live,
            source_name: None,
            made_by: "bench".into(),
            sitting: None,
        })
        .expect("a session");
    let mut taken: Vec<f64> = (1..=500_u64)
        .map(|n| {
            let event = Event::Input(Input::said(Said::Rep(Details::default()), "yes"));
            let logged = Logged { at: At::after(Duration::from_millis(n * 300)), event };
            timed(|| store.append(session, &logged, EventId(key(n)), began).expect("a write")).1
                * 1e3
        })
        .collect();
    let mut file = std::fs::File::create(folder.join("bare")).expect("a file");
    let mut bare: Vec<f64> = (0..500)
        .map(|_| {
            timed(|| file.write_all(&[1; 4_096]).and_then(|()| file.sync_data()).expect("a write"))
                .1
                * 1e3
        })
        .collect();
    let at = |sorted: &mut Vec<f64>, share: f64| {
        sorted.sort_by(f64::total_cmp);
        sorted[(sorted.len() as f64 * share) as usize]
    };
    figure("append_ms_median", at(&mut taken, 0.5), "ms", "-");
    figure("append_ms_p95", at(&mut taken, 0.95), "ms", "-");
    figure("bare_synced_write_ms_median", at(&mut bare, 0.5), "ms", "-");
    figure("bare_synced_write_ms_p95", at(&mut bare, 0.95), "ms", "-");
    let (_, finished) = timed(|| store.finish(session).expect("a session"));
    figure("finish_ms", finished * 1e3, "ms", "-");
}

fn figure(name: &str, value: f64, unit: &str, reach: &str) {
    println!("{name}\t{value:.4}\t{unit}\t{reach}");
}

/// Exponent of growth: the slope of time over size, both as logarithms, by least squares.
fn slope(sizes: &[(f64, f64)]) -> f64 {
    let points: Vec<(f64, f64)> = sizes.iter().map(|(x, y)| (x.ln(), y.ln())).collect();
    let n = points.len() as f64;
    let mean = |of: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(&|p| p.0), mean(&|p| p.1));
    let over = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>();
    over / points.iter().map(|p| (p.0 - x).powi(2)).sum::<f64>()
}

/// Most memory this process ever had, in MB.
fn peak_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap_or_default();
    let kb = line.split_whitespace().nth(1).and_then(|kb| kb.parse::<f64>().ok());
    kb.unwrap_or(0.0) / 1_024.0
}
