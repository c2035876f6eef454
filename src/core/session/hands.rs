//! Whose tries they are: who took over, and how many tries each person scored; and breaks for play.

use std::time::Duration;

use serde::Serialize;

use super::{Rep, Session, Tries};
use crate::at::At;

/// Somebody who took over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TookOver {
    /// From when on.
    pub at: At,
    /// The number of the input that said so.
    pub input: u32,
    /// Who; `None` for whoever began, who came back in another session of the sitting.
    pub person: Option<String>,
}

impl TookOver {
    /// Whether a try came after it. What was said is told by its place among the inputs, which no correction of its
    /// time changes; what ran out, or was added later, by its time.
    fn is_before(&self, rep: &Rep) -> bool {
        rep.input.map_or(rep.at > self.at, |input| input > self.input)
    }
}

/// One person's part of a session that changed hands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Hand {
    /// Who; `None` for whoever began, whom the session itself does not know.
    pub person: Option<String>,
    /// What this person scored.
    #[serde(flatten)]
    pub tries: Tries,
}

impl Session {
    /// Who took over, in order; what was taken back is not among them.
    pub fn took_over(&self) -> &[TookOver] {
        &self.core.took_over
    }

    /// Whether there is a break for play, which the next tag ends.
    #[cfg(test)]
    pub(crate) fn playing(&self) -> bool {
        self.watch.playing()
    }

    /// Breaks for play so far: how many, and how long in all.
    pub fn breaks(&self) -> (u32, Duration) {
        self.watch.breaks(self.finished.map_or(self.now, |(at, _)| at))
    }
}

/// What each person scored, in the order in which they first trained; empty when nobody took over.
pub fn hands(took_over: &[TookOver], reps: &[Rep]) -> Vec<Hand> {
    if took_over.is_empty() {
        return Vec::new();
    }
    let scored_by = |rep: &Rep| took_over.iter().rev().find(|taken| taken.is_before(rep));
    let mut hands = vec![Hand { person: None, tries: Tries::default() }];
    for taken in took_over {
        if hands.iter().all(|hand| hand.person != taken.person) {
            hands.push(Hand { person: taken.person.clone(), tries: Tries::default() });
        }
    }
    for rep in reps {
        let person = scored_by(rep).and_then(|taken| taken.person.as_ref());
        if let Some(hand) = hands.iter_mut().find(|hand| hand.person.as_ref() == person) {
            hand.tries = hand.tries + Tries::of([rep]);
        }
    }
    // Of several sessions of a sitting, one may be somebody else's from its first try on.
    hands.retain(|hand| hand.person.is_some() || hand.tries.all() > 0);
    if hands.iter().all(|hand| hand.person.is_none()) {
        hands.clear();
    }
    hands
}

/// The same, with a name for whoever began; of somebody who came back there is one.
pub(super) fn begun_by(hands: &mut Vec<Hand>, name: &str) {
    let Some(first) = hands.first_mut().filter(|hand| hand.person.is_none()) else { return };
    first.person = Some(name.to_owned());
    let same = |hand: &Hand| hand.person.as_deref() == Some(name);
    if let Some(place) = hands.iter().skip(1).position(same) {
        let again = hands.remove(place + 1);
        hands[0].tries = hands[0].tries + again.tries;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::interpret::{Details, Said};
    use crate::plan::Plan;
    use crate::session::Input;

    fn scored(hands: &[Hand]) -> Vec<(Option<&str>, u32, u32)> {
        let one = |hand: &Hand| (hand.tries.rewarded, hand.tries.missed);
        hands.iter().map(|hand| (hand.person.as_deref(), one(hand).0, one(hand).1)).collect()
    }

    /// At 602ce15 only the name went into the record.
    #[test]
    fn each_try_is_scored_by_whoever_trained_then_also_in_one_moment() {
        let yes = || Said::Rep(Details::default());
        // Nobody took over in a session that is one person's.
        assert_eq!(hands(&[], &[]), []);
        let over = |name: &str| Said::TakesOver { person: name.to_owned() };
        let mut session = Session::new(Plan::of_default_words());
        let mut say = |at: f64, said: Said| {
            let _ = session.handle(At::from_secs_f64(at), Input::said(said, "w"));
        };
        say(1.0, yes());
        say(5.0, Said::Miss(Details::default()));
        say(5.0, over("Ada"));
        say(5.0, yes());
        say(9.0, yes());
        say(10.0, over("Cleo"));
        say(11.0, Said::TakeBack);
        say(12.0, yes());
        assert_eq!(session.person(), Some("Ada"));
        let mut summary = session.summary();
        assert_eq!(scored(&summary.hands), [(None, 1, 1), (Some("Ada"), 3, 0)]);
        summary.was_begun_by(Some("Ben"));
        assert_eq!(scored(&summary.hands), [(Some("Ben"), 1, 1), (Some("Ada"), 3, 0)]);
        let mut say = |at: f64, said: Said| {
            let _ = session.handle(At::from_secs_f64(at), Input::said(said, "w"));
        };
        say(13.0, over("Ben"));
        say(14.0, yes());
        let mut summary = session.summary();
        summary.was_begun_by(Some("Ben"));
        assert_eq!(scored(&summary.hands), [(Some("Ben"), 2, 1), (Some("Ada"), 3, 0)]);
    }
}
