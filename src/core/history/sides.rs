//! Does one side do more than the other? It may be looked at after every session, and it never advises to use a side
//! more: what is spared may hurt.

use jiff::civil::Date;

use super::course::{Course, Trained};
use super::reason;
use crate::plan::Side;
use crate::session::Reason;
use crate::stats::{Level, anytime};

/// A session with fewer rewarded tries whose side was said says too little (common practice, no source).
const LEAST_TRIES: u32 = 3;
/// Fewer such sessions say nothing of what lasts (common practice, no source).
const LEAST_SESSIONS: usize = 3;
/// Leads that are thought of, in units of the scatter between sessions: from what hardly shows to one side only.
const LEADS: [f64; 3] = [0.5, 1.0, 3.0];
/// Drifts that are thought of, in the same units over the whole stretch.
const DRIFTS: [f64; 2] = [1.0, 3.0];
/// Chance of ever telling of sides that are even.
const EVER: f64 = 0.05;

/// One side does more than the other, and that is not chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Uneven {
    /// Rewarded tries on the left, since the animal was last said to be well.
    pub left: u32,
    /// On the right.
    pub right: u32,
    /// Sessions in which sides were said.
    pub sessions: usize,
    /// Why.
    pub reason: Reason,
}

/// Looks at all sessions since the animal was last said to be well.
pub fn uneven(course: &Course, well: Option<Date>) -> Option<Uneven> {
    let count = |trained: &Trained, side: Side| {
        let of_side =
            |one: &&super::course::Placed| one.paid().is_some() && one.was.side == Some(side);
        u32::try_from(trained.tries.iter().filter(of_side).count()).unwrap_or(u32::MAX)
    };
    let counted: Vec<[u32; 2]> = course
        .sessions
        .iter()
        .filter(|trained| well.is_none_or(|well| trained.session.day >= well))
        .map(|trained| [Side::Left, Side::Right].map(|side| count(trained, side)))
        .filter(|[left, right]| left + right >= LEAST_TRIES)
        .collect();
    if counted.len() < LEAST_SESSIONS {
        return None;
    }
    let lead: Vec<f64> = counted
        .iter()
        .map(|[left, right]| (f64::from(*right) - f64::from(*left)) / f64::from(left + right))
        .collect();
    let weights: Vec<f64> = counted.iter().map(|[left, right]| f64::from(left + right)).collect();
    let ones = vec![1.0; lead.len()];
    let last = (lead.len() - 1) as f64;
    let since: Vec<f64> = (0..lead.len()).map(|i| i as f64 / last).collect();
    let evidence = |effect: &anytime::Hypothesis| {
        anytime::test(&lead, &weights, effect, Level::NINETY_FIVE).map_or(1.0, |test| test.evidence)
    };
    let leads = anytime::Hypothesis { of: &ones, beside: &[], sizes: &LEADS };
    let drifts = anytime::Hypothesis { of: &since, beside: &[&ones], sizes: &DRIFTS };
    // Half of the stake on each: what is staked without an edge stays worth what it was, and so does their mean.
    let worth = f64::midpoint(evidence(&leads), evidence(&drifts));
    let (left, right) = counted.iter().fold((0, 0), |(left, right): (u32, u32), [l, r]| {
        (left.saturating_add(*l), right.saturating_add(*r))
    });
    if worth.is_nan() || worth < 1.0 / EVER {
        return None;
    }
    let inputs = [
        ("left", f64::from(left), "tries"),
        ("right", f64::from(right), "tries"),
        ("sessions", counted.len() as f64, "sessions"),
    ];
    let method = "difference of the sides session by session, a lasting lead or a drift, by a test that may be looked \
                  at after every one";
    let source =
        "Lindon et al. 2022, arXiv:2210.08589; Ville 1939; referral: common practice, no source";
    let mut reason = reason("sides", ("uneven_sides", &[]), &inputs, method, source);
    reason.probability = Some((1.0 / worth).min(1.0));
    Some(Uneven { left, right, sessions: counted.len(), reason })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::history::testing::{Chance, history, plan, session};
    use crate::history::{Ladder, Session};

    /// A session in which this many tries were on the right, the others on the left.
    fn sided(day: i32, left: u32, right: u32) -> Session {
        let mut session = session(day, 2, left + right, left + right);
        for (i, one) in session.tries.iter_mut().enumerate() {
            one.side = Some(if (i as u32) < left { Side::Left } else { Side::Right });
        }
        session
    }

    fn told(sessions: Vec<Session>, well: Option<Date>) -> Option<Uneven> {
        let (history, plan) = (history(sessions), plan());
        let present = Ladder::of(0, &plan);
        uneven(&Course::new(&history, &plan.behaviour, &present), well)
    }

    #[test]
    fn a_side_that_is_spared_is_told_and_sides_that_are_even_are_not() {
        assert!(told((0..8).map(|day| sided(day, 2, 10)).collect(), None).is_some());
        assert!(
            told((0..8).map(|day| sided(day, 5 + (day as u32) % 2, 6)).collect(), None).is_none()
        );
        // Two sessions on one side: somebody trains one side first, then the other.
        assert!(told((0..2).map(|day| sided(day, 0, 10)).collect(), None).is_none());
        // It drifts: once as often as the other, by and by less.
        let drifting = |day: i32| sided(day, 10 - day.min(9) as u32, 10);
        assert!(told((0..14).map(drifting).collect(), None).is_some());
    }

    #[test]
    fn nobody_is_told_to_use_the_rarer_side_more() {
        let history = history((0..8).map(|day| sided(day, 2, 10)).collect());
        let day = history.sessions[7].day;
        let body = crate::history::body::read(&[], day);
        let next = crate::history::next::plan(&history, &plan(), &body, day);
        let says: Vec<&str> = next.watch.iter().map(|tip| tip.says.as_str()).collect();
        let tip = "left 16, right 80, which is not chance: unless you asked for it, do not ask for the left side; \
            have it looked at: see a veterinarian";
        assert!(says.contains(&tip), "{says:?}");
        assert!(!says.concat().contains("favour"), "{says:?}");
    }

    #[test]
    fn after_it_was_looked_at_and_is_well_it_counts_anew() {
        let sessions: Vec<Session> = (0..8).map(|day| sided(day, 2, 10)).collect();
        let well = sessions[6].day;
        assert!(told(sessions, Some(well)).is_none());
    }

    /// Looked at after each of forty sessions, as `plan next` is: told of 3 of 100 animals, once or more often.
    #[test]
    fn even_sides_are_hardly_ever_told_of_however_often_one_looks() {
        let mut chance = Chance(20_261);
        let animals = 100;
        let mut ever = 0;
        for _ in 0..animals {
            let sessions: Vec<Session> = (0..40)
                .map(|day| {
                    let right = (0..10).filter(|_| chance.next() < 0.5).count() as u32;
                    sided(day, 10 - right, right)
                })
                .collect();
            ever += u32::from((3..=40).any(|n| told(sessions[..n].to_vec(), None).is_some()));
        }
        assert!(ever <= 5 * animals / 100, "{ever} of {animals}");
    }
}
