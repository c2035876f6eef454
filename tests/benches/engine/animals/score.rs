//! Whether an alarm was right: did the pace come back, and how much was still to come.

use hushtally::stats::{Level, proportions};

use super::pieces::{LONGEST_S, Piece};

/// Pace is taken over this long.
const SOME_MINUTES_S: f64 = 300.0;
/// It came back soon when those minutes begin within this long of the alarm.
const SOON_S: f64 = 600.0;
/// At this share of the pace before it has come back.
const BACK_AT: f64 = 0.6;
/// Alarms so near the end of a session cannot be judged.
const LAST_S: f64 = 60.0;

/// Adds up the alarms of one method.
#[derive(Debug, Default, Clone)]
pub(crate) struct Alarms {
    sessions: u32,
    hours: f64,
    alarms: u32,
    judged: u32,
    back_soon: u32,
    back_later: u32,
    tries_after: f64,
    tries_of: f64,
}

impl Alarms {
    pub(crate) fn add(&mut self, piece: &Piece, alarms: &[f64]) {
        self.sessions += 1;
        self.hours += piece.ends / LONGEST_S;
        let times: Vec<f64> = piece.times().collect();
        for at in alarms {
            self.alarms += 1;
            if *at > piece.ends - LAST_S {
                continue;
            }
            self.judged += 1;
            self.back_soon += u32::from(came_back(piece, &times, *at, at + SOON_S));
            self.back_later += u32::from(came_back(piece, &times, *at, piece.ends));
            let before = times.partition_point(|time| time <= at);
            self.tries_after += (times.len() - before) as f64;
            self.tries_of += times.len() as f64;
        }
    }

    /// Alarms an hour.
    pub(crate) fn per_hour(&self) -> f64 {
        f64::from(self.alarms) / self.hours
    }

    /// Share of the judged alarms after which the pace came back soon; none without an alarm.
    pub(crate) fn taken_back(&self) -> f64 {
        if self.judged == 0 { 0.0 } else { f64::from(self.back_soon) / f64::from(self.judged) }
    }

    /// In one line.
    pub(crate) fn told(&self) -> String {
        format!(
            "{} alarms in {} sessions, {:.0} hours ({:.2} an hour, {:.2} a session); pace came back within ten minutes {}, at any later time {}; tries still to come {:.0} %",
            self.alarms,
            self.sessions,
            self.hours,
            self.per_hour(),
            f64::from(self.alarms) / f64::from(self.sessions.max(1)),
            share(self.back_soon, self.judged),
            share(self.back_later, self.judged),
            100.0 * self.tries_after / self.tries_of.max(1.0),
        )
    }
}

/// A share with its Wilson interval, in words.
pub(crate) fn share(hits: u32, of: u32) -> String {
    match proportions::wilson(hits, of, Level::NINETY_FIVE) {
        Ok(share) => format!(
            "{hits} of {of} ({:.0} %, {:.0} to {:.0})",
            100.0 * share.point,
            100.0 * share.low,
            100.0 * share.high
        ),
        Err(_) => "none".to_owned(),
    }
}

/// Whether some five minutes that begin after the alarm, and not after `latest`, have at least the
/// share of the pace before it. What the animal did after the session counts too.
fn came_back(piece: &Piece, times: &[f64], alarm: f64, latest: f64) -> bool {
    let before = times.partition_point(|time| *time <= alarm) as f64 / alarm;
    let needed = BACK_AT * before * SOME_MINUTES_S;
    let all: Vec<f64> = times.iter().chain(&piece.later).copied().filter(|t| *t > alarm).collect();
    // The best five minutes begin with a try, or where they are last allowed to.
    let begins = all.iter().copied().filter(|at| *at <= latest).chain([latest]);
    begins.into_iter().any(|from| {
        let first = all.partition_point(|time| *time < from);
        let until = all.partition_point(|time| *time < from + SOME_MINUTES_S);
        (until - first) as f64 >= needed
    })
}
