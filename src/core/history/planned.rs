//! A change of plan that is planned: this many sessions as a baseline, then the change at a session drawn by
//! lot, then a test of what else the lot could have brought. Nothing is assumed of the sessions: with a
//! trend, alike from day to day or not, the lot alone makes the test fair.

use jiff::Timestamp;
use serde::Serialize;

use super::course::Course;
use super::level::levels;
use super::reason;
use crate::sentences::says;
use crate::session::{Quantity, Reason};
use crate::stats::permutation::{StartByLot, start_by_lot};

/// Sessions before the first that the lot may bring, and sessions that the lot is drawn from: with twenty a
/// change can just be shown at 5 %.
pub const BASELINE: usize = 5;
/// See [`BASELINE`].
pub const LOT: usize = 20;
/// Sessions after the last that the lot may bring.
const AFTER: usize = 5;

/// A test of one change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Planned {
    /// What is trained.
    pub behaviour: String,
    /// What will be changed, in words.
    pub change: String,
    /// The step that it is tested on, in the plan of that day.
    pub step: u8,
    /// Sessions before the first that the lot may bring.
    pub baseline: usize,
    /// Sessions that the lot was drawn from.
    pub lot: usize,
    /// Which of them was drawn, from 0.
    pub drawn: usize,
}

impl Planned {
    /// Draws the session of the change; `seed` comes from outside, each place is as likely.
    ///
    /// # Errors
    /// A sentence, unless there are a baseline of at least three sessions and a lot of two to a thousand.
    pub fn draw(
        behaviour: &str,
        change: &str,
        step: u8,
        (baseline, lot): (usize, usize),
        seed: u64,
    ) -> Result<Self, String> {
        if !(3..=1000).contains(&baseline) || !(2..=1000).contains(&lot) {
            return Err("a baseline has 3 to 1000 sessions, and a lot 2 to 1000".into());
        }
        let drawn = ((u128::from(seed) * lot as u128) >> 64) as usize;
        let (behaviour, change) = (behaviour.to_owned(), change.to_owned());
        Ok(Planned { behaviour, change, step, baseline, lot, drawn })
    }
}

/// How a test stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Stands {
    /// This many more sessions without the change.
    Wait(usize),
    /// The next session is the first with the change.
    ChangeNow,
    /// This many more sessions with the change.
    GoOn(usize),
    /// The result.
    Done(Outcome),
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// Share met after the change less that before it.
    pub difference: f64,
    /// Share of the lot's places with a difference as large: never below 1 over their number.
    pub p: f64,
    /// The difference is shown, at 5 %.
    pub shown: bool,
    /// Why.
    pub reason: Reason,
}

/// How a test stands that was drawn at `since`: by the sessions since then in which its step was worked on.
pub fn stands(course: &Course, planned: &Planned, since: Timestamp) -> Stands {
    let later = |session: usize| course.sessions[session].session.began >= since;
    let shares: Vec<f64> = levels(course, planned.step)
        .iter()
        .filter(|level| later(level.session))
        .map(|level| f64::from(level.met) / f64::from(level.tries))
        .collect();
    let change = planned.baseline + planned.drawn;
    let last = planned.baseline + planned.lot - 1;
    let whole = last + AFTER;
    if shares.len() < change {
        return Stands::Wait(change - shares.len());
    }
    if shares.len() == change {
        return Stands::ChangeNow;
    }
    if shares.len() < whole {
        return Stands::GoOn(whole - shares.len());
    }
    match start_by_lot(&shares[..whole], change, planned.baseline..=last) {
        Ok(found) => Stands::Done(outcome(planned, &found, whole)),
        Err(_) => Stands::GoOn(1),
    }
}

/// How every test of a behaviour stands, with the moments at which they were drawn.
pub fn of(
    course: &Course,
    planned: &[(Timestamp, Planned)],
    behaviour: &str,
) -> Vec<(Planned, Stands)> {
    let of_it = planned.iter().filter(|(_, planned)| planned.behaviour == behaviour);
    of_it.map(|(since, planned)| (planned.clone(), stands(course, planned, *since))).collect()
}

fn outcome(planned: &Planned, found: &StartByLot, sessions: usize) -> Outcome {
    let shown = found.p <= 0.05 + 1e-12;
    let as_large = (found.p * found.moments as f64).round() as usize;
    let inputs = [
        ("difference", found.difference, ""),
        ("sessions", sessions as f64, ""),
        ("drawn", (planned.drawn + 1) as f64, "of the lot"),
        ("moments", found.moments as f64, ""),
        ("as large", as_large as f64, ""),
    ];
    let method = "randomisation test of a change whose session was drawn by lot";
    let source = "Edgington 1975, J Psychol 90:57; Bulté & Onghena 2008, Behav Res Methods 40:467";
    Outcome {
        difference: found.difference,
        p: found.p,
        shown,
        reason: Reason {
            probability: Some(found.p),
            ..reason("planned_change", ("planned_change", &[]), &inputs, method, source)
        },
    }
}

impl Stands {
    /// In words.
    pub fn said(&self, change: &str) -> String {
        let sessions = |n: usize| [Quantity::new("sessions", n as f64, "")];
        let plain = |stands: &str, inputs: &[Quantity]| {
            says("planned", inputs, &[("change", change), ("stands", stands)])
        };
        match self {
            Stands::Wait(n) => plain("wait", &sessions(*n)),
            Stands::ChangeNow => plain("change_now", &[]),
            Stands::GoOn(n) => plain("go_on", &sessions(*n)),
            Stands::Done(outcome) => says(
                "planned",
                &[Quantity::new("difference", outcome.difference, "")],
                &[
                    ("change", change),
                    ("stands", "done"),
                    ("shown", if outcome.shown { "shown" } else { "" }),
                    ("p", &format!("{:.2}", outcome.p)),
                    ("because", &outcome.reason.because),
                ],
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{history, session};
    use super::*;

    fn after(sessions: &[u32], planned: &Planned) -> Stands {
        let all = (0..).zip(sessions).map(|(day, met)| session(day, 1, *met, 20)).collect();
        let history = history(all);
        let course = Course::new(&history, "rests a foot on the nail file", &history.ladders[0]);
        let since = "2026-01-02T00:00:00Z".parse().unwrap();
        stands(&course, planned, since)
    }

    #[test]
    fn a_test_waits_changes_goes_on_and_tells_what_the_lot_tells() {
        let planned = Planned::draw("b", "a better reward", 1, (5, 20), u64::MAX / 2).unwrap();
        assert_eq!(planned.drawn, 9);
        let mut met = vec![8; 14];
        assert_eq!(after(&met[..3], &planned), Stands::Wait(11));
        assert_eq!(after(&met, &planned), Stands::ChangeNow);
        met.extend([16; 15]);
        assert_eq!(after(&met[..20], &planned), Stands::GoOn(9));
        let Stands::Done(up) = after(&met, &planned) else { panic!() };
        // Only the place where it rose divides best: 1 of 20.
        assert!(up.shown && (up.p - 0.05).abs() < 1e-12 && (up.difference - 0.4).abs() < 1e-12);
        // The same sessions, and another place drawn: not shown, though it is better after than before.
        let elsewhere = Planned { drawn: 3, ..planned.clone() };
        let Stands::Done(not) = after(&met, &elsewhere) else { panic!() };
        assert!(!not.shown && not.difference > 0.2, "{not:?}");
        // A gain that goes on is not due to the change.
        let gains: Vec<u32> = (0..29).map(|i| 4 + i / 2).collect();
        let Stands::Done(gain) = after(&gains, &planned) else { panic!() };
        assert!(!gain.shown, "{gain:?}");
    }

    #[test]
    fn every_place_of_a_lot_can_be_drawn_and_no_other() {
        let draw = |seed| Planned::draw("b", "c", 1, (5, 20), seed).unwrap().drawn;
        assert_eq!((draw(0), draw(u64::MAX)), (0, 19));
        let seen: std::collections::BTreeSet<usize> =
            (0..400_u64).map(|i| draw(i.wrapping_mul(0x9e37_79b9_7f4a_7c15))).collect();
        assert_eq!(seen.len(), 20);
        assert!(Planned::draw("b", "c", 1, (1, 20), 0).is_err());
        assert!(Planned::draw("b", "c", 1, (5, 1), 0).is_err());
    }
}
