//! Corrections made after the fact. Each is a new event at the end of its session; nothing is overwritten.
//! They change which reps count, never what Hushtally did live: a nudge that was given stays given.

use jiff::Timestamp;
use rusqlite::Connection;
use serde::{Deserialize, Serialize};

use super::append::{Row, Stored};
use super::projection::read_through;
use super::session::{micros, no};
use super::{EventId, Folded, SessionId, Store, StoreError, append};
use crate::at::At;
use crate::interpret::LinkMarks;
use crate::plan::Side;
use crate::session::Outcome;

/// What a correction is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Target {
    /// The rep that came from this event or from this earlier edit.
    Event(EventId),
    /// The rep at this session time: for a miss that no event of its own stands for.
    At(At),
}

/// What a rep is to be; what is not named stays as it was.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct RepEdit {
    /// Onset, for instance found from film.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<At>,
    /// Step worked on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub working: Option<u8>,
    /// Step reached.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<u8>,
    /// Whether it was rewarded, and how.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outcome: Option<Outcome>,
    /// Whether the reward was named; one that is corrected is, unless this says otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value_named: Option<bool>,
    /// Side of the body; `Some(None)` says that there is none.
    #[serde(skip_serializing_if = "Option::is_none", with = "maybe_side")]
    pub side: Option<Option<Side>>,
    /// Of a chain: the links that needed help or broke, in the place of those that did before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub links: Option<LinkMarks>,
}

impl RepEdit {
    /// What it says of the links of a chain: a step that is named there is a link.
    pub(super) fn of_links(&self) -> Option<LinkMarks> {
        self.links.or(self.step.map(|link| LinkMarks::link(link, None)))
    }
}

/// A correction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "change", rename_all = "snake_case")]
pub enum Change {
    /// There was no such rep.
    Remove {
        /// Which.
        target: Target,
    },
    /// The rep was otherwise.
    Revise {
        /// Which.
        target: Target,
        /// How it was.
        to: RepEdit,
    },
    /// A rep that was not heard. Without an outcome it is a reward by the plan's default.
    Add {
        /// When.
        at: At,
        /// How it was.
        rep: RepEdit,
        /// The doubtful event that this settles.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        settles: Option<EventId>,
    },
    /// A doubtful event was not a tag.
    Dismiss {
        /// Which.
        target: EventId,
    },
    /// An earlier edit does not count after all.
    Undo {
        /// Which.
        target: EventId,
    },
    /// Where a film of the session lies in time: film time is `offset_s` plus session time times
    /// (1 + `drift_ppm` / 1,000,000). The latest counts; no rep changes.
    Film {
        /// The film's name.
        name: String,
        /// Film time of the session's first sample, in seconds.
        offset_s: f64,
        /// How much faster the film's clock runs than the session's, in parts per million.
        drift_ppm: f64,
        /// Half-width of the 95 % interval of a film time, in milliseconds; `None` when set by hand.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        error_ms: Option<f64>,
    },
    /// What a second observer saw, for comparison with the first record; no rep changes.
    Scored {
        /// The scoring that it belongs to: the key of its first event.
        scoring: EventId,
        /// When.
        at: At,
        /// What.
        rep: RepEdit,
    },
}

impl Change {
    /// Whether it changes what counts; films and second scorings do not.
    pub fn corrects(&self) -> bool {
        !matches!(self, Change::Film { .. } | Change::Scored { .. })
    }

    /// Settles a doubtful event: it was this rep, or nothing that counts.
    pub fn settling(event: EventId, at: At, rep: Option<RepEdit>) -> Self {
        match rep {
            Some(rep) => Change::Add { at, rep, settles: Some(event) },
            None => Change::Dismiss { target: event },
        }
    }
}

/// A correction, by whom and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Edit {
    /// What changes.
    #[serde(flatten)]
    pub change: Change,
    /// Who made it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub by: Option<String>,
    /// Why, in a person's words.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

impl Store {
    /// Writes a correction down; on disk when this returns.
    ///
    /// # Errors
    /// The session is unknown, the key is taken, or the database cannot be written.
    pub fn edit(
        &self,
        session: SessionId,
        edit: &Edit,
        id: EventId,
        utc: Timestamp,
    ) -> Result<(), StoreError> {
        let tx = self.write()?;
        put(&tx, no(&tx, session)?, session, id, edit, utc)?;
        Ok(tx.commit()?)
    }

    /// Writes corrections down that rest on how the session stands: `decide` sees it as it stands at this moment, and
    /// nobody else writes before what it decides is on disk. All of it or nothing.
    ///
    /// # Errors
    /// What `decide` says, or as for [`Store::edit`], or the session cannot be replayed.
    pub fn amend<E: From<StoreError>>(
        &self,
        session: SessionId,
        utc: Timestamp,
        decide: impl FnOnce(&Folded, &[Stored]) -> Result<Vec<(EventId, Edit)>, E>,
    ) -> Result<(), E> {
        let tx = self.write()?;
        let no = no(&tx, session)?;
        let (folded, events) = read_through(&tx, no)?;
        for (id, edit) in decide(&folded, &events)? {
            put(&tx, no, session, id, &edit, utc)?;
        }
        tx.commit().map_err(StoreError::from)?;
        Ok(())
    }
}

fn put(
    conn: &Connection,
    no: i64,
    session: SessionId,
    id: EventId,
    edit: &Edit,
    utc: Timestamp,
) -> Result<(), StoreError> {
    let body = serde_json::to_string(edit)
        .map_err(|e| StoreError::Refused(format!("the edit cannot be written down: {e}")))?;
    let row = Row { id, at: None, utc: micros(utc), kind: "edit", body: &body };
    append::insert(conn, no, session, &row)
}

/// JSON `null` is "no side", a missing field is "as it was".
mod maybe_side {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    use super::Side;

    #[expect(clippy::ref_option, reason = "the signature serde asks for")]
    pub(super) fn serialize<S: Serializer>(
        side: &Option<Option<Side>>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        side.flatten().serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<Option<Side>>, D::Error> {
        Option::<Side>::deserialize(from).map(Some)
    }
}
