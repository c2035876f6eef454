//! How the detectors of decline share out the false nudges that a plan stands.
//!
//! Each part is a share of the plan's false nudges an hour of good work; together they make one. The
//! shares were chosen on simulated sessions of other seeds than those that are reported.

/// The chance that a decline has begun.
pub(crate) const DECLINE: f64 = 0.75;
/// Rewards too rare, by the sum over gaps.
pub(crate) const RATE: f64 = 0.03;
/// Rewards too rare, by a single gap.
pub(crate) const GAP: f64 = 0.04;
/// Success falling, by the sum over tries.
pub(crate) const SUCCESS: f64 = 0.05;
/// Success falling, by misses in a row.
pub(crate) const MISSES: f64 = 0.03;
/// Answers to the cue slowing.
pub(crate) const LATENCY: f64 = 0.04;
/// Tries coming further apart; it takes over the share of the latency where no cue is tagged.
pub(crate) const EFFORT: f64 = 0.03;
/// Movements within a try coming further apart.
pub(crate) const SPACING: f64 = 0.03;

/// How many chances to be wrong (tries, gaps) should pass on average before one part of the budget
/// is spent once.
pub(crate) fn run_length(chances_per_hour: f64, false_per_hour: f64, share: f64) -> f64 {
    let run = chances_per_hour / (false_per_hour * share);
    if run.is_finite() { run.clamp(2.0, 1e7) } else { 1e7 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shares_make_one() {
        let sum = DECLINE + RATE + GAP + SUCCESS + MISSES + LATENCY + EFFORT + SPACING;
        assert!((sum - 1.0).abs() < 1e-12);
    }
}
