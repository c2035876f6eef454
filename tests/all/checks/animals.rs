//! Verdicts on real animals' records: openly licensed mice and dogs (the folder's README names them).

use std::collections::BTreeMap;
use std::process::Command;

use anyhow::Result;
use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Plan, Side};
use hushtally::session::{Input, PastSession, Prior, Session, Suggests};
use hushtally::stats::lapse::Lapse;

use crate::needs;

type Row = BTreeMap<String, String>;

fn rows(file: &str) -> Result<Option<Vec<Row>>> {
    let Some(path) = needs::shared("animals").filter(|_| needs::program("gzip")) else {
        return Ok(None);
    };
    let unpacked = Command::new("gzip").arg("-dc").arg(path.join(file)).output()?;
    anyhow::ensure!(unpacked.status.success(), "{file}");
    let mut reader = csv::Reader::from_reader(&unpacked.stdout[..]);
    Ok(Some(reader.deserialize().collect::<Result<_, _>>()?))
}

/// The README beside the records: 395 reversals; a plain sum calls 45 % at 5 false calls in 1,000 pokes.
#[test]
fn needs_shared_a_lapse_after_a_reversal_is_called_and_little_else() -> Result<()> {
    let Some(rows) = rows("fed3_events.csv.gz")? else { return Ok(()) };
    let (mut reversals, mut called, mut falsely, mut quiet) = (0, 0, 0, 0);
    let rows = rows.iter().filter(|row| row["group"].starts_with("reversal"));
    let pokes: Vec<&Row> = rows.filter(|row| row["event"].starts_with(['L', 'R'])).collect();
    for recording in pokes.chunk_by(|a, b| a["session"] == b["session"]) {
        let mut lapse = Lapse::default();
        let (mut since, mut told, mut active) = (None, false, &recording[0]["active"]);
        for (place, row) in recording.iter().enumerate() {
            if row["active"] != *active {
                (since, told, active) = (Some(place), false, &row["active"]);
                reversals += 1;
            }
            let fresh = since.is_some_and(|since| place - since < 40);
            quiet += u32::from(!fresh);
            if lapse.add(row["event"].chars().next() == active.chars().next()) {
                called += u32::from(fresh && !std::mem::replace(&mut told, true));
                falsely += u32::from(!fresh);
            }
        }
    }
    assert_eq!(reversals, 395);
    let share = f64::from(called) / f64::from(reversals);
    let false_calls = 1000.0 * f64::from(falsely) / f64::from(quiet);
    assert!(share >= 0.6 && false_calls <= 5.0, "{share:.3} called, {false_calls:.2} falsely");
    Ok(())
}

/// Dogs between two sides, with shares of right-hand choices from .37 to .54.
#[test]
fn needs_shared_no_dog_that_chooses_both_sides_is_called_lopsided() -> Result<()> {
    let Some(rows) = rows("dog_choices.csv.gz")? else { return Ok(()) };
    let mut dogs: BTreeMap<&str, Vec<&Row>> = BTreeMap::new();
    // Three times a dog did not choose.
    for row in rows.iter().filter(|row| ["L", "R"].contains(&&*row["choice_side"])) {
        dogs.entry(&row["dog_id"]).or_default().push(row);
    }
    assert_eq!(dogs.len(), 11);
    for (dog, mut choices) in dogs {
        let key = |row: &Row| (row["date"].clone(), row["session"].parse::<u32>().unwrap_or(0));
        choices.sort_by_key(|row| key(row));
        let mut prior = Prior::default();
        for choices in choices.chunk_by(|a, b| key(a) == key(b)) {
            let mut session = Session::with_prior(Plan::of_default_words(), prior.clone());
            for (n, row) in choices.iter().enumerate() {
                let side = if row["choice_side"] == "R" { Side::Right } else { Side::Left };
                let said = Said::Rep(Details { side: Some(side), ..Details::default() });
                let at = At::from_secs_f64(5.0 * (n + 1) as f64);
                let _told = session.handle(at, Input::said(said, "yes"));
            }
            let advice = session.advice();
            let lopsided = advice.iter().any(|a| a.suggests == Suggests::SeeVeterinarian);
            assert!(!lopsided, "{dog}: {advice:?}");
            prior.sessions.push(PastSession::of(&session));
        }
    }
    Ok(())
}
