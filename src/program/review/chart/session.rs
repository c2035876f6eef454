//! Charts of one session.

use minijinja::context;

use super::{Canvas, Shape, Width, clock_ticks, ticks};
use crate::plan::RewardValue;
use crate::review::labels;
use crate::session::Tries;
use crate::wording::{Wording, filled, text};

/// A rep on the timeline.
#[derive(Debug, Clone, PartialEq)]
pub struct TimelineRep {
    /// Session time, in seconds.
    pub at_s: f64,
    /// Step reached.
    pub step: u8,
    /// What it was paid; `None` for a miss.
    pub paid: Option<RewardValue>,
    /// In words.
    pub words: String,
}

/// Something else on the timeline: a nudge, a doubt, a note.
#[derive(Debug, Clone, PartialEq)]
pub struct Sign {
    /// Session time, in seconds.
    pub at_s: f64,
    /// One letter that stands for it.
    pub letter: char,
    /// In words.
    pub words: String,
}

/// The timeline: every try by time and step; a reward stands on its step, larger the more it is worth, a miss
/// hangs from it.
pub fn timeline(reps: &[TimelineRep], signs: &[Sign], end_s: f64, width: Width) -> String {
    let highest = f64::from(reps.iter().map(|rep| rep.step).max().unwrap_or(1));
    let mut canvas =
        Canvas::new(width, 150.0 + 26.0 * highest, (0.0, end_s.max(1.0)), (0.4, highest + 1.6));
    let steps: Vec<(f64, String)> =
        (1..=highest as u32).map(|n| (f64::from(n), n.to_string())).collect();
    canvas.axes(
        (&text("page.chart_time"), &clock_ticks(end_s, width)),
        (&text("page.chart_step"), &steps),
    );
    let lower = canvas.py(highest + 1.1);
    let (mut upper, mut before) = (false, f64::NEG_INFINITY);
    for sign in signs {
        let x = canvas.px(sign.at_s);
        // Letters that would touch stand in two rows.
        upper = x - before < 12.0 && !upper;
        let lane = if upper { lower - 13.0 } else { lower };
        before = x;
        let bottom = canvas.bottom;
        canvas.line("faint", (x, lane + 8.0), (x, bottom));
        canvas.raw("<g>");
        canvas.raw(&format!("<title>{}</title>", super::escaped(&sign.words)));
        canvas.text("sign", (x, lane + 4.0), "middle", &sign.letter.to_string());
        canvas.raw("</g>");
    }
    for rep in reps {
        let at = (canvas.px(rep.at_s), canvas.py(f64::from(rep.step)));
        let (shape, class, size) = match rep.paid {
            None => {
                canvas.block("missed", (at.0 - 2.5, at.1), (5.0, 11.0), &rep.words);
                continue;
            }
            Some(RewardValue::Low) => (Shape::Dot, "low", 4.0),
            Some(RewardValue::High) => (Shape::Dot, "high", 6.5),
            Some(RewardValue::Jackpot) => (Shape::Diamond, "jackpot", 9.0),
        };
        canvas.mark(shape, class, at, size, &rep.words);
    }
    let tries = Tries::count(reps.iter().map(|rep| rep.paid.is_some()));
    let tries = Wording::english().tries(tries);
    let length = labels::clock(std::time::Duration::from_secs_f64(end_s.max(0.0)));
    canvas.finish(&filled("page.chart_timeline_in_words", context! { tries, length }))
}

/// What the rate chart is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct RateLine<'a> {
    /// Times of rewards, in seconds, rising.
    pub rewards_s: &'a [f64],
    /// Length of the window, in seconds.
    pub window_s: f64,
    /// Rewards per minute below which the pace is too thin.
    pub floor: f64,
    /// Nudges with their reasons.
    pub nudges: &'a [Sign],
    /// End of the session, in seconds.
    pub end_s: f64,
}

/// Rewards per minute over a window that ends at each moment. Before a whole window has passed, the time
/// that has passed counts, from ten seconds on.
pub fn rate(line: &RateLine, width: Width) -> String {
    let end_s = line.end_s.max(1.0);
    let at = |t: f64| {
        let from = line.rewards_s.partition_point(|r| *r <= t - line.window_s);
        let to = line.rewards_s.partition_point(|r| *r <= t);
        60.0 * (to - from) as f64 / line.window_s.min(t).max(10.0)
    };
    let points: Vec<(f64, f64)> =
        (0..=360).map(|i| end_s * f64::from(i) / 360.0).map(|t| (t, at(t))).collect();
    let most = points.iter().map(|p| p.1).fold(line.floor * 1.5, f64::max).max(1.0) * 1.25;
    let mut canvas = Canvas::new(width, 250.0, (0.0, end_s), (0.0, most));
    canvas.axes(
        (&text("page.chart_time"), &clock_ticks(end_s, width)),
        (&text("page.chart_rate"), &ticks(0.0, most, 5.0)),
    );
    let (left, right, floor) = (canvas.left, canvas.right, canvas.py(line.floor));
    canvas.line("floor", (left, floor), (right, floor));
    // Beside the name of the axis, where no line goes.
    canvas.text("note", (right, 14.0), "end", &text("page.chart_floor"));
    canvas.path("curve", &points);
    for nudge in line.nudges {
        let (x, top, bottom) = (canvas.px(nudge.at_s), canvas.top, canvas.bottom);
        canvas.line("nudge", (x, top + 8.0), (x, bottom));
        canvas.mark(Shape::Down, "nudge", (x, top + 6.0), 6.0, &nudge.words);
    }
    let values = context! { window_s => line.window_s, nudges => line.nudges.len() };
    canvas.finish(&filled("page.chart_rate_in_words", values))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rep_and_sign_is_drawn() {
        let rep = |at_s, paid| TimelineRep { at_s, step: 2, paid, words: "x".into() };
        let reps = [
            rep(1.0, None),
            rep(2.0, Some(RewardValue::Low)),
            rep(3.0, Some(RewardValue::Jackpot)),
        ];
        let signs = [Sign { at_s: 2.5, letter: '?', words: "doubt".into() }];
        let svg = timeline(&reps, &signs, 10.0, Width::Wide);
        for class in ["\"missed\"", "\"low\"", "\"jackpot\"", "\"sign\""] {
            assert_eq!(svg.matches(class).count(), 1, "{class}");
        }
    }

    #[test]
    fn an_empty_session_draws_its_axes() {
        assert!(timeline(&[], &[], 0.0, Width::Wide).contains("step reached"));
        let line = RateLine { rewards_s: &[], window_s: 30.0, floor: 6.0, nudges: &[], end_s: 0.0 };
        assert!(!rate(&line, Width::Narrow).contains("NaN"));
    }
}
