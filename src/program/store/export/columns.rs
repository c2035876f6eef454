//! The tables and their columns: name, unit, meaning, and where each comes from.

use rusqlite::types::Value;

use super::super::Filter;
use super::Values;

/// What can be exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// One row a rep.
    Reps,
    /// One row a session.
    Sessions,
    /// One row for everything else that happened in a session.
    Marks,
    /// One row an event as it was logged, edits included.
    Events,
    /// One row a journal entry. Of the filter, animal and dates count.
    Journal,
}

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name; the unit is part of it where there is one.
    pub name: &'static str,
    /// Its unit; empty when it has none.
    pub unit: &'static str,
    /// What it says.
    pub about: &'static str,
    pub(super) kind: Kind,
    pub(super) sql: &'static str,
}

/// How a column is stored and shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Text,
    /// Left out when names are hidden: anybody may be named in it.
    FreeText,
    /// Becomes "animal 1" and the like when names are hidden.
    Name(&'static str),
    Whole,
    Number,
    Bool,
    Seconds,
    Utc,
    /// A local date.
    Day,
    Id,
    Json,
}

const fn column(
    name: &'static str,
    unit: &'static str,
    about: &'static str,
    kind: Kind,
    sql: &'static str,
) -> Column {
    Column { name, unit, about, kind, sql }
}

const SESSION: Column = column("session", "", "key of the session (UUIDv7)", Kind::Id, "s.id");
const ANIMAL: Column =
    column("animal", "", "the animal's present name", Kind::Name("animal"), "a.name");
const SPECIES: Column = column("species", "", "its species", Kind::Text, "a.species");
const BEHAVIOUR: Column = column("behaviour", "", "what was trained", Kind::Text, "s.behaviour");
const BEGAN: Column =
    column("began", "UTC", "moment of the first sample (RFC 3339)", Kind::Utc, "s.began_us");
const DAY: Column =
    column("day", "local date", "date of the start where it was", Kind::Day, "s.day");
const PERSON: Column = column("person", "", "who trained", Kind::Name("person"), "s.person");
const REP_PERSON: Column = column(
    "person",
    "",
    "who trained",
    Kind::Name("person"),
    "coalesce((SELECT t.name FROM mark t WHERE t.session = s.no AND t.kind = 'took_over' AND t.at_ns <= r.at_ns
      ORDER BY t.number DESC LIMIT 1), s.person)",
);
const PLACE: Column = column("place", "", "where", Kind::Name("place"), "s.place");

/// The first of several sessions names itself, too.
const SITTING: &str =
    "coalesce(s.sitting, (SELECT s.id FROM session o WHERE o.sitting = s.id LIMIT 1))";
const ZONE: Column = column("zone", "", "time zone of the session", Kind::Text, "s.zone");
const START_STEP: Column =
    column("start_step", "step", "step worked on at the start", Kind::Whole, "s.start_step");
const LAST_STEP: Column =
    column("last_step", "step", "step worked on at the end", Kind::Whole, "m.last_step");

const REPS: [Column; 27] = [
    SESSION,
    ANIMAL,
    SPECIES,
    BEHAVIOUR,
    BEGAN,
    DAY,
    REP_PERSON,
    PLACE,
    column("rep", "", "place in the session, from 1", Kind::Whole, "r.number"),
    column(
        "at_s",
        "s",
        "onset of the marker or miss word, since the first sample",
        Kind::Seconds,
        "r.at_ns",
    ),
    column(
        "active_s",
        "s",
        "the same since the start, pauses left out",
        Kind::Seconds,
        "r.active_ns",
    ),
    column("working", "step", "step worked on, from 1", Kind::Whole, "r.working"),
    column("step", "step", "step reached, from 1", Kind::Whole, "r.step"),
    column(
        "outcome",
        "",
        "low, high, jackpot (rewarded so); missed, hold_ran_out",
        Kind::Text,
        "r.outcome",
    ),
    column(
        "rewarded",
        "",
        "whether it was rewarded",
        Kind::Bool,
        "r.outcome IN ('low', 'high', 'jackpot')",
    ),
    column(
        "value_named",
        "",
        "whether the reward was named, and not left to the plan",
        Kind::Bool,
        "CASE WHEN r.outcome IN ('low', 'high', 'jackpot') THEN r.value_named END",
    ),
    column("side", "", "left or right side of the animal, when said", Kind::Text, "r.side"),
    column(
        "latency_s",
        "s",
        "from cue to marker, when a cue was given",
        Kind::Seconds,
        "r.latency_ns",
    ),
    column(
        "duration_s",
        "s",
        "from start word to marker, when a hold was begun",
        Kind::Seconds,
        "r.duration_ns",
    ),
    column("edited", "", "whether it was corrected afterwards", Kind::Bool, "r.edited"),
    column("event", "", "key of the event it came from", Kind::Id, "r.event"),
    column("source", "", "live, recording, film, import, simulated", Kind::Text, "s.source"),
    ZONE,
    column(
        "session_active_s",
        "s",
        "length of its session, pauses left out",
        Kind::Seconds,
        "m.active_ns",
    ),
    START_STEP,
    LAST_STEP,
    column(
        "links",
        "",
        "of a chain, link by link: independent, prompted, failed, not_reached, untrained; with the level of help",
        Kind::Text,
        "r.links",
    ),
];

const SESSIONS: [Column; 31] = [
    SESSION,
    ANIMAL,
    SPECIES,
    BEHAVIOUR,
    BEGAN,
    DAY,
    ZONE,
    column("offset_s", "s", "seconds east of UTC at the start", Kind::Whole, "s.offset_s"),
    PERSON,
    PLACE,
    column("source", "", "live, recording, film, import, simulated", Kind::Text, "s.source"),
    column("file", "", "the file it was recorded from", Kind::Name("file"), "s.source_name"),
    column("plan_file", "", "the plan's file", Kind::Name("file"), "p.file"),
    column("plan_sha256", "", "sum of the plan's text", Kind::Text, "lower(hex(p.sha256))"),
    START_STEP,
    LAST_STEP,
    column("best_step", "step", "highest step that was rewarded", Kind::Whole, "m.best_step"),
    column("active_s", "s", "length, pauses left out", Kind::Seconds, "m.active_ns"),
    column("tries", "tries", "tries, rewarded or missed", Kind::Whole, "m.rewarded + m.missed"),
    column("rewarded", "tries", "tries rewarded", Kind::Whole, "m.rewarded"),
    column("missed", "tries", "tries missed", Kind::Whole, "m.missed"),
    column("low", "tries", "rewarded low", Kind::Whole, "m.low"),
    column("high", "tries", "rewarded high", Kind::Whole, "m.high"),
    column("jackpot", "tries", "rewarded with a jackpot", Kind::Whole, "m.jackpot"),
    column(
        "rate_per_min",
        "rewards/min",
        "rewards per minute of active time",
        Kind::Number,
        "CASE WHEN m.active_ns > 0 THEN m.rewarded * 6e10 / m.active_ns END",
    ),
    column(
        "latency_median_s",
        "s",
        "median from cue to marker",
        Kind::Seconds,
        "m.latency_median_ns",
    ),
    column("longest_hold_s", "s", "longest rewarded hold", Kind::Seconds, "m.longest_hold_ns"),
    column("unsure", "", "doubts that wait to be settled", Kind::Whole, "m.unsure"),
    column("ended_well", "", "whether the last try was rewarded", Kind::Bool, "m.ended_well"),
    column("ended", "", "said, sound_ended; empty while it has no end", Kind::Text, "m.ended"),
    column(
        "sitting",
        "",
        "key of the first session of its sitting; empty where a session stands alone",
        Kind::Id,
        SITTING,
    ),
];

const MARKS: [Column; 9] = [
    SESSION,
    ANIMAL,
    BEHAVIOUR,
    BEGAN,
    column("at_s", "s", "session time", Kind::Seconds, "k.at_ns"),
    column(
        "active_s",
        "s",
        "the same since the start, pauses left out",
        Kind::Seconds,
        "k.active_ns",
    ),
    column(
        "kind",
        "",
        "began, finished, nudge, mood, cue, hold_start, own, took_over, works_on, command, step, changed, doubt, gap, trouble, note",
        Kind::Text,
        "k.kind",
    ),
    column("name", "", "which: of a note its start", Kind::FreeText, "k.name"),
    column("event", "", "key of its event", Kind::Id, "k.event"),
];

const EVENTS: [Column; 7] = [
    SESSION,
    column("ordinal", "", "place in the session, from 0", Kind::Whole, "e.ordinal"),
    column("event", "", "key of the event (UUIDv7)", Kind::Id, "e.id"),
    column("at_s", "s", "session time", Kind::Seconds, "e.at_ns"),
    column("utc", "UTC", "moment at which it was written down (RFC 3339)", Kind::Utc, "e.utc_us"),
    column(
        "kind",
        "",
        "tagged, doubted, gap, trouble, noted, elsewhere, began, hold_ran_out, nudged, finished, edit",
        Kind::Text,
        "e.kind",
    ),
    // Bodies hold words, notes and who edited.
    column("body", "", "everything it says, as JSON", Kind::Json, "e.body"),
];

const JOURNAL: [Column; 10] = [
    column("entry", "", "key of the entry (UUIDv7)", Kind::Id, "j.id"),
    ANIMAL,
    SPECIES,
    column("utc", "UTC", "when (RFC 3339)", Kind::Utc, "j.utc_us"),
    column("day", "local date", "date where it was", Kind::Day, "j.day"),
    column("person", "", "who", Kind::Name("person"), "j.person"),
    column("place", "", "where", Kind::Name("place"), "j.place"),
    column(
        "kind",
        "",
        "note, weight, food, coat, sides, sore, ill, well, captured, probe, taken_back",
        Kind::Text,
        "j.kind",
    ),
    column(
        "weight_g",
        "g",
        "body weight, of weight entries",
        Kind::Number,
        "CASE WHEN j.kind = 'weight' THEN CAST(j.body ->> 'grams' AS REAL) END",
    ),
    column("body", "", "everything it says, as JSON", Kind::Json, "j.body"),
];

impl Table {
    /// Every table.
    pub const ALL: [Table; 5] =
        [Table::Reps, Table::Sessions, Table::Marks, Table::Events, Table::Journal];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Table::Reps => "reps",
            Table::Sessions => "sessions",
            Table::Marks => "marks",
            Table::Events => "events",
            Table::Journal => "journal",
        }
    }

    /// Its columns in order.
    pub fn columns(self) -> &'static [Column] {
        match self {
            Table::Reps => &REPS,
            Table::Sessions => &SESSIONS,
            Table::Marks => &MARKS,
            Table::Events => &EVENTS,
            Table::Journal => &JOURNAL,
        }
    }

    /// Where the rows come from, with the filter's values.
    pub(super) fn source(self, filter: &Filter) -> (String, Values) {
        if self == Table::Journal {
            return journal(filter);
        }
        let (join, order) = match self {
            Table::Reps => (
                "JOIN session_summary m ON m.session = s.no JOIN rep r ON r.session = s.no",
                ", r.number",
            ),
            Table::Sessions => (
                "JOIN session_summary m ON m.session = s.no JOIN plan_version p ON p.no = s.plan",
                "",
            ),
            Table::Marks => ("JOIN mark k ON k.session = s.no", ", k.number"),
            _ => ("JOIN event e ON e.session = s.no", ", e.ordinal"),
        };
        let (numbers, values) = filter.numbers();
        let sql = format!(
            "FROM session s JOIN animal a ON a.no = s.animal {join}
             WHERE s.no IN ({numbers}) ORDER BY s.began_us, s.no{order}",
        );
        (sql, values)
    }
}

fn journal(filter: &Filter) -> (String, Values) {
    let mut sql = "FROM journal j LEFT JOIN animal a ON a.no = j.animal WHERE true".to_owned();
    let mut values = Values::new();
    if let Some(id) = filter.animal {
        sql.push_str(" AND a.id = ?");
        values.push(Value::Blob(id.0.as_bytes().to_vec()));
    }
    for (clause, day) in [(" AND j.day >= ?", filter.from), (" AND j.day <= ?", filter.to)] {
        if let Some(day) = day {
            sql.push_str(clause);
            values.push(Value::Text(day.to_string()));
        }
    }
    sql.push_str(" ORDER BY j.utc_us, j.ordinal");
    (sql, values)
}
