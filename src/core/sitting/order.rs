//! In which order to work on several behaviours.

/// What is known of a behaviour: its place among the sessions, and the chance that a try meets the criterion, where known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// By place.
    pub place: usize,
    /// From 0 to 1.
    pub met: Option<f64>,
}

/// What is not known is taken to be this hard.
const UNKNOWN: f64 = 0.5;

/// Easy, hard, easy (common practice, no source): begins with the easiest, has the hardest in the middle, and ends on
/// the easiest again. Of two it is the easy one, the hard one, the easy one; of one it is that one.
pub fn order(of: &[Standing]) -> Vec<usize> {
    let mut easiest = of.to_vec();
    easiest.sort_by(|a, b| b.met.unwrap_or(UNKNOWN).total_cmp(&a.met.unwrap_or(UNKNOWN)));
    let mut order: Vec<usize> = easiest.iter().map(|one| one.place).collect();
    if order.len() > 1 {
        // Harder and harder, and then the easiest once more.
        order.push(order[0]);
    }
    order
}
