//! The figures, and a table of them for people.

use std::fmt;

use serde::Serialize;

/// Everything measured, ready to be printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figures {
    /// Words said.
    pub tags_expected: usize,
    /// Heard as said.
    pub right: usize,
    /// Heard as another tag.
    pub wrong: usize,
    /// Not heard at all.
    pub missed: usize,
    /// Kept as a doubt rather than a tag, whether the doubt names the right word or not.
    pub unsure: usize,
    /// Of those, doubts whose likelier reading is right.
    pub unsure_right: usize,
    /// Tags heard beside those that were said, in segments with words.
    pub extra: usize,
    /// Share of the words that were heard as said; `null` without any.
    pub recall: Option<f64>,
    /// Lowest recall of a word, and the word.
    pub worst_word: Option<(String, f64)>,
    /// By word, most often wrong first.
    pub per_word: Vec<WordFigures>,
    /// Seconds of sound that must give nothing.
    pub nothing_s: f64,
    /// Tags in it that would be written into the record.
    pub false_tags: usize,
    /// The same an hour; `null` without such sound.
    pub false_tags_per_hour: Option<f64>,
    /// Details (step, side, value) heard in it with no marker before them: they change no record.
    pub lone_details: usize,
    /// Doubts in it.
    pub doubts: usize,
    /// Commands in it.
    pub accidental_commands: usize,
    /// Onset of a segment's first word, heard less true, in ms.
    pub onset_error_ms: Option<Spread>,
    /// From the end of the words to the decision on a live microphone, in ms; commands, which wait on
    /// purpose, are left out.
    pub delay_ms: Option<Spread>,
    /// Computing time on one core over time of sound.
    pub real_time_factor: Option<f64>,
    /// Seconds of sound in all.
    pub sound_s: f64,
    /// What was heard as what; "" is nothing, "?" a doubt.
    pub confusions: Vec<Confusion>,
}

/// One word.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WordFigures {
    /// The word.
    pub word: String,
    /// How often it was said.
    pub expected: usize,
    /// How often it was heard.
    pub right: usize,
    /// Share.
    pub recall: f64,
}

/// One confusion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Confusion {
    /// What was said.
    pub said: String,
    /// What was heard.
    pub heard: String,
    /// How often.
    pub times: usize,
}

/// Where values lie.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Median of the absolute values.
    pub median: f64,
    /// 95th percentile of the absolute values (nearest rank).
    pub p95: f64,
    /// Median of the values with their sign.
    pub bias: f64,
    /// How many values.
    pub n: usize,
}

impl Spread {
    /// Of these values; `None` without any.
    pub fn of(values: &[f64]) -> Option<Spread> {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let mut sizes: Vec<f64> = values.iter().map(|v| v.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let rank = |list: &[f64], share: f64| {
            let place = (share * list.len() as f64).ceil().max(1.0) as usize;
            list.get(place - 1).copied()
        };
        Some(Spread {
            median: rank(&sizes, 0.5)?,
            p95: rank(&sizes, 0.95)?,
            bias: rank(&sorted, 0.5)?,
            n: values.len(),
        })
    }
}

impl fmt::Display for Figures {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let percent = |share: Option<f64>| {
            share.map_or("-".to_owned(), |share| format!("{:.1} %", 100.0 * share))
        };
        let spread = |spread: &Option<Spread>| {
            spread.map_or("-".to_owned(), |s| {
                format!("median {:.0}, 95th {:.0}, bias {:.0} (n {})", s.median, s.p95, s.bias, s.n)
            })
        };
        writeln!(f, "words said            {}", self.tags_expected)?;
        writeln!(f, "  right               {}  ({} recall)", self.right, percent(self.recall))?;
        writeln!(f, "  wrong               {}", self.wrong)?;
        writeln!(f, "  missed              {}", self.missed)?;
        writeln!(f, "  unsure              {}  (right word: {})", self.unsure, self.unsure_right)?;
        writeln!(f, "  extra               {}", self.extra)?;
        if let Some((word, share)) = &self.worst_word {
            writeln!(f, "  weakest word        {word} ({})", percent(Some(*share)))?;
        }
        writeln!(f, "must give nothing     {:.1} min", self.nothing_s / 60.0)?;
        writeln!(
            f,
            "  false tags          {}  ({} an hour)",
            self.false_tags,
            self.false_tags_per_hour.map_or("-".to_owned(), |rate| format!("{rate:.1}"))
        )?;
        writeln!(f, "  lone details        {}", self.lone_details)?;
        writeln!(f, "  doubts              {}", self.doubts)?;
        writeln!(f, "  commands            {}", self.accidental_commands)?;
        writeln!(f, "onset error, ms       {}", spread(&self.onset_error_ms))?;
        writeln!(f, "end to decision, ms   {}", spread(&self.delay_ms))?;
        writeln!(
            f,
            "real-time factor      {}",
            self.real_time_factor.map_or("-".to_owned(), |factor| format!("{factor:.3}"))
        )?;
        let weak: Vec<String> = self
            .per_word
            .iter()
            .filter(|word| word.right < word.expected)
            .take(12)
            .map(|word| format!("{} {}/{}", word.word, word.right, word.expected))
            .collect();
        if !weak.is_empty() {
            writeln!(f, "weak words            {}", weak.join(", "))?;
        }
        let confused: Vec<String> = self
            .confusions
            .iter()
            .take(12)
            .map(|c| {
                let heard = if c.heard.is_empty() { "nothing" } else { &c.heard };
                format!("{} as {heard} {}", c.said, c.times)
            })
            .collect();
        if !confused.is_empty() {
            writeln!(f, "confusions            {}", confused.join(", "))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spread_by_nearest_rank() {
        let values: Vec<f64> = (1..=20).map(|v| f64::from(v) - 10.0).collect();
        let spread = Spread::of(&values).unwrap();
        assert_eq!((spread.median, spread.p95, spread.bias, spread.n), (5.0, 9.0, 0.0, 20));
        assert_eq!(Spread::of(&[]), None);
    }
}
