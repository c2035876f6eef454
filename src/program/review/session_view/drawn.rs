//! A session's charts.

use minijinja::context;

use super::{DoubtView, NudgeView, RepView, TimedText};
use crate::plan::Plan;
use crate::review::chart::{self, RateLine, Sign, TimelineRep};
use crate::store::Folded;
use crate::wording::{filled, text};

pub(super) fn timeline(
    reps: &[RepView],
    folded: &Folded,
    moods: &[TimedText],
    doubts: &[DoubtView],
    notes: &[TimedText],
    end_s: f64,
) -> String {
    let drawn: Vec<TimelineRep> = reps
        .iter()
        .zip(&folded.reps)
        .map(|(view, rep)| TimelineRep {
            at_s: view.at_s,
            step: view.step,
            paid: rep.rep.paid(),
            words: filled("page.chart_try", context! { try => &view.words, at => &view.at }),
        })
        .collect();
    let sign = |at_s: f64, letter: char, words: String| Sign { at_s, letter, words };
    let mut signs: Vec<Sign> = moods
        .iter()
        .map(|mood| {
            sign(mood.at_s, 'S', filled("page.chart_state", context! { state => &mood.text }))
        })
        .chain(doubts.iter().map(|doubt| {
            sign(doubt.at_s, '?', filled("page.chart_unsure", context! { words => &doubt.words }))
        }))
        .chain(notes.iter().map(|note| sign(note.at_s, 'N', text("page.note"))))
        .collect();
    signs.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    chart::at_both_widths(|width| chart::timeline(&drawn, &signs, end_s, width))
}

pub(super) fn rate(
    plan: &Plan,
    folded: &Folded,
    nudges: &[NudgeView],
    end_s: f64,
) -> Option<String> {
    let rewarded = folded.reps.iter().filter(|rep| rep.rep.rewarded());
    let rewards_s: Vec<f64> = rewarded.map(|rep| rep.rep.at.as_secs_f64()).collect();
    // One reward has no pace, and none is a flat line.
    if rewards_s.len() < 2 {
        return None;
    }
    let nudges: Vec<Sign> = nudges
        .iter()
        .map(|nudge| Sign {
            at_s: nudge.at_s,
            letter: '!',
            words: format!("{} {}: {}", nudge.at, nudge.means, nudge.because),
        })
        .collect();
    let line = RateLine {
        rewards_s: &rewards_s,
        window_s: plan.limits.rate_window.as_secs_f64(),
        floor: plan.limits.rate_floor_per_min,
        nudges: &nudges,
        end_s,
    };
    Some(chart::at_both_widths(|width| chart::rate(&line, width)))
}
