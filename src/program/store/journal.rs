//! What is worth keeping outside sessions: notes, weights, food, the body, captured behaviour, probes.
//! As append-only as the sessions: an entry is taken back by another one.

use jiff::civil::Date;
use jiff::{Timestamp, ZonedDateTime};
use rusqlite::types::Value;
use rusqlite::{Connection, ErrorCode, OptionalExtension, params};
use serde::{Deserialize, Serialize};

use super::session::{animal_no, local, micros, moment};
use super::{AnimalId, AnimalRef, EventId, Store, StoreError};
use crate::plan::{RewardValue, Side};

/// What an entry says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "snake_case")]
pub enum Entry {
    /// Free text.
    Note {
        /// The text.
        text: String,
    },
    /// Body weight.
    Weight {
        /// In grams.
        grams: f64,
        /// As it was said or typed, when in another unit.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        said: Option<String>,
    },
    /// What was eaten outside sessions.
    Food {
        /// In words.
        what: String,
        /// In grams.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        grams: Option<f64>,
        /// In kcal.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        kcal: Option<f64>,
    },
    /// Moult or coat.
    Coat {
        /// In words.
        text: String,
    },
    /// A difference between the sides of the body.
    Sides {
        /// The side that is worse, when there is one.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        worse: Option<Side>,
        /// In words.
        text: String,
    },
    /// Soreness, a wound, a limp.
    Sore {
        /// In words: where and how.
        text: String,
    },
    /// Ill from now on.
    Ill {
        /// In words.
        text: String,
    },
    /// A health concern from now on, as it was noted.
    Concern {
        /// In words.
        text: String,
    },
    /// Words of injury or illness that were noted so far are not a health concern.
    NoConcern {
        /// In words.
        text: String,
    },
    /// Well again from now on.
    Well {
        /// In words.
        text: String,
    },
    /// A natural behaviour that was rewarded outside a session.
    Captured {
        /// Which.
        behaviour: String,
        /// What it was paid.
        value: RewardValue,
        /// What went on around it.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        context: Option<String>,
    },
    /// A test of a cue.
    Probe {
        /// The behaviour that the cue is for.
        behaviour: String,
        /// What was given.
        cue: ProbeCue,
        /// Whether the behaviour came.
        came: bool,
        /// Another behaviour that came instead.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        instead: Option<String>,
        /// Seconds from cue to behaviour.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        latency_s: Option<f64>,
        /// What went on around it.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        context: Option<String>,
    },
    /// A change of the plan is tested from now on, at a session that was drawn by lot.
    Planned {
        /// What is trained.
        behaviour: String,
        /// What will be changed, in words.
        change: String,
        /// The step that it is tested on.
        step: u8,
        /// Sessions before the first that the lot may bring.
        baseline: usize,
        /// Sessions that the lot was drawn from.
        lot: usize,
        /// Which of them was drawn, from 0.
        drawn: usize,
    },
    /// An earlier entry does not count.
    TakenBack {
        /// Which.
        target: EventId,
        /// Why.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        why: Option<String>,
    },
}

/// What was given in a probe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ProbeCue {
    /// The behaviour's own cue.
    Own,
    /// No cue.
    None,
    /// This other cue.
    Other(String),
}

impl ProbeCue {
    /// Another cue, whichever.
    pub fn another() -> Self {
        ProbeCue::Other("another".into())
    }
}

impl Entry {
    /// The name of its kind in the database and in exports.
    pub fn kind(&self) -> &'static str {
        match self {
            Entry::Note { .. } => "note",
            Entry::Weight { .. } => "weight",
            Entry::Food { .. } => "food",
            Entry::Coat { .. } => "coat",
            Entry::Sides { .. } => "sides",
            Entry::Sore { .. } => "sore",
            Entry::Ill { .. } => "ill",
            Entry::Concern { .. } => "concern",
            Entry::NoConcern { .. } => "no_concern",
            Entry::Well { .. } => "well",
            Entry::Captured { .. } => "captured",
            Entry::Probe { .. } => "probe",
            Entry::Planned { .. } => "planned",
            Entry::TakenBack { .. } => "taken_back",
        }
    }

    /// Numbers that can be written down and can be true at all.
    fn check(&self) -> Result<(), StoreError> {
        let positive = |name: &str, value: f64| {
            if value.is_finite() && value > 0.0 {
                Ok(())
            } else {
                Err(StoreError::Refused(format!("{name} must be a number above zero, not {value}")))
            }
        };
        let known = |name: &str, value: Option<f64>| value.map_or(Ok(()), |v| positive(name, v));
        match self {
            Entry::Weight { grams, .. } => positive("a weight in grams", *grams),
            Entry::Food { grams, kcal, .. } => {
                known("food in grams", *grams)?;
                known("food in kcal", *kcal)
            }
            Entry::Probe { latency_s, .. } => known("a latency in seconds", *latency_s),
            _ => Ok(()),
        }
    }
}

/// An entry about to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewEntry {
    /// Its key.
    pub id: EventId,
    /// Which animal, if one in particular.
    pub animal: Option<AnimalRef>,
    /// When it was so.
    pub when: ZonedDateTime,
    /// Who says it.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// What.
    pub entry: Entry,
}

/// A written entry.
#[derive(Debug, Clone, PartialEq)]
pub struct JournalRow {
    /// Its key.
    pub id: EventId,
    /// Its animal's key.
    pub animal_id: Option<AnimalId>,
    /// Its animal's present name.
    pub animal: Option<String>,
    /// When.
    pub utc: Timestamp,
    /// Name of the time zone.
    pub zone: String,
    /// Seconds east of UTC.
    pub offset_s: i32,
    /// Local date.
    pub day: Date,
    /// Who.
    pub person: Option<String>,
    /// Where.
    pub place: Option<String>,
    /// What.
    pub entry: Entry,
}

/// Which entries; what is not named is not asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct JournalFilter {
    /// One animal.
    pub animal: Option<AnimalId>,
    /// One kind, as [`Entry::kind`] names it.
    pub kind: Option<&'static str>,
    /// First local date.
    pub from: Option<Date>,
    /// Last local date.
    pub to: Option<Date>,
    /// Also entries that were taken back, and those that took them back.
    pub all: bool,
}

impl Store {
    /// Writes an entry down; on disk when this returns. The same entry with the same key once more is
    /// accepted and changes nothing.
    ///
    /// # Errors
    /// A number in it cannot be true, several animals answer to the name, the key is taken, or the database
    /// cannot be written.
    pub fn write_entry(&self, new: &NewEntry) -> Result<(), StoreError> {
        let tx = self.write()?;
        insert(&tx, new)?;
        Ok(tx.commit()?)
    }

    /// Entries in order of time; those taken back are left out unless asked for.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn journal(&self, filter: &JournalFilter) -> Result<Vec<JournalRow>, StoreError> {
        let mut sql =
            "SELECT j.id, a.id, a.name, j.utc_us, j.zone, j.offset_s, j.day, j.person, j.place,
                j.body, j.ordinal FROM journal j LEFT JOIN animal a ON a.no = j.animal WHERE true"
                .to_owned();
        let mut values: Vec<Value> = Vec::new();
        if let Some(animal) = filter.animal {
            sql.push_str(" AND j.animal = (SELECT no FROM animal WHERE id = ?)");
            values.push(Value::Blob(animal.0.as_bytes().to_vec()));
        }
        let texts = [
            (" AND j.kind = ?", filter.kind.map(str::to_owned)),
            (" AND j.day >= ?", filter.from.map(|day| day.to_string())),
            (" AND j.day <= ?", filter.to.map(|day| day.to_string())),
        ];
        for (clause, text) in texts {
            if let Some(text) = text {
                sql.push_str(clause);
                values.push(Value::Text(text));
            }
        }
        if !filter.all {
            sql.push_str(
                " AND j.kind <> 'taken_back' AND j.id NOT IN (SELECT unhex(replace(t.body ->> 'target', '-', ''))
                    FROM journal t WHERE t.kind = 'taken_back')",
            );
        }
        sql.push_str(" ORDER BY j.utc_us, j.ordinal");
        let mut statement = self.conn.prepare_cached(&sql)?;
        let mut rows = statement.query(rusqlite::params_from_iter(values))?;
        let mut entries = Vec::new();
        while let Some(row) = rows.next()? {
            let body = row.get_ref(9)?.as_str().map_err(rusqlite::Error::from)?;
            let day: String = row.get(6)?;
            entries.push(JournalRow {
                id: row.get(0)?,
                animal_id: row.get(1)?,
                animal: row.get(2)?,
                utc: moment(row.get(3)?),
                zone: row.get(4)?,
                offset_s: row.get(5)?,
                day: day.parse().map_err(|e| {
                    StoreError::Refused(format!("a stored date reads {day:?}: {e}"))
                })?,
                person: row.get(7)?,
                place: row.get(8)?,
                entry: serde_json::from_str(body).map_err(|source| {
                    StoreError::UnreadableEntry { ordinal: row.get(10).unwrap_or(0), source }
                })?,
            });
        }
        Ok(entries)
    }
}

pub(super) fn insert(conn: &Connection, new: &NewEntry) -> Result<(), StoreError> {
    new.entry.check()?;
    let utc = micros(new.when.timestamp());
    let animal = match &new.animal {
        Some(animal) => Some(animal_no(conn, animal, AnimalId(new.id.0), utc)?),
        None => None,
    };
    let (zone, offset_s, day) = local(&new.when);
    let body = serde_json::to_string(&new.entry)
        .map_err(|e| StoreError::Refused(format!("the entry cannot be written down: {e}")))?;
    let mut statement = conn.prepare_cached(
        "INSERT INTO journal (id, animal, utc_us, zone, offset_s, day, person, place, kind, body)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    )?;
    let kind = new.entry.kind();
    let done = statement.execute(params![
        new.id, animal, utc, zone, offset_s, day, new.person, new.place, kind, body
    ]);
    match done {
        Ok(_) => Ok(()),
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation) => {
            let mut same = conn.prepare_cached(
                "SELECT 1 FROM journal WHERE id = ?1 AND utc_us = ?2 AND kind = ?3 AND body = ?4",
            )?;
            let found = same.query_row(params![new.id, utc, kind, body], |_| Ok(())).optional()?;
            found.ok_or(StoreError::Taken(new.id))
        }
        Err(error) => Err(error.into()),
    }
}
