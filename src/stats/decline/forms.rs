//! What a decline may look like: how times and the chance of a miss change with the seconds since it
//! began.

/// Ways in which times grow: not, at once a little, at once much, quickly, slowly.
pub(super) const TIMES: usize = 5;
/// Ways in which misses grow: not, at once, at once much, gradually.
pub(super) const MISSES: usize = 4;
/// Forms of a decline.
pub(super) const FORMS: usize = 12;

/// Where a decline shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shows {
    /// Times grow.
    Times,
    /// Misses grow.
    Misses,
    /// Both.
    Both,
    /// No try comes any more.
    Silence,
}

/// One form.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Form {
    pub(super) times: usize,
    pub(super) misses: usize,
    /// Share of the onsets that are expected to look like this (an assumption).
    pub(super) share: f64,
    pub(super) shows: Shows,
}

const fn form(times: usize, misses: usize, share: f64, shows: Shows) -> Form {
    Form { times, misses, share, shows }
}

/// All of them; the last is silence.
pub(super) const ALL: [Form; FORMS] = [
    form(1, 0, 0.03, Shows::Times),
    form(2, 0, 0.03, Shows::Times),
    form(3, 0, 0.03, Shows::Times),
    form(4, 0, 0.03, Shows::Times),
    form(0, 1, 0.10, Shows::Misses),
    form(0, 2, 0.13, Shows::Misses),
    form(0, 3, 0.10, Shows::Misses),
    form(1, 1, 0.08, Shows::Both),
    form(2, 2, 0.06, Shows::Both),
    form(3, 3, 0.07, Shows::Both),
    form(4, 3, 0.06, Shows::Both),
    form(0, 0, 0.28, Shows::Silence),
];
/// Place of silence.
pub(super) const SILENCE: usize = FORMS - 1;

/// How much the log of a time grows, by way, this many seconds after the onset.
pub(super) fn longer(age: f64) -> [f64; TIMES] {
    [0.0, 0.45, 0.9, (age / 75.0).min(1.5), (age / 280.0).min(1.5)]
}

/// How much the log odds of a miss grow.
pub(super) fn misses(age: f64) -> [f64; MISSES] {
    [0.0, 1.0, 2.2, (age / 60.0).min(2.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shares_make_one_and_silence_is_last() {
        let sum: f64 = ALL.iter().map(|form| form.share).sum();
        assert!((sum - 1.0).abs() < 1e-12);
        assert_eq!(ALL[SILENCE].shows, Shows::Silence);
        assert!(ALL.iter().all(|form| form.times < TIMES && form.misses < MISSES));
    }
}
