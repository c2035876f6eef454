//! Chapter F: how long before performance falls.

use hushtally::stats::Level;
use hushtally::stats::rates::rate_below;
use hushtally::stats::survival::{Band, Curve, Watched, log_rank};
use serde_json::{Value, json};

use super::{ends, list, out};

pub(super) fn answer(family: &str, i: &Value) -> Option<Value> {
    let level = Level::NINETY_FIVE;
    Some(match family {
        "F4" | "F6" => {
            let test = log_rank(&sessions(&i["group1"]), &sessions(&i["group2"])).unwrap();
            json!({"chi2": test.chi_squared, "p": test.p})
        }
        "F8" => {
            let times = list(i, "time");
            let curve = Curve::fit(&sessions(i)).unwrap();
            let at = |t: &f64| curve.at(*t, Band::default(), level).point;
            let rate = curve.constant_hazard(level).unwrap();
            json!({
                "S": times.iter().map(at).collect::<Vec<_>>(),
                "median": median(&curve, level), "rate": rate.point,
                "rate_upper_two_sided": rate.high,
                "rate_upper_one_sided_95": rate_below(0, curve.total_time(), level).unwrap(),
            })
        }
        "F1" | "F2" | "F2b" | "F3" | "F3b" | "F5" | "F5b" | "F7a" | "F7b" | "F7c" | "F9"
        | "F10" | "F11" | "F12" => curve(i, level),
        _ => return None,
    })
}

pub(super) fn sessions(i: &Value) -> Vec<Watched> {
    let flags = list(i, "event");
    list(i, "time")
        .into_iter()
        .zip(flags)
        .map(|(time, flag)| Watched { time, declined: flag > 0.5 })
        .collect()
}

/// The median as the table writes it: "inf" for not reached.
fn median(curve: &Curve, level: Level) -> Value {
    curve.time_by(0.5, level).unwrap().point.map_or(json!("inf"), |t| json!(t))
}

fn curve(i: &Value, level: Level) -> Value {
    let curve = Curve::fit(&sessions(i)).unwrap();
    let drops = curve.drops();
    let at = |t: f64| curve.at(t, Band::default(), level).point;
    let by = |declined| curve.time_by(declined, level).unwrap().point;
    let bounds = |band, high: bool| -> Vec<Option<f64>> {
        let each = curve.intervals(band, level).into_iter();
        each.map(|ends| ends.map(|e| if high { e.1 } else { e.0 })).collect()
    };
    let survival: Vec<f64> = drops.iter().map(|d| d.survival).collect();
    let se: Vec<Option<f64>> = drops.iter().map(|d| d.se).collect();
    let first = |n: usize| n.min(drops.len());
    let hazard = curve.constant_hazard(level);
    json!({
        "time": drops.iter().map(|d| d.time).collect::<Vec<_>>(),
        "n_risk": drops.iter().map(|d| d.at_risk).collect::<Vec<_>>(),
        "S_first": survival[..first(3)], "se_first": se[..first(3)], "se_at_4": se.first(),
        "H": drops.iter().map(|d| d.hazard).collect::<Vec<_>>(),
        "S": survival, "se": se,
        "loglog_low": bounds(Band::LogLog, false), "loglog_high": bounds(Band::LogLog, true),
        "low": bounds(Band::Log, false), "high": bounds(Band::Log, true),
        "median": median(&curve, level),
        "S_at_4": at(4.0), "S_at_5": at(5.0), "S_at_6": at(6.0), "S_at_8": at(8.0),
        "S_at_9": at(9.0), "S_at_10": at(10.0), "S_at_12": at(12.0),
        "first_time_S_le_080": by(0.20), "first_time_S_le_075": by(0.25),
        "rmst_20": out(curve.restricted_mean(20.0, level).map(|e| e.point)),
        "events": curve.events(), "total_time": curve.total_time(),
        "rate": out(hazard.clone().map(|e| e.point)), "ci": ends(hazard),
    })
}
