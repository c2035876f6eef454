//! Why it is decided so: the numbers, and the sentence that `prompts/` makes of them.

use super::{Known, Says};
use crate::plan::Advice;
use crate::reason::{Quantity, Reason};
use crate::sentences::because;
use crate::stats::Level;

pub(super) fn reason(
    advice: &Advice,
    known: &Known,
    says: Says,
    ready: f64,
    too_hard: f64,
) -> Reason {
    let share = known.faded.share(Level::NINETY);
    let (met, tries) = known.sessions.last().copied().unwrap_or_default();
    let mut inputs = vec![
        Quantity::new("met in the latest session", f64::from(met), "tries"),
        Quantity::new("tries in the latest session", f64::from(tries), "tries"),
        Quantity::new("tries at this step", f64::from(known.faded.tries), ""),
        Quantity::new("raise at", advice.raise_at, ""),
        Quantity::new("ease below", advice.ease_below, ""),
        Quantity::new("days rested", f64::from(known.rested_days.unwrap_or(0)), "days"),
    ];
    if known.faded.tries > 0 {
        inputs.extend([
            Quantity::new("share now, older tries weighing less", share.point, ""),
            Quantity::new("lower bound of the share", share.low, ""),
            Quantity::new("upper bound of the share", share.high, ""),
            Quantity::new("weight of those tries", known.faded.met + known.faded.missed, "tries"),
            Quantity::new("chance that it is ready", ready, ""),
            Quantity::new("chance that it is too hard", too_hard, ""),
        ]);
    }
    // The probability that what is said of the share is wrong, where something is.
    let probability = match says {
        Says::Ready | Says::Held | Says::TakeItEasy => Some(1.0 - ready),
        Says::TooHard => Some(1.0 - too_hard),
        Says::Stay | Says::Stuck => Some(ready + too_hard),
        Says::Untried | Says::TooFew | Says::TryFirst => None,
    };
    let name = match says {
        Says::Untried => "untried",
        Says::TooFew => "too_few",
        Says::TryFirst => "try_first",
        _ => "share",
    };
    let words = [("says", in_words(says))];
    Reason {
        detector: "criterion".into(),
        because: because(name, &inputs, &words),
        inputs,
        probability: probability.map(|p| p.clamp(0.0, 1.0)),
        method: "beta distribution of the share met now, each try making those before it weigh less, \
                 tries after a first sign of decline left out: ready or too hard when it is more likely \
                 than not past the plan's threshold; bounds at 90 %; probability: that this is wrong"
            .into(),
        source: "Jeffreys' prior: Brown, Cai & DasGupta 2001, Stat Sci 16:101; weighing less: Ibrahim & \
                 Chen 2000, Stat Sci 15:46, and West & Harrison 1997, Bayesian Forecasting and Dynamic \
                 Models, chapter 6; thresholds: common practice, no source"
            .into(),
    }
}

fn in_words(says: Says) -> &'static str {
    match says {
        Says::Held => "held",
        Says::TakeItEasy => "take_it_easy",
        _ => "",
    }
}
