//! Charts as SVG: shapes say what colours say, and what a chart cannot be sure of is drawn as wide as it is.
//! Pure: numbers in, text out. Colours come from the page's style sheet.
//!
//! | shape | means |
//! |---|---|
//! | filled circle | rewarded |
//! | column that hangs from a line | missed |
//! | pale area around a curve, thin stroke through a circle | 95 % interval |
//! | pale band along the bottom | less than this much practice can show |
//! | row of numbered pieces | step worked on |

mod days;
mod progress;
mod ribbon;
mod session;

use std::fmt::Write;

pub use days::{Day, DayByDay, Scale, day_by_day};
pub use progress::{cumulative, sides, tiring};
pub use ribbon::Piece;
pub use session::{RateLine, Sign, TimelineRep, rate, timeline};

/// For what a chart is drawn: its own units are then about those of the screen, so that its letters are
/// legible. The style sheet shows the one that fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Width {
    /// A window, or paper.
    Wide,
    /// A phone.
    Narrow,
}

impl Width {
    fn px(self) -> f64 {
        match self {
            Width::Wide => 720.0,
            Width::Narrow => 360.0,
        }
    }

    /// This many ticks where a wide drawing has room for `wide`.
    fn ticks(self, wide: f64) -> f64 {
        if self == Width::Wide { wide } else { (wide / 2.0).max(3.0) }
    }

    fn name(self) -> &'static str {
        if self == Width::Wide { "wide" } else { "narrow" }
    }
}

/// A chart for windows and for phones, one after the other.
pub fn at_both_widths(draw: impl Fn(Width) -> String) -> String {
    draw(Width::Wide) + &draw(Width::Narrow)
}

/// A letter of a label is about so wide: a generous mean over common screen letters of 12 units.
const LETTER_PX: f64 = 6.9;

/// Room that a label takes, in the drawing's units.
fn room(label: &str) -> f64 {
    label.chars().count() as f64 * LETTER_PX
}

/// A drawing that is being made: a plot area with axes, and what is drawn in it.
struct Canvas {
    body: String,
    width: Width,
    height: f64,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    x: (f64, f64),
    y: (f64, f64),
    log: bool,
}

impl Canvas {
    /// An empty plot for x and y in these ranges.
    fn new(width: Width, height: f64, x: (f64, f64), y: (f64, f64)) -> Self {
        let wide =
            |(low, high): (f64, f64)| if high > low { (low, high) } else { (low, low + 1.0) };
        Canvas {
            body: String::new(),
            width,
            height,
            left: if width == Width::Wide { 56.0 } else { 40.0 },
            right: width.px() - 14.0,
            top: 26.0,
            bottom: height - 44.0,
            x: wide(x),
            y: wide(y),
            log: false,
        }
    }

    /// The same with a logarithmic y axis; both ends must be above zero.
    fn ratio_scale(mut self) -> Self {
        self.log = true;
        self
    }

    fn px(&self, x: f64) -> f64 {
        self.left + (x - self.x.0) / (self.x.1 - self.x.0) * (self.right - self.left)
    }

    fn py(&self, y: f64) -> f64 {
        let share = if self.log {
            (y.max(self.y.0) / self.y.0).ln() / (self.y.1 / self.y.0).ln()
        } else {
            (y - self.y.0) / (self.y.1 - self.y.0)
        };
        self.bottom - share * (self.bottom - self.top)
    }

    fn raw(&mut self, text: &str) {
        self.body.push_str(text);
    }

    fn line(&mut self, class: &str, from: (f64, f64), to: (f64, f64)) {
        let (x1, y1, x2, y2) = (from.0, from.1, to.0, to.1);
        let _ = write!(
            self.body,
            r#"<line class="{class}" x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}"/>"#
        );
    }

    /// A line through points of the plot.
    fn path(&mut self, class: &str, points: &[(f64, f64)]) {
        if points.is_empty() {
            return;
        }
        let _ = write!(self.body, r#"<polyline class="{class}" points=""#);
        for &(x, y) in points {
            let _ = write!(self.body, "{:.1},{:.1} ", self.px(x), self.py(y));
        }
        self.raw(r#""/>"#);
    }

    /// An area of the plot between two edges, each from left to right.
    fn area(&mut self, class: &str, upper: &[(f64, f64)], lower: &[(f64, f64)], words: &str) {
        if upper.is_empty() {
            return;
        }
        let _ = write!(self.body, r#"<polygon class="{class}" points=""#);
        for &(x, y) in upper.iter().chain(lower.iter().rev()) {
            let _ = write!(self.body, "{:.1},{:.1} ", self.px(x), self.py(y));
        }
        let _ = write!(self.body, r#""><title>{}</title></polygon>"#, escaped(words));
    }

    /// A box on the drawing, with words for the pointer.
    fn block(&mut self, class: &str, (x, y): (f64, f64), (w, h): (f64, f64), words: &str) {
        let _ = write!(
            self.body,
            r#"<rect class="{class}" x="{x:.1}" y="{y:.1}" width="{w:.1}" height="{h:.1}"><title>{}</title></rect>"#,
            escaped(words)
        );
    }

    /// Text at a place on the drawing; `anchor` is start, middle or end.
    fn text(&mut self, class: &str, at: (f64, f64), anchor: &str, text: &str) {
        let _ = write!(
            self.body,
            r#"<text class="{class}" x="{:.1}" y="{:.1}" text-anchor="{anchor}">{}</text>"#,
            at.0,
            at.1,
            escaped(text)
        );
    }

    /// A mark of a shape around a place on the drawing, with words for the pointer.
    fn mark(&mut self, shape: Shape, class: &str, (x, y): (f64, f64), size: f64, words: &str) {
        let r = size;
        let title = format!("<title>{}</title>", escaped(words));
        let _ = match shape {
            Shape::Dot => write!(
                self.body,
                r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="{r:.1}">{title}</circle>"#
            ),
            Shape::Diamond => write!(
                self.body,
                r#"<path class="{class}" d="M{x:.1} {:.1}l{r:.1} {r:.1}l-{r:.1} {r:.1}l-{r:.1} -{r:.1}z">{title}</path>"#,
                y - r
            ),
            Shape::Down => write!(
                self.body,
                r#"<path class="{class}" d="M{:.1} {:.1}h{:.1}l-{r:.1} {:.1}z">{title}</path>"#,
                x - r,
                y - r,
                2.0 * r,
                1.6 * r
            ),
            Shape::Tick => write!(
                self.body,
                r#"<path class="{class} open" d="M{x:.1} {:.1}v{:.1}">{title}</path>"#,
                y - r,
                2.0 * r
            ),
        };
    }

    /// Axis lines, ticks with labels, and what the axes are.
    fn axes(&mut self, x: (&str, &[(f64, String)]), y: (&str, &[(f64, String)])) {
        let (left, right, top, bottom) = (self.left, self.right, self.top, self.bottom);
        self.levels(y.1);
        for (at, label) in x.1 {
            let x = self.px(*at);
            self.line("axis", (x, bottom), (x, bottom + 4.0));
            self.text("tick", (x, bottom + 17.0), "middle", label);
        }
        self.line("axis", (left, bottom), (right, bottom));
        self.line("axis", (left, top), (left, bottom));
        let (middle, half) = ((left + right) / 2.0, room(x.0) / 2.0);
        let middle = middle.min(self.width.px() - 2.0 - half).max(2.0 + half);
        self.text("name", (middle, self.height - 8.0), "middle", x.0);
        self.text("name", (4.0, 14.0), "start", y.0);
    }

    /// Thin lines across the plot with their labels.
    fn levels(&mut self, ticks: &[(f64, String)]) {
        let (left, right) = (self.left, self.right);
        for (at, label) in ticks {
            let y = self.py(*at);
            self.line("grid", (left, y), (right, y));
            self.text("tick", (left - 7.0, y + 4.0), "end", label);
        }
    }

    /// The whole picture; `what` is read out where a picture cannot be seen.
    fn finish(self, what: &str) -> String {
        format!(
            r#"<svg class="chart {}" viewBox="0 0 {} {}" role="img" aria-label="{}">{}</svg>"#,
            self.width.name(),
            self.width.px(),
            self.height,
            escaped(what),
            self.body
        )
    }
}

#[derive(Debug, Clone, Copy)]
enum Shape {
    Dot,
    Diamond,
    Down,
    Tick,
}

/// Text as it may stand in markup or in an attribute.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // Not allowed in XML at all.
            c if c.is_control() && !matches!(c, '\n' | '\t') => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

/// Round numbers from low to high, about `about` of them.
fn round_steps(low: f64, high: f64, about: f64) -> Vec<f64> {
    let rough = (high - low).max(1e-9) / about;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= rough);
    let step = step.unwrap_or(rough);
    let first = (low / step).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last.min(first + 50)).map(|n| n as f64 * step).collect()
}

/// The same with labels.
fn ticks(low: f64, high: f64, about: f64) -> Vec<(f64, String)> {
    round_steps(low, high, about)
        .into_iter()
        .map(|at| {
            let rounded = (at * 100.0).round() / 100.0;
            (at, format!("{rounded}"))
        })
        .collect()
}

/// Ticks of a time axis in seconds, as minutes and seconds.
fn clock_ticks(end_s: f64, width: Width) -> Vec<(f64, String)> {
    let steps = [5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1800.0, 3600.0];
    let step = steps.into_iter().find(|step| end_s / step <= width.ticks(10.0)).unwrap_or(7200.0);
    let count = (end_s / step).floor().min(60.0) as u32;
    (0..=count)
        .map(|n| {
            let s = f64::from(n) * step;
            (s, super::labels::clock(std::time::Duration::from_secs_f64(s)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round() {
        let labels = |low, high| {
            ticks(low, high, 5.0).into_iter().map(|t| t.1).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(labels(0.0, 23.0), "0 5 10 15 20");
        assert_eq!(labels(0.0, 1.0), "0 0.2 0.4 0.6 0.8 1");
        let clock: Vec<_> = clock_ticks(130.0, Width::Wide).into_iter().map(|t| t.1).collect();
        assert_eq!(clock.join(" "), "0:00 0:15 0:30 0:45 1:00 1:15 1:30 1:45 2:00");
    }

    #[test]
    fn markup_in_words_stays_words() {
        let mut canvas = Canvas::new(Width::Narrow, 100.0, (0.0, 1.0), (0.0, 1.0));
        canvas.mark(Shape::Dot, "a", (1.0, 1.0), 2.0, "<script>alert(1)</script>\u{1}");
        let svg = canvas.finish("a \"quoted\" <b>");
        assert!(!svg.contains("<script") && !svg.contains('\u{1}'));
        assert!(svg.contains("&quot;quoted&quot;"));
    }
}
