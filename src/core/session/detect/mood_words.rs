//! The trainer says that the animal is worried or tired: once, end soon; twice, end now.

use super::{Alarm, Detector, Scene, Seen};
use crate::plan::Mood;
use crate::sentences::because;
use crate::session::{NudgeKind, Quantity, Reason};

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct MoodWords {
    said: u32,
    told: u32,
    last: Option<Mood>,
}

impl Detector for MoodWords {
    fn see(&mut self, seen: &Seen, _: &Scene) {
        if let Seen::Mood(mood @ (Mood::Worried | Mood::Tired)) = seen {
            self.said += 1;
            self.last = Some(*mood);
        }
    }

    fn look(&mut self, _: &Scene) -> Option<Alarm> {
        if self.said == self.told || self.told >= 2 {
            return None;
        }
        self.told = self.said.min(2);
        let mood = if self.last == Some(Mood::Tired) { "tired" } else { "worried" };
        let nudge = if self.said == 1 { NudgeKind::EndSoon } else { NudgeKind::EndNow };
        let inputs = vec![Quantity::new("worried or tired said", f64::from(self.said), "")];
        Some(Alarm {
            nudge,
            reason: Reason {
                detector: "state words".into(),
                because: because("mood_words", &inputs, &[("mood", mood)]),
                inputs,
                probability: None,
                method: "said once: end soon; twice: end now".into(),
                source: "common practice, no source".into(),
            },
        })
    }
}
