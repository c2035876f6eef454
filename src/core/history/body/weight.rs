//! Body weight: what it is measured against, and how far it has gone from there.

use jiff::civil::Date;

use super::{Alarm, Bounds, Fact, Found, Noted, Train, Warning, WeightTrend, reason, trend};
use crate::history::CUSTOM;
use crate::stats::energy::{Weight, reaches, weight_change};
use crate::stats::summary;

/// Loss in percent at which to see a veterinarian at once.
pub const ACT_AT: f64 = -10.0;
/// Loss in percent that, at three weighings running, asks for a veterinarian.
pub const ASK_AT: f64 = -5.0;
/// A step from one weighing to the next that is more likely a slip of unit or scale, in percent
/// (common practice, no source).
const JUMP: f64 = 30.0;
const BIRD_PAGES: &str = "bird care pages: 10 % or more, see an avian vet (BirdChannel); above 5 % at three \
    weighings running, ask one (Pikes Peak Parrot Rescue); no source for other animals";

/// How the weight stands.
pub(super) struct Weighed {
    pub(super) baseline_g: Found<f64>,
    pub(super) latest: Option<(Date, Weight)>,
    pub(super) change_pct: Option<f64>,
    pub(super) trend: Option<WeightTrend>,
}

/// Reads the weights of the log, and adds what needs attention.
pub(super) fn read(log: &[Noted], bounds: &Bounds, alarms: &mut Vec<Alarm>) -> Weighed {
    let weights = weights(log, alarms);
    let baseline = baseline(&weights);
    let latest = weights.last().copied();
    let change = |weight: Weight| baseline.known().map(|base| weight_change(*base, weight));
    if let (Some((_, weight)), Found::Known(base)) = (latest, &baseline) {
        let changes: Vec<f64> = weights.iter().filter_map(|(_, weight)| change(*weight)).collect();
        alarms.extend(loss(&changes, *base, weight));
    }
    // Somebody who says that it is well has looked at it, thin as it may have become.
    let since = log.iter().rev().find(|noted| noted.fact == Fact::Well).map(|noted| noted.day);
    let from = weights.partition_point(|(day, _)| since.is_some_and(|since| *day < since));
    let trend = trend::of(&weights[from..]);
    alarms.extend(trend.as_ref().and_then(|trend| trend::alarm(trend, bounds)));
    alarms.extend(latest.and_then(|(_, weight)| trend::outside(weight.as_grams(), bounds)));
    Weighed {
        trend,
        latest,
        change_pct: latest.and_then(|(_, weight)| change(weight)),
        baseline_g: match baseline {
            Found::Known(weight) => Found::Known(weight.as_grams()),
            Found::NotYet(why) => Found::NotYet(why),
        },
    }
}

/// Weights that can be. One far from its neighbours stays in the log but counts for nothing, and is reported.
fn weights(log: &[Noted], alarms: &mut Vec<Alarm>) -> Vec<(Date, Weight)> {
    let mut weights: Vec<(Date, Weight)> = Vec::new();
    let grams = log.iter().filter_map(|line| match line.fact {
        Fact::Weight(grams) => Some((line.day, grams)),
        _ => None,
    });
    let all: Vec<f64> = grams.clone().map(|(_, grams)| grams).collect();
    // The middle of all is the surest that one slip leaves standing.
    let usual = summary::median(&all).unwrap_or(0.0);
    let last = all.len().saturating_sub(1);
    for (index, (day, grams)) in grams.enumerate() {
        let Ok(weight) = Weight::grams(grams) else {
            alarms.push(slip(day, grams, usual));
            continue;
        };
        let before = weights.last().map_or(usual, |(_, weight)| weight.as_grams());
        let jump = 100.0 * (grams - before).abs() / before;
        if all.len() >= 3 && jump > JUMP && 100.0 * (grams - usual).abs() / usual > JUMP {
            if index == last {
                alarms.push(slip(day, grams, before));
            }
            continue;
        }
        weights.push((day, weight));
    }
    weights
}

fn slip(day: Date, grams: f64, usual: f64) -> Alarm {
    const UNITS: [(f64, &str); 4] = [
        (1000.0, "kilograms_for_grams"),
        (28.35, "ounces_for_grams"),
        (453.6, "pounds_for_grams"),
        (2.2046, "pounds_for_kilograms"),
    ];
    let ratio = if grams > 0.0 { (usual / grams).max(grams / usual) } else { 0.0 };
    let guess = UNITS.iter().find(|(factor, _)| (ratio / factor - 1.0).abs() < 0.1);
    let warning = Warning::WeightSlip { day, grams, units: guess.map(|(_, units)| *units) };
    let inputs = [("weight", grams, "g"), ("usual", usual, "g")];
    let method = "step between weighings";
    let reason = reason("weight_slip", ("weight_slip", &[]), &inputs, method, CUSTOM);
    Alarm { warning, train: Train::Less, reason }
}

/// The median of up to five weighings, the earliest of the latest year but for the newest four weeks, so that
/// a slow loss does not pull it along.
fn baseline(weights: &[(Date, Weight)]) -> Found<Weight> {
    const LEAST: usize = 3;
    let Some((last, _)) = weights.last() else { return Found::needs(LEAST, 0, "weighings") };
    let days_ago = |day: Date| last.since(day).map_or(0, |span| span.get_days());
    let older: Vec<f64> = weights
        .iter()
        .filter(|(day, _)| (28..=365).contains(&days_ago(*day)))
        .map(|(_, weight)| weight.as_grams())
        .collect();
    let all: Vec<f64> = weights.iter().map(|(_, weight)| weight.as_grams()).collect();
    let from = if older.len() >= LEAST { &older } else { &all };
    if from.len() < LEAST {
        return Found::needs(LEAST, from.len(), "weighings");
    }
    let first = &from[..from.len().min(5)];
    summary::median(first).and_then(Weight::grams).into()
}

fn loss(changes: &[f64], base: Weight, now: Weight) -> Option<Alarm> {
    let change = *changes.last()?;
    let tail = &changes[changes.len().saturating_sub(3)..];
    let running = tail.len() == 3 && tail.iter().all(|change| reaches(*change, ASK_AT));
    let percent = change.abs();
    let (warning, train) = if reaches(change, ACT_AT) {
        (Warning::WeightFarDown { percent }, Train::NotAtAll)
    } else if running {
        (Warning::WeightStaysDown { percent }, Train::Less)
    } else if reaches(change, ASK_AT) {
        (Warning::WeightDown { percent }, Train::Less)
    } else if reaches(change, -ACT_AT) {
        (Warning::WeightUp { percent }, Train::AsPlanned)
    } else {
        return None;
    };
    let inputs = [
        ("baseline", base.as_grams(), "g"),
        ("now", now.as_grams(), "g"),
        ("change", change, "%"),
        ("weighings", changes.len() as f64, ""),
    ];
    let method = "change against the median of the earliest five weighings of the year before the newest four weeks";
    Some(Alarm {
        warning,
        train,
        reason: reason("weight", ("weight", &[]), &inputs, method, BIRD_PAGES),
    })
}

/// A weight as typed or said: "92 g", "1.4 kg", "3.5 oz", "2 lb", "2 lb 3 oz"; without a unit, grams. Gives
/// grams; `None` for what is not a weight that can be.
pub fn parse_weight(text: &str) -> Option<f64> {
    let text = text.trim().to_lowercase().replace(',', ".");
    let mut grams = 0.0;
    let mut rest = text.as_str();
    let mut parts = 0;
    while !rest.trim().is_empty() {
        rest = rest.trim_start();
        let end = rest.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(rest.len());
        let number: f64 = rest[..end].parse().ok()?;
        rest = rest[end..].trim_start();
        let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let weight = match &rest[..end] {
            "" | "g" | "gram" | "grams" => Weight::grams(number),
            "kg" | "kilo" | "kilos" | "kilogram" | "kilograms" => Weight::kilograms(number),
            "oz" | "ounce" | "ounces" => Weight::ounces(number),
            "lb" | "lbs" | "pound" | "pounds" => Weight::pounds(number),
            _ => return None,
        };
        grams += weight.ok()?.as_grams();
        rest = &rest[end..];
        parts += 1;
    }
    (parts > 0).then_some(grams)
}
