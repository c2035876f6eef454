//! Small charts of letters and blocks. Pure.

use std::fmt::Write as _;

use crate::terminal::{padded, width};

const BLOCKS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// A line of blocks, from `low` to `high`; a missing value is a gap, a mark in front of a value is a bar.
pub(crate) fn sparkline(values: &[Option<f64>], low: f64, high: f64, marks: &[usize]) -> String {
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
pub(crate) fn range(values: &[Option<f64>]) -> (f64, f64) {
    let known = values.iter().flatten();
    let low = known.clone().copied().fold(f64::INFINITY, f64::min);
    let high = known.copied().fold(f64::NEG_INFINITY, f64::max);
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

/// So wide is what a terminal shows at least.
pub(crate) const WIDE: usize = 80;

/// A table of left-aligned columns, two spaces apart, with its heads in the first row; columns without anything are left
/// out. Where it would be wider than a terminal, every row becomes a few lines: its first `leads` cells, and below them
/// the others, each after the head of its column.
pub(crate) fn table(rows: &[Vec<String>], leads: usize) -> String {
    let Some((heads, body)) = rows.split_first() else { return String::new() };
    let filled =
        |column: usize| body.iter().any(|row| row.get(column).is_some_and(|cell| !cell.is_empty()));
    let columns: Vec<usize> = (0..heads.len()).filter(|column| filled(*column)).collect();
    let cell = |row: &Vec<String>, column: usize| row.get(column).cloned().unwrap_or_default();
    let widest =
        |column: &usize| rows.iter().map(|row| width(&cell(row, *column))).max().unwrap_or(0);
    let widths: Vec<usize> = columns.iter().map(widest).collect();
    if widths.iter().sum::<usize>() + 2 * widths.len().saturating_sub(1) > WIDE {
        return as_lines(heads, body, &columns, leads);
    }
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (column, wide) in columns.iter().zip(&widths) {
            let _ = write!(line, "{}  ", padded(&cell(row, *column), *wide));
        }
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}

fn as_lines(heads: &[String], body: &[Vec<String>], columns: &[usize], leads: usize) -> String {
    let mut text = String::new();
    for row in body {
        let cells = columns.iter().filter_map(|column| {
            let cell = row.get(*column).filter(|cell| !cell.is_empty())?;
            Some((*column, cell))
        });
        let (lead, others): (Vec<_>, Vec<_>) = cells.partition(|(column, _)| *column < leads);
        let lead: Vec<&str> = lead.into_iter().map(|(_, cell)| cell.as_str()).collect();
        let others: Vec<String> = others
            .into_iter()
            .map(|(column, cell)| format!("{} {cell}", heads[column]).trim().to_owned())
            .collect();
        text += &labelled("", &lead.join(", "), 0);
        text += &labelled("", &others.join("; "), 4);
    }
    text
}

/// Text after its label, broken between words where a terminal would break it anywhere, below itself.
pub(crate) fn labelled(label: &str, text: &str, indent: usize) -> String {
    let mut lines = String::new();
    let mut line = padded(label, indent);
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && width(&line) + 1 + width(word) > WIDE {
            let _ = writeln!(lines, "{line}");
            line = " ".repeat(indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    let _ = writeln!(lines, "{}", line.trim_end());
    lines
}

/// Lines that are wider than a terminal, broken between words; what goes on stands two columns further in.
pub(crate) fn fitted(text: &str) -> String {
    let mut fitted = String::new();
    for line in text.lines() {
        if width(line) <= WIDE {
            let _ = writeln!(fitted, "{line}");
            continue;
        }
        let indent = line.chars().take_while(|c| *c == ' ').count();
        // The first word stands where it stood, the others go on further in.
        let (first, rest) = line.trim_start().split_once(' ').unwrap_or((line.trim_start(), ""));
        let broken = labelled(&format!("{:indent$}{first} ", ""), rest, indent + 2);
        fitted += &broken;
    }
    fitted
}

/// Seconds as `3:05`.
pub(crate) fn clock(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// A number with as many digits as are worth reading: none after the point from ten on, one from one on, two below.
pub(crate) fn rounded(number: f64) -> String {
    let digits = match number.abs() {
        9.95.. => 0,
        0.995.. => 1,
        _ => 2,
    };
    let text = format!("{number:.digits$}");
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// A number as it is worth reading: one decimal below ten, none above.
pub(crate) fn tidy(number: f64) -> String {
    if number.abs() < 9.95 { format!("{number:.1}") } else { format!("{number:.0}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_letters_move_no_column() {
        let row = |cells: [&str; 2]| cells.map(str::to_owned).to_vec();
        let table =
            table(&[row(["animal", "species"]), row(["犬", "dog"]), row(["Zoe\u{308}", "dog"])], 1);
        assert_eq!(table, "animal  species\n犬      dog\nZoe\u{308}     dog\n");
    }

    #[test]
    fn blocks_rise_and_gaps_stay_open() {
        let values = [Some(0.0), None, Some(0.5), Some(1.0)];
        assert_eq!(sparkline(&values, 0.0, 1.0, &[2]), "▁ |▅█");
        assert_eq!(sparkline(&[Some(2.0); 3], 2.0, 2.0, &[]), "▄▄▄");
        assert_eq!(range(&[None, Some(3.0), Some(1.0)]), (1.0, 3.0));
        assert_eq!(range(&[]), (0.0, 1.0));
    }

    #[test]
    fn what_is_too_wide_becomes_lines_and_empty_columns_go() {
        let long = "a name that is longer than a quarter of the whole line";
        let rows =
            [["day", "name", "nothing", "by"], ["Monday", long, "", "somebody whose name is long"]];
        let rows = rows.map(|row| row.map(str::to_owned).to_vec());
        let shown = table(&rows, 1);
        assert_eq!(
            shown,
            format!("Monday\n    name {long}; by somebody\n    whose name is long\n")
        );
        let text = format!("  {} end", "word ".repeat(30).trim());
        let fitted = fitted(&text);
        assert!(fitted.lines().all(|line| line.chars().count() <= WIDE), "{fitted}");
        assert!(fitted.starts_with("  word word") && fitted.contains("\n    word"), "{fitted}");
        assert_eq!(fitted.split_whitespace().count(), 31);
        assert_eq!(
            [0.970_234, 0.8, 2.504, 466.0, -3.0, 25.01].map(rounded),
            ["0.97", "0.8", "2.5", "466", "-3", "25"]
        );
    }

    #[test]
    fn columns_line_up() {
        let rows = [["a", "bb"], ["ccc", "d"]].map(|row| row.map(str::to_owned).to_vec());
        assert_eq!(table(&rows, 1), "a    bb\nccc  d\n");
        assert_eq!((clock(185.4), clock(-1.0)), ("3:05".into(), "0:00".into()));
        assert_eq!((tidy(3.127), tidy(31.4)), ("3.1".into(), "31".into()));
    }
}
