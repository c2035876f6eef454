//! In which order to work on several behaviours.

use super::Sitting;
use crate::session::Session;

/// What is known of a behaviour: its place among the sessions, and the chance that a try meets the criterion, where known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Standing {
    /// By place.
    pub(super) place: usize,
    /// From 0 to 1.
    pub(super) met: Option<f64>,
}

/// What is not known is taken to be this hard.
const UNKNOWN: f64 = 0.5;

/// Easy, hard, easy (common practice, no source): begins with the easiest, has the hardest in the middle, and ends on
/// the easiest again. Of two it is the easy one, the hard one, the easy one; of one it is that one.
pub(super) fn order(of: &[Standing]) -> Vec<usize> {
    let mut easiest = of.to_vec();
    easiest.sort_by(|a, b| b.met.unwrap_or(UNKNOWN).total_cmp(&a.met.unwrap_or(UNKNOWN)));
    let mut order: Vec<usize> = easiest.iter().map(|one| one.place).collect();
    if order.len() > 1 {
        // Harder and harder, and then the easiest once more.
        order.push(order[0]);
    }
    order
}

impl Sitting {
    /// In which order the behaviours of the animal at work may be worked on, by place; nothing where there is only one.
    /// How hard each is goes by its tries at the step that it begins with, in the latest sessions.
    pub fn proposed(&self) -> Vec<usize> {
        let animal = &self.session().plan().animal;
        let its = self.sessions().iter().enumerate();
        let its = its.filter(|(_, session)| session.plan().animal == *animal);
        let of: Vec<Standing> =
            its.map(|(place, session)| Standing { place, met: met(session) }).collect();
        if of.len() < 2 { Vec::new() } else { order(&of) }
    }
}

fn met(session: &Session) -> Option<f64> {
    let known = session.prior().step(session.working(), &session.plan().advice);
    let (met, tries) = known.sessions.iter().fold((0, 0), |sum: (u32, u32), one| {
        (sum.0.saturating_add(one.0), sum.1.saturating_add(one.1))
    });
    (tries > 0).then(|| f64::from(met) / f64::from(tries))
}
