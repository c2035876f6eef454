//! Chapters I, J and L: energy, weight, latencies.

use hushtally::stats::energy::{
    Metabolism, Weight, daily_need, pieces, reaches, resting, resting_straight_line, treat_ceiling,
    weight_change,
};
use hushtally::stats::ranks::mann_whitney;
use hushtally::stats::summary::{
    QuantileRule, geometric_mean, geometric_sd, grubbs_largest, mad, mean, median, modified_z,
    quantile, sd,
};
use serde_json::{Value, json};

use super::{list, number, out};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    Some(match family {
        "I1" | "I2" => {
            let line = bird(i);
            json!({
                "bmr": each(i, "grams", |g| resting(grams(g), line)),
                "mer": each(i, "grams", |g| daily_need(grams(g), line, 1.5).unwrap()),
            })
        }
        "I3" | "I6" => json!({"rer": each(i, "kg", |kg| resting(kilos(kg), Metabolism::Mammal))}),
        "I4" => {
            let (kg, factor) = (number(i, "kg"), number(i, "factor"));
            json!({"der": daily_need(kilos(kg), Metabolism::Mammal, factor).unwrap()})
        }
        "I5" => {
            let weight = kilos(number(i, "kg"));
            json!({
                "linear": resting_straight_line(weight).unwrap(),
                "allometric": resting(weight, Metabolism::Mammal),
            })
        }
        "I7" => json!({"treat_kcal": each(i, "daily_kcal", |day| treat_ceiling(day).unwrap())}),
        "I8" => {
            let (line, factor) = (bird(i), number(i, "activity"));
            let treats = |g| treat_ceiling(daily_need(grams(g), line, factor).unwrap()).unwrap();
            json!({
                "bmr": each(i, "grams", |g| resting(grams(g), line)),
                "treat_10pct": each(i, "grams", treats),
            })
        }
        "I9" => {
            let (budget, piece) = (number(i, "budget"), number(i, "per_piece"));
            // Not ours: the bare floor, which loses a piece to rounding.
            let naive = (budget / piece).floor();
            json!({"pieces": pieces(budget, piece).unwrap(), "naive_floor": naive})
        }
        "I10" => {
            let refused = i["kg"].as_array()?.iter().all(|kg| {
                // What is missing reaches the engine as no number at all.
                Weight::kilograms(kg.as_f64().unwrap_or(f64::NAN)).is_err()
            });
            json!({"result": if refused { "refuse" } else { "accept" }})
        }
        "J1" => {
            let baseline = grams(number(i, "baseline"));
            let changes = each(i, "today", |today| weight_change(baseline, grams(today)));
            let alarms: Vec<bool> = changes.iter().map(|c| reaches(*c, -10.0)).collect();
            assert_eq!(alarms, [false, false, false, false, true, true]);
            json!({"change_pct": changes})
        }
        "J2" => {
            let (before, today) = (number(i, "baseline_kg"), number(i, "today_kg"));
            let change = weight_change(kilos(before), kilos(today));
            json!({
                "change_pct": change, "alarm_at_minus_10": reaches(change, -10.0),
                // Not ours: bare doubles in kilograms.
                "naive_double_compare_fires": 100.0 * (today - before) / before <= -10.0,
            })
        }
        "L1" => {
            let (x, q) = (list(i, "x"), number(i, "q"));
            let at = |rule| quantile(&x, q, rule).unwrap();
            json!({"R6": at(QuantileRule::R6), "R7": at(QuantileRule::R7), "R8": at(QuantileRule::R8)})
        }
        "L2" => {
            let test = grubbs_largest(&list(i, "x"), 0.05).unwrap();
            json!({"G": test.g, "critical": test.critical})
        }
        "L3" => json!({"M": modified_z(&list(i, "x"), number(i, "value")).unwrap()}),
        "L4" | "L5" | "L6" => {
            let x = list(i, "x");
            let quartiles = |rule| [0.25, 0.75].map(|p| quantile(&x, p, rule).unwrap());
            json!({
                "mean": mean(&x).unwrap(), "sd": out(sd(&x)), "median": median(&x).unwrap(),
                "geometric_mean": out(geometric_mean(&x)), "gsd": out(geometric_sd(&x)),
                "mad": mad(&x).unwrap(),
                "quartiles_R6": quartiles(QuantileRule::R6),
                "quartiles_R7": quartiles(QuantileRule::R7),
                "quartiles_R8": quartiles(QuantileRule::R8),
            })
        }
        "L7" => {
            let test = mann_whitney(&list(i, "last"), &list(i, "first")).unwrap();
            json!({"U": test.u, "p": test.p_greater})
        }
        "L8" => {
            let test = mann_whitney(&list(i, "a"), &list(i, "b")).unwrap();
            json!({"U": test.u, "p": test.p_two_sided})
        }
        _ => return None,
    })
}

fn each(i: &Value, key: &str, f: impl Fn(f64) -> f64) -> Vec<f64> {
    list(i, key).into_iter().map(f).collect()
}

fn grams(g: f64) -> Weight {
    Weight::grams(g).unwrap()
}

fn kilos(kg: f64) -> Weight {
    Weight::kilograms(kg).unwrap()
}

fn bird(i: &Value) -> Metabolism {
    let all = [Metabolism::Songbird, Metabolism::OtherBird];
    all.into_iter().find(|line| line.constant() == number(i, "K")).unwrap()
}
