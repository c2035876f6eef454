//! Chapter G: agreement of two observers.

use hushtally::stats::Level;
use hushtally::stats::agreement::{ac1, counts, kappa, mean_duration};
use serde_json::{Value, json};

use super::{ends, list, out, square, wholes};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match family {
        "G1" | "G1b" | "G2" | "G2b" | "G4" | "G5" | "G6" => {
            let a = counts(&wholes(i, "obs1"), &wholes(i, "obs2")).unwrap();
            json!({
                "total_count": a.total_count,
                "mean_count_per_interval": a.mean_count_per_interval,
                "exact_count_per_interval": a.exact_count_per_interval,
                "interval_by_interval": a.interval_by_interval,
                "scored_interval": a.scored_interval, "unscored_interval": a.unscored_interval,
            })
        }
        "G3" => {
            // The table has the agreement of each occurrence; against 100 s it is a duration.
            let each = list(i, "per_occurrence").into_iter().map(|p| (p, 100.0));
            json!({"mean": mean_duration(&each.collect::<Vec<_>>()).unwrap()})
        }
        "G7" | "G7b" | "G9" | "G11" => {
            let table = square(&i["table"]);
            let k = kappa(&table, level).unwrap();
            json!({
                "kappa": k.kappa.point, "ci": ends(Ok(k.kappa)), "se": k.se, "se0": k.se_null,
                "po": k.observed, "pe": k.expected, "ac1": ac1(&table).unwrap(),
            })
        }
        "G8" | "G10" => {
            let each = i["tables"].as_array()?.iter();
            let points = each.map(|t| out(kappa(&square(t), level).map(|k| k.kappa.point)));
            json!({"kappa": points.collect::<Vec<_>>()})
        }
        _ => return None,
    })
}
