//! Where success fell below what was usual within a session.

use crate::session::Rep;
use crate::stats::lapse::Lapse;

/// The places, among these reps of one session, at which a lapse of success was plain: the step worked
/// on was met less often than before it. Another step has another usual, so it starts from scratch.
pub fn lapses(reps: &[Rep]) -> Vec<usize> {
    let mut lapse = Lapse::default();
    let mut working = None;
    let mut fell = |rep: &Rep| {
        if working.replace(rep.working).is_some_and(|before| before != rep.working) {
            lapse = Lapse::default();
        }
        lapse.add(rep.met_criterion())
    };
    (0..reps.len()).filter(|place| fell(&reps[*place])).collect()
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;
    use crate::at::At;
    use crate::chain::LinkScores;
    use crate::plan::RewardValue;
    use crate::session::{MissedBecause, Outcome};

    fn reps(met: impl Iterator<Item = (u8, bool)>) -> Vec<Rep> {
        let rep = |(working, met)| Rep {
            input: None,
            at: At::ZERO,
            active: Duration::ZERO,
            working,
            step: working,
            outcome: if met {
                Outcome::Rewarded(RewardValue::High)
            } else {
                Outcome::Missed(MissedBecause::Said)
            },
            value_named: false,
            side: None,
            latency: None,
            duration: None,
            links: LinkScores::default(),
        };
        met.map(rep).collect()
    }

    #[test]
    fn a_lapse_is_found_where_it_begins_and_a_harder_step_is_none() {
        let fell = reps((0..60).map(|n| (1, if n < 40 { n % 6 != 0 } else { n % 4 == 0 })));
        let found = lapses(&fell);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!((43..52).contains(&found[0]), "{found:?}");
        let steady = reps((0..60).map(|n| (1, n % 4 != 0)));
        assert!(lapses(&steady).is_empty());
        // The same misses right after a raise are a new step's, and not as many in a row.
        let raised = reps((0..48).map(|n| if n < 40 { (1, n % 6 != 0) } else { (2, n % 4 == 0) }));
        assert!(lapses(&raised).is_empty());
    }
}
