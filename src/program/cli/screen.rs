//! Plain lines with one status line below that is written over: level, time, reps, rate, step.

use console::Term;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use minijinja::context;

use crate::at::At;
use crate::run::{Happening, Plain, Printer, Status};
use crate::session::NudgeKind;
use crate::terminal::{self, Out, visible};
use crate::wording::{Wording, filled};

/// Lowest and highest level that the meter shows, in dBFS.
const METER_DBFS: [f32; 2] = [-60.0, -6.0];
const METER_CELLS: usize = 12;
/// At most so often is it drawn.
const DRAWN_HZ: u8 = 20;

/// Shows a live session on a terminal.
pub(super) struct Screen {
    lines: Plain<Out>,
    bar: ProgressBar,
    draft: String,
    /// The status as it stands there.
    shown: String,
    wording: Wording,
}

impl Screen {
    pub(super) fn new() -> Self {
        Screen::on(match terminal::for_drawing() {
            Some([read, write]) => {
                ProgressDrawTarget::term(Term::read_write_pair(read, write), DRAWN_HZ)
            }
            None => ProgressDrawTarget::stderr(),
        })
    }

    fn on(target: ProgressDrawTarget) -> Self {
        let style = ProgressStyle::with_template("{msg}").expect("a fixed template");
        Screen {
            lines: Plain::new(Out::text()),
            bar: ProgressBar::with_draw_target(None, target).with_style(style),
            draft: String::new(),
            shown: String::new(),
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

    fn shows_status(&self) -> bool {
        true
    }

    fn status(&mut self, status: &Status) {
        let typed = if self.draft.is_empty() {
            String::new()
        } else {
            format!("  > {}", visible(&self.draft))
        };
        let line = format!("{}{typed}", status_line(status, &self.wording));
        // A line that says the same is not drawn again: a screen reader would read it again, a slow link carry it.
        if line != self.shown {
            self.bar.set_message(line.clone());
            self.shown = line;
        }
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
        "under_way"
    } else {
        "ready"
    };
    let active = At::after(session.active());
    let rate = session.rate_per_min().map_or("-".to_owned(), |rate| format!("{rate:.0}"));
    let mut parts = vec![
        format!("[{}]", meter(status.level_dbfs)),
        active.to_string().split('.').next().unwrap_or_default().to_owned(),
        wording.tries(session.tries()),
        filled("screen.status_rate", context! { rate }),
        filled("screen.status_step", context! { state, step => session.working() }),
    ];
    if status.lost > 0 {
        parts.push(filled("screen.status_lost", context! { lost => status.lost }));
    }
    parts.join("  ")
}

fn meter(level_dbfs: f32) -> String {
    let [low, high] = METER_DBFS;
    let share = ((level_dbfs - low) / (high - low)).clamp(0.0, 1.0);
    let filled = (share * METER_CELLS as f32).round() as usize;
    format!("{}{}", "=".repeat(filled), " ".repeat(METER_CELLS - filled))
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicUsize, Ordering};

    use indicatif::TermLike;

    use super::*;
    use crate::plan::Plan;
    use crate::session::Session;

    /// A terminal that counts how often something is written to it.
    #[derive(Debug, Clone, Default)]
    struct Counted(Arc<AtomicUsize>);

    impl TermLike for Counted {
        fn width(&self) -> u16 {
            80
        }
        fn move_cursor_up(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_down(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_right(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn move_cursor_left(&self, _: usize) -> io::Result<()> {
            Ok(())
        }
        fn write_line(&self, text: &str) -> io::Result<()> {
            self.write_str(text)
        }
        fn write_str(&self, _: &str) -> io::Result<()> {
            self.0.fetch_add(1, Ordering::Relaxed);
            Ok(())
        }
        fn clear_line(&self) -> io::Result<()> {
            Ok(())
        }
        fn flush(&self) -> io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn the_status_is_one_line() {
        let session = Session::new(Plan::of_default_words());
        let line = |lost| {
            let status = Status { at: At::ZERO, level_dbfs: -33.0, session: &session, lost };
            status_line(&status, &Wording::english())
        };
        let ready =
            "[======      ]  0:00  0 tries: none rewarded, none missed  - a minute  ready, step 1";
        assert_eq!(line(0), ready);
        assert_eq!(line(2), format!("{ready}  lost sound 2 times"));
        let step = |state| filled("screen.status_step", context! { state, step => 3 });
        assert_eq!(["paused", "under_way"].map(step), ["paused 3", "step 3"]);
    }

    #[test]
    fn a_status_that_says_the_same_is_not_drawn_again() {
        let term = Counted::default();
        let target = ProgressDrawTarget::term_like_with_hz(Box::new(term.clone()), 255);
        let mut screen = Screen::on(target);
        let session = Session::new(Plan::of_default_words());
        let drawn = |screen: &mut Screen, level_dbfs: f32| {
            let before = term.0.load(Ordering::Relaxed);
            for _ in 0..5 {
                // Slower than the terminal is drawn at most.
                std::thread::sleep(std::time::Duration::from_millis(10));
                screen.status(&Status { at: At::ZERO, level_dbfs, session: &session, lost: 0 });
            }
            term.0.load(Ordering::Relaxed) - before
        };
        let once = drawn(&mut screen, -40.0);
        assert!(once > 0, "it is not drawn at all");
        assert_eq!(drawn(&mut screen, -40.0), 0);
        assert_eq!(drawn(&mut screen, -20.0), once, "another level is drawn, once");
    }
}
