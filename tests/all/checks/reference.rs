//! The same numbers from scipy, statsmodels, lifelines and pymannkendall over random inputs.

use std::path::PathBuf;
use std::process::Command;

use hushtally::stats::agreement::kappa;
use hushtally::stats::anytime::{self, Hypothesis};
use hushtally::stats::cusum::{CountShift, MissShift, normal_run_length};
use hushtally::stats::decline::{Shows, Sight, Times, Usual, Watching};
use hushtally::stats::effect::{non_overlap, tau_u};
use hushtally::stats::ewma::{self, Side};
use hushtally::stats::faded::Faded;
use hushtally::stats::gain::gain;
use hushtally::stats::good_time::GoodTime;
use hushtally::stats::matching::match_events;
use hushtally::stats::over_time::{least_squares, robust};
use hushtally::stats::percentile::Better;
use hushtally::stats::permutation::{rank_sum, start_by_lot};
use hushtally::stats::prior::GammaRate;
use hushtally::stats::proportions::{
    binomial_test, clopper_pearson, difference, fisher_exact, wilson,
};
use hushtally::stats::ranks::mann_whitney;
use hushtally::stats::rates::{Counted, compare, count_test, garwood, rate_below};
use hushtally::stats::runs::run_chance;
use hushtally::stats::smooth::{self, Smoothed};
use hushtally::stats::summary::{self, QuantileRule};
use hushtally::stats::survival::{Band, Curve, log_rank};
use hushtally::stats::trend::{mann_kendall, theil_sen};
use hushtally::stats::{Estimate, Level};
use serde_json::{Value, json};

use super::{differences, ends, list, number, out, square, survival::sessions, whole, wholes};
use crate::needs;

/// Fixed, so that a fault can be looked at again.
const SEEDS: [&str; 3] = ["1", "20", "300"];

#[test]
fn reference_libraries_agree_over_random_inputs() {
    let Some(python) = needs::python() else { return };
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/all/checks/reference.py");
    let run = Command::new(&python).arg(&script).args(SEEDS).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let cases: Vec<Value> = serde_json::from_slice(&run.stdout).unwrap();
    assert!(cases.len() > 2_000, "only {} cases", cases.len());
    let mut faults = Vec::new();
    for (n, case) in cases.iter().enumerate() {
        let name = case["fn"].as_str().unwrap();
        let got = answer(name, &case["in"]).unwrap_or_else(|| panic!("who computes {name}?"));
        let tolerance = case["tolerance"].as_f64().unwrap();
        let found = differences(&format!("case {n} {name}"), &case["out"], &got, tolerance);
        faults.extend(found.into_iter().map(|fault| format!("{fault}, for {}", case["in"])));
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
    eprintln!("{} random cases agree", cases.len());
}

fn answer(name: &str, i: &Value) -> Option<Value> {
    known_rates(name, i)
        .or_else(|| known_charts(name, i))
        .or_else(|| known_series(name, i))
        .or_else(|| known_learning(name, i))
        .or_else(|| known_verdicts(name, i))
}

fn known_rates(name: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match name {
        "garwood" => {
            let (k, t) = (whole(i, "count"), number(i, "exposure"));
            json!({"ci": ends(garwood(k, t, level)), "below": rate_below(k, t, level).unwrap()})
        }
        "count_test" => {
            let t = count_test(whole(i, "observed"), number(i, "mean")).unwrap();
            json!({
                "less": t.p_less, "greater": t.p_greater, "mid": t.mid_p_less,
                "minlike": t.p_minlike, "log_less": t.p_less.ln(), "log_greater": t.p_greater.ln(),
            })
        }
        "compare" => {
            let (x, t) = (wholes(i, "x"), list(i, "t"));
            let counted = |k: usize| Counted { count: x[k], exposure: t[k] };
            let test = compare(counted(0), counted(1), level).unwrap();
            let log = |x: f64| out(Ok(x.ln()));
            json!({
                "log_ci": [log(test.ratio.unwrap().low), log(test.ratio.unwrap().high)],
                "minlike": test.p_minlike,
                "less": test.p_less, "greater": test.p_greater,
            })
        }
        "prior" => {
            let prior = GammaRate::new(number(i, "shape"), number(i, "exposure")).unwrap();
            let (window, k) = (number(i, "window"), whole(i, "k"));
            json!({
                "at_most": prior.at_most(k, window).unwrap(),
                "at_least": prior.at_least(k, window).unwrap(),
                "nothing": prior.nothing_for(window).unwrap(),
                "ci": ends(Ok(prior.interval(level))),
            })
        }
        "share" => {
            let (k, n) = (whole(i, "k"), whole(i, "n"));
            let test = binomial_test(k, n, number(i, "p0")).unwrap();
            json!({
                "wilson": ends(wilson(k, n, level)), "exact": ends(clopper_pearson(k, n, level)),
                "minlike": test.p_minlike, "less": test.p_less, "greater": test.p_greater,
            })
        }
        "difference" => {
            let (k, n) = (wholes(i, "k"), wholes(i, "n"));
            json!({"ci": ends(difference((k[0], n[0]), (k[1], n[1]), level))})
        }
        "fisher" => {
            let t = square(&i["table"]);
            json!({"p": fisher_exact([[t[0][0], t[0][1]], [t[1][0], t[1][1]]]).unwrap()})
        }
        "run_chance" => {
            json!({"p": run_chance(whole(i, "n"), number(i, "p"), whole(i, "run")).unwrap()})
        }
        _ => return None,
    })
}

fn known_charts(name: &str, i: &Value) -> Option<Value> {
    Some(match name {
        "normal_sum" => {
            let (k, h, offset) = (number(i, "k"), number(i, "h"), number(i, "offset"));
            json!({"length": normal_run_length(k, h, 0.0, offset).unwrap()})
        }
        "average" => {
            let (lambda, width) = (number(i, "lambda"), number(i, "width"));
            let length = ewma::run_length(lambda, width, Side::Both, number(i, "offset"));
            json!({"length": length.unwrap()})
        }
        "count_sum" => {
            let shift = CountShift::new(number(i, "good"), number(i, "bad")).unwrap();
            json!({
                "reference": shift.reference(),
                "length": shift.run_length(number(i, "h"), number(i, "mean")).unwrap(),
            })
        }
        "miss_sum" => {
            let shift = MissShift::new(number(i, "good"), number(i, "bad")).unwrap();
            json!({
                "reference": shift.reference(),
                "length": shift.run_length(number(i, "h"), number(i, "miss")).unwrap(),
            })
        }
        _ => return None,
    })
}

fn known_learning(name: &str, i: &Value) -> Option<Value> {
    Some(match name {
        "decline_times" => {
            let mut times = Times::default();
            times.learn(number(i, "first"), 1.0);
            let at = times.mean() + number(i, "longer");
            let new = number(i, "new");
            json!({"density": times.finished(new).at(at), "above": times.running(new).at(at)})
        }
        "decline_misses" => {
            let tries = (number(i, "missed"), number(i, "met"));
            let mut watching = Watching::new(Usual { tries, ..Usual::default() }, 0.0);
            for (at, met) in list(i, "at").into_iter().zip(list(i, "meets")) {
                watching.see(Sight::Try { met: met > 0.5, cued: false }, at);
                watching.passed(at, 1.0);
            }
            let evidence = watching.evidence(number(i, "now"), None);
            json!({"evidence": evidence.total, "in_misses": evidence.shows[Shows::Misses as usize]})
        }
        "good_time" => {
            let sessions = list(i, "x").into_iter().map(|seconds| (seconds, true));
            let time = GoodTime::of(number(i, "expected"), sessions);
            let chance = time.chance(number(i, "from"), number(i, "to"));
            json!({"median": time.median(), "chance": chance})
        }
        _ => return None,
    })
}

fn known_verdicts(name: &str, i: &Value) -> Option<Value> {
    Some(match name {
        "anytime" => {
            let beside: Vec<Vec<f64>> = serde_json::from_value(i["beside"].clone()).unwrap();
            let beside: Vec<&[f64]> = beside.iter().map(Vec::as_slice).collect();
            let (of, sizes) = (list(i, "of"), list(i, "sizes"));
            let effect = Hypothesis { of: &of, beside: &beside, sizes: &sizes };
            let (y, weights) = (list(i, "y"), list(i, "weights"));
            let found = anytime::test(&y, &weights, &effect, Level::NINETY_FIVE).unwrap();
            // The interval is where the evidence against is below 20: at its ends it is 20.
            for end in [found.effect.low, found.effect.high].into_iter().filter(|e| e.is_finite()) {
                let less: Vec<f64> = y.iter().zip(&of).map(|(y, z)| y - end * z).collect();
                let there = anytime::test(&less, &weights, &effect, Level::NINETY_FIVE).unwrap();
                assert!((there.evidence / 20.0 - 1.0).abs() < 1e-4, "{there:?}");
            }
            json!({"log_evidence": found.evidence.ln()})
        }
        "gain" => {
            let (met, tries) = (wholes(i, "met"), wholes(i, "tries"));
            let sessions: Vec<(u32, u32)> = met.into_iter().zip(tries).collect();
            let found = gain(&sessions).unwrap();
            json!({"none": found.none, "points": found.points, "level": found.level})
        }
        "faded" => {
            let met = wholes(i, "met").into_iter().map(|met| met == 1);
            let faded = Faded::default().and_all(met, number(i, "fade"));
            let share = faded.share(Level::NINETY);
            json!({
                "at_least": faded.at_least(number(i, "goal")),
                "point": share.point, "ci": [share.low, share.high],
            })
        }
        "rank_sum" => json!({"p": rank_sum(&list(i, "a"), &list(i, "b")).unwrap()}),
        "start_by_lot" => {
            let [first, last, at] = ["first", "last", "at"].map(|key| whole(i, key) as usize);
            let found = start_by_lot(&list(i, "x"), at, first..=last).unwrap();
            json!({"difference": found.difference, "p": found.p})
        }
        _ => return None,
    })
}

fn known_series(name: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match name {
        "trend" => {
            let x = list(i, "x");
            let even: Vec<f64> = (0..x.len()).map(|t| t as f64).collect();
            let test = mann_kendall(&x).unwrap();
            let fit = theil_sen(&list(i, "t"), &x, level)
                .ok()
                .map(|fit| json!([fit.slope.point, fit.intercept, fit.slope.low, fit.slope.high]));
            json!({
                "s": test.s, "var": test.var, "z": test.z, "p": test.p_normal,
                "exact": test.p_exact, "fit": fit,
                "slope": theil_sen(&even, &x, level).unwrap().slope.point,
            })
        }
        "over_time" => {
            let (day, rate) = (list(i, "day"), list(i, "rate"));
            let fit = least_squares(&day, &rate, level).unwrap();
            json!({
                "week": fit.per_week.point, "start": fit.start, "spread": fit.spread,
                "ci": ends(Ok(fit.per_week)),
                "robust": robust(&day, &rate, level).unwrap().per_week.point,
            })
        }
        "smooth" => known_smooth(i, level),
        "survival" => known_survival(i, level),
        "kappa" => {
            let k = kappa(&square(&i["table"]), level).unwrap();
            json!({
                "kappa": k.kappa.point, "se": k.se, "se_null": k.se_null, "ci": ends(Ok(k.kappa)),
            })
        }
        "matching" => {
            let (a, b) = (list(i, "a"), list(i, "b"));
            let m = match_events(&a, &b, number(i, "tolerance")).unwrap();
            assert_eq!(m.pairs.len() + m.only_first.len(), a.len());
            assert_eq!(m.pairs.len() + m.only_second.len(), b.len());
            let distance: f64 = m.pairs.iter().map(|&(i, j)| (a[i] - b[j]).abs()).sum();
            json!({"pairs": m.pairs.len(), "distance": distance})
        }
        "effect" => {
            let (a, b) = (list(i, "a"), list(i, "b"));
            let nap = non_overlap(&a, &b, Better::Higher, level).unwrap();
            let tau = |trend| tau_u(&a, &b, Better::Higher, trend, level).unwrap();
            json!({
                "nap": nap.point, "ci": ends(Ok(nap)),
                "tau": tau(false).tau.point, "tau_u": tau(true).tau.point,
            })
        }
        "summary" => {
            let (x, q) = (list(i, "x"), number(i, "q"));
            let at = |rule| summary::quantile(&x, q, rule).unwrap();
            json!({
                "r6": at(QuantileRule::R6), "r7": at(QuantileRule::R7), "r8": at(QuantileRule::R8),
                "mad": summary::mad(&x).unwrap(), "gmean": summary::geometric_mean(&x).unwrap(),
                "gsd": summary::geometric_sd(&x).unwrap(), "mean": summary::mean(&x).unwrap(),
                "sd": summary::sd(&x).unwrap(),
                "critical": summary::grubbs_largest(&x, 0.05).unwrap().critical,
            })
        }
        "ranks" => {
            let test = mann_whitney(&list(i, "a"), &list(i, "b")).unwrap();
            json!({"u": test.u, "greater": test.p_greater, "less": test.p_less})
        }
        _ => return None,
    })
}

fn known_survival(i: &Value, level: Level) -> Value {
    let first = sessions(i);
    let second = sessions(&json!({"time": i["time2"], "event": i["event2"]}));
    let curve = Curve::fit(&first).unwrap();
    let test = log_rank(&first, &second).unwrap();
    let bands = curve.intervals(Band::LogLog, level);
    let side = |high: bool| -> Vec<Option<f64>> {
        bands.iter().map(|b| b.map(|b| if high { b.1 } else { b.0 })).collect()
    };
    let median = curve.time_by(0.5, level).unwrap().point;
    let mean: Estimate = curve.restricted_mean(number(i, "limit"), level).unwrap();
    json!({
        "times": curve.drops().iter().map(|d| d.time).collect::<Vec<_>>(),
        "s": curve.drops().iter().map(|d| d.survival).collect::<Vec<_>>(),
        "se": curve.drops().iter().map(|d| d.se).collect::<Vec<_>>(),
        "low": side(false), "high": side(true),
        "median": median.map_or(json!("inf"), |t| json!(t)),
        "chi": test.chi_squared, "p": test.p, "rmst": mean.point,
    })
}

fn known_smooth(i: &Value, level: Level) -> Value {
    let (day, count, minutes) = (list(i, "day"), wholes(i, "count"), list(i, "minutes"));
    let days = day.iter().zip(count).zip(minutes);
    let days: Vec<smooth::Counted> =
        days.map(|((&day, count), exposure)| smooth::Counted { day, count, exposure }).collect();
    let all: Vec<Smoothed> = smooth::stretches(&days, level).unwrap().concat();
    let logs = |of: fn(&Smoothed) -> f64| all.iter().map(|s| of(s).ln()).collect::<Vec<_>>();
    json!({
        "day": all.iter().map(|s| s.day).collect::<Vec<_>>(), "log": logs(|s| s.rate.point),
        "low": logs(|s| s.rate.low), "high": logs(|s| s.rate.high),
    })
}
