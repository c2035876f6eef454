//! Known values, each with its source. The outside checks over whole tables are in `tests/`.

mod series;

use super::cusum::{CountShift, Cusum, GapShift, LevelShift, MissShift, normal_run_length};
use super::ewma::{self, Ewma, Side};
use super::percentile::{self, Better, Fraction, Schedule, Tie};
use super::prior::GammaRate;
use super::rates::{self, Counted};
use super::window::{FadingRate, window_count};
use super::{Level, StatsError, proportions};

fn near(got: f64, wanted: f64, tolerance: f64) {
    assert!((got - wanted).abs() <= tolerance, "{got} is not {wanted} ± {tolerance}");
}

/// Simulations with fixed seeds.
struct Random(fastrand::Rng);

impl Random {
    fn seeded(seed: u64) -> Self {
        Random(fastrand::Rng::with_seed(seed))
    }
    fn unit(&mut self) -> f64 {
        self.0.f64()
    }
    fn exponential(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.unit()).ln()
    }
    fn poisson(&mut self, mean: f64) -> u32 {
        let (mut n, mut left) = (0, mean);
        loop {
            left -= self.exponential(1.0);
            if left < 0.0 {
                return n;
            }
            n += 1;
        }
    }
}

/// Mean and standard error over runs of a simulated alarm time.
fn simulate(runs: u32, mut one: impl FnMut() -> f64) -> (f64, f64) {
    let times: Vec<f64> = (0..runs).map(|_| one()).collect();
    let n = f64::from(runs);
    let mean = times.iter().sum::<f64>() / n;
    let var = times.iter().map(|t| (t - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (var / n).sqrt())
}

#[test]
fn published_run_lengths_of_normal_sums() {
    // Brook & Evans 1972 section 4.3 print 117.59 and 3.75 (their coarser chain); Waldmann 1986
    // tables 1, 3, 5 print 117.4, 1963 and 17.35; all as quoted in the manual of R package spc.
    near(normal_run_length(0.5, 3.0, 0.0, 0.0).unwrap(), 117.4, 0.3);
    near(normal_run_length(0.5, 3.0, 0.0, 1.5).unwrap(), 3.75, 0.01);
    near(normal_run_length(0.5, 3.0, 0.0, -0.5).unwrap(), 1963.0, 2.0);
    near(normal_run_length(0.5, 3.0, 0.0, 0.5).unwrap(), 17.35, 0.01);
    // Vance 1986 table 1 (same manual).
    for (offset, length) in
        [(-0.25, 2071.51), (-0.125, 400.28), (0.0, 124.66), (0.25, 36.71), (1.0, 10.75)]
    {
        near(normal_run_length(0.0, 10.0, 0.0, offset).unwrap(), length, 2e-3 * length);
    }
    // SAS/QC manual 1999 (same manual): 4.1500836225, with head start 0.1 4.1061588131.
    near(normal_run_length(0.25, 8.0, 0.0, 2.5).unwrap(), 4.150_083_622_5, 2e-4);
    near(normal_run_length(0.25, 8.0, 0.1, 2.5).unwrap(), 4.106_158_813_1, 5e-3);
    // Lucas & Crosier 1982 table 1 (same manual): two-sided 168, so one-sided twice that.
    near(normal_run_length(0.5, 4.0, 0.0, 0.0).unwrap(), 2.0 * 168.0, 2.0);
}

#[test]
fn published_run_lengths_of_averages() {
    // SAS/QC manual 1999, lambda 0.25, width 3, shift 1: 11.154267016 (manual of R package spc).
    near(ewma::run_length(0.25, 3.0, Side::Both, 1.0).unwrap(), 11.154_267_016, 2e-3);
    // Crowder 1987 table 1, width 2 (same manual).
    for (lambda, offset, length) in [
        (0.5, 0.0, 26.45),
        (0.5, 1.0, 4.91),
        (0.5, 4.0, 1.05),
        (0.05, 0.0, 127.53),
        (0.05, 0.5, 18.97),
        (0.05, 2.0, 4.04),
    ] {
        near(ewma::run_length(lambda, 2.0, Side::Both, offset).unwrap(), length, 0.006);
    }
    // Lucas & Saccucci 1990 table 3 (same manual).
    near(ewma::run_length(0.5, 3.071, Side::Both, 0.0).unwrap(), 500.0, 1.0);
    near(ewma::run_length(0.03, 2.437, Side::Both, 0.5).unwrap(), 29.3, 0.1);
}

#[test]
fn the_upper_average_runs_as_long_as_simulated() {
    let expected = ewma::run_length(0.2, 2.5, Side::Upper, 0.0).unwrap();
    let limit = 2.5 * (0.2_f64 / 1.8).sqrt();
    let mut random = Random::seeded(5);
    let (mean, error) = simulate(20_000, || {
        let (mut z, mut steps) = (0.0_f64, 0.0);
        while z <= limit {
            let (u, v) = (1.0 - random.unit(), random.unit());
            let x = (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos();
            z = (z + 0.2 * (x - z)).max(0.0);
            steps += 1.0;
        }
        steps
    });
    near(expected, mean, 4.0 * error);
}

#[test]
fn gap_run_lengths_agree_three_ways() {
    let shift = GapShift::new(6.0, 12.0).unwrap();
    for (h, gap) in [(20.0, 6.0), (70.0, 6.0), (70.0, 12.0), (70.0, 9.0)] {
        let exact = shift.run_length(h, gap).unwrap();
        let k = shift.reference();
        let chain = super::run_length::brook_evans(h, 0.0, |x| {
            if x + k > 0.0 { 1.0 - (-(x + k) / gap).exp() } else { 0.0 }
        })
        .unwrap();
        near(exact, chain, 0.01 * exact);
        let mut random = Random::seeded(h as u64);
        let (mean, error) = simulate(10_000, || {
            let mut sum = Cusum::new(h).unwrap();
            (1..).find(|_| sum.add(shift.score(random.exponential(gap)))).unwrap_or(0) as f64
        });
        near(exact, mean, 4.0 * error);
    }
}

#[test]
fn the_time_between_false_gap_alarms_is_what_was_asked_for() {
    let shift = GapShift::new(6.0, 12.0).unwrap();
    let h = shift.threshold_for_time(3600.0).unwrap();
    let mut random = Random::seeded(9);
    let (mean, error) = simulate(4_000, || {
        let (mut sum, mut time) = (Cusum::new(h).unwrap(), 0.0);
        loop {
            let (gap, patience) = (random.exponential(6.0), shift.alarm_after(&sum));
            if gap >= patience {
                return time + patience;
            }
            time += gap;
            assert!(!sum.add(shift.score(gap)));
        }
    });
    near(3600.0, mean, 4.0 * error);
}

#[test]
fn count_and_miss_run_lengths_agree_with_simulation() {
    for (good, bad, start) in [(4.0, 2.0, 1), (2.0, 4.0, 2), (0.4, 0.1, 3)] {
        let shift = CountShift::new(good, bad).unwrap();
        let h = shift.threshold_for(200.0).unwrap();
        let exact = shift.run_length(h, good).unwrap();
        assert!(exact >= 200.0 && shift.run_length(h, bad).unwrap() < 60.0);
        let mut random = Random::seeded(start);
        let (mean, error) = simulate(5_000, || {
            let mut sum = Cusum::new(h).unwrap();
            (1..).find(|_| sum.add(shift.score(random.poisson(good)))).unwrap_or(0) as f64
        });
        near(exact, mean, 4.0 * error);
    }
    let shift = MissShift::new(0.2, 0.5).unwrap();
    let h = shift.threshold_for(300.0).unwrap();
    let exact = shift.run_length(h, 0.2).unwrap();
    let mut random = Random::seeded(4);
    let (mean, error) = simulate(5_000, || {
        let mut sum = Cusum::new(h).unwrap();
        (1..).find(|_| sum.add(shift.score(random.unit() < 0.2))).unwrap_or(0) as f64
    });
    near(exact, mean, 4.0 * error);
}

#[test]
fn waits_for_chance_alarms() {
    let shift = LevelShift::new(0.0, 0.5, 1.5_f64.ln() / 0.5).unwrap();
    let h = shift.threshold_for(100.0).unwrap();
    near(shift.run_length(h, 0.0).unwrap(), 100.0, 0.01);
}

#[test]
fn head_start_and_run_counter() {
    let mut sum = Cusum::with_head_start(4.0, 2.0).unwrap();
    assert!(!sum.add(1.0) && !sum.add(f64::NAN) && sum.add(1.0));
    assert_eq!(sum.run(), 2); // what is not a number does not count
    sum.reset();
    assert_eq!((sum.sum(), sum.run()), (2.0, 0));
    assert!(!sum.add(-5.0));
    assert_eq!((sum.sum(), sum.run(), sum.room()), (0.0, 0, 4.0));
    assert!(Cusum::new(0.0).is_err() && Cusum::new(f64::NAN).is_err());
}

#[test]
fn a_prior_gives_exact_tails() {
    // Shape 1, exposure 1: the count of a unit window is geometric, P(X <= k) = 1 - 2^-(k+1).
    let one = GammaRate::new(1.0, 1.0).unwrap();
    for k in 0..6 {
        near(one.at_most(k, 1.0).unwrap(), 1.0 - 0.5_f64.powi(k as i32 + 1), 1e-12);
        near(one.at_least(k, 1.0).unwrap(), 0.5_f64.powi(k as i32), 1e-12);
    }
    near(one.nothing_for(3.0).unwrap(), 0.25, 1e-15);
    // Much knowledge: the Poisson tail of a known mean (CHECKS A5: 3 of 8, 0.0424).
    let sure = GammaRate::assumed(8.0, 1e6).unwrap();
    near(sure.at_most(3, 1.0).unwrap(), 0.042_380_112, 1e-5);
}

#[test]
fn sessions_that_differ_give_a_wider_prior() {
    let even: Vec<_> = (0..10).map(|_| Counted { count: 20, exposure: 2.0 }).collect();
    let same = GammaRate::from_sessions(&even).unwrap();
    near(same.mean(), 10.0, 0.05);
    assert!(same.shape() > 200.0);
    let uneven: Vec<_> =
        (0..10).map(|i| Counted { count: 10 + 20 * (i % 2), exposure: 2.0 }).collect();
    let mixed = GammaRate::from_sessions(&uneven).unwrap();
    near(mixed.mean(), 10.0, 1e-9);
    assert!(mixed.shape() < 6.0, "{mixed:?}");
    let nothing = GammaRate::from_sessions(&[Counted { count: 0, exposure: 3.0 }]).unwrap();
    assert!(nothing.mean() > 0.0);
    assert!(GammaRate::from_sessions(&[]).is_err());
}

#[test]
fn windows_share_no_event() {
    let times = [0.0, 10.0, 60.0, 60.0, 119.9, 120.0]; // CHECKS A13
    assert_eq!(window_count(&times, 0.0, 120.0, 60.0).unwrap().count, 2);
    assert_eq!(window_count(&times, 0.0, 60.0, 60.0).unwrap().count, 3);
    let young = window_count(&[3.0, 9.0, 14.0, 20.0], 0.0, 20.0, 60.0).unwrap(); // CHECKS A14
    near(young.rate().unwrap() * 60.0, 12.0, 1e-12);
    assert!(window_count(&times, 5.0, 5.0, 60.0).is_err());
}

#[test]
fn a_fading_rate_settles_on_a_steady_one() {
    let mut fading = FadingRate::new(30.0, 0.0).unwrap();
    assert!(fading.rate(0.0).is_err());
    for i in 0..2000 {
        fading.add(f64::from(i) * 5.0);
    }
    near(fading.rate(9_997.5).unwrap(), 0.2, 1e-3);
    fading.add(1.0); // a clock set back
    assert!(fading.rate(0.0).unwrap().is_finite());
}

#[test]
fn exact_tests_at_their_edges() {
    let two = rates::compare(
        Counted { count: 2, exposure: 17_877.0 },
        Counted { count: 9, exposure: 16_660.0 },
        Level::NINETY_FIVE,
    )
    .unwrap(); // CHECKS A4
    near(two.p_minlike, 0.033_094_203, 1e-8);
    near(two.p_central, 0.050_106_496, 1e-8);
    assert_eq!(rates::largest_drop(2.0, 0.05).unwrap(), None);
    assert_eq!(rates::largest_drop(8.0, 0.05).unwrap().unwrap().0, 3); // CHECKS A15
    assert_eq!(proportions::sides(0, 0).unwrap().index, None);
    assert_eq!(proportions::perfect_run_needed(0.8, Level::NINETY_FIVE).unwrap(), 17); // CHECKS B9
    assert!(matches!(
        proportions::wilson(0, 0, Level::NINETY_FIVE),
        Err(StatsError::TooFew { needed: 1, .. })
    ));
    assert!(proportions::wilson(3, 2, Level::NINETY_FIVE).is_err());
}

#[test]
fn a_random_tie_break_pays_the_planned_share_on_a_flat_history() {
    let mut schedule = Schedule::new(5, 0.5, Better::Higher, Fraction::Down).unwrap();
    for _ in 0..5 {
        schedule.push(4.0).unwrap();
    }
    assert!(!schedule.pays(4.0, Tie::Withhold).unwrap()); // CHECKS D6
    assert!(schedule.pays(4.0, Tie::Pay).unwrap());
    let paid = (0..100).filter(|i| schedule.pays(4.0, Tie::Draw(f64::from(*i) / 100.0)).unwrap());
    assert_eq!(paid.count(), 50);
}

#[test]
fn lower_can_be_better_and_a_young_window_says_how_many_it_needs() {
    let mut quick = Schedule::new(3, 0.5, Better::Lower, Fraction::Down).unwrap();
    quick.push(2.0).unwrap();
    assert_eq!(
        quick.pays(1.0, Tie::Withhold),
        Err(StatsError::TooFew { what: "responses", needed: 3, got: 1 })
    );
    quick.push(3.0).unwrap();
    quick.push(5.0).unwrap();
    assert!(quick.pays(2.9, Tie::Withhold).unwrap());
    assert!(!quick.pays(3.0, Tie::Withhold).unwrap());
    assert_eq!(percentile::rank(9, 0.7).unwrap(), 3.0); // CHECKS D1: doubles give 3.0000000000000004
    assert_eq!(percentile::whole_window(8, 0.5).unwrap(), Some(9));
}

#[test]
fn the_upper_average_carries_no_inertia() {
    let mut average = Ewma::new(0.3, 0.0, 1.0, 3.0, Side::Upper).unwrap();
    for _ in 0..50 {
        assert!(!average.add(-4.0));
    }
    assert!((0..5).any(|_| average.add(3.0)));
    assert!(ewma::individuals(&[5.0; 4]).is_err()); // CHECKS C7
}
