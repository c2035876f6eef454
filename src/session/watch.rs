//! The session's stopwatch: session time to active time (since the begin, pauses left out) and back.

use std::time::Duration;

use crate::at::At;

/// Runs from the begin; stands still in pauses.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Watch {
    began: Option<At>,
    paused_since: Option<At>,
    paused_for: Duration,
}

impl Watch {
    pub(crate) fn begin(&mut self, at: At) {
        *self = Watch { began: Some(at), ..Watch::default() };
    }

    pub(crate) fn began(&self) -> Option<At> {
        self.began
    }

    pub(crate) fn pause(&mut self, at: At) {
        if self.began.is_some() && self.paused_since.is_none() {
            self.paused_since = Some(at);
        }
    }

    pub(crate) fn go_on(&mut self, at: At) {
        if let Some(since) = self.paused_since.take() {
            self.paused_for += at.since(since);
        }
    }

    pub(crate) fn paused(&self) -> bool {
        self.paused_since.is_some()
    }

    /// Active time at this moment; zero before the begin, standing still in a pause.
    pub(crate) fn active(&self, at: At) -> Duration {
        let Some(began) = self.began else { return Duration::ZERO };
        let until = self.paused_since.map_or(at, |since| since.min(at));
        until.since(began).saturating_sub(self.paused_for)
    }

    /// The moment at which so much active time will have passed; `None` while it stands still.
    pub(crate) fn moment(&self, active: Duration) -> Option<At> {
        match (self.began, self.paused_since) {
            (Some(began), None) => Some(began + active + self.paused_for),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
    }
}
