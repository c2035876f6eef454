//! Text that people or other programs hand in: plans, earlier notes, truth, and the events of a record.

use hushtally::at::At;
use hushtally::plan::Plan;
use hushtally::score;
use hushtally::session::{Event, Session};
use hushtally::store::Store;
use hushtally::store::import::ImportOptions;
use proptest::prelude::*;

use super::corrupt::{apply, corrupted};
use super::{attack, fail};

const PLANS: [&str; 3] = [
    include_str!("../../../demo/brindle.toml"),
    include_str!("corpus/plan/small.toml"),
    include_str!("../../../demo/pepino.toml"),
];
const NOTES: [&str; 2] =
    [include_str!("corpus/import/reps.csv"), include_str!("corpus/import/weights.csv")];
const TRUTHS: [&str; 1] = [include_str!("corpus/truth/two-files.csv")];
const LINES: [&str; 1] = [include_str!("corpus/lines/session.jsonl")];

#[test]
fn the_files_to_be_corrupted_are_good() {
    for plan in PLANS {
        Plan::parse("plan.toml", plan).unwrap();
    }
    for truth in TRUTHS {
        score::truth_segments(truth).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    for notes in NOTES {
        let store = Store::open(&folder.path().join("record.db")).unwrap();
        import(&store, notes.as_bytes()).unwrap();
    }
    for lines in LINES {
        for line in lines.lines() {
            serde_json::from_str::<(u64, Event)>(line).unwrap_or_else(|e| panic!("{line}: {e}"));
        }
    }
}

#[test]
fn a_corrupted_plan_is_refused_with_lines_or_can_be_trained_by() {
    attack(file!(), &corrupted(PLANS.len()), 300, |(which, changes)| {
        let text = apply(PLANS[which].as_bytes(), &changes);
        let text = String::from_utf8_lossy(&text);
        match Plan::parse("plan.toml", &text) {
            Err(errors) => prop_assert!(!errors.to_string().is_empty()),
            Ok(plan) => {
                // Whatever passes the check must carry a session.
                let mut session = Session::new(plan);
                session.advance(At::from_secs_f64(3600.0));
                session.close(At::from_secs_f64(7200.0));
            }
        }
        Ok(())
    });
}

#[test]
fn corrupted_notes_are_taken_in_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(&folder.path().join("record.db")).unwrap();
    attack(file!(), &corrupted(NOTES.len()), 100, |(which, changes)| {
        let count = || store.sessions(&Default::default()).map(|all| all.len()).map_err(fail);
        let before = count()?;
        match import(&store, &apply(NOTES[which].as_bytes(), &changes)) {
            Err(error) => {
                prop_assert!(!error.is_empty());
                prop_assert_eq!(before, count()?, "half of it was taken in");
            }
            Ok(new) => prop_assert_eq!(before + new, count()?),
        }
        Ok(())
    });
    let verdict = store.verify("test").unwrap();
    assert!(verdict.is_sound(), "{verdict:?}");
}

fn import(store: &Store, notes: &[u8]) -> Result<usize, String> {
    let options = ImportOptions {
        zone: jiff::tz::TimeZone::UTC,
        file: "notes.csv".into(),
        made_by: "test".into(),
        columns: Vec::new(),
        dry_run: false,
    };
    let imported = store.import_csv(&mut &*notes, &options).map_err(|error| error.to_string())?;
    Ok(usize::try_from(imported.sessions).unwrap())
}

#[test]
fn corrupted_truth_names_its_line_or_is_in_order() {
    attack(file!(), &corrupted(TRUTHS.len()), 300, |(which, changes)| {
        let text = apply(TRUTHS[which].as_bytes(), &changes);
        match score::truth_segments(&String::from_utf8_lossy(&text)) {
            Err(error) => prop_assert!(!error.to_string().is_empty()),
            Ok(files) => {
                for segment in files.values().flatten() {
                    prop_assert!(segment.start_s >= 0.0 && segment.end_s.is_finite());
                }
            }
        }
        Ok(())
    });
}

#[test]
fn corrupted_events_are_refused_or_carried_through_the_engine() {
    let plan = Plan::parse("plan.toml", PLANS[0]).unwrap();
    attack(file!(), &corrupted(LINES.len()), 300, |(which, changes)| {
        let text = apply(LINES[which].as_bytes(), &changes);
        let mut session = Session::new(plan.clone());
        for line in String::from_utf8_lossy(&text).lines() {
            let Ok((millis, event)) = serde_json::from_str::<(u64, Event)>(line) else { continue };
            let Event::Input(input) = event else { continue };
            // A day is longer than any session; a time beyond is refused where the record is read.
            let at = At::from_secs_f64((millis % 86_400_000) as f64 / 1000.0);
            let outputs = session.handle(at, input);
            for output in outputs {
                serde_json::to_string(&format!("{output:?}")).map_err(fail)?;
            }
        }
        session.close(At::from_secs_f64(90_000.0));
        let _ = session.summary();
        Ok(())
    });
}
