//! Chapters E and H: trends, and change over time.

use hushtally::stats::Level;
use hushtally::stats::over_time::{least_squares, percent_change, robust, through_halves};
use hushtally::stats::trend::{
    Direction, MannKendall, kendall_upper_tail, mann_kendall, mann_kendall_at, theil_sen,
};
use serde_json::{Value, json};

use super::{ends, list, number, out};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match family {
        "E7" => {
            let level = Level::new(number(i, "conf")).unwrap();
            let fit = theil_sen(&list(i, "x"), &list(i, "y"), level).unwrap();
            json!({"slope": fit.slope.point, "intercept": fit.intercept, "ci": ends(Ok(fit.slope))})
        }
        "E5" => {
            let site =
                |key: &str| mann_kendall_at(&list(&i[key], "t"), &list(&i[key], "x")).unwrap();
            let (a, b) = (site("site1"), site("site2"));
            json!({"S": [a.s, b.s], "var": [a.var, b.var]})
        }
        "E14" => {
            let cases = i["cases"].as_array()?.iter();
            let tails = cases.map(|c| {
                kendall_upper_tail(c[0].as_u64().unwrap() as usize, c[1].as_i64().unwrap())
            });
            json!({"p_one_sided": tails.collect::<Vec<_>>()})
        }
        "E1" | "E1b" | "E2" | "E2b" | "E3" | "E3b" | "E4" | "E4b" | "E6" | "E8" | "E9" | "E10"
        | "E11" | "E12" | "E13" => series(i, level),
        "H1" | "H2" => {
            let fit = least_squares(&list(i, "day"), &list(i, "freq"), level).unwrap();
            assert_eq!((fit.per_week.low, fit.per_week.high), (0.0, f64::INFINITY));
            json!({"per_week": fit.per_week.point})
        }
        "H3" => {
            let (day, freq) = (list(i, "day"), list(i, "freq"));
            let fit = least_squares(&day, &freq, level).unwrap();
            json!({
                "ols_per_week": fit.per_week.point, "ols_ci": ends(Ok(fit.per_week)),
                "ols_start": fit.start, "total_bounce": fit.spread,
                "quarter_intersect_per_week": through_halves(&day, &freq).unwrap().per_week.point,
                "theil_sen_per_week": robust(&day, &freq, level).unwrap().per_week.point,
            })
        }
        "H4" => {
            let fit = least_squares(&list(i, "day"), &list(i, "freq"), level).unwrap();
            let factor = fit.per_week.point;
            json!({"factor": factor, "divide_by": 1.0 / factor})
        }
        "H5" => {
            let text = i["notation"].as_str()?;
            let by: f64 = text.strip_prefix('/')?.split(' ').next()?.parse().unwrap();
            json!({"factor": 1.0 / by, "percent_change": percent_change(1.0 / by).unwrap()})
        }
        "H6" => {
            let all = i["cases"].as_array()?.iter().map(|case| {
                let (day, freq): (&[f64], &[f64]) = match case.as_str().unwrap() {
                    "freq 0" => (&[0.0, 1.0, 2.0], &[3.0, 0.0, 4.0]),
                    "n=1" => (&[0.0], &[3.0]),
                    "two points same day" => (&[5.0, 5.0], &[3.0, 4.0]),
                    other => panic!("what is {other}?"),
                };
                [
                    least_squares(day, freq, level),
                    through_halves(day, freq),
                    robust(day, freq, level),
                ]
                .iter()
                .all(Result::is_err)
            });
            let all: Vec<bool> = all.collect();
            assert!(all.iter().all(|refused| *refused), "an answer where there is none: {all:?}");
            json!({})
        }
        _ => return None,
    })
}

fn series(i: &Value, level: Level) -> Value {
    let x = list(i, "x");
    let times =
        if i["t"].is_null() { (0..x.len()).map(|t| t as f64).collect() } else { list(i, "t") };
    let test = mann_kendall_at(&times, &x).unwrap();
    if i["t"].is_null() {
        assert_eq!(test, mann_kendall(&x).unwrap());
    }
    let fit = theil_sen(&times, &x, level).unwrap();
    // The table's verdicts are those of the normal approximation.
    let direction = MannKendall { p_exact: None, ..test }.direction(0.05);
    json!({
        "S": test.s, "var": test.var, "z": test.z, "p": test.p_normal,
        "p_exact_two_sided": test.p_exact,
        "p_exact_one_sided": out(Ok(kendall_upper_tail(x.len(), test.s))),
        "slope": fit.slope.point, "intercept": fit.intercept, "sen_slope": fit.slope.point,
        "n_slopes": fit.slopes.len(), "slopes_sorted": fit.slopes,
        "trend": match direction {
            Direction::Up => "increasing",
            Direction::Down => "decreasing",
            Direction::Unclear => "no trend",
        },
    })
}
