//! Who trained, and whether it goes otherwise with one than with the others.

use serde::Serialize;

use super::course::{Course, Trained};
use super::{Found, reason};
use crate::session::Reason;
use crate::stats::effect::non_overlap;
use crate::stats::percentile::Better;
use crate::stats::{Estimate, Level as Confidence, StatsError};

/// Least sessions of a person, and of the others, for a comparison (common practice, no source).
pub const LEAST_SESSIONS: usize = 5;

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
    /// same step; 0.5 is no difference.
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
    let says = match &against_others {
        Found::Known(share) if share.low > 0.5 => "more",
        Found::Known(share) if share.high < 0.5 => "less",
        Found::Known(_) => "alike",
        Found::NotYet(_) => "few",
    };
    let inputs =
        [("sessions", own.len() as f64, ""), ("sessions of others", others.len() as f64, "")];
    let method = "non-overlap of all pairs of sessions on steps that both worked on; who trained was not drawn by lot";
    let source = "Parker & Vannest 2009, Behav Ther 40:357; Newcombe 2006, Stat Med 25:559";
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

/// Compares sessions by the step they ended on, so that who got the harder steps is not blamed for it.
fn on_shared_steps(own: &[&Trained], others: &[&Trained]) -> Found<Estimate> {
    let shared = |trained: &&&Trained, with: &[&Trained]| {
        !trained.tries.is_empty() && with.iter().any(|other| other.last_step == trained.last_step)
    };
    let share = |trained: &&Trained| {
        trained.tries.iter().filter(|one| one.met).count() as f64 / trained.tries.len() as f64
    };
    let a: Vec<f64> = own.iter().filter(|t| shared(t, others)).map(share).collect();
    let b: Vec<f64> = others.iter().filter(|t| shared(t, own)).map(share).collect();
    let got = a.len().min(b.len());
    if got < LEAST_SESSIONS {
        let what = "sessions of this person and of others on the same step";
        return Err(StatsError::TooFew { what, needed: LEAST_SESSIONS, got }).into();
    }
    non_overlap(&b, &a, Better::Higher, Confidence::NINETY_FIVE).into()
}
