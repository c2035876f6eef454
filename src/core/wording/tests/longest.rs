//! The longest recap. The tests of speech take it too.

use crate::decide::{Decision, Known, decide};
use crate::plan::Plan;
use crate::session::{Named, NudgeKind, Summary, Tries};

/// As much as a recap ever says.
pub(super) fn longest() -> Summary {
    Summary {
        animal: "Pepino".into(),
        behaviour: "rests a foot on the nail file while the file moves".into(),
        step_name: "rests the foot for two seconds".into(),
        step: 4,
        active_s: 172.0,
        tries: Tries { rewarded: 17, missed: 12 },
        paid: [9, 7, 1],
        named: vec![Named { word: "bonus".into(), count: 2 }],
        rate_per_min: Some(5.93),
        best_step: Some(5),
        latency_median_s: Some(1.75),
        longest_hold_s: Some(12.4),
        unsure: 2,
        main_nudge: Some(NudgeKind::StepTooMuch),
        held_back: vec![NudgeKind::BudgetLow],
        ended_well: false,
        declined_s: None,
        hands: Vec::new(),
        breaks: 0,
        played_s: 0.0,
        next: Box::new(decided(4, 6, 14)),
    }
}

/// What is decided about step `step` of five after `met` tries that met it and `missed` that did not.
pub(in super::super) fn decided(step: u8, met: u32, missed: u32) -> Decision {
    let mut plan = Plan::of_default_words();
    plan.steps = vec![plan.steps[0].clone(); 5];
    let known = Known::of(step).with_counts(met, met + missed, &plan.advice);
    decide(&plan, &known, false)
}
