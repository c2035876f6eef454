//! Plain lines with one status line below that is written over: level, time, reps, rate, step.

use indicatif::{ProgressBar, ProgressStyle};

use crate::at::At;
use crate::run::{Happening, Plain, Printer, Status};
use crate::session::NudgeKind;
use crate::terminal::{Out, visible};
use crate::wording::Wording;

/// Lowest and highest level that the meter shows, in dBFS.
const METER_DBFS: [f32; 2] = [-60.0, -6.0];
const METER_CELLS: usize = 12;

/// Shows a live session on a terminal.
pub(super) struct Screen {
    lines: Plain<Out>,
    bar: ProgressBar,
    draft: String,
    wording: Wording,
}

impl Screen {
    pub(super) fn new() -> Self {
        let style = ProgressStyle::with_template("{msg}").expect("a fixed template");
        Screen {
            lines: Plain::new(Out::text()),
            bar: ProgressBar::new_spinner().with_style(style),
            draft: String::new(),
            wording: Wording::english(),
        }
    }
}

impl Printer for Screen {
    fn event(&mut self, happening: &Happening, saved: Option<At>) {
        self.bar.suspend(|| self.lines.event(happening, saved));
    }

    fn nudge(&mut self, at: At, nudge: NudgeKind) {
        self.bar.suspend(|| self.lines.nudge(at, nudge));
    }

    fn said(&mut self, at: At, text: &str) {
        self.bar.suspend(|| self.lines.said(at, text));
    }

    fn remark(&mut self, text: &str) {
        self.bar.suspend(|| self.lines.remark(text));
    }

    fn status(&mut self, status: &Status) {
        let typed = if self.draft.is_empty() {
            String::new()
        } else {
            format!("  > {}", visible(&self.draft))
        };
        self.bar.set_message(format!("{}{typed}", status_line(status, &self.wording)));
    }

    fn draft(&mut self, line: &str) {
        // Shown with the next status, a tenth of a second from now.
        self.draft = line.to_owned();
    }
}

fn status_line(status: &Status, wording: &Wording) -> String {
    let session = status.session;
    let state = if session.paused() {
        "paused"
    } else if session.begun() {
        "step"
    } else {
        "ready, step"
    };
    let active = At::after(session.active());
    let rate = session.rate_per_min().map_or("-".to_owned(), |rate| format!("{rate:.0}"));
    let lost =
        if status.lost > 0 { format!("  lost sound {} times", status.lost) } else { String::new() };
    format!(
        "[{}]  {}  {}  {rate} a minute  {state} {}{lost}",
        meter(status.level_dbfs),
        active.to_string().split('.').next().unwrap_or_default(),
        wording.tries(session.tries()),
        session.working(),
    )
}

fn meter(level_dbfs: f32) -> String {
    let [low, high] = METER_DBFS;
    let share = ((level_dbfs - low) / (high - low)).clamp(0.0, 1.0);
    let filled = (share * METER_CELLS as f32).round() as usize;
    format!("{}{}", "=".repeat(filled), " ".repeat(METER_CELLS - filled))
}
