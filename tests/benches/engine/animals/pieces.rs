//! Recordings cut into sessions, told to the program as timed tags, and what it said.

use std::fmt::Write as _;
use std::io::{self, Write};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use hushtally::clock::Clock;
use hushtally::plan::Plan;
use hushtally::run::tags::{TagsError, past_sessions, replay_tags};
use hushtally::run::{Desk, JsonLines};
use hushtally::session::{PastSession, Prior};
use serde_json::Value;

use super::read::{Recording, Try, What};
use crate::measure;

/// No session is longer.
pub(crate) const LONGEST_S: f64 = 3600.0;
/// A piece with fewer tries says nothing.
const FEWEST_TRIES: usize = 20;
/// This many sessions back are known.
const KNOWN: usize = 10;

/// A session of at most an hour.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) set: &'static str,
    pub(crate) animal: String,
    /// Seconds from its start.
    pub(crate) tries: Vec<Try>,
    /// Its length.
    pub(crate) ends: f64,
    /// When the animal tried again after it, in seconds from its start.
    pub(crate) later: Vec<f64>,
}

impl Piece {
    /// Times of the tries; movements on the way to one left out.
    pub(crate) fn times(&self) -> impl Iterator<Item = f64> {
        self.tries.iter().filter(|one| one.what != What::Step).map(|one| one.at)
    }
}

/// Cuts: each piece begins with a try and ends an hour later, or with the recording. What the animal
/// does not do in this hour belongs to it too.
pub(crate) fn cut(recordings: &[Recording]) -> Vec<Piece> {
    let mut pieces: Vec<Piece> = Vec::new();
    for recording in recordings {
        let mut rest = &recording.tries[..];
        while let Some(first) = rest.first() {
            let from = first.cue.unwrap_or(first.at) - 1.0;
            let until = rest.partition_point(|one| one.at < from + LONGEST_S);
            let (mine, after) = rest.split_at(until);
            rest = after;
            if mine.iter().filter(|one| one.what != What::Step).count() < FEWEST_TRIES {
                continue;
            }
            let moved = |one: &Try| Try {
                at: one.at - from,
                cue: one.cue.map(|cue| cue - from),
                what: one.what,
            };
            let tries: Vec<Try> = mine.iter().map(moved).collect();
            let last = tries.last().map_or(0.0, |one| one.at);
            let ends = if after.is_empty() { last + 1.0 } else { LONGEST_S };
            let later = after.iter().filter(|one| one.what != What::Step);
            let later = later.map(|one| one.at - from).take_while(|at| *at < 2.0 * LONGEST_S);
            pieces.push(Piece {
                set: recording.set,
                animal: recording.animal.clone(),
                later: later.collect(),
                tries,
                ends,
            });
        }
    }
    pieces
}

/// The plan of these animals: an hour, any number of tries, and no floor of the pace to speak of. Nobody
/// plans for an animal that works for itself; so only inference can say that it should end.
pub(crate) fn plan() -> Plan {
    let mut plan = Plan::of_default_words();
    plan.limits.planned = Duration::from_secs_f64(LONGEST_S);
    plan.limits.planned_reps = 100_000;
    plan.limits.rate_floor_per_min = 0.1;
    plan.limits.rate_window = Duration::from_secs(600);
    plan
}

/// The lines of a session.
pub(crate) fn lines(number: usize, tries: &[Try], ends: f64) -> String {
    let mut told: Vec<(f64, &str)> = Vec::with_capacity(tries.len() * 2);
    for one in tries {
        told.extend(one.cue.map(|cue| (cue, "\"cue\"")));
        told.push((
            one.at,
            match one.what {
                What::Rewarded => "\"rep\"",
                What::Missed => "\"miss\"",
                What::Step => "\"own\",\"name\":\"movement\"",
            },
        ));
    }
    told.sort_by(|a, b| a.0.total_cmp(&b.0));
    told.push((ends.max(told.last().map_or(0.0, |last| last.0)), "\"finished\""));
    let mut lines = String::new();
    for (at, kind) in told {
        let _into_a_string =
            writeln!(lines, "{{\"at_s\":{at:.3},\"kind\":{kind},\"session\":{number}}}");
    }
    lines
}

/// A nudge as the program printed it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Nudge {
    pub(crate) at: f64,
    pub(crate) name: String,
}

impl Nudge {
    /// Whether it says to end.
    pub(crate) fn ends(&self) -> bool {
        matches!(self.name.as_str(), "end_soon" | "end_now")
    }
}

/// What these pieces' earlier sessions say, one prior a piece, told in the same way.
pub(crate) fn histories(pieces: &[Piece]) -> Result<Vec<Prior>, TagsError> {
    let mut priors = Vec::with_capacity(pieces.len());
    for animal in pieces.chunk_by(|a, b| a.animal == b.animal) {
        let told: String = animal
            .iter()
            .enumerate()
            .map(|(n, piece)| lines(n, &piece.tries, piece.ends))
            .collect();
        let past = past_sessions(told.as_bytes(), &plan())?;
        let known = |before: usize| -> Vec<PastSession> {
            past[before.saturating_sub(KNOWN)..before.min(past.len())].to_vec()
        };
        priors.extend(
            animal
                .iter()
                .enumerate()
                .map(|(n, _)| Prior { sessions: known(n), ..Prior::default() }),
        );
    }
    Ok(priors)
}

#[derive(Clone, Default)]
struct Page(Arc<Mutex<Vec<u8>>>);

impl Write for Page {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().map_or(Ok(0), |mut page| page.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The nudges by inference in this one session.
pub(crate) fn nudges(tries: &[Try], ends: f64, prior: &Prior) -> Result<Vec<Nudge>, TagsError> {
    let page = Page::default();
    let mut desk = Desk::new(Box::new(JsonLines::at_leisure(page.clone())), Clock::real());
    replay_tags(lines(1, tries, ends).as_bytes(), &plan(), &[], prior, &mut desk)?;
    let printed = page.0.lock().map(|page| page.clone()).unwrap_or_default();
    let printed = String::from_utf8_lossy(&printed);
    let nudge = |line: &str| -> Option<Nudge> {
        let line: Value = serde_json::from_str(line).ok()?;
        let (name, detector) = (line["nudge"].as_str()?, line["reason"]["detector"].as_str()?);
        let warns = measure::warns(name, detector);
        warns.then(|| Nudge { at: line["at_s"].as_f64().unwrap_or(0.0), name: name.to_owned() })
    };
    Ok(printed.lines().filter(|line| line.contains("\"nudge\"")).filter_map(nudge).collect())
}
