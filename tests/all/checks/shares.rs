//! Chapter B: success rates, sides, runs of misses.

use hushtally::stats::Level;
use hushtally::stats::proportions::{
    binomial_test, clopper_pearson, difference, fisher_exact, perfect_run_needed, sides, wilson,
    wilson_bounds,
};
use hushtally::stats::runs::run_chance;
use serde_json::{Value, json};

use super::{ends, number, out, square, whole, wholes};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match family {
        "B1" | "B3" => json!({"ci": ends(wilson(whole(i, "k"), whole(i, "n"), level))}),
        "B2" | "B4" => json!({"ci": ends(clopper_pearson(whole(i, "k"), whole(i, "n"), level))}),
        "B5" | "B6" => {
            let (k, n) = (whole(i, "k"), whole(i, "n"));
            json!({
                "wilson": wilson_bounds(k, n, level).unwrap(),
                "clopper_pearson": ends(clopper_pearson(k, n, level)),
                "rate": out(wilson(k, n, level).map(|e| e.point)),
            })
        }
        "B7" => {
            let (k, n) = (whole(i, "k"), whole(i, "n"));
            json!({
                "p": binomial_test(k, n, number(i, "p0")).unwrap().p_minlike,
                "ci": ends(clopper_pearson(k, n, level)),
            })
        }
        "B8" => {
            let level = Level::new(number(i, "conf")).unwrap();
            json!({"ci": ends(clopper_pearson(whole(i, "k"), whole(i, "n"), level))})
        }
        "B9" => {
            assert_eq!(perfect_run_needed(0.8, level).unwrap(), 17);
            let low = |n: u32| {
                json!({
                    "wilson_low": wilson(n, n, level).unwrap().low,
                    "cp_low": clopper_pearson(n, n, level).unwrap().low,
                })
            };
            let runs = wholes(i, "runs").into_iter().map(|n| (n.to_string(), low(n)));
            runs.collect::<serde_json::Map<_, _>>().into()
        }
        "B10" | "B11" => {
            let test = sides(whole(i, "right"), whole(i, "left")).unwrap();
            json!({"p": test.p, "index": test.index, "z": test.z})
        }
        "B12" => {
            let test = binomial_test(whole(i, "k"), whole(i, "n"), number(i, "p0")).unwrap();
            json!({"p_minlike": test.p_minlike, "p_doubled": test.p_central, "p_less": test.p_less})
        }
        "B13" => {
            let first = (whole(i, "x1"), whole(i, "n1"));
            let second = (whole(i, "x2"), whole(i, "n2"));
            json!({"ci": ends(difference(first, second, level))})
        }
        "B14" | "B15" => {
            let t = square(&i["table"]);
            json!({"p": fisher_exact([[t[0][0], t[0][1]], [t[1][0], t[1][1]]]).unwrap()})
        }
        "B16" => {
            let chance = |c: &Value| run_chance(whole(c, "n"), number(c, "fail"), whole(c, "r"));
            let cases = i["cases"].as_array()?;
            json!({"p": cases.iter().map(|c| chance(c).unwrap()).collect::<Vec<_>>()})
        }
        _ => return None,
    })
}
