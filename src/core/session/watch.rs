//! The session's stopwatch: session time to active time (since the start, pauses left out) and back.

use std::time::Duration;

use crate::at::At;

/// Runs from the start; stands still in pauses. Past moments keep their active time, so that what was
/// said before a pause can still be replayed after it.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Watch {
    /// Where time ran on: active time and session time; the first is the start.
    runs: Vec<(Duration, At)>,
    /// Since when it stands still.
    paused_since: Option<At>,
    /// Whether it stands still because another session is worked on.
    rests: bool,
    /// Since when that is a break for play.
    playing: Option<At>,
    /// How long earlier breaks for play were.
    played: Vec<Duration>,
}

impl Watch {
    pub(crate) fn begin(&mut self, at: At) {
        *self = Watch { runs: vec![(Duration::ZERO, at)], ..Watch::default() };
    }

    pub(crate) fn began(&self) -> Option<At> {
        self.runs.first().map(|(_, at)| *at)
    }

    pub(crate) fn pause(&mut self, at: At) {
        self.end_play(at);
        if self.began().is_some() && self.paused_since.is_none() {
            self.paused_since = Some(at);
        }
    }

    /// Another session is worked on from now on, also where this one was paused.
    pub(crate) fn rest(&mut self, at: At) {
        if self.began().is_some() {
            self.paused_since.get_or_insert(at);
            self.end_play(at);
            self.rests = true;
        }
    }

    /// Stands still for a break for play, also out of a pause.
    pub(crate) fn play(&mut self, at: At) {
        if self.began().is_some() && self.playing.is_none() && !self.rests {
            self.paused_since.get_or_insert(at);
            self.playing = Some(at);
        }
    }

    fn end_play(&mut self, at: At) {
        self.played.extend(self.playing.take().map(|since| at.since(since)));
    }

    pub(crate) fn go_on(&mut self, at: At) {
        self.end_play(at);
        self.rests = false;
        if let Some(since) = self.paused_since.take() {
            let active = self.active(since);
            self.runs.push((active, at.max(since)));
        }
    }

    /// Since when it rests.
    pub(crate) fn rests_since(&self) -> Option<At> {
        self.paused_since.filter(|_| self.rests)
    }

    /// Whether it stands still, for whatever reason.
    pub(crate) fn stands_still(&self) -> bool {
        self.paused_since.is_some()
    }

    pub(crate) fn paused(&self) -> bool {
        self.stands_still() && !self.playing() && !self.rests
    }

    pub(crate) fn playing(&self) -> bool {
        self.playing.is_some()
    }

    /// Breaks for play up to now: how many, and how long in all.
    pub(crate) fn breaks(&self, now: At) -> (u32, Duration) {
        let this = self.playing.map(|since| now.since(since));
        let all = self.played.iter().copied().chain(this);
        all.fold((0, Duration::ZERO), |(breaks, played), one| (breaks + 1, played + one))
    }

    /// Active time at this moment; zero before the start, standing still in a pause.
    pub(crate) fn active(&self, at: At) -> Duration {
        let next = self.runs.partition_point(|(_, from)| *from <= at);
        let Some((before, from)) = next.checked_sub(1).and_then(|run| self.runs.get(run)) else {
            return Duration::ZERO;
        };
        let until = self.paused_since.map_or(at, |since| since.min(at));
        let active = *before + until.since(*from);
        // A run ends where the next one goes on.
        self.runs.get(next).map_or(active, |(most, _)| active.min(*most))
    }

    /// The moment at which this much active time will have passed, or had; `None` while it stands still before that.
    /// What was said before a rest or a break for play may be taken back in it, so that what came due before it comes due
    /// again.
    pub(crate) fn moment(&self, active: Duration) -> Option<At> {
        if self.paused_since.is_some_and(|since| active > self.active(since)) {
            return None;
        }
        self.when(active)
    }

    /// The moment of this much active time, as if time had run on since the latest start.
    pub(crate) fn when(&self, active: Duration) -> Option<At> {
        // What comes due with the beginning of a pause is still before it.
        let run = self.runs.partition_point(|(from, _)| *from < active).saturating_sub(1);
        self.runs.get(run).map(|(before, from)| *from + active.saturating_sub(*before))
    }

    /// Whether there was a pause between these two active times.
    pub(crate) fn paused_between(&self, from: Duration, to: Duration) -> bool {
        self.runs.iter().skip(1).any(|(active, _)| from <= *active && *active <= to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_break_for_play_is_no_pause_and_no_active_time() {
        let at = At::from_secs_f64;
        let mut watch = Watch::default();
        watch.play(at(5.0));
        assert!(!watch.playing(), "nothing has begun");
        watch.begin(at(10.0));
        watch.play(at(20.0));
        assert!(watch.playing() && watch.stands_still() && !watch.paused());
        assert_eq!(watch.active(at(50.0)), Duration::from_secs(10));
        assert_eq!(watch.breaks(at(50.0)), (1, Duration::from_secs(30)));
        watch.pause(at(60.0));
        assert!(watch.paused() && !watch.playing());
        assert_eq!(watch.active(at(65.0)), Duration::from_secs(10));
        watch.play(at(70.0));
        watch.go_on(at(75.0));
        assert_eq!(watch.breaks(at(99.0)), (2, Duration::from_secs(45)));
        assert_eq!(watch.active(at(85.0)), Duration::from_secs(20));
    }

    #[test]
    fn pauses_do_not_count() {
        let at = At::from_secs_f64;
        let mut watch = Watch::default();
        assert_eq!(watch.active(at(5.0)), Duration::ZERO);
        watch.begin(at(10.0));
        watch.pause(at(20.0));
        assert_eq!(watch.active(at(50.0)), Duration::from_secs(10));
        assert_eq!(watch.moment(Duration::from_secs(15)), None);
        watch.go_on(at(60.0));
        assert_eq!(watch.active(at(65.0)), Duration::from_secs(15));
        assert_eq!(watch.moment(Duration::from_secs(15)), Some(at(65.0)));
        assert_eq!(watch.moment(Duration::from_secs(7)), Some(at(17.0)));
        for (moment, active) in [(15.0, 5), (20.0, 10), (40.0, 10), (60.0, 10), (61.0, 11)] {
            assert_eq!(watch.active(at(moment)), Duration::from_secs(active), "{moment}");
        }
        let between =
            |from, to| watch.paused_between(Duration::from_secs(from), Duration::from_secs(to));
        assert!(between(8, 12) && between(10, 11) && !between(11, 14) && !between(2, 9));
    }
}
