//! Who trained, and whether it goes otherwise with one than with the others.

use serde::Serialize;

use super::course::{Course, Part, Trained};
use super::{Found, reason};
use crate::session::Reason;
use crate::stats::effect::non_overlap;
use crate::stats::percentile::Better;
use crate::stats::{Estimate, Level as Confidence, StatsError, anytime};

/// Least sessions of a person, and of the others, for a comparison (common practice, no source).
pub const LEAST_SESSIONS: usize = 5;

const ALPHA: f64 = 0.05;
/// Differences that are thought of, in units of the scatter of a session.
const DIFFERENCES: [f64; 2] = [0.5, 1.5];

/// One person with this animal and behaviour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Person {
    /// Name; "not said" where nobody was named.
    pub name: String,
    /// Sessions.
    pub sessions: usize,
    /// Tries.
    pub tries: usize,
    /// Share of tries that met the criterion.
    pub share_met: Option<f64>,
    /// Rewards per minute.
    pub rewards_per_min: Option<f64>,
    /// Chance that a session with this person has a higher share met than one with another person on the
    /// same step; 0.5 means no difference.
    pub against_others: Found<Estimate>,
    /// What that rests on.
    pub reason: Reason,
}

/// Everybody who trained it, by number of sessions.
pub fn compare(course: &Course) -> Vec<Person> {
    let name = |part: &Part| part.person.unwrap_or("not said").to_owned();
    let parts: Vec<Part> = course.sessions.iter().flat_map(Trained::parts).collect();
    let mut names: Vec<String> = parts.iter().map(name).collect();
    names.sort();
    names.dedup();
    let mut people: Vec<Person> = names
        .into_iter()
        .map(|who| {
            let (own, others): (Vec<&Part>, Vec<&Part>) =
                parts.iter().partition(|part| name(part) == who);
            person(who, &own, &others)
        })
        .collect();
    people.sort_by_key(|person| std::cmp::Reverse(person.sessions));
    people
}

fn person(name: String, own: &[&Part], others: &[&Part]) -> Person {
    let tries: usize = own.iter().map(|trained| trained.tries.len()).sum();
    let met: usize = own.iter().map(|t| t.tries.iter().filter(|one| one.met).count()).sum();
    let paid: usize =
        own.iter().map(|t| t.tries.iter().filter(|one| one.paid().is_some()).count()).sum();
    let minutes: f64 = own.iter().map(|trained| trained.active_s).sum::<f64>() / 60.0;
    let against_others = on_shared_steps(own, others);
    let differs = shown(own, others);
    let says = match &against_others {
        Found::Known(_) if differs.is_some_and(|difference| difference > 0.0) => "more",
        Found::Known(_) if differs.is_some() => "less",
        Found::Known(_) => "alike",
        Found::NotYet(_) => "few",
    };
    let inputs =
        [("sessions", own.len() as f64, ""), ("sessions of others", others.len() as f64, "")];
    let method = "difference of the sessions on steps that both worked on, by a test that may be looked at after every one; \
                  who trained was not drawn by lot";
    let source = "Lindon et al. 2022, arXiv:2210.08589; Ville 1939";
    Person {
        reason: reason("people", ("people", &[("says", says)]), &inputs, method, source),
        name,
        sessions: own.len(),
        tries,
        share_met: (tries > 0).then(|| met as f64 / tries as f64),
        rewards_per_min: (minutes > 0.0).then(|| paid as f64 / minutes),
        against_others,
    }
}

/// Whether a session has tries and ended on a step that one of the others ended on.
fn shared(trained: &&&Part, with: &[&Part]) -> bool {
    !trained.tries.is_empty() && with.iter().any(|other| other.last_step == trained.last_step)
}

fn share(trained: &&Part) -> f64 {
    trained.tries.iter().filter(|one| one.met).count() as f64 / trained.tries.len() as f64
}

/// By how much the share met is higher with this person, where that is shown by a test that may be looked at after
/// every session.
fn shown(own: &[&Part], others: &[&Part]) -> Option<f64> {
    let with = |of: &[&Part], than: &[&Part], who: f64| -> Vec<(f64, f64, f64)> {
        let shared = of.iter().filter(|trained| shared(trained, than));
        shared.map(|trained| (trained.at_days, share(trained), who)).collect()
    };
    let mut sessions = [with(own, others, 1.0), with(others, own, 0.0)].concat();
    sessions.sort_by(|a, b| a.0.total_cmp(&b.0));
    let shares: Vec<f64> = sessions.iter().map(|one| one.1).collect();
    let who: Vec<f64> = sessions.iter().map(|one| one.2).collect();
    let ones = vec![1.0; shares.len()];
    let effect = anytime::Hypothesis { of: &who, beside: &[&ones], sizes: &DIFFERENCES };
    let found = anytime::test(&shares, &ones, &effect, Confidence::NINETY_FIVE).ok()?;
    (found.p <= ALPHA).then_some(found.effect.point)
}

/// Compares sessions by the step they ended on, so that who got the harder steps is not blamed for it.
fn on_shared_steps(own: &[&Part], others: &[&Part]) -> Found<Estimate> {
    let a: Vec<f64> = own.iter().filter(|t| shared(t, others)).map(share).collect();
    let b: Vec<f64> = others.iter().filter(|t| shared(t, own)).map(share).collect();
    let got = a.len().min(b.len());
    if got < LEAST_SESSIONS {
        let what = "sessions of this person and of others on the same step";
        return Err(StatsError::TooFew { what, needed: LEAST_SESSIONS, got }).into();
    }
    non_overlap(&b, &a, Better::Higher, Confidence::NINETY_FIVE).into()
}

#[cfg(test)]
mod tests {
    use super::super::Session;
    use super::super::testing::{Chance, history, session};
    use super::*;

    fn says(sessions: &[Session]) -> String {
        let history = history(sessions.to_vec());
        let course = Course::new(&history, &history.sessions[0].behaviour, &history.ladders[0]);
        compare(&course)[0].reason.because.clone()
    }

    fn with(day: i32, met: u32) -> Session {
        let person = if day % 2 == 0 { "Ada" } else { "Ben" };
        Session { person: Some(person.into()), ..session(day, 1, met, 20) }
    }

    #[test]
    fn people_who_train_alike_are_hardly_ever_told_apart_however_often_one_looks() {
        let mut chance = Chance(20_262);
        let animals = 60;
        let told = (0..animals).filter(|_| {
            let mut met = || (0..20).filter(|_| chance.next() < 0.6).count() as u32;
            let sessions: Vec<Session> = (0..24).map(|day| with(day, met())).collect();
            (10..=24).any(|upto| says(&sessions[..upto]).contains("often"))
        });
        let told = told.count();
        assert!(told <= 3, "{told} of {animals}");
        // Who is met with more often is told.
        let sessions: Vec<Session> = (0..24)
            .map(|day| with(day, if day % 2 == 0 { 16 } else { 9 } + day as u32 % 3))
            .collect();
        assert!(says(&sessions).starts_with("more often"), "{}", says(&sessions));
    }

    /// At 602ce15 a session was one person's.
    #[test]
    fn tries_after_a_handing_over_are_the_new_persons() {
        let mut one = session(0, 1, 12, 20);
        one.person = Some("Ada".into());
        // Tries come every five seconds; of the first twelve each met the criterion.
        one.handed_over = vec![(41.0, "Ben".into())];
        let history = history(vec![one]);
        let course = Course::new(&history, &history.sessions[0].behaviour, &history.ladders[0]);
        let people = compare(&course);
        let of = |name: &str| people.iter().find(|person| person.name == name).unwrap();
        let (ada, ben) = (of("Ada"), of("Ben"));
        assert_eq!(ada.tries + ben.tries, 20);
        let before = course.sessions[0].tries.iter().filter(|one| one.was.active_s < 41.0).count();
        assert_eq!(ada.tries, before);
        assert_eq!((ada.share_met, ada.sessions, ben.sessions), (Some(1.0), 1, 1));
        assert!(ben.share_met.unwrap() < 0.5, "{ben:?}");
        let minutes = course.sessions[0].session.active_s / 60.0;
        let paid = |person: &Person, seconds: f64| person.rewards_per_min.unwrap() * seconds / 60.0;
        let all = paid(ada, 41.0) + paid(ben, minutes * 60.0 - 41.0);
        assert!((all - 12.0).abs() < 1e-9, "{all}");
    }
}
