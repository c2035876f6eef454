//! The session in large letters, to be read from across the room: reps, pace, step, the last tag, the last nudge.

mod letters;

use minijinja::context;

use crate::at::At;
use crate::run::{Happening, Plain, Printer, Status};
use crate::session::{Event, Input, NudgeKind};
use crate::terminal::{self, cut, padded, say_part, visible, width};
use crate::wording::{filled, text};
use letters::{HEIGHT, large};

/// Bright white on black, whatever the terminal's colours are.
const BRIGHT: &str = "\x1b[0;1;97;40m";
/// A nudge is told from the rest by being the other way round, which needs no colour.
const TURNED: &str = "\x1b[7m";
const BOLD: &str = "\x1b[0;1m";
/// A terminal that does not report its size.
const USUAL_SIZE: [usize; 2] = [80, 24];
/// A nudge stays for this long.
const NUDGE_FOR: std::time::Duration = std::time::Duration::from_secs(20);
/// Lines for what was said last.
const SAID_LINES: usize = 3;

/// What is shown.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct View {
    reps: usize,
    per_min: String,
    step: u8,
    /// Its name among the texts.
    state: &'static str,
    tag: String,
    nudge: String,
    said: String,
    draft: String,
}

/// Shows a live session in large letters on a terminal. When it is dropped, the terminal is as before, and the
/// session stands there as plain lines.
pub(super) struct Big {
    view: View,
    nudged: Option<At>,
    lines: Plain<Vec<u8>>,
    shown: String,
    colour: bool,
}

impl Big {
    pub(super) fn new() -> Self {
        // Another screen, without a cursor.
        terminal::control("\x1b[?1049h\x1b[?25l");
        // As everywhere: the variable set and not empty means no colour (no-color.org).
        let colour = std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
        Big {
            view: View { step: 1, state: "ready", ..View::default() },
            nudged: None,
            lines: Plain::new(Vec::new()),
            shown: String::new(),
            colour,
        }
    }

    fn draw(&mut self) {
        let size = terminal::size().unwrap_or(USUAL_SIZE);
        let page = page(&self.view, size, self.colour);
        if page != self.shown {
            terminal::control(&page);
            self.shown = page;
        }
    }
}

impl Drop for Big {
    fn drop(&mut self) {
        terminal::control("\x1b[0m\x1b[?25h\x1b[?1049l");
        say_part!("{}", String::from_utf8_lossy(self.lines.written()));
    }
}

impl Printer for Big {
    fn event(&mut self, happening: &Happening, saved: Option<At>) {
        self.lines.event(happening, saved);
        if let Event::Input(input) = &happening.logged.event {
            match input {
                Input::Tagged { words, .. } => self.view.tag = words.clone(),
                Input::Doubted { words, .. } => self.view.tag = format!("{words}?"),
                Input::Gap { .. } => self.view.tag = text("screen.no_sound"),
                Input::Trouble { why } => self.view.tag = why.clone(),
                Input::Noted { .. } => self.view.tag = text("screen.note"),
                Input::Elsewhere(_) => {}
            }
        }
    }

    fn nudge(&mut self, at: At, nudge: NudgeKind) {
        self.lines.nudge(at, nudge);
        // A receipt says nothing that the tag does not.
        if nudge != NudgeKind::Heard {
            self.view.nudge = filled("screen.nudge_named", context! { name => nudge.name() });
            self.nudged = Some(at);
        }
    }

    fn said(&mut self, at: At, text: &str) {
        self.lines.said(at, text);
        text.clone_into(&mut self.view.said);
        self.draw();
    }

    fn remark(&mut self, text: &str) {
        self.lines.remark(text);
        text.clone_into(&mut self.view.said);
        self.draw();
    }

    fn draft(&mut self, line: &str) {
        line.clone_into(&mut self.view.draft);
    }

    fn shows_status(&self) -> bool {
        true
    }

    fn status(&mut self, status: &Status) {
        let session = status.session;
        self.view.reps = session.rewarded();
        self.view.per_min =
            session.rate_per_min().map_or("-".to_owned(), |rate| format!("{rate:.0}"));
        self.view.step = session.working();
        self.view.state = match (session.paused(), session.begun()) {
            (true, _) => "paused",
            (false, true) => "under_way",
            (false, false) => "ready",
        };
        if self.nudged.is_some_and(|at| status.at.since(at) > NUDGE_FOR) {
            self.nudged = None;
            self.view.nudge.clear();
        }
        self.draw();
    }
}

/// The whole screen: where to begin, every line, and what to wipe.
fn page(view: &View, [columns, rows]: [usize; 2], colour: bool) -> String {
    let paused = view.nudge.is_empty() && view.state == "paused";
    let state = text(&format!("screen.state_{}", view.state));
    let banner = if paused { state.as_str() } else { view.nudge.as_str() };
    let numbers = [view.reps.to_string(), view.per_min.clone(), view.step.to_string()];
    let scale = scale(&numbers, [&view.tag, banner], [columns, rows]);
    let third = columns / numbers.len();
    let heads = [
        text("screen.list_rewarded"),
        text("screen.list_a_minute"),
        filled("screen.big_step", context! { state => &state }),
    ];
    let mut lines = vec![(false, side_by_side(heads.each_ref().map(String::as_str), third))];
    let parts: Option<Vec<_>> = numbers.iter().map(|text| large(text, scale, third)).collect();
    match parts.as_deref() {
        Some([reps, rate, step]) => lines.extend(
            (0..reps.len())
                .map(|row| (false, side_by_side([&reps[row], &rate[row], &step[row]], third))),
        ),
        _ => lines.push((false, side_by_side(numbers.each_ref().map(String::as_str), third))),
    }
    let last_heard = (text("screen.big_last_heard"), view.tag.as_str(), false);
    let nudge = (text("screen.big_nudge"), banner, !banner.is_empty());
    for (caption, shown, turned) in [last_heard, nudge] {
        lines.push((false, caption));
        match large(shown, scale, columns) {
            Some(rows) => lines.extend(rows.into_iter().map(|row| (turned, row))),
            None => lines.push((turned, shown.to_uppercase())),
        }
    }
    lines.extend(wrapped(&view.said, columns).into_iter().map(|line| (false, line)));
    if !view.draft.is_empty() {
        lines.push((false, format!("> {}", view.draft)));
    }
    lines.truncate(rows);
    written(&lines, columns, if colour { BRIGHT } else { BOLD })
}

fn side_by_side([one, two, three]: [&str; 3], third: usize) -> String {
    format!("{}{}{three}", padded(one, third), padded(two, third))
}

/// Lines, some of them turned, as the terminal takes them.
fn written(lines: &[(bool, String)], columns: usize, plain: &str) -> String {
    let mut page = format!("\x1b[H{plain}");
    for (index, (turned, line)) in lines.iter().enumerate() {
        let line = visible(line);
        let line = cut(&line, columns);
        let line =
            if *turned { format!("{TURNED}{}{plain}", padded(line, columns)) } else { line.into() };
        let end = if index + 1 < lines.len() { "\r\n" } else { "" };
        page += &format!("{line}\x1b[K{end}");
    }
    page + "\x1b[J"
}

/// How many columns and rows a block may have, so that all of it fits.
fn scale(numbers: &[String; 3], texts: [&str; 2], [columns, rows]: [usize; 2]) -> usize {
    let in_all = 1 + texts.len();
    let fits =
        |text: &str, scale, columns| text.is_empty() || large(text, scale, columns).is_some();
    (2..=4)
        .rev()
        .find(|scale| {
            in_all * (1 + HEIGHT * scale) + SAID_LINES <= rows
                && texts.iter().all(|text| fits(text, *scale, columns))
                && numbers.iter().all(|text| fits(text, *scale, columns / numbers.len()))
        })
        .unwrap_or(1)
}

/// The last lines of a text, broken between words.
fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last_mut().expect("there is always one");
        if !last.is_empty() && width(last) + 1 + width(word) > columns {
            lines.push(word.to_owned());
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines.split_off(lines.len().saturating_sub(SAID_LINES))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view() -> View {
        View {
            reps: 12,
            per_min: "8".into(),
            step: 2,
            state: "under_way",
            tag: "yes two".into(),
            nudge: "end soon".into(),
            said: "Step 2, steps towards the file.".into(),
            draft: String::new(),
        }
    }

    /// The page without what makes it bright, at the left.
    fn seen(page: &str) -> String {
        let mut seen = page.replace("\r\n", "\n");
        for code in [BRIGHT, BOLD, TURNED, "\x1b[H", "\x1b[K", "\x1b[J"] {
            seen = seen.replace(code, "");
        }
        seen.lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
    }

    #[test]
    fn everything_fits_an_ordinary_terminal() {
        insta::assert_snapshot!(seen(&page(&view(), USUAL_SIZE, true)), @r"
        rewarded                  a minute                  step (under way)
          █   ████                 ███                      ████
         ██       █               █   █                         █
          █    ███                 ███                       ███
          █   █                   █   █                     █
         ███  █████                ███                      █████
        last heard
        █   █ █████  ████       █████ █   █  ███
         █ █  █     █             █   █   █ █   █
          █   ████   ███          █   █ █ █ █   █
          █   █         █         █   █ █ █ █   █
          █   █████ ████          █    █ █   ███
        nudge
        █████ █   █ ████         ████  ███   ███  █   █
        █     ██  █ █   █       █     █   █ █   █ ██  █
        ████  █ █ █ █   █        ███  █   █ █   █ █ █ █
        █     █  ██ █   █           █ █   █ █   █ █  ██
        █████ █   █ ████        ████   ███   ███  █   █
        Step 2, steps towards the file.
        ");
    }

    #[test]
    fn larger_terminals_get_larger_letters_and_none_gets_more_than_fits() {
        for size in [[20, 6], [40, 12], [80, 24], [120, 40], [200, 60], [400, 100]] {
            let text = seen(&page(&view(), size, true));
            assert!(text.lines().count() <= size[1], "{size:?}");
            assert!(text.lines().all(|line| line.chars().count() <= size[0]), "{size:?}");
        }
        let blocks = |size| seen(&page(&view(), size, true)).matches('█').count();
        assert_eq!(blocks([200, 60]), 9 * blocks(USUAL_SIZE));
        assert!(seen(&page(&view(), [40, 12], true)).contains("END SOON"), "as plain text");
    }

    #[test]
    fn without_colour_only_the_nudge_stands_out_by_being_turned() {
        let page = page(&view(), USUAL_SIZE, false);
        assert!(!page.contains("97") && !page.contains("40m"), "{page:?}");
        assert!(page.contains(TURNED));
        let paused = View { nudge: String::new(), state: "paused", ..view() };
        assert!(super::page(&paused, USUAL_SIZE, false).contains(TURNED));
        let quiet = View { nudge: String::new(), ..view() };
        assert!(!super::page(&quiet, USUAL_SIZE, false).contains(TURNED));
    }
}
