//! How far two observers of one session agree, and where they do not. Pure; the indices are those of
//! [`crate::stats::agreement`].

use minijinja::context;

use crate::plan::RewardValue;
use crate::stats::agreement::{self, CountAgreement, Kappa};
use crate::stats::matching::match_events;
use crate::stats::{Level, StatsError};
use crate::wording::filled;

/// One rep as an observer saw it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Session time in seconds.
    pub at_s: f64,
    /// Step reached.
    pub step: u8,
    /// What it was paid; `None` for a miss.
    pub paid: Option<RewardValue>,
    /// How long it was held, in seconds.
    pub held_s: Option<f64>,
}

/// How to compare.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct How {
    /// Length of the intervals, in seconds.
    pub interval_s: f64,
    /// How far apart two times may be and still mean one rep.
    pub tolerance_s: f64,
    /// Length of what both saw.
    pub length_s: f64,
}

/// Two observers compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Counts, interval by interval.
    pub counts: CountAgreement,
    /// Reps that both saw, over all that either did, in percent.
    pub events: Option<f64>,
    /// Reps that both saw.
    pub both: usize,
    /// Kappa of "anything rewarded in this interval"; an error says why there is none.
    pub occurrence: Result<Kappa, StatsError>,
    /// Kappa of miss, low, high, jackpot over the reps that both saw.
    pub value: Result<Kappa, StatsError>,
    /// Mean of shorter over longer hold, in percent.
    pub held: Option<f64>,
    /// Where they differ, in order of time.
    pub differences: Vec<Difference>,
}

/// One place to look at again.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// Session time in seconds.
    pub at_s: f64,
    /// In words.
    pub text: String,
}

/// Compares two observers; both in order of time.
///
/// # Errors
/// [`StatsError`] for times that are not times.
pub fn compare(first: &[Seen], second: &[Seen], how: How) -> Result<Agreement, StatsError> {
    let length = how.length_s.max(how.interval_s);
    let intervals = (length / how.interval_s).ceil().clamp(1.0, 100_000.0) as usize;
    let counted = |seen: &[Seen]| {
        let mut counts = vec![0_u32; intervals];
        for one in seen.iter().filter(|one| one.paid.is_some()) {
            let place = (one.at_s / how.interval_s).max(0.0) as usize;
            counts[place.min(intervals - 1)] += 1;
        }
        counts
    };
    let (ours, theirs) = (counted(first), counted(second));
    let mut occurrence = vec![vec![0_u32; 2]; 2];
    for (a, b) in ours.iter().zip(&theirs) {
        occurrence[usize::from(*a > 0)][usize::from(*b > 0)] += 1;
    }
    let times = |seen: &[Seen]| seen.iter().map(|one| one.at_s).collect::<Vec<_>>();
    let matching = match_events(&times(first), &times(second), how.tolerance_s)?;
    let mut value = vec![vec![0_u32; 4]; 4];
    let mut held = Vec::new();
    let mut differences: Vec<Difference> = Vec::new();
    for &(i, j) in &matching.pairs {
        let (a, b) = (&first[i], &second[j]);
        value[category(a)][category(b)] += 1;
        held.extend(a.held_s.zip(b.held_s));
        if (a.paid, a.step) != (b.paid, b.step) {
            let text = filled("page.differ", context! { first => words(a), second => words(b) });
            differences.push(Difference { at_s: a.at_s, text });
        }
    }
    let alone = |one: &Seen, name: &str| Difference {
        at_s: one.at_s,
        text: filled(name, context! { seen => words(one) }),
    };
    differences.extend(matching.only_first.iter().map(|&i| alone(&first[i], "page.only_first")));
    differences.extend(matching.only_second.iter().map(|&j| alone(&second[j], "page.only_second")));
    differences.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    Ok(Agreement {
        counts: agreement::counts(&ours, &theirs)?,
        events: matching.agreement(),
        both: matching.pairs.len(),
        occurrence: agreement::kappa(&occurrence, Level::NINETY_FIVE),
        value: agreement::kappa(&value, Level::NINETY_FIVE),
        held: agreement::mean_duration(&held)?,
        differences,
    })
}

fn category(seen: &Seen) -> usize {
    match seen.paid {
        None => 0,
        Some(RewardValue::Low) => 1,
        Some(RewardValue::High) => 2,
        Some(RewardValue::Jackpot) => 3,
    }
}

fn words(seen: &Seen) -> String {
    super::labels::seen(seen.step, seen.paid)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(at_s: f64, step: u8, paid: Option<RewardValue>) -> Seen {
        Seen { at_s, step, paid, held_s: None }
    }

    #[test]
    fn what_differs_is_listed_in_order() {
        let high = Some(RewardValue::High);
        let first = [seen(2.0, 1, high), seen(5.0, 2, high), seen(12.0, 1, None)];
        let second = [seen(2.2, 1, high), seen(5.1, 1, high), seen(25.0, 1, high)];
        let how = How { interval_s: 10.0, tolerance_s: 1.0, length_s: 30.0 };
        let found = compare(&first, &second, how).unwrap();
        let texts: Vec<&str> = found.differences.iter().map(|d| d.text.as_str()).collect();
        assert_eq!(
            texts,
            [
                "first record: step 2, high; second: step 1, high",
                "only the first record has it: missed",
                "only the second has it: step 1, high",
            ]
        );
        // Rewarded per interval: 2 0 0 and 2 0 1, so totals 2 of 3 and two intervals of three alike.
        assert_eq!(found.counts.total_count, Some(100.0 * 2.0 / 3.0));
        assert!((found.counts.exact_count_per_interval - 200.0 / 3.0).abs() < 1e-9);
        assert_eq!((found.both, found.events), (2, Some(50.0)));
        // Observed 2/3, by chance 1/3*2/3 + 2/3*1/3 = 4/9: kappa 0.4.
        assert!((found.occurrence.unwrap().kappa.point - 0.4).abs() < 1e-9);
    }

    #[test]
    fn nobody_saw_anything() {
        let how = How { interval_s: 10.0, tolerance_s: 1.0, length_s: 30.0 };
        let found = compare(&[], &[], how).unwrap();
        assert_eq!((found.events, found.counts.total_count), (None, None));
        assert!(found.occurrence.is_err());
    }
}
