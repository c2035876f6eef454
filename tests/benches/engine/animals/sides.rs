//! Dogs that choose between two sides, one of them now more often, now the other: none is lopsided.

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;

use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Plan, Side};
use hushtally::session::{Input, PastSession, Prior, Session, Suggests};

use super::read::rows;

/// Dogs within these shares of right-hand choices are not lopsided.
const EVEN: std::ops::RangeInclusive<f64> = 0.37..=0.54;

/// How many dogs with an even share were sent to the veterinarian for their sides after any session;
/// how many sessions alone were called uneven stands on stderr.
pub(crate) fn called_lopsided(folder: &Path) -> Result<u32, Box<dyn Error>> {
    let mut dogs: BTreeMap<String, BTreeMap<(String, u32), Vec<Side>>> = BTreeMap::new();
    for row in rows(folder, "dog_choices.csv.gz")? {
        if !["L", "R"].contains(&&*row["choice_side"]) {
            continue;
        }
        let session = (row["date"].clone(), row["session"].parse()?);
        let side = if row["choice_side"] == "R" { Side::Right } else { Side::Left };
        dogs.entry(row["dog_id"].clone()).or_default().entry(session).or_default().push(side);
    }
    let (mut called, mut even, mut sessions, mut uneven_sessions) = (0, 0, 0, 0);
    for choices in dogs.values() {
        let all: Vec<&Side> = choices.values().flatten().collect();
        let right = all.iter().filter(|side| ***side == Side::Right).count();
        let share = (100.0 * right as f64 / all.len() as f64).round() / 100.0;
        if !EVEN.contains(&share) {
            continue;
        }
        even += 1;
        let advice = advice_by_session(choices.values());
        sessions += advice.len();
        uneven_sessions +=
            advice.iter().filter(|said| said.contains(&Suggests::SideDiffers)).count();
        called += u32::from(advice.iter().any(|said| said.contains(&Suggests::SeeVeterinarian)));
    }
    eprintln!(
        "dogs: {even} of {} choose right between .37 and .54 of the time; {called} called lopsided; one session alone called uneven {uneven_sessions} times in {sessions}",
        dogs.len()
    );
    Ok(called)
}

/// What the program suggests after each session, knowing those before it.
fn advice_by_session<'a>(sessions: impl Iterator<Item = &'a Vec<Side>>) -> Vec<Vec<Suggests>> {
    let mut prior = Prior::default();
    let mut advice = Vec::new();
    for sides in sessions {
        let mut session = Session::with_prior(Plan::of_default_words(), prior.clone());
        for (n, side) in sides.iter().enumerate() {
            let said = Said::Rep(Details { side: Some(*side), ..Details::default() });
            let _ =
                session.handle(At::from_secs_f64(5.0 * (n + 1) as f64), Input::said(said, "yes"));
        }
        let _ = session.close(At::from_secs_f64(5.0 * (sides.len() + 2) as f64));
        advice.push(session.advice().into_iter().map(|advice| advice.suggests).collect());
        prior.sessions.push(PastSession::of(&session));
    }
    advice
}
