//! Day by day: rewarded tries a minute as circles with their intervals over a smooth of the counts, missed
//! tries as columns that hang from a line below, and the steps worked on as a ribbon under both.

use minijinja::context;

use super::{Canvas, Piece, Shape, Width, ribbon, round_steps, ticks};
use crate::stats::{Estimate, Level, rates, smooth};
use crate::wording::{filled, text};

/// One day of practice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// Days since the first day shown.
    pub day: i32,
    /// Rewarded tries.
    pub rewarded: u32,
    /// Missed tries.
    pub missed: u32,
    /// Minutes of practice; a day without any has no rate and is not drawn.
    pub minutes: f64,
}

/// The scale of the rewarded tries a minute.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Scale {
    /// Equal heights are equal amounts.
    #[default]
    Linear,
    /// Equal heights are equal factors.
    Ratio,
}

/// What the chart is made of.
pub struct DayByDay<'a> {
    /// Days in order.
    pub days: &'a [Day],
    /// Steps worked on, from and to in days.
    pub steps: &'a [Piece],
    /// The scale.
    pub scale: Scale,
    /// A day's date in words.
    pub date: &'a dyn Fn(i32) -> String,
}

/// Height of the missed tries' part.
const HANGING: f64 = 56.0;
/// Whiskers may take the scale up to this many times the highest rate; beyond they are cut by the frame.
const MOST_WHISKER: f64 = 2.0;

/// A day with its numbers.
struct Shown {
    day: Day,
    rewarded: Estimate,
    missed: f64,
    least: f64,
}

/// Draws it.
pub fn day_by_day(chart: &DayByDay, width: Width) -> String {
    let days: Vec<Shown> = chart.days.iter().filter_map(shown).collect();
    let last = days.last().map_or(1, |one| one.day.day).max(1);
    let plot = if width == Width::Wide { 220.0 } else { 180.0 };
    let ratio = chart.scale == Scale::Ratio;
    let top = if ratio { 44.0 } else { 28.0 };
    let line = top + plot + 34.0;
    let dates = line + HANGING + 18.0;
    let height = dates + 50.0;
    let (low, high) = range(&days, chart.scale);
    let mut canvas = Canvas::new(width, height, (-0.5, f64::from(last) + 0.5), (low, high));
    (canvas.top, canvas.bottom) = (top, top + plot);
    if ratio {
        canvas = canvas.ratio_scale();
        canvas.text("note", (4.0, 31.0), "start", &text("page.chart_ratio"));
    }
    canvas.text("name", (4.0, 14.0), "start", &text("page.chart_rewarded_a_minute"));
    let levels = if ratio { ratio_ticks(low, high) } else { ticks(low, high, 5.0) };
    canvas.levels(&levels);
    band(&mut canvas, &days);
    let a_day = canvas.px(1.0) - canvas.px(0.0);
    curve(&mut canvas, &days);
    let (left, right, bottom) = (canvas.left, canvas.right, canvas.bottom);
    canvas.line("axis", (left, bottom), (right, bottom));
    circles(&mut canvas, &days, (0.45 * a_day).clamp(2.2, 4.5), chart);
    hanging(&mut canvas, &days, line, (0.7 * a_day).clamp(1.5, 12.0), chart);
    for day in date_ticks(last, width) {
        let x = canvas.px(f64::from(day));
        canvas.line("axis", (x, line + HANGING + 2.0), (x, line + HANGING + 6.0));
        let label = (chart.date)(day);
        let half = super::room(&label) / 2.0;
        let x = x.min(width.px() - 2.0 - half);
        canvas.text("tick", (x, dates), "middle", &label);
    }
    ribbon::draw(&mut canvas, dates + 14.0, chart.steps);
    let values = context! { days => days.len(), pieces => chart.steps.len() };
    canvas.finish(&filled("page.chart_days_in_words", values))
}

fn shown(day: &Day) -> Option<Shown> {
    Some(Shown {
        day: *day,
        rewarded: rates::garwood(day.rewarded, day.minutes, Level::NINETY_FIVE).ok()?,
        missed: f64::from(day.missed) / day.minutes,
        least: rates::least_shown(day.minutes).ok()?,
    })
}

/// Ends of the scale.
fn range(days: &[Shown], scale: Scale) -> (f64, f64) {
    let highest = days.iter().map(|one| one.rewarded.point).fold(0.0, f64::max);
    let whisker = days.iter().map(|one| one.rewarded.high).fold(0.0, f64::max);
    let high = whisker.min(MOST_WHISKER * highest).max(1.0);
    match scale {
        Scale::Linear => (0.0, high * 1.02),
        Scale::Ratio => {
            let rates = days.iter().map(|one| one.rewarded.point).filter(|rate| *rate > 0.0);
            let lowest = days.iter().map(|one| one.least).chain(rates).fold(1.0, f64::min);
            (0.7 * lowest, high * 1.02)
        }
    }
}

/// 1, 2 and 5 of every power of ten, and enough of them.
fn ratio_ticks(low: f64, high: f64) -> Vec<(f64, String)> {
    let powers = low.log10().floor() as i32..=high.log10().ceil() as i32;
    let steps = powers.flat_map(|power| [1.0, 2.0, 5.0].map(|m| m * 10_f64.powi(power)));
    steps
        .filter(|at| (low..=high).contains(at))
        .map(|at| (at, format!("{}", (at * 1e4).round() / 1e4)))
        .collect()
}

/// Days that get a date: whole weeks apart, or days where they are few.
fn date_ticks(last: i32, width: Width) -> impl Iterator<Item = i32> {
    let most = width.ticks(9.0) as i32;
    let steps = [1, 2, 7, 14, 28, 56, 91, 182];
    let every = steps.into_iter().find(|every| last / every < most).unwrap_or(364);
    (0..=last).step_by(every.unsigned_abs() as usize)
}

/// What a day's practice can show at least: the rate of a single try in it.
fn band(canvas: &mut Canvas, days: &[Shown]) {
    for run in days.chunk_by(|a, b| b.day.day - a.day.day == 1) {
        let edges = |one: &Shown| [-0.5, 0.5].map(|half| f64::from(one.day.day) + half);
        let at = |height: fn(&Shown) -> f64| -> Vec<(f64, f64)> {
            run.iter().flat_map(|one| edges(one).map(|x| (x, height(one)))).collect()
        };
        let (low, high) = canvas.y;
        let least = at(|one| one.least).into_iter().map(|(x, y)| (x, y.clamp(low, high)));
        let floor = at(|_| 0.0).into_iter().map(|(x, _)| (x, low));
        let (least, floor): (Vec<_>, Vec<_>) = (least.collect(), floor.collect());
        canvas.area("least", &least, &floor, &text("page.chart_least"));
    }
}

/// The smooth of the counts with its interval; nothing where there is none.
fn curve(canvas: &mut Canvas, days: &[Shown]) {
    let counted: Vec<smooth::Counted> = days
        .iter()
        .map(|one| smooth::Counted {
            day: f64::from(one.day.day),
            count: one.day.rewarded,
            exposure: one.day.minutes,
        })
        .collect();
    let (low, high) = canvas.y;
    for run in smooth::stretches(&counted, Level::NINETY_FIVE).unwrap_or_default() {
        let edge = |of: fn(&Estimate) -> f64| -> Vec<(f64, f64)> {
            run.iter().map(|one| (one.day, of(&one.rate).clamp(low, high))).collect()
        };
        let words = text("page.chart_smooth");
        canvas.area("around", &edge(|rate| rate.high), &edge(|rate| rate.low), &words);
        canvas.path("smooth", &edge(|rate| rate.point));
    }
}

fn circles(canvas: &mut Canvas, days: &[Shown], size: f64, chart: &DayByDay) {
    let (low, high) = canvas.y;
    for one in days {
        let Estimate { point, low: least, high: most, .. } = one.rewarded;
        let x = canvas.px(f64::from(one.day.day));
        let [from, to] = [least, most].map(|end| canvas.py(end.clamp(low, high)));
        canvas.line("whisker", (x, from), (x, to));
        let day = (chart.date)(one.day.day);
        let words = filled("page.chart_day", context! { day, point, least, most });
        // None has no place on a ratio scale: it stands, open, on the lowest line, and here too.
        let class = if one.day.rewarded == 0 { "none" } else { "high" };
        let y = canvas.py(point.clamp(low, high));
        canvas.mark(Shape::Dot, class, (x, y), size, &words);
    }
}

/// Missed tries a minute as columns that hang from a line, on a scale of their own.
fn hanging(canvas: &mut Canvas, days: &[Shown], line: f64, width: f64, chart: &DayByDay) {
    let most = days.iter().map(|one| one.missed).fold(1.0, f64::max);
    let (left, right) = (canvas.left, canvas.right);
    canvas.text("name", (4.0, line - 10.0), "start", &text("page.chart_missed_a_minute"));
    for at in round_steps(0.0, most, 2.0) {
        let y = line + at / most * HANGING;
        canvas.line("grid", (left, y), (right, y));
        canvas.text("tick", (left - 7.0, y + 4.0), "end", &format!("{at}"));
    }
    for one in days.iter().filter(|one| one.day.missed > 0) {
        let x = canvas.px(f64::from(one.day.day)) - width / 2.0;
        let day = (chart.date)(one.day.day);
        let words = filled("page.chart_day_missed", context! { day, missed => one.missed });
        canvas.block("missed", (x, line), (width, one.missed / most * HANGING), &words);
    }
    canvas.line("axis", (left, line), (right, line));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(day: i32) -> Day {
        Day { day, rewarded: 30, missed: 5, minutes: 5.0 }
    }

    fn drawn(days: &[Day], scale: Scale) -> String {
        let piece =
            |from: f64, to: f64, number, name: &str| Piece { from, to, number, name: name.into() };
        let steps = [piece(-0.5, 4.5, 1, "<looks>"), piece(4.5, 9.5, 2, "touches")];
        let date = |day: i32| format!("day {day}");
        day_by_day(&DayByDay { days, steps: &steps, scale, date: &date }, Width::Wide)
    }

    #[test]
    fn every_day_has_a_circle_with_a_whisker_and_a_hanging_column() {
        let mut days: Vec<Day> = (0..10).map(day).collect();
        days[9].missed = 0;
        let svg = drawn(&days, Scale::Linear);
        for (shape, times) in [
            (r#"<circle class="high""#, 10),
            (r#"<line class="whisker""#, 10),
            (r#"<rect class="missed""#, 9),
            (r#"<polyline class="smooth""#, 1),
            (r#"<polygon class="around""#, 1),
            (r#"<polygon class="least""#, 1),
            (r#"<rect class="piece"#, 2),
        ] {
            assert_eq!(svg.matches(shape).count(), times, "{shape}");
        }
        assert!(svg.contains("&lt;looks&gt;") && !svg.contains("equal factors"));
        // 30 in 5 minutes: Garwood's interval is 4.05 to 8.57 (chi-square quantiles, scipy 1.17.1).
        assert!(svg.contains("6.0 rewarded tries a minute (95 % interval 4.0 to 8.6)"));
    }

    #[test]
    fn days_without_practice_are_a_gap() {
        // A day off leaves a gap in the band, four days off one in the curve too.
        let days: Vec<Day> = [0, 1, 2, 4, 5, 6, 11, 12, 13].map(day).into();
        let svg = drawn(&days, Scale::Linear);
        assert_eq!(svg.matches(r#"class="least""#).count(), 3);
        let curves: Vec<usize> = svg
            .split(r#"<polyline class="smooth" points=""#)
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap().split_whitespace().count())
            .collect();
        assert_eq!(curves, [6, 3]);
    }

    #[test]
    fn a_ratio_scale_says_so_and_shows_a_day_without_a_reward() {
        let mut days: Vec<Day> = (0..6).map(day).collect();
        days[2].rewarded = 0;
        let svg = drawn(&days, Scale::Ratio);
        assert!(svg.contains("equal heights are equal factors"));
        assert_eq!(svg.matches(r#"<circle class="none""#).count(), 1);
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
        let labels: Vec<String> = ratio_ticks(0.14, 12.0).into_iter().map(|tick| tick.1).collect();
        assert_eq!(labels, ["0.2", "0.5", "1", "2", "5", "10"]);
    }

    #[test]
    fn nothing_to_draw_is_not_a_fault() {
        let idle = Day { day: 0, rewarded: 0, missed: 0, minutes: 0.0 };
        for days in [&[][..], &[idle], &[day(0)]] {
            for scale in [Scale::Linear, Scale::Ratio] {
                let svg = drawn(days, scale);
                assert!(svg.starts_with("<svg") && !svg.contains("NaN") && !svg.contains("inf"));
            }
        }
    }
}
