//! Which session a line belongs to.

use std::sync::Arc;

use jiff::ZonedDateTime;
use sha2::{Digest, Sha256};

use crate::store::AnimalRef;

/// What makes a session one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Key {
    pub(super) began_us: i64,
    pub(super) animal: Arc<str>,
    pub(super) species: Arc<str>,
    pub(super) behaviour: Arc<str>,
    pub(super) session: Arc<str>,
    pub(super) person: Option<Arc<str>>,
    pub(super) place: Option<Arc<str>>,
    pub(super) began: ZonedDateTime,
}

impl Key {
    pub(super) fn animal(&self) -> AnimalRef {
        AnimalRef::Named { name: self.animal.to_string(), species: self.species.to_string() }
    }

    pub(super) fn digest(&self, of: &[&str]) -> [u8; 10] {
        let mut sum = Sha256::new();
        let own = [&*self.animal, &*self.species, &*self.behaviour, &*self.session];
        let who = [self.person.as_deref().unwrap_or(""), self.place.as_deref().unwrap_or("")];
        for text in own.iter().chain(&who).chain(of) {
            // Lengths keep "ab" + "c" apart from "a" + "bc".
            sum.update(text.len().to_le_bytes());
            sum.update(text.as_bytes());
        }
        sum.update(self.began_us.to_le_bytes());
        first_ten(&sum.finalize())
    }
}

pub(super) fn first_ten(sum: &[u8]) -> [u8; 10] {
    let mut ten = [0; 10];
    ten.copy_from_slice(&sum[..10]);
    ten
}
