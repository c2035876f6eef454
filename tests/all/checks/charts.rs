//! Chapters C and D: control charts and percentile schedules.

use hushtally::stats::cusum::{Cusum, LevelShift};
use hushtally::stats::ewma::{Ewma, Side, individuals};
use hushtally::stats::percentile::{Better, Criterion, Fraction, Schedule, Tie, paid_share, rank};
use serde_json::{Value, json};

use super::{list, number, whole};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    Some(match family {
        "C1" | "C5" => average(i),
        "C2" => {
            let widths = list(i, "i").into_iter().map(|steps| {
                let mut average = new_average(i, 0.0);
                (0..steps as u32).for_each(|_| assert!(!average.add(0.0)));
                average.half_width()
            });
            json!({"half_width": widths.collect::<Vec<_>>()})
        }
        "C3" | "C4" | "C4b" => sums(i),
        "C6" => {
            let chart = individuals(&list(i, "x")).unwrap();
            json!({"center": chart.centre, "mr_bar": chart.mean_range, "ucl": chart.high, "lcl": chart.low})
        }
        "C7" => {
            let fault = individuals(&list(i, "x")).unwrap_err().to_string();
            json!({"sigma": 0.0, "verdict": fault.strip_prefix("undefined: ")})
        }
        "D1" => json!({"k": rank(whole(i, "m"), number(i, "w")).unwrap()}),
        "D2" => {
            let (m, w) = (whole(i, "m"), number(i, "w"));
            let k = rank(m, w).unwrap();
            // Not ours: the product taken before the sum.
            let wrong = f64::from(m) + 1.0 * (1.0 - w);
            json!({"k": k, "k_rounded": k.round(), "wrong_value": wrong})
        }
        "D3" => {
            let cases = i["cases"].as_array()?.iter();
            let hits = cases.map(|c| enumerate(c[0].as_u64().unwrap(), c[1].as_u64().unwrap()));
            json!({"hits_of_total": hits.collect::<Vec<_>>()})
        }
        "D4" => {
            // m = 3 and w = 0.5 stand in the name of the case.
            let mut schedule = filled(&list(i, "seed"), 0.5, Fraction::Down);
            let trace = list(i, "responses").into_iter().map(|response| {
                let window: Vec<f64> = schedule.recent().collect();
                let row = json!({
                    "response": response, "window": window, "criterion": criterion(&schedule),
                    "strict": schedule.pays(response, Tie::Withhold).unwrap(),
                    "non_strict": schedule.pays(response, Tie::Pay).unwrap(),
                });
                schedule.push(response).unwrap();
                row
            });
            json!({"trace": trace.collect::<Vec<_>>()})
        }
        "D5" => {
            let (window, response) = (list(i, "window"), number(i, "response"));
            let m = window.len() as u32;
            let policy = |fraction, k: Option<u32>| {
                let schedule = filled(&window, 0.5, fraction);
                json!({
                    "criterion": criterion(&schedule),
                    "reinforce": schedule.pays(response, Tie::Withhold).unwrap(),
                    "true_w": k.map(|k| paid_share(m, k).unwrap()),
                })
            };
            json!({
                "floor": policy(Fraction::Down, Some(5)), "ceil": policy(Fraction::Up, Some(6)),
                "interpolate": policy(Fraction::Between, None),
            })
        }
        "D6" => {
            let window = list(i, "window");
            let w = 1.0 - number(i, "k") / (window.len() as f64 + 1.0);
            let schedule = filled(&window, w, Fraction::Down);
            let pays = |tie| schedule.pays(number(i, "response"), tie).unwrap();
            json!({"strict": pays(Tie::Withhold), "non_strict": pays(Tie::Pay)})
        }
        _ => return None,
    })
}

fn new_average(i: &Value, mean: f64) -> Ewma {
    let (lambda, sigma, width) = (number(i, "lam"), number(i, "sigma"), number(i, "L"));
    Ewma::new(lambda, mean, sigma, width, Side::Both).unwrap()
}

fn average(i: &Value) -> Value {
    let start = number(i, "start");
    let mut average = new_average(i, start);
    let (mut values, mut widths, mut signals) = (vec![], vec![], vec![]);
    for (n, x) in list(i, "x").into_iter().enumerate() {
        if average.add(x) {
            signals.push(n + 1);
        }
        values.push(average.value());
        widths.push(average.half_width());
    }
    let steady = average.steady_half_width();
    json!({
        "ewma": values, "half_width": widths, "signals_1based": signals,
        "ucl": start + steady, "lcl": start - steady,
    })
}

fn sums(i: &Value) -> Value {
    let (k, h) = (number(i, "k"), number(i, "h"));
    let up = LevelShift::new(number(i, "target"), 1.0, 2.0 * k).unwrap();
    let down = LevelShift::new(number(i, "target"), 1.0, -2.0 * k).unwrap();
    let (mut high, mut low) = (Cusum::new(h).unwrap(), Cusum::new(h).unwrap());
    let (mut highs, mut lows, mut first, mut run) = (vec![], vec![], None, 0);
    for (n, x) in list(i, "x").into_iter().enumerate() {
        let alarm = high.add(up.score(x)) | low.add(down.score(x));
        highs.push(high.sum());
        lows.push(low.sum());
        if alarm && first.is_none() {
            (first, run) = (Some(n + 1), high.run());
        }
    }
    json!({
        "s_hi": highs, "s_lo": lows, "first_signal_1based": first,
        "n_plus_at_29": run, "last_in_control_index": first.map(|n| n - run as usize),
    })
}

fn filled(window: &[f64], w: f64, fraction: Fraction) -> Schedule {
    let mut schedule = Schedule::new(window.len() as u32, w, Better::Higher, fraction).unwrap();
    window.iter().for_each(|&x| schedule.push(x).unwrap());
    schedule
}

fn criterion(schedule: &Schedule) -> Value {
    match schedule.criterion().unwrap() {
        Criterion::Beat(x) => json!(x),
        other => json!(format!("{other:?}")),
    }
}

/// Over all orders of m + 1 different responses: in how many the last is paid at rank k.
fn enumerate(m: u64, k: u64) -> [usize; 2] {
    let w = 1.0 - k as f64 / (m as f64 + 1.0);
    let (mut paid, mut all) = (0, 0);
    let mut order: Vec<f64> = (0..=m).map(|x| x as f64).collect();
    permutations(&mut order, 0, &mut |order| {
        let (last, window) = order.split_last().unwrap();
        let pays = filled(window, w, Fraction::Down).pays(*last, Tie::Withhold).unwrap();
        (paid, all) = (paid + usize::from(pays), all + 1);
    });
    [paid, all]
}

fn permutations(order: &mut Vec<f64>, from: usize, visit: &mut impl FnMut(&[f64])) {
    if from == order.len() {
        return visit(order);
    }
    for i in from..order.len() {
        order.swap(from, i);
        permutations(order, from + 1, visit);
        order.swap(from, i);
    }
}
