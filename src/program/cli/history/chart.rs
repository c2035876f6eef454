//! Small charts of letters and blocks. Pure.

use std::fmt::Write as _;

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// A line of blocks, from `low` to `high`; a missing value is a gap, a mark in front of a value is a bar.
pub(super) fn sparkline(values: &[Option<f64>], low: f64, high: f64, marks: &[usize]) -> String {
    let mut line = String::new();
    for (index, value) in values.iter().enumerate() {
        if marks.contains(&index) {
            line.push('|');
        }
        line.push(match value {
            None => ' ',
            Some(_) if high <= low => BLOCKS[3],
            Some(value) => {
                let share = ((value - low) / (high - low)).clamp(0.0, 1.0);
                BLOCKS[((share * 8.0) as usize).min(7)]
            }
        });
    }
    line
}

/// Lowest and highest of the values; 0 to 1 for none.
pub(super) fn range(values: &[Option<f64>]) -> (f64, f64) {
    let known = values.iter().flatten();
    let low = known.clone().copied().fold(f64::INFINITY, f64::min);
    let high = known.copied().fold(f64::NEG_INFINITY, f64::max);
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

/// A table of left-aligned columns, two spaces apart.
pub(super) fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let wide = |text: &String| text.chars().count();
    let width = |column: usize| rows.iter().filter_map(|row| row.get(column)).map(wide).max();
    let widths: Vec<usize> = (0..columns).map(|column| width(column).unwrap_or(0)).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let _ = write!(line, "{cell:width$}  ");
        }
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

/// Seconds as `3:05`.
pub(super) fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// A number as it is worth reading: one decimal below ten, none above.
pub(super) fn tidy(number: f64) -> String {
    if number.abs() < 9.95 { format!("{number:.1}") } else { format!("{number:.0}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_rise_and_gaps_stay_open() {
        let values = [Some(0.0), None, Some(0.5), Some(1.0)];
        assert_eq!(sparkline(&values, 0.0, 1.0, &[2]), "▁ |▅█");
        assert_eq!(sparkline(&[Some(2.0); 3], 2.0, 2.0, &[]), "▄▄▄");
        assert_eq!(range(&[None, Some(3.0), Some(1.0)]), (1.0, 3.0));
        assert_eq!(range(&[]), (0.0, 1.0));
    }

    #[test]
    fn columns_line_up() {
        let rows = [["a", "bb"], ["ccc", "d"]].map(|row| row.map(str::to_owned).to_vec());
        assert_eq!(table(&rows), "a    bb\nccc  d\n");
        assert_eq!((clock(185.4), clock(-1.0)), ("3:05".into(), "0:00".into()));
        assert_eq!((tidy(3.127), tidy(31.4)), ("3.1".into(), "31".into()));
    }
}
