//! Charts of many sessions.

use super::{Canvas, Piece, Shape, Width, ribbon, ticks};
use crate::stats::Estimate;
use crate::stats::Level;
use crate::stats::survival::{Band, Curve, Watched};

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
    canvas.area("around", &run, &ground, "rewarded tries so far");
    canvas.axes(
        ("minutes of practice", &ticks(0.0, minutes, width.ticks(8.0))),
        ("rewarded tries so far", &ticks(0.0, most, 5.0)),
    );
    canvas.path("curve", &run);
    ribbon::draw(&mut canvas, 234.0, steps);
    canvas.finish(&format!(
        "Rewarded tries so far: {all} in {minutes:.0} minutes over {} sessions",
        sessions.len()
    ))
}

/// A survival curve (Kaplan & Meier) of minutes until the first sign of tiring, with its 95 % band; a
/// stroke is a session that stopped while the animal was still good.
pub fn survival(sessions: &[Watched], width: Width) -> Option<String> {
    let curve = Curve::fit(sessions).ok()?;
    let longest = curve.longest().max(0.1);
    let mut canvas = Canvas::new(width, 280.0, (0.0, longest), (0.0, 100.0));
    canvas.axes(
        ("minutes into the session", &ticks(0.0, longest, width.ticks(8.0))),
        ("% of sessions without a sign of tiring", &ticks(0.0, 100.0, 5.0)),
    );
    let level = Level::NINETY_FIVE;
    let (mut line, mut low, mut high) =
        (vec![(0.0, 100.0)], vec![(0.0, 100.0)], vec![(0.0, 100.0)]);
    for drop in curve.drops() {
        let now = curve.at(drop.time, Band::LogLog, level);
        for (path, share) in [(&mut line, now.point), (&mut low, now.low), (&mut high, now.high)] {
            let before = path.last().map_or(100.0, |p| p.1);
            path.push((drop.time, before));
            path.push((drop.time, 100.0 * share));
        }
    }
    for path in [&mut line, &mut low, &mut high] {
        let before = path.last().map_or(100.0, |p| p.1);
        path.push((longest, before));
    }
    canvas.area("around", &high, &low, "95 % interval");
    canvas.path("curve", &line);
    for stopped in sessions.iter().filter(|s| !s.declined) {
        let share = 100.0 * curve.at(stopped.time, Band::LogLog, level).point;
        let at = (canvas.px(stopped.time), canvas.py(share));
        canvas.mark(
            Shape::Tick,
            "end",
            at,
            5.0,
            &format!("stopped while good at {:.1} min", stopped.time),
        );
    }
    Some(canvas.finish(&format!(
        "Survival curve: {} of {} sessions showed a sign of tiring; the others were stopped before",
        curve.events(),
        curve.sessions()
    )))
}

/// Left minus right share that met the criterion, in percentage points, with its interval, a row a period.
pub fn sides(rows: &[(String, Estimate)], width: Width) -> String {
    let n = rows.len().max(1) as f64;
    let mut canvas = Canvas::new(width, 80.0 + 30.0 * n, (-100.0, 100.0), (0.0, n));
    canvas.left = 140.0;
    canvas.axes(
        (
            "left minus right, % of tries that met the criterion",
            &ticks(-100.0, 100.0, width.ticks(8.0)),
        ),
        ("", &[]),
    );
    let (zero, top, bottom) = (canvas.px(0.0), canvas.top, canvas.bottom);
    canvas.line("axis", (zero, top), (zero, bottom));
    for (number, (name, difference)) in rows.iter().enumerate() {
        let y = canvas.py(n - number as f64 - 0.5);
        let (low, high) = (canvas.px(100.0 * difference.low), canvas.px(100.0 * difference.high));
        canvas.line("interval", (low, y), (high, y));
        let words = format!(
            "{name}: {:.0} (95 % interval {:.0} to {:.0})",
            100.0 * difference.point,
            100.0 * difference.low,
            100.0 * difference.high
        );
        let at = (canvas.px(100.0 * difference.point), y);
        canvas.mark(Shape::Dot, "high", at, 5.0, &words);
        canvas.text("tick", (canvas.left - 8.0, y + 4.0), "end", name);
    }
    canvas.finish("Difference between the sides with its 95 % interval; the table has the same")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_session_stopped_while_good_is_a_censor_mark() {
        let watched = |time, declined| Watched { time, declined };
        let svg =
            survival(&[watched(2.0, true), watched(3.0, false), watched(4.0, true)], Width::Wide)
                .unwrap();
        assert_eq!(svg.matches(r#"class="end open""#).count(), 1);
        assert!(survival(&[], Width::Wide).is_none());
    }

    #[test]
    fn nothing_to_draw_is_no_fault() {
        for svg in [cumulative(&[], &[], Width::Wide), sides(&[], Width::Narrow)] {
            assert!(svg.starts_with("<svg") && !svg.contains("NaN"));
        }
    }
}
