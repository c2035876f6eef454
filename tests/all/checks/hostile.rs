//! Whatever comes in: a number or a refusal, never a panic, never NaN.

use hushtally::stats::cusum::{CountShift, Cusum, GapShift, LevelShift, MissShift};
use hushtally::stats::effect::{non_overlap, tau_u};
use hushtally::stats::energy::{Metabolism, Weight, daily_need, pieces};
use hushtally::stats::ewma::{self, Ewma, Side};
use hushtally::stats::matching::match_events;
use hushtally::stats::percentile::{Better, Criterion, Fraction, Schedule, Tie, rank};
use hushtally::stats::prior::GammaRate;
use hushtally::stats::proportions::{
    binomial_test, clopper_pearson, difference, fisher_exact, perfect_run_needed, sides, wilson,
};
use hushtally::stats::ranks::mann_whitney;
use hushtally::stats::rates::{Counted, compare, count_test, garwood, largest_drop, rate_below};
use hushtally::stats::runs::run_chance;
use hushtally::stats::survival::{Band, Curve, Watched, log_rank};
use hushtally::stats::trend::{kendall_upper_tail, mann_kendall_at, theil_sen};
use hushtally::stats::window::{FadingRate, window_count};
use hushtally::stats::{Estimate, Level, StatsError, agreement, over_time, smooth, summary};
use proptest::prelude::*;

/// Ordinary values, edges, and what is not a number.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -50.0..50.0_f64,
        4 => 0.0..1.0_f64,
        2 => (0..9_i32).prop_map(f64::from),
        1 => prop::sample::select(vec![
            0.0, -0.0, 1.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e-300, 1e300, f64::MAX,
            f64::MIN_POSITIVE, 1e9,
        ]),
    ]
}

fn any_count() -> impl Strategy<Value = u32> {
    prop_oneof![4 => 0..40_u32, 1 => 0..200_000_u32, 1 => Just(u32::MAX), 1 => Just(10_000_000)]
}

fn any_series() -> impl Strategy<Value = Vec<f64>> {
    prop_oneof![
        prop::collection::vec(any_number(), 0..12),
        prop::collection::vec((0..5_i32).prop_map(f64::from), 0..12),
        prop::collection::vec(0.01..90.0_f64, 0..12),
    ]
}

fn numbers<const N: usize>(all: [f64; N]) -> Result<(), TestCaseError> {
    all.iter().try_for_each(|x| {
        prop_assert!(!x.is_nan(), "a NaN among {all:?}");
        Ok(())
    })
}

fn chance(p: f64) -> Result<(), TestCaseError> {
    prop_assert!((0.0..=1.0).contains(&p), "{p} is no probability");
    Ok(())
}

fn number(x: Result<f64, StatsError>) -> Result<(), TestCaseError> {
    numbers([x.unwrap_or(0.0)])
}

/// Not NaN, and the point within the interval (rounding forgiven).
fn ordered(e: Result<Estimate, StatsError>) -> Result<(), TestCaseError> {
    let Ok(e) = e else { return Ok(()) };
    numbers([e.point, e.low, e.high])?;
    let slack = 1e-9 * (1.0 + e.point.abs());
    prop_assert!(e.low <= e.point + slack && e.point <= e.high + slack, "{e:?}");
    Ok(())
}

/// Failures are printed in full; no file of old ones is kept.
fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn check_rates(k: u32, j: u32, a: f64, b: f64, c: f64) -> Result<(), TestCaseError> {
    let level = Level::NINETY_FIVE;
    ordered(garwood(k, a, level))?;
    number(rate_below(k, a, level))?;
    if let Ok(t) = count_test(k, a) {
        for p in [t.p_less, t.p_greater, t.mid_p_less, t.p_minlike, t.p_central] {
            chance(p)?;
        }
    }
    if let Ok(Some((_, p))) = largest_drop(a, b) {
        prop_assert!(p <= b);
    }
    let counted = |count, exposure| Counted { count, exposure };
    if let Ok(t) = compare(counted(k, a), counted(j, b), level) {
        for p in [t.p_less, t.p_greater, t.p_minlike, t.p_central] {
            chance(p)?;
        }
        if let Some(ratio) = t.ratio {
            ordered(Ok(ratio))?;
        }
    }
    if let Ok(prior) = GammaRate::new(a, b) {
        numbers([prior.mean()])?;
        let interval = prior.interval(level);
        numbers([interval.low, interval.high])?;
        for p in
            [prior.at_most(k, c), prior.at_least(k, c), prior.nothing_for(c)].into_iter().flatten()
        {
            chance(p)?;
        }
    }
    let _ = GammaRate::from_sessions(&[counted(k, a), counted(j, b), counted(k, c)]);
    let _ = (GammaRate::assumed(a, b), Level::new(a));
    Ok(())
}

fn check_shares(k: u32, n: u32, a: f64) -> Result<(), TestCaseError> {
    let level = Level::NINETY_FIVE;
    ordered(wilson(k, n, level))?;
    ordered(clopper_pearson(k, n, level))?;
    ordered(difference((k, n), (n, k), level))?;
    ordered(difference((k.min(n), n), (0, n), level))?;
    if let Ok(t) = binomial_test(k, n, a) {
        for p in [t.p_less, t.p_greater, t.p_minlike, t.p_central] {
            chance(p)?;
        }
    }
    if let Ok(s) = sides(k, n) {
        chance(s.p)?;
        numbers([s.z, s.index.unwrap_or(0.0)])?;
    }
    if k < 100_000
        && n < 100_000
        && let Ok(p) = fisher_exact([[k, n], [n, k]])
    {
        chance(p)?;
    }
    if let Ok(p) = run_chance(n.min(300), a, k.min(50)) {
        chance(p)?;
    }
    let _ = perfect_run_needed(a, level);
    Ok(())
}

fn check_sums(a: f64, b: f64, c: f64, x: Vec<f64>) -> Result<(), TestCaseError> {
    if let Ok(shift) = CountShift::new(a, b) {
        number(shift.run_length(c.min(9.0), a))?;
        number(Ok(shift.score(3)))?;
    }
    if let Ok(shift) = MissShift::new(a, b) {
        number(shift.run_length(c.min(9.0), a))?;
        number(shift.threshold_for(c.min(200.0)))?;
    }
    let mut alarm = Cusum::with_head_start(a, b);
    let mut average = Ewma::new(a, b, c, 3.0, Side::Both);
    for &step in &x {
        if let Ok(sum) = &mut alarm {
            sum.add(step);
            numbers([sum.sum(), sum.room()])?;
        }
        if let Ok(average) = &mut average {
            average.add(step);
            numbers([average.value(), average.half_width()])?;
        }
    }
    if let (Ok(shift), Ok(sum)) = (GapShift::new(a, b), &alarm) {
        numbers([shift.alarm_after(sum), shift.reference()])?;
    }
    Ok(())
}

fn check_series(x: Vec<f64>, y: Vec<f64>, p: f64) -> Result<(), TestCaseError> {
    let level = Level::NINETY_FIVE;
    let n = x.len().min(y.len());
    let (x2, y2) = (&x[..n], &y[..n]);
    if let Ok(t) = mann_kendall_at(x2, y2) {
        numbers([t.var, t.z])?;
        chance(t.p())?;
        chance(t.p_normal)?;
    }
    if let Ok(t) = theil_sen(x2, y2, level) {
        ordered(Ok(t.slope))?;
        numbers([t.intercept])?;
    }
    chance(kendall_upper_tail(n, p as i64))?;
    let fits = [
        over_time::least_squares(x2, y2, level),
        over_time::through_halves(x2, y2),
        over_time::robust(x2, y2, level),
    ];
    for fit in fits.into_iter().flatten() {
        ordered(Ok(fit.per_week))?;
        numbers([fit.start, fit.spread])?;
    }
    let counts = y2.iter().map(|y| y.abs().min(1e9) as u32);
    let days: Vec<smooth::Counted> = (x2.iter().zip(counts))
        .map(|(&x, count)| smooth::Counted { day: p + x, count, exposure: x.abs() })
        .collect();
    for shown in smooth::stretches(&days, level).into_iter().flatten().flatten() {
        ordered(Ok(shown.rate))?;
    }
    ordered(non_overlap(&x, &y, Better::Lower, level))?;
    for trend in [false, true] {
        if let Ok(t) = tau_u(&x, &y, Better::Higher, trend, level) {
            ordered(Ok(t.tau))?;
            chance(t.p)?;
        }
    }
    if let Ok(t) = mann_whitney(&x, &y) {
        chance(t.p_greater)?;
        chance(t.p_less)?;
        chance(t.p_two_sided)?;
    }
    for rule in [summary::QuantileRule::R6, summary::QuantileRule::R7, summary::QuantileRule::R8] {
        number(summary::quantile(&x, p, rule))?;
    }
    for x in [
        summary::mean(&x),
        summary::sd(&x),
        summary::mad(&x),
        summary::geometric_mean(&x),
        summary::geometric_sd(&x),
        summary::modified_z(&x, p),
    ] {
        number(x)?;
    }
    ordered(summary::median_interval(&x, level))?;
    if let Ok(g) = summary::grubbs_largest(&x, p) {
        numbers([g.g, g.critical])?;
    }
    if let Ok(c) = ewma::individuals(&x) {
        numbers([c.low, c.high, c.sigma])?;
    }
    Ok(())
}

fn check_records(x: Vec<f64>, y: Vec<f64>, at: f64, w: f64) -> Result<(), TestCaseError> {
    let level = Level::NINETY_FIVE;
    let as_watched = |x: &[f64]| -> Vec<Watched> {
        x.iter().enumerate().map(|(i, &time)| Watched { time, declined: i % 3 != 0 }).collect()
    };
    let (a, b) = (as_watched(&x), as_watched(&y));
    if let Ok(curve) = Curve::fit(&a) {
        ordered(Ok(curve.at(at, Band::Log, level)))?;
        ordered(Ok(curve.at(at, Band::LogLog, level)))?;
        ordered(curve.restricted_mean(w, level))?;
        ordered(curve.constant_hazard(level))?;
        if let Ok(by) = curve.time_by(at, level)
            && let (Some(low), Some(point)) = (by.low, by.point)
        {
            prop_assert!(low <= point);
        }
    }
    if let Ok(t) = log_rank(&a, &b) {
        chance(t.p)?;
        numbers([t.chi_squared, t.expected])?;
    }
    let (mut x, mut y) = (x, y);
    x.sort_by(f64::total_cmp);
    y.sort_by(f64::total_cmp);
    if let Ok(m) = match_events(&x, &y, w) {
        for &(i, j) in &m.pairs {
            prop_assert!((x[i] - y[j]).abs() <= w * (1.0 + 1e-6) + 1e-9);
        }
    }
    if let Ok(counted) = window_count(&x, 0.0, at, w) {
        number(counted.rate())?;
    }
    if let Ok(mut fading) = FadingRate::new(w, 0.0) {
        for &t in x.iter().chain(&y) {
            fading.add(t);
        }
        number(fading.rate(at))?;
    }
    Ok(())
}

fn check_rest(m: u32, w: f64, x: Vec<f64>, r: f64) -> Result<(), TestCaseError> {
    for fraction in [Fraction::Down, Fraction::Up, Fraction::Between] {
        let Ok(mut schedule) = Schedule::new(m, w, Better::Lower, fraction) else { continue };
        for &response in &x {
            let _ = schedule.push(response);
        }
        if let Ok(Criterion::Beat(c)) = schedule.criterion() {
            numbers([c])?;
        }
        let strict = schedule.pays(r, Tie::Withhold);
        if let Ok(true) = strict {
            prop_assert_eq!(schedule.pays(r, Tie::Pay), Ok(true));
        }
        let _ = schedule.pays(r, Tie::Draw(w));
    }
    number(rank(m, w))?;
    let _ = pieces(w, r);
    if let Ok(weight) = Weight::grams(w * 100.0) {
        number(daily_need(weight, Metabolism::Songbird, r))?;
    }
    let table: Vec<Vec<u32>> = (0..m).map(|i| (0..m).map(|j| (i * j) % 5).collect()).collect();
    ordered(agreement::kappa(&table, Level::NINETY).map(|k| k.kappa))?;
    number(agreement::ac1(&table))?;
    Ok(())
}

fn check_solvers(a: f64, b: f64, c: f64) -> Result<(), TestCaseError> {
    if let Ok(shift) = GapShift::new(a, b) {
        number(shift.run_length(c, a))?;
        number(shift.threshold_for_time(c))?;
    }
    if let Ok(shift) = LevelShift::new(a, b, c) {
        number(shift.run_length(a, b))?;
        number(shift.threshold_for(c))?;
    }
    if let Ok(shift) = CountShift::new(a, b) {
        number(shift.threshold_for(c))?;
    }
    number(ewma::run_length(a, b, Side::Upper, c))?;
    number(ewma::run_length(a, b, Side::Both, c))?;
    Ok(())
}

proptest! {
    #![proptest_config(cases(256))]

    #[test]
    fn rates_hold(k in any_count(), j in any_count(), a in any_number(), b in any_number(), c in any_number()) {
        check_rates(k, j, a, b, c)?;
    }

    #[test]
    fn shares_hold(k in any_count(), n in any_count(), a in any_number()) {
        check_shares(k, n, a)?;
    }

    #[test]
    fn sums_hold(a in any_number(), b in any_number(), c in any_number(), x in any_series()) {
        check_sums(a, b, c, x)?;
    }

    #[test]
    fn series_hold(x in any_series(), y in any_series(), p in any_number()) {
        check_series(x, y, p)?;
    }

    #[test]
    fn records_hold(x in any_series(), y in any_series(), at in any_number(), w in any_number()) {
        check_records(x, y, at, w)?;
    }

    #[test]
    fn schedules_and_bodies_hold(m in 0..9_u32, w in any_number(), x in any_series(), r in any_number()) {
        check_rest(m, w, x, r)?;
    }
}

proptest! {
    #![proptest_config(cases(24))] // each solves chains of many states

    #[test]
    fn solvers_hold(a in any_number(), b in any_number(), c in any_number()) {
        check_solvers(a, b, c)?;
    }
}
