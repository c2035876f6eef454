//! Known values of whole records: effects, survival, agreement, matching, energy.

use super::near;
use crate::agreement::{ac1, counts, duration, kappa, mean_duration};
use crate::effect::{non_overlap, tau_u};
use crate::energy::{
    Metabolism, Weight, daily_need, pieces, reaches, resting_straight_line, treat_ceiling,
    weight_change,
};
use crate::matching::match_events;
use crate::over_time::{percent_change, through_halves};
use crate::percentile::Better;
use crate::ranks::mann_whitney;
use crate::rates::least_shown;
use crate::smooth::{self, Counted};
use crate::summary::{grubbs_largest, median_interval, modified_z, sd};
use crate::survival::{Band, Curve, Watched, log_rank};
use crate::trend::{Direction, mann_kendall, theil_sen};
use crate::{Level, StatsError};

const LEVEL: Level = Level::NINETY_FIVE;

fn watched(declined: &[f64], stopped: &[f64]) -> Vec<Watched> {
    let as_kind = |times: &[f64], declined: bool| -> Vec<Watched> {
        times.iter().map(|&time| Watched { time, declined }).collect()
    };
    [as_kind(declined, true), as_kind(stopped, false)].concat()
}

#[test]
fn published_non_overlap() {
    // Parker, Vannest & Davis 2011 (Behav Modif 35:303): NAP 38.5 of 42, Tau 35 of 42; as asserted
    // in the tests of R package SingleCaseES.
    let before = [20.0, 20.0, 26.0, 25.0, 22.0, 23.0];
    let after = [28.0, 25.0, 24.0, 27.0, 30.0, 30.0, 29.0];
    let nap = non_overlap(&before, &after, Better::Higher, LEVEL).unwrap();
    near(nap.point, 38.5 / 42.0, 1e-12);
    assert!(nap.low > 0.5 && nap.low < nap.point && nap.high > nap.point && nap.high < 1.0);
    let other_way = non_overlap(&before, &after, Better::Lower, LEVEL).unwrap();
    near(other_way.high, 1.0 - nap.low, 1e-9);
    let plain = tau_u(&before, &after, Better::Higher, false, LEVEL).unwrap();
    near(plain.tau.point, 35.0 / 42.0, 1e-12);
    // Parker et al. 2011 (Behav Ther 42:284): 16 of 20, and 11 of 20 with the trend taken off; and
    // Tarlow 2017: 0.6 (both as asserted there).
    let (before, after) = ([3.0, 3.0, 4.0, 5.0], [4.0, 5.0, 6.0, 7.0, 7.0]);
    let tau = |trend| tau_u(&before, &after, Better::Higher, trend, LEVEL).unwrap();
    near(tau(false).tau.point, 16.0 / 20.0, 1e-12);
    near(tau(true).tau.point, 11.0 / 20.0, 1e-12);
    let (before, after) = ([1.0, 2.0, 3.0, 4.0, 5.0], [6.0, 7.0, 8.0, 9.0, 10.0]);
    near(tau_u(&before, &after, Better::Higher, true, LEVEL).unwrap().tau.point, 0.6, 1e-12);
    // Nothing varies: no effect, and no p below 1.
    let flat = tau_u(&[2.0; 3], &[2.0; 3], Better::Higher, true, LEVEL).unwrap();
    assert_eq!((flat.s, flat.p), (0, 1.0));
}

#[test]
fn a_restricted_mean_has_its_spread() {
    // aml, maintained, to the longest time 161: 52.6 (19.8) as R prints (from memory).
    let aml = watched(&[9.0, 13.0, 18.0, 23.0, 31.0, 34.0, 48.0], &[13.0, 28.0, 45.0, 161.0]);
    let curve = Curve::fit(&aml).unwrap();
    let mean = curve.restricted_mean(161.0, LEVEL).unwrap();
    near(mean.point, 52.6, 0.05);
    near((mean.high - mean.point) / 1.96, 19.8, 0.05);
    assert!(curve.restricted_mean(162.0, LEVEL).is_err());
}

#[test]
fn not_reached_is_an_answer() {
    let curve = Curve::fit(&watched(&[], &[5.0, 7.0, 9.0])).unwrap(); // CHECKS F8
    let median = curve.time_by(0.5, LEVEL).unwrap();
    assert_eq!((median.point, median.low, median.high, median.n), (None, None, None, 3));
    let gone = Curve::fit(&watched(&[5.0, 8.0], &[])).unwrap();
    assert_eq!(gone.drops()[1].se, None);
    assert_eq!(gone.intervals(Band::Log, LEVEL)[1], None);
    let after = gone.at(9.0, Band::LogLog, LEVEL);
    assert_eq!((after.point, after.low, after.high), (0.0, 0.0, 1.0));
    assert!(Curve::fit(&[]).is_err());
    assert!(Curve::fit(&watched(&[-1.0], &[])).is_err());
    assert!(log_rank(&watched(&[], &[3.0]), &watched(&[], &[4.0])).is_err());
}

#[test]
fn the_median_lies_in_its_interval() {
    // aml, maintained: median 31, 95 % log-log interval from 13, no upper end within the data; the
    // band of CHECKS F2 first falls to one half at 13 (0.447) and its upper end at no time but 161.
    let aml = watched(&[9.0, 13.0, 18.0, 23.0, 31.0, 34.0, 48.0], &[13.0, 28.0, 45.0, 161.0]);
    let median = Curve::fit(&aml).unwrap().time_by(0.5, LEVEL).unwrap();
    assert_eq!((median.point, median.low, median.high), (Some(31.0), Some(13.0), None));
}

#[test]
fn agreement_at_its_edges() {
    assert_eq!(counts(&[0, 0], &[0, 0]).unwrap().total_count, None); // CHECKS G5
    assert_eq!(counts(&[1], &[1, 2]), Err(StatsError::Lengths { left: 1, right: 2 }));
    assert!(counts(&[], &[]).is_err());
    assert_eq!(duration(0.0, 0.0).unwrap(), None);
    assert_eq!(mean_duration(&[(10.0, 5.0), (0.0, 0.0)]).unwrap(), Some(50.0));
    assert!(mean_duration(&[(f64::NAN, 1.0)]).is_err());
    let constant = vec![vec![20, 0], vec![0, 0]];
    assert!(kappa(&constant, LEVEL).is_err()); // CHECKS G10
    assert_eq!(ac1(&constant).unwrap(), 1.0);
    assert!(kappa(&[vec![1, 2], vec![3]], LEVEL).is_err());
}

#[test]
fn matching_takes_the_closest_of_the_largest() {
    // Earliest-first would pair 0.0 with 0.9.
    let m = match_events(&[0.0, 1.0], &[0.9], 1.0).unwrap();
    assert_eq!((m.pairs, m.only_first), (vec![(1, 0)], vec![0]));
    // Two pairs beat one closer pair.
    let m = match_events(&[0.0, 1.0], &[0.9, 1.9], 1.0).unwrap();
    assert_eq!(m.pairs, [(0, 0), (1, 1)]);
    near(match_events(&[0.0, 5.0], &[0.2], 0.2).unwrap().agreement().unwrap(), 50.0, 1e-9);
    assert_eq!(match_events(&[], &[], 1.0).unwrap().agreement(), None);
    assert!(match_events(&[2.0, 1.0], &[], 1.0).is_err());
    // Hostile: ten thousand tags in one second, each record. Still answers, and says how.
    let dense: Vec<f64> = (0..10_000).map(|i| f64::from(i) * 1e-4).collect();
    let m = match_events(&dense, &dense, 1.0).unwrap();
    assert_eq!((m.pairs.len(), m.closest), (10_000, false));
}

#[test]
fn trends_of_next_to_nothing() {
    assert_eq!(mann_kendall(&[5.0; 5]).unwrap().direction(0.05), Direction::Unclear); // CHECKS E8
    assert!(mann_kendall(&[1.0]).is_err());
    assert!(theil_sen(&[1.0, 1.0], &[2.0, 3.0], LEVEL).is_err());
    near(mann_kendall(&[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap().p(), 1.0 / 60.0, 1e-12); // CHECKS E9
    near(percent_change(0.8).unwrap(), -20.0, 1e-12); // CHECKS H5
    assert!(percent_change(0.0).is_err());
    near(least_shown(5.0).unwrap(), 0.2, 1e-15);
    assert!(least_shown(0.0).is_err());
    // Five days: the middle one counts in neither half; 4 to 16 in three days.
    let five = through_halves(&[0.0, 1.0, 2.0, 3.0, 4.0], &[4.0, 4.0, 99.0, 16.0, 16.0]);
    near(five.unwrap().per_week.point, 4_f64.powf(7.0 / 3.0), 1e-9);
}

#[test]
fn energy_refuses_what_it_cannot_answer() {
    for grams in [0.0, -3.0, 0.2, 1e9, f64::NAN, f64::INFINITY] {
        assert!(Weight::grams(grams).is_err());
    }
    near(Weight::ounces(16.0).unwrap().as_grams(), Weight::pounds(1.0).unwrap().as_grams(), 1e-9);
    let donkey = Weight::kilograms(160.0).unwrap();
    assert!(daily_need(donkey, Metabolism::Mammal, 1.5).is_err());
    assert!(resting_straight_line(donkey).is_err());
    // CHECKS I8: a 400 g parrot may have eleven pieces of half a kcal.
    let parrot = Weight::grams(400.0).unwrap();
    let ceiling = treat_ceiling(daily_need(parrot, Metabolism::OtherBird, 1.5).unwrap()).unwrap();
    assert_eq!(pieces(ceiling, 0.5).unwrap(), 11);
    assert!(pieces(1.0, 0.0).is_err() && pieces(f64::NAN, 1.0).is_err());
    let (before, today) = (Weight::kilograms(0.45).unwrap(), Weight::kilograms(0.405).unwrap());
    assert!(reaches(weight_change(before, today), -10.0)); // CHECKS J2
    assert!(!reaches(weight_change(before, before), -10.0) && reaches(5.0, 5.0));
}

#[test]
fn summaries_that_do_not_exist_are_refused() {
    assert!(sd(&[1.4]).is_err()); // CHECKS L5
    assert!(grubbs_largest(&[2.0; 5], 0.05).is_err());
    assert!(modified_z(&[2.0, 2.0, 2.0, 9.0], 9.0).is_err());
    assert_eq!(
        median_interval(&[1.0; 5], LEVEL),
        Err(StatsError::TooFew { what: "values", needed: 6, got: 5 })
    );
    // Six values: both extremes, 1 - 2/64 = 96.9 % (Conover, order statistics; closed form).
    let six = median_interval(&[6.0, 1.0, 5.0, 2.0, 4.0, 3.0], LEVEL).unwrap();
    assert_eq!((six.low, six.point, six.high), (1.0, 3.5, 6.0));
    let tied = mann_whitney(&[1.0; 4], &[1.0; 4]).unwrap();
    assert_eq!((tied.p_greater, tied.exact), (1.0, false));
}

fn counted(days: &[(f64, u32, f64)]) -> Vec<Counted> {
    days.iter().map(|&(day, count, exposure)| Counted { day, count, exposure }).collect()
}

#[test]
fn a_smooth_of_counts_is_a_local_poisson_regression() {
    // Invented counts; each day by statsmodels 0.15.0, GLM with Poisson counts, exposure and tricube
    // weights over 14 days, the variance by the sandwich in numpy (dispersion 0.25, taken as 1).
    let days = counted(&[
        (0.0, 9, 1.5),
        (1.0, 6, 1.2),
        (2.0, 12, 1.8),
        (3.0, 4, 1.0),
        (5.0, 14, 1.9),
        (6.0, 15, 2.0),
        (8.0, 11, 1.4),
    ]);
    let shown = smooth::stretches(&days, LEVEL).unwrap();
    assert_eq!((shown.len(), shown[0].len()), (1, 7));
    for (place, point, low, high) in [
        (0, 5.436_233_54, 3.527_588, 8.377_575_59),
        (3, 6.286_208_65, 4.887_328_05, 8.085_485_3),
        (6, 8.062_304_42, 5.305_856_15, 12.250_756_65),
    ] {
        let rate = shown[0][place].rate;
        near(rate.point, point, 1e-6);
        near(rate.low, low, 1e-6);
        near(rate.high, high, 1e-6);
    }
}

#[test]
fn nothing_is_smoothed_across_a_pause() {
    let week = |from: f64, count| (0..5).map(move |day| (from + f64::from(day), count, 2.0));
    // Three days off are a rest, four a pause.
    let rest: Vec<_> = week(0.0, 8).chain(week(8.0, 40)).collect();
    let pause: Vec<_> = week(0.0, 8).chain(week(9.0, 40)).collect();
    let ends = |days: &[(f64, u32, f64)]| -> Vec<(f64, f64)> {
        let shown = smooth::stretches(&counted(days), LEVEL).unwrap();
        shown.iter().map(|run| (run[0].rate.point, run[run.len() - 1].rate.point)).collect()
    };
    assert_eq!(ends(&rest).len(), 1);
    let apart = ends(&pause);
    assert_eq!(apart.len(), 2);
    for (got, wanted) in [(apart[0].1, 4.0), (apart[1].0, 20.0)] {
        near(got, wanted, 1e-9); // what was counted after the pause says nothing of before
    }
    // Too little is not a curve: two days, or one day with an event.
    assert_eq!(smooth::stretches(&counted(&pause[..2]), LEVEL).unwrap(), Vec::<Vec<_>>::new());
    let lonely = counted(&[(0.0, 0, 1.0), (1.0, 5, 1.0), (2.0, 0, 1.0)]);
    assert!(smooth::stretches(&lonely, LEVEL).unwrap().is_empty());
    assert!(smooth::stretches(&counted(&[(1.0, 1, 1.0), (1.0, 1, 1.0)]), LEVEL).is_err());
    assert!(smooth::stretches(&counted(&[(1.0, 1, 0.0)]), LEVEL).is_err());
}
