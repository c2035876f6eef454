//! The rules of thumb beside which the engine is measured, each with its one setting swept.

use hushtally::session::Rep;

/// What a rule of thumb sees: tries, cleaned of what was taken back.
#[derive(Clone)]
pub(crate) struct Seen {
    /// Seconds, and whether the try met the criterion.
    pub(crate) tries: Vec<(f64, bool)>,
    /// When each try came, and how long it took: from its cue, or else from the try before it.
    pub(crate) answers: Vec<(f64, f64)>,
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
            answers: answers(reps),
            rewards: reps.iter().filter(|rep| rep.rewarded()).map(seconds).collect(),
            ended,
        }
    }
}

fn answers(reps: &[Rep]) -> Vec<(f64, f64)> {
    let mut before = None;
    let took = |rep: &Rep| {
        let since_before = before.replace(rep.at).map(|before| rep.at.since(before));
        let took = rep.latency.or(since_before)?.as_secs_f64();
        Some((rep.at.as_secs_f64(), took))
    };
    reps.iter().filter_map(took).collect()
}

/// A rule with its setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Rule {
    /// Once, after this many seconds.
    FixedTimer(f64),
    /// At most this many rewards in a window of this many seconds, looked at every second.
    PlainWindow { window: f64, most: usize },
    /// At most this many of the last ten tries met the criterion ("8 of 10" with its setting swept).
    OfTen(usize),
    /// This many misses in a row ("three misses" with its setting swept).
    MissesInARow(usize),
    /// Rewards in a window of this many seconds at most such a share of the session's own pace so far.
    OwnRate { window: f64, share: f64 },
    /// The median of the last answers (first number) is this many times (second) that of all before.
    SlowAnswers { last: usize, times: f64 },
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

/// Rules that know the session's own pace; the figures of the first world were set beside the others.
pub(crate) fn families_of_own_pace() -> Vec<(&'static str, Vec<Rule>)> {
    let shares = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7];
    let windows = [15.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0];
    let times = [1.3, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0, 10.0];
    let own = windows
        .into_iter()
        .flat_map(|window| shares.into_iter().map(move |share| Rule::OwnRate { window, share }));
    let slow = [1, 2, 3, 5, 8, 12, 20]
        .into_iter()
        .flat_map(|last| times.into_iter().map(move |times| Rule::SlowAnswers { last, times }));
    vec![("own-rate window", own.collect()), ("slow answers", slow.collect())]
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
            Rule::OwnRate { window, share } => own_rate(seen, window, share),
            Rule::SlowAnswers { last, times } => slow_answers(seen, last, times),
        }
    }
}

fn plain_window(seen: &Seen, window: f64, most: usize) -> Vec<f64> {
    thin(seen, window, window.ceil(), |_, _| most as f64)
}

/// The own pace is known after a window and a half.
fn own_rate(seen: &Seen, window: f64, share: f64) -> Vec<f64> {
    let from = (window * 1.5).ceil();
    thin(seen, window, from, |now, rewards| share * window * rewards as f64 / now)
}

/// Alarms where the rewards in the window are at most what `most` allows, given the time and the
/// rewards so far, looked at every second.
fn thin(seen: &Seen, window: f64, from_s: f64, most: impl Fn(f64, usize) -> f64) -> Vec<f64> {
    let mut alarms = Vec::new();
    let mut content = true;
    let (mut from, mut to) = (0, 0);
    let mut now = from_s;
    while now < seen.ended {
        while seen.rewards.get(to).is_some_and(|at| *at <= now) {
            to += 1;
        }
        while from < to && seen.rewards[from] <= now - window {
            from += 1;
        }
        let thin = (to - from) as f64 <= most(now, to);
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

/// As [`Rule::SlowAnswers`] says, once five answers came before those.
fn slow_answers(seen: &Seen, last: usize, times: f64) -> Vec<f64> {
    let mut content = true;
    let mut alarms = Vec::new();
    let mut before: Vec<f64> = Vec::new();
    for (place, (at, _)) in seen.answers.iter().enumerate() {
        let Some(first) = (place + 1).checked_sub(last).filter(|first| *first >= 5) else {
            continue;
        };
        while before.len() < first {
            let took = seen.answers[before.len()].1;
            before.insert(before.partition_point(|other| *other < took), took);
        }
        let mut latest: Vec<f64> = seen.answers[first..=place].iter().map(|a| a.1).collect();
        latest.sort_by(f64::total_cmp);
        let slow = latest[last / 2] >= times * before[before.len() / 2];
        if slow && content {
            alarms.push(*at);
        }
        content = !slow;
    }
    alarms
}
