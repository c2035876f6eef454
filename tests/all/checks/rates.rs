//! Chapter A: reward rates and drops.

use hushtally::stats::Level;
use hushtally::stats::rates::{Counted, compare, count_test, drop_p, garwood, largest_drop};
use hushtally::stats::window::window_count;
use serde_json::{Value, json};

use super::{ends, list, number, out, whole, wholes};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match family {
        "A1" | "A2" => {
            let rate = garwood(whole(i, "count"), number(i, "exposure"), level);
            json!({"rate": out(rate.clone().map(|r| r.point)), "ci": ends(rate)})
        }
        "A3" | "A4" | "A7" | "A8" | "A9" | "A10" | "A11" | "A12" => {
            let (x, t) = (wholes(i, "x"), list(i, "t"));
            let counted = |k: usize| Counted { count: x[k], exposure: t[k] };
            let test = compare(counted(0), counted(1), level).unwrap();
            json!({
                "ratio": test.ratio.map_or(Value::Null, |r| out(Ok(r.point))),
                "ci": test.ratio.map_or(Value::Null, |r| ends(Ok(r))),
                "p": test.p_minlike, "p_minlike": test.p_minlike, "p_central": test.p_central,
                "p_less": test.p_less, "p_greater": test.p_greater,
            })
        }
        "A5" => json!({"p": drop_p(whole(i, "observed"), number(i, "expected_mean")).unwrap()}),
        "A6" => {
            let test = count_test(whole(i, "observed"), number(i, "expected_mean")).unwrap();
            json!({
                "one_sided": test.p_less, "mid_p_one_sided": test.mid_p_less,
                "two_sided_minlike": test.p_minlike, "two_sided_central": test.p_central,
            })
        }
        "A13" => {
            let (times, w, at) = (list(i, "times_s"), number(i, "window_s"), number(i, "at_s"));
            let ours = window_count(&times, 0.0, at, w).unwrap();
            // Not ours: the closed window, which counts an event on the edge twice.
            let closed = times.iter().filter(|t| **t >= at - w && **t <= at).count();
            json!({
                "count_half_open_left_excluded": ours.count, "count_closed": closed,
                "rate_per_min_half_open": 60.0 * ours.rate().unwrap(),
            })
        }
        "A14" => {
            let (times, w, at) = (list(i, "times_s"), number(i, "window_s"), number(i, "at_s"));
            let ours = window_count(&times, 0.0, at, w).unwrap();
            json!({
                "rate_per_min_elapsed": 60.0 * ours.rate().unwrap(),
                // Not ours: over the window that the session never had.
                "rate_per_min_full_window": 60.0 * f64::from(ours.count) / w,
            })
        }
        "A15" => list(i, "expected_means")
            .into_iter()
            .map(|mean| {
                let at = |alpha| largest_drop(mean, alpha).unwrap().unwrap();
                let ((k05, p05), (k01, p01)) = (at(0.05), at(0.01));
                (mean.to_string(), json!({"k05": k05, "p05": p05, "k01": k01, "p01": p01}))
            })
            .collect::<serde_json::Map<_, _>>()
            .into(),
        _ => return None,
    })
}
