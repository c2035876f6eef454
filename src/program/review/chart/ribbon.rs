//! The steps worked on, as a ribbon of numbered pieces under a chart.

use minijinja::context;

use super::{Canvas, room};
use crate::wording::filled;

/// Height of the ribbon.
pub(super) const HEIGHT: f64 = 24.0;

/// A stretch on one step, from and to in the units of the chart's x axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// Number of the step.
    pub number: u8,
    /// Its name.
    pub name: String,
}

impl Piece {
    /// "4 rests the foot on the file".
    pub fn label(&self) -> String {
        format!("{} {}", self.number, self.name)
    }
}

/// Draws the ribbon with its upper edge at `y`.
pub(super) fn draw(canvas: &mut Canvas, y: f64, pieces: &[Piece]) {
    for (place, piece) in pieces.iter().enumerate() {
        let (left, right) = (canvas.px(piece.from), canvas.px(piece.to));
        // A hair of space between neighbours, so that each is a piece of its own.
        let width = (right - left - 1.5).max(1.0);
        let class = if place % 2 == 0 { "piece" } else { "piece other" };
        let words = filled("page.chart_piece", context! { piece => piece.label() });
        canvas.block(class, (left + 0.75, y), (width, HEIGHT), &words);
        let (class, text) = fitting(piece, width);
        canvas.text(class, (left + width / 2.0 + 0.75, y + 16.0), "middle", &text);
    }
}

/// The number of a piece's step where it has room, if need be in small letters; with the class of its letters. Names
/// stand below the chart, off the data.
fn fitting(piece: &Piece, width: f64) -> (&'static str, String) {
    let number = piece.number.to_string();
    match room(&number) {
        wide if wide + 2.0 <= width => ("step", number),
        wide if SMALL * wide <= width => ("step small", number),
        _ => ("step", String::new()),
    }
}

/// Small letters, as a share of the others.
const SMALL: f64 = 0.75;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_label_never_leaves_its_piece() {
        let piece = Piece { from: 0.0, to: 1.0, number: 12, name: "rests a foot on it".into() };
        let text = |width| fitting(&piece, width).1;
        assert_eq!(text(400.0), "12", "no name on the data");
        assert_eq!(fitting(&piece, 11.0), ("step small", "12".into()));
        assert_eq!(text(5.0), "");
        for width in 0..200 {
            let width = f64::from(width);
            let (class, text) = fitting(&piece, width);
            let letters = if class == "step" { 1.0 } else { SMALL };
            assert!(letters * room(&text) <= width, "{text} in {width}");
        }
    }
}
