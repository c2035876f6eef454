//! Charts of many sessions.

use super::{Canvas, Shape, ticks};
use crate::stats::Estimate;
use crate::stats::Level;
use crate::stats::survival::{Band, Curve, Watched};

/// One day of practice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayPoint {
    /// Days since the first day shown.
    pub day: i32,
    /// Rewarded reps per minute.
    pub rewarded: f64,
    /// Misses per minute.
    pub missed: f64,
    /// Minutes observed.
    pub minutes: f64,
    /// Number of the phase it belongs to.
    pub phase: usize,
}

/// A stretch of days under one condition.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// First day, since the first day shown.
    pub from: i32,
    /// What held.
    pub name: String,
}

/// Phase lines nearer than this have no room for a whole label between them.
const NEAR_PX: f64 = 60.0;

/// A ratio chart: counts per minute on a logarithmic axis against calendar days. Dots are rewarded reps,
/// crosses misses, short lines the record floor (one in the time observed). Points are only joined
/// within a phase and over days that follow each other.
pub fn ratio(days: &[DayPoint], phases: &[Phase], dates: &dyn Fn(i32) -> String) -> String {
    let last = days.last().map_or(1, |day| day.day).max(1);
    let floor = |day: &DayPoint| 1.0 / day.minutes.max(0.01);
    let lowest = days.iter().map(floor).fold(1.0, f64::min);
    let most = days.iter().map(|d| d.rewarded.max(d.missed)).fold(10.0, f64::max);
    let (low, high) = (10_f64.powf(lowest.log10().floor()), 10_f64.powf(most.log10().ceil()));
    let mut canvas =
        Canvas::new(320.0, (-0.5, f64::from(last) + 0.5), (low * 0.8, high)).ratio_scale();
    let mut y = Vec::new();
    let mut power = low;
    while power <= high * 1.001 {
        y.push((power, format!("{power}")));
        y.push((power * 5.0, format!("{}", power * 5.0)));
        power *= 10.0;
    }
    y.retain(|tick| tick.0 <= high * 1.001);
    let every = (last / 8).max(1);
    let x: Vec<_> = (0..=last)
        .step_by(usize::try_from(every).unwrap_or(1))
        .map(|day| (f64::from(day), dates(day)))
        .collect();
    canvas.axes(("day", &x), ("count per minute (ratio scale)", &y));
    for (number, phase) in phases.iter().enumerate() {
        let (x, top, bottom) = (canvas.px(f64::from(phase.from) - 0.5), canvas.top, canvas.bottom);
        if number > 0 {
            canvas.line("phase", (x, top), (x, bottom));
        }
        // Labels in two rows, so that neighbours stay apart; where lines are near, only what tells them apart.
        let row = top + 10.0 + 14.0 * (number % 2) as f64;
        let next = phases.get(number + 1).map(|next| canvas.px(f64::from(next.from) - 0.5));
        let near = next.is_some_and(|next| next - x < NEAR_PX);
        let label = match phase.name.rsplit(' ').next() {
            Some(last) if near => last,
            _ => &phase.name,
        };
        // Near the right edge the label goes to the left of its line.
        if x > canvas.right - 90.0 {
            canvas.text("note", (x - 4.0, row), "end", label);
        } else {
            canvas.text("note", (x + 4.0, row), "start", label);
        }
    }
    for run in days.chunk_by(|a, b| a.phase == b.phase && b.day - a.day == 1) {
        let rewarded: Vec<_> = run.iter().filter(|d| d.rewarded > 0.0).copied().collect();
        canvas.path(
            "curve",
            &rewarded.iter().map(|d| (f64::from(d.day), d.rewarded)).collect::<Vec<_>>(),
        );
        let missed: Vec<_> = run.iter().filter(|d| d.missed > 0.0).copied().collect();
        canvas.path(
            "curve dashed",
            &missed.iter().map(|d| (f64::from(d.day), d.missed)).collect::<Vec<_>>(),
        );
    }
    for day in days {
        let x = canvas.px(f64::from(day.day));
        let line = canvas.py(floor(day));
        canvas.line("record", (x - 4.0, line), (x + 4.0, line));
        // None at all: just below the record floor, as the convention has it.
        let place = |rate: f64| if rate > 0.0 { canvas.py(rate) } else { line + 7.0 };
        let (good, bad) = ((x, place(day.rewarded)), (x, place(day.missed)));
        let words =
            |what: &str, rate: f64| format!("{}: {rate:.2} {what} per minute", dates(day.day));
        canvas.mark(Shape::Cross, "miss", bad, 3.5, &words("misses", day.missed));
        canvas.mark(Shape::Dot, "high", good, 4.0, &words("rewarded reps", day.rewarded));
    }
    canvas.finish(&format!(
        "Ratio chart of {} days in {} phases: rewarded reps and misses per minute; the table has the same",
        days.len(),
        phases.len()
    ))
}

/// A cumulative record: rewarded reps so far against minutes of practice so far; a steeper line is a
/// higher rate. Ends of sessions are small strokes, phases are lines.
pub fn cumulative(sessions: &[(f64, u32)], phase_starts: &[usize]) -> String {
    let minutes: f64 = sessions.iter().map(|s| s.0).sum();
    let reps: f64 = sessions.iter().map(|s| f64::from(s.1)).sum();
    let (minutes, reps) = (minutes.max(1.0), reps.max(1.0));
    let mut canvas = Canvas::new(280.0, (0.0, minutes), (0.0, reps * 1.08));
    canvas.axes(
        ("minutes of practice", &ticks(0.0, minutes, 8.0)),
        ("rewarded reps so far", &ticks(0.0, reps * 1.08, 5.0)),
    );
    let mut at = (0.0, 0.0);
    let mut run = vec![at];
    for (number, (length, count)) in sessions.iter().enumerate() {
        if number > 0 && phase_starts.contains(&number) {
            canvas.path("curve", &run);
            run = vec![at];
            let (x, top, bottom) = (canvas.px(at.0), canvas.top, canvas.bottom);
            canvas.line("phase", (x, top), (x, bottom));
        }
        at = (at.0 + length, at.1 + f64::from(*count));
        run.push(at);
        if sessions.len() <= 120 {
            let place = (canvas.px(at.0), canvas.py(at.1));
            let words = format!("session {}: {count} in {length:.1} minutes", number + 1);
            canvas.mark(Shape::Tick, "end", place, 4.0, &words);
        }
    }
    canvas.path("curve", &run);
    canvas.finish(&format!(
        "Cumulative record: {} rewarded reps in {minutes:.0} minutes over {} sessions",
        at.1,
        sessions.len()
    ))
}

/// A survival curve (Kaplan & Meier) of minutes until the first sign of tiring, with its 95 % band; a
/// stroke is a session that stopped while the animal was still good.
pub fn survival(sessions: &[Watched]) -> Option<String> {
    let curve = Curve::fit(sessions).ok()?;
    let longest = curve.longest().max(0.1);
    let mut canvas = Canvas::new(280.0, (0.0, longest), (0.0, 100.0));
    canvas.axes(
        ("minutes into the session", &ticks(0.0, longest, 8.0)),
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
    canvas.path("band", &low);
    canvas.path("band", &high);
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
pub fn sides(rows: &[(String, Estimate)]) -> String {
    let n = rows.len().max(1) as f64;
    let mut canvas = Canvas::new(80.0 + 30.0 * n, (-100.0, 100.0), (0.0, n));
    canvas.left = 150.0;
    canvas.axes(
        ("left minus right, % of reps that met the criterion", &ticks(-100.0, 100.0, 8.0)),
        ("", &[]),
    );
    let (zero, top, bottom) = (canvas.px(0.0), canvas.top, canvas.bottom);
    canvas.line("phase", (zero, top), (zero, bottom));
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

    fn day(day: i32, phase: usize) -> DayPoint {
        DayPoint { day, rewarded: 6.0, missed: 0.0, minutes: 5.0, phase }
    }

    #[test]
    fn no_line_crosses_a_phase_or_a_missing_day() {
        let days = [day(0, 0), day(1, 0), day(3, 0), day(4, 1), day(5, 1)];
        let phases =
            [Phase { from: 0, name: "step 1".into() }, Phase { from: 4, name: "<step 2>".into() }];
        let svg = ratio(&days, &phases, &|day| format!("day {day}"));
        let lines: Vec<usize> = svg
            .split(r#"<polyline class="curve" points=""#)
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap().split_whitespace().count())
            .collect();
        assert_eq!(lines, [2, 1, 2], "days 0-1, 3, 4-5");
        assert_eq!(svg.matches(r#"class="phase""#).count(), 1);
        assert_eq!(svg.matches(r#"class="record""#).count(), 5);
        assert!(svg.contains("&lt;step 2&gt;"));
    }

    #[test]
    fn a_session_stopped_while_good_is_a_censor_mark() {
        let watched = |time, declined| Watched { time, declined };
        let svg = survival(&[watched(2.0, true), watched(3.0, false), watched(4.0, true)]).unwrap();
        assert_eq!(svg.matches(r#"class="end open""#).count(), 1);
        assert!(survival(&[]).is_none());
    }

    #[test]
    fn nothing_to_draw_is_no_fault() {
        for svg in [ratio(&[], &[], &|_| String::new()), cumulative(&[], &[]), sides(&[])] {
            assert!(svg.starts_with("<svg") && !svg.contains("NaN"));
        }
    }
}
