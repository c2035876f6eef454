//! The rules of thumb beside which the engine is measured, each with its one setting swept.

use hushtally::session::Rep;

/// What a rule of thumb sees: tries, cleaned of what was taken back.
#[derive(Clone)]
pub(crate) struct Seen {
    /// Seconds, and whether the try met the criterion.
    pub(crate) tries: Vec<(f64, bool)>,
    /// Seconds of each reward.
    pub(crate) rewards: Vec<f64>,
    /// Seconds at which the session was over.
    pub(crate) ended: f64,
}

impl Seen {
    pub(crate) fn of(reps: &[Rep], ended: f64) -> Self {
        let seconds = |rep: &Rep| rep.at.as_secs_f64();
        Seen {
            tries: reps.iter().map(|rep| (seconds(rep), rep.met_criterion())).collect(),
            rewards: reps.iter().filter(|rep| rep.rewarded()).map(seconds).collect(),
            ended,
        }
    }
}

/// A rule with its setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Rule {
    /// Once, after so many seconds.
    FixedTimer(f64),
    /// At most so many rewards in a window of so many seconds, looked at every second.
    PlainWindow { window: f64, most: usize },
    /// At most so many of the last ten tries met the criterion ("8 of 10" with its setting swept).
    OfTen(usize),
    /// So many misses in a row ("three misses" with its setting swept).
    MissesInARow(usize),
}

/// Every family with every setting that is tried.
pub(crate) fn families() -> Vec<(&'static str, Vec<Rule>)> {
    let timers = (1..=40).map(|i| Rule::FixedTimer(f64::from(i) * 15.0)).collect();
    let mut windows = Vec::new();
    for window in (8..=90).step_by(2) {
        for most in 0..10 {
            // A threshold above 12 a minute asks for more than any animal here gives.
            if most as f64 * 60.0 / f64::from(window) <= 12.0 {
                windows.push(Rule::PlainWindow { window: f64::from(window), most });
            }
        }
    }
    vec![
        ("fixed timer", timers),
        ("plain window", windows),
        ("8 of 10", (0..=8).map(Rule::OfTen).collect()),
        ("three misses", (1..=8).map(Rule::MissesInARow).collect()),
    ]
}

impl Rule {
    /// When it speaks up, in seconds; again only after it has been content in between.
    pub(crate) fn alarms(self, seen: &Seen) -> Vec<f64> {
        match self {
            Rule::FixedTimer(after) => {
                if after < seen.ended {
                    vec![after]
                } else {
                    Vec::new()
                }
            }
            Rule::PlainWindow { window, most } => plain_window(seen, window, most),
            Rule::OfTen(most) => of_ten(seen, most),
            Rule::MissesInARow(run) => misses(seen, run),
        }
    }
}

fn plain_window(seen: &Seen, window: f64, most: usize) -> Vec<f64> {
    let mut alarms = Vec::new();
    let mut content = true;
    let (mut from, mut to) = (0, 0);
    let mut now = window.ceil();
    while now < seen.ended {
        while seen.rewards.get(to).is_some_and(|at| *at <= now) {
            to += 1;
        }
        while from < to && seen.rewards[from] <= now - window {
            from += 1;
        }
        let thin = to - from <= most;
        if thin && content {
            alarms.push(now);
        }
        content = !thin;
        now += 1.0;
    }
    alarms
}

fn of_ten(seen: &Seen, most: usize) -> Vec<f64> {
    let mut content = true;
    let mut alarms = Vec::new();
    for ten in seen.tries.windows(10) {
        let met = ten.iter().filter(|(_, met)| *met).count();
        let few = met <= most;
        if few && content {
            alarms.push(ten[9].0);
        }
        content = !few;
    }
    alarms
}

fn misses(seen: &Seen, run: usize) -> Vec<f64> {
    let mut alarms = Vec::new();
    let mut in_a_row = 0;
    for (at, met) in &seen.tries {
        in_a_row = if *met { 0 } else { in_a_row + 1 };
        if in_a_row == run {
            alarms.push(*at);
        }
    }
    alarms
}
