//! What can be said of an animal's open health concerns, and what is then logged: by voice, on a page and on the
//! command line alike.

use super::{Alarm, Warning};

/// An answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// What was noted is a health concern.
    Concern,
    /// It is none.
    NoConcern,
    /// The animal is well again.
    Well,
}

/// What the notes say that wait for an answer; `None` when none does. One answer is for all of them.
pub fn waiting(alarms: &[Alarm]) -> Option<String> {
    let notes: Vec<&str> = alarms
        .iter()
        .filter_map(|alarm| match &alarm.warning {
            Warning::Unanswered { since, .. } => Some(since.text.as_str()),
            _ => None,
        })
        .collect();
    (!notes.is_empty()).then(|| notes.join("; "))
}

/// Whether something was noted that stays open until the animal is well.
pub fn open_until_well(alarms: &[Alarm]) -> bool {
    let noted = |alarm: &Alarm| {
        matches!(
            alarm.warning,
            Warning::Ill(_) | Warning::Concern(_) | Warning::Sore(_) | Warning::Sides(_)
        )
    };
    alarms.iter().any(noted)
}

impl Answer {
    /// The words that are logged with the answer: those of the notes that it is about. `None` when somebody has
    /// answered already.
    pub fn words(self, alarms: &[Alarm]) -> Option<String> {
        match self {
            Answer::Concern | Answer::NoConcern => waiting(alarms),
            Answer::Well => Some(String::new()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Bounds, Fact, Noted, read_by};
    use super::*;

    fn alarms(facts: Vec<Fact>) -> Vec<Alarm> {
        let day = jiff::civil::date(2026, 3, 1);
        let log: Vec<Noted> = facts.into_iter().map(|fact| Noted { day, fact }).collect();
        read_by(&log, day, &Bounds::default()).alarms
    }

    fn note(text: &str) -> Fact {
        Fact::Signs { text: text.into(), words: vec!["limps".into()] }
    }

    #[test]
    fn one_answer_is_for_all_notes_that_wait_and_none_is_given_twice() {
        let asked = alarms(vec![note("limps on the left"), note("limps still")]);
        let words = "limps on the left; limps still";
        assert_eq!(Answer::Concern.words(&asked).as_deref(), Some(words));
        assert_eq!(Answer::NoConcern.words(&asked).as_deref(), Some(words));
        assert!(!open_until_well(&asked));
        for answered in [Fact::Concern(words.into()), Fact::NoConcern] {
            let is_concern = matches!(answered, Fact::Concern(_));
            let after = alarms(vec![note("limps on the left"), note("limps still"), answered]);
            assert_eq!(Answer::Concern.words(&after), None);
            assert_eq!(open_until_well(&after), is_concern);
        }
        assert_eq!(Answer::Well.words(&[]).as_deref(), Some(""), "that can be said at any time");
    }
}
