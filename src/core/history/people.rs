//! Who trained, and whether it goes otherwise with one than with the others.

use serde::Serialize;

use super::course::{Course, Trained};
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
    let name =
        |trained: &Trained| trained.session.person.clone().unwrap_or_else(|| "not said".to_owned());
    let mut names: Vec<String> = course.sessions.iter().map(name).collect();
    names.sort();
    names.dedup();
    let mut people: Vec<Person> = names
        .into_iter()
        .map(|who| {
            let (own, others): (Vec<&Trained>, Vec<&Trained>) =
                course.sessions.iter().partition(|trained| name(trained) == who);
            person(who, &own, &others)
        })
        .collect();
    people.sort_by_key(|person| std::cmp::Reverse(person.sessions));
    people
}

fn person(name: String, own: &[&Trained], others: &[&Trained]) -> Person {
    let tries: usize = own.iter().map(|trained| trained.tries.len()).sum();
    let met: usize = own.iter().map(|t| t.tries.iter().filter(|one| one.met).count()).sum();
    let paid: usize =
        own.iter().map(|t| t.tries.iter().filter(|one| one.paid().is_some()).count()).sum();
    let minutes: f64 = own.iter().map(|trained| trained.session.active_s).sum::<f64>() / 60.0;
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
fn shared(trained: &&&Trained, with: &[&Trained]) -> bool {
    !trained.tries.is_empty() && with.iter().any(|other| other.last_step == trained.last_step)
}

fn share(trained: &&Trained) -> f64 {
    trained.tries.iter().filter(|one| one.met).count() as f64 / trained.tries.len() as f64
}

/// By how much the share met is higher with this person, where that is shown by a test that may be looked at after
/// every session.
fn shown(own: &[&Trained], others: &[&Trained]) -> Option<f64> {
    let with = |of: &[&Trained], than: &[&Trained], who: f64| -> Vec<(f64, f64, f64)> {
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
fn on_shared_steps(own: &[&Trained], others: &[&Trained]) -> Found<Estimate> {
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
}
