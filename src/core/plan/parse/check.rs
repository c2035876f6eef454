//! Collects the problems of a file with their lines.

use std::fmt;
use std::ops::Range;
use std::time::Duration;

use toml::Spanned;

/// One problem in a plan file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanError {
    /// The file as the user named it.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}, line {}: found {}; expected {}",
            self.file, self.line, self.found, self.expected
        )
    }
}

/// Every problem found in a plan file, in the order of its lines. Never empty.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct PlanErrors(pub Vec<PlanError>);

impl fmt::Display for PlanErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.0.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            write!(f, "{error}")?;
        }
        Ok(())
    }
}

/// Collects problems with their lines.
pub(super) struct Checker<'a> {
    file: &'a str,
    text: &'a str,
    errors: Vec<PlanError>,
}

impl<'a> Checker<'a> {
    pub(super) fn new(file: &'a str, text: &'a str) -> Self {
        Checker { file, text, errors: Vec::new() }
    }

    /// A file that is not TOML, or not of this shape.
    pub(super) fn no_toml(mut self, error: &toml::de::Error) -> PlanErrors {
        self.syntax(error);
        PlanErrors(self.errors)
    }

    fn line_of(&self, span: &Range<usize>) -> usize {
        let before = &self.text.as_bytes()[..span.start.min(self.text.len())];
        1 + before.iter().filter(|byte| **byte == b'\n').count()
    }

    pub(super) fn complain(
        &mut self,
        span: &Range<usize>,
        found: impl Into<String>,
        expected: &str,
    ) {
        let line = self.line_of(span);
        self.errors.push(PlanError {
            file: self.file.to_owned(),
            line,
            found: found.into(),
            expected: expected.to_owned(),
        });
    }

    fn syntax(&mut self, error: &toml::de::Error) {
        let span = error.span().unwrap_or(0..0);
        let message = error.message().trim();
        let (found, expected) =
            message.split_once(", expected ").unwrap_or((message, "a plan in TOML"));
        self.complain(&span, found, expected);
    }

    pub(super) fn filled(&mut self, text: Spanned<String>, what: &str) -> String {
        let span = text.span();
        let text = text.into_inner();
        if text.trim().is_empty() {
            self.complain(&span, "an empty text", what);
        }
        text.trim().to_owned()
    }

    /// A number within bounds, or `default` when it is not given.
    pub(super) fn number(
        &mut self,
        value: Option<Spanned<f64>>,
        default: f64,
        bounds: Range<f64>,
        what: &str,
    ) -> f64 {
        let Some(value) = value else { return default };
        let (span, value) = (value.span(), value.into_inner());
        if bounds.contains(&value) {
            value
        } else {
            let expected = format!("{what}, from {} to below {}", bounds.start, bounds.end);
            self.complain(&span, value.to_string(), &expected);
            default
        }
    }

    pub(super) fn count(&mut self, value: Option<Spanned<u32>>, default: u32, what: &str) -> u32 {
        let Some(value) = value else { return default };
        let (span, value) = (value.span(), value.into_inner());
        if value == 0 || value > 100_000 {
            self.complain(&span, value.to_string(), &format!("{what}, at least 1"));
            return default;
        }
        value
    }

    pub(super) fn span_of_time(
        &mut self,
        value: Option<Spanned<f64>>,
        default: Duration,
        bounds: Range<f64>,
        what: &str,
    ) -> Duration {
        Duration::from_secs_f64(self.number(value, default.as_secs_f64(), bounds, what))
    }

    pub(super) fn finish<T>(mut self, value: T) -> Result<T, PlanErrors> {
        if self.errors.is_empty() {
            return Ok(value);
        }
        self.errors.sort_by_key(|error| error.line);
        Err(PlanErrors(self.errors))
    }
}
