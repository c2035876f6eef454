//! `truth.csv`: what was said in which file, and which segments must give nothing.

use std::collections::BTreeMap;

use serde::Deserialize;

/// A segment of a file, and the words said in it.
#[derive(Debug, Clone, PartialEq)]
pub struct TruthSegment {
    /// Seconds from the beginning of the file.
    pub start_s: f64,
    /// See `start_s`.
    pub end_s: f64,
    /// The words; none: talk or noise that must give nothing.
    pub words: Vec<String>,
}

/// What is wrong with a `truth.csv`.
#[derive(Debug, thiserror::Error, PartialEq)]
pub enum TruthError {
    /// A line that cannot be read.
    #[error(
        "line {line}: {what}; a line is file,start_s,end_s,words such as clip.wav,0.40,0.95,yes two"
    )]
    Line {
        /// Counted from 1.
        line: u64,
        /// What is wrong.
        what: String,
    },
    /// Nothing in it.
    #[error("there is no line below the heading file,start_s,end_s,words")]
    Empty,
}

#[derive(Deserialize)]
struct Row {
    file: String,
    start_s: f64,
    end_s: f64,
    #[serde(default)]
    words: String,
}

/// Reads the text of a `truth.csv`: segments by file, in order of their start.
///
/// # Errors
/// [`TruthError`] with the first line that cannot be read.
///
/// ```
/// use hushtally_core::score::truth_segments;
/// let truth = truth_segments("file,start_s,end_s,words\na.wav,0.4,0.9,Yes two\na.wav,1,9,\n")?;
/// assert_eq!(truth["a.wav"][0].words, ["yes", "two"]);
/// assert!(truth["a.wav"][1].words.is_empty());
/// # Ok::<(), hushtally_core::score::TruthError>(())
/// ```
pub fn truth_segments(text: &str) -> Result<BTreeMap<String, Vec<TruthSegment>>, TruthError> {
    let mut files: BTreeMap<String, Vec<TruthSegment>> = BTreeMap::new();
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    for (index, row) in reader.deserialize().enumerate() {
        let row: Row = row.map_err(|error| TruthError::Line {
            line: error.position().map_or(0, csv::Position::line),
            what: error.to_string(),
        })?;
        let line = index as u64 + 2;
        if !(row.start_s >= 0.0 && row.end_s > row.start_s && row.end_s.is_finite()) {
            let what = format!("{}: {} to {} s is not a segment", row.file, row.start_s, row.end_s);
            return Err(TruthError::Line { line, what });
        }
        let words = row.words.to_lowercase().split_whitespace().map(str::to_owned).collect();
        let segment = TruthSegment { start_s: row.start_s, end_s: row.end_s, words };
        files.entry(row.file).or_default().push(segment);
    }
    if files.is_empty() {
        return Err(TruthError::Empty);
    }
    for segments in files.values_mut() {
        segments.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn says_which_line_is_wrong() {
        let bad = truth_segments("file,start_s,end_s,words\na.wav,x,1,yes\n").unwrap_err();
        assert!(bad.to_string().starts_with("line 2:"), "{bad}");
        let bad = truth_segments("file,start_s,end_s,words\na.wav,2,1,yes\n").unwrap_err();
        assert!(bad.to_string().contains("a.wav: 2 to 1 s"), "{bad}");
        assert_eq!(truth_segments("file,start_s,end_s,words\n"), Err(TruthError::Empty));
        assert!(truth_segments("").is_err());
    }
}
