//! Charts of many sessions.

use minijinja::context;
use minijinja::value::{Serde, Value};

use super::{Canvas, Piece, Shape, Width, ribbon, ticks};
use crate::history::length::Tiring;
use crate::stats::Estimate;
use crate::wording::{filled, text};

/// Rewarded tries so far against minutes of practice so far, from the minutes and rewarded tries of each
/// session; the steps are pieces in minutes of practice.
pub fn cumulative(sessions: &[(f64, u32)], steps: &[Piece], width: Width) -> String {
    let minutes: f64 = sessions.iter().map(|s| s.0).sum();
    let all: u32 = sessions.iter().map(|s| s.1).sum();
    let (minutes, most) = (minutes.max(1.0), 1.08 * f64::from(all.max(1)));
    let mut canvas = Canvas::new(width, 290.0, (0.0, minutes), (0.0, most));
    canvas.bottom = 210.0;
    let mut at = (0.0, 0.0);
    let mut run = vec![at];
    for (length, count) in sessions {
        at = (at.0 + length, at.1 + f64::from(*count));
        run.push(at);
    }
    let ground: Vec<(f64, f64)> = run.iter().map(|point| (point.0, 0.0)).collect();
    let so_far = text("page.chart_so_far");
    canvas.area("around", &run, &ground, &so_far);
    canvas.axes(
        (&text("page.chart_minutes"), &ticks(0.0, minutes, width.ticks(8.0))),
        (&so_far, &ticks(0.0, most, 5.0)),
    );
    canvas.path("curve", &run);
    ribbon::draw(&mut canvas, 234.0, steps);
    let values = context! { all, minutes, sessions => sessions.len() };
    canvas.finish(&filled("page.chart_so_far_in_words", values))
}

/// The share of sessions that stay good for longer than this many minutes, with its 95 % band; a stroke is a session that
/// was stopped while the animal was still good, as far as can be told by looking back.
pub fn tiring(tiring: &Tiring, width: Width) -> String {
    let minutes = |seconds: f64| seconds / 60.0;
    let longest = tiring.curve.last().map_or(0.1, |(at, _)| minutes(*at)).max(0.1);
    let mut canvas = Canvas::new(width, 280.0, (0.0, longest), (0.0, 100.0));
    canvas.axes(
        (&text("page.chart_into_session"), &ticks(0.0, longest, width.ticks(8.0))),
        (&text("page.chart_still_good"), &ticks(0.0, 100.0, 5.0)),
    );
    let path = |of: fn(&Estimate) -> f64| -> Vec<(f64, f64)> {
        tiring.curve.iter().map(|(at, share)| (minutes(*at), 100.0 * of(share))).collect()
    };
    let line = path(|share| share.point);
    let interval = text("page.chart_interval");
    canvas.area("around", &path(|share| share.high), &path(|share| share.low), &interval);
    canvas.path("curve", &line);
    let good = tiring.sessions.iter().filter(|(_, declined)| *declined < 0.5);
    for (ended_s, _) in good.clone() {
        let at = minutes(*ended_s);
        let share = line.iter().take_while(|(x, _)| *x <= at).last().map_or(100.0, |(_, y)| *y);
        let words = filled("page.chart_stopped", context! { at });
        canvas.mark(Shape::Tick, "end", (canvas.px(at), canvas.py(share)), 5.0, &words);
    }
    let values = context! { sessions => tiring.sessions.len(), good => good.count() };
    canvas.finish(&filled("page.chart_tiring_in_words", values))
}

/// Left minus right share that met the criterion, in percentage points, with its interval, a row a period.
pub fn sides(rows: &[(String, Estimate)], width: Width) -> String {
    let n = rows.len().max(1) as f64;
    let mut canvas = Canvas::new(width, 80.0 + 30.0 * n, (-100.0, 100.0), (0.0, n));
    canvas.left = 140.0;
    canvas.axes((&text("page.chart_sides"), &ticks(-100.0, 100.0, width.ticks(8.0))), ("", &[]));
    let (zero, top, bottom) = (canvas.px(0.0), canvas.top, canvas.bottom);
    canvas.line("axis", (zero, top), (zero, bottom));
    for (number, (name, difference)) in rows.iter().enumerate() {
        let y = canvas.py(n - number as f64 - 0.5);
        let (low, high) = (canvas.px(100.0 * difference.low), canvas.px(100.0 * difference.high));
        canvas.line("interval", (low, y), (high, y));
        let of = Value::from(Serde(difference));
        let words = filled("page.chart_side", context! { name, of });
        let at = (canvas.px(100.0 * difference.point), y);
        canvas.mark(Shape::Dot, "high", at, 5.0, &words);
        canvas.text("tick", (canvas.left - 8.0, y + 4.0), "end", name);
    }
    canvas.finish(&text("page.chart_sides_in_words"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_session_stopped_while_good_is_a_stroke_and_one_that_had_declined_is_not() {
        let share = |point: f64| Estimate { point, low: point / 2.0, high: 1.0, n: 3 };
        let curve = vec![(0.0, share(1.0)), (60.0, share(0.8)), (120.0, share(0.3))];
        let sessions = vec![(60.0, 0.1), (110.0, 0.9), (120.0, 0.2)];
        let svg = tiring(&Tiring { curve, sessions }, Width::Wide);
        assert_eq!(svg.matches("stopped while good at").count(), 2);
        assert!(svg.contains("of 3 sessions 2 were stopped"), "{svg}");
        let nothing = tiring(&Tiring { curve: Vec::new(), sessions: Vec::new() }, Width::Wide);
        assert!(!nothing.contains("NaN"));
    }

    #[test]
    fn nothing_to_draw_is_not_a_fault() {
        for svg in [cumulative(&[], &[], Width::Wide), sides(&[], Width::Narrow)] {
            assert!(svg.starts_with("<svg") && !svg.contains("NaN"));
        }
    }
}
