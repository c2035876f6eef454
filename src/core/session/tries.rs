//! How many tries, and what came of them: the one count that every screen, page, card and sentence gives.

use std::ops::Add;

use serde::ser::{Serialize, SerializeStruct, Serializer};

use super::rep::Rep;

/// Tries, of them rewarded and missed. `wording` puts it into words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tries {
    /// Tries that were rewarded, at any value.
    pub rewarded: u32,
    /// Tries that were not, said or by a limited hold that ran out.
    pub missed: u32,
}

impl Tries {
    /// Counts tries by whether each was rewarded.
    pub fn count(rewarded: impl IntoIterator<Item = bool>) -> Self {
        rewarded.into_iter().fold(Tries::default(), |tries, rewarded| Tries {
            rewarded: tries.rewarded + u32::from(rewarded),
            missed: tries.missed + u32::from(!rewarded),
        })
    }

    /// Counts reps.
    pub fn of<'a>(reps: impl IntoIterator<Item = &'a Rep>) -> Self {
        Tries::count(reps.into_iter().map(Rep::rewarded))
    }

    /// Every try, rewarded or missed.
    pub fn all(self) -> u32 {
        self.rewarded + self.missed
    }
}

/// As `tries`, `rewarded` and `missed`.
impl Serialize for Tries {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut fields = serializer.serialize_struct("Tries", 3)?;
        fields.serialize_field("tries", &self.all())?;
        fields.serialize_field("rewarded", &self.rewarded)?;
        fields.serialize_field("missed", &self.missed)?;
        fields.end()
    }
}

impl Add for Tries {
    type Output = Tries;

    fn add(self, other: Tries) -> Tries {
        Tries { rewarded: self.rewarded + other.rewarded, missed: self.missed + other.missed }
    }
}
