//! One line to what it says, or to what is wrong with it.

use std::collections::BTreeSet;
use std::sync::Arc;

use csv::StringRecord;
use jiff::civil::{Date, DateTime};
use jiff::fmt::temporal::{Pieces, PiecesOffset};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use super::fields::Fields;
use super::key::Key;
use super::{ImportOptions, LineError, names};
use crate::at::At;
use crate::chain::LinkScores;
use crate::interpret::LinkMarks;
use crate::plan::{RewardValue, Side};
use crate::store::Entry;

/// What a line says, and of which session or moment.
pub(super) struct ParsedLine {
    pub(super) key: Key,
    pub(super) rep: Option<RepLine>,
    pub(super) entries: Vec<Entry>,
}

/// A rep, small: there may be millions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RepLine {
    pub(super) line: u64,
    pub(super) at: At,
    /// Time since the start, pauses left out; when not given, there was no pause since the rep before.
    pub(super) active: Option<At>,
    /// `None` for a miss.
    pub(super) paid: Option<RewardValue>,
    /// Whether the reward was named, and not left to the plan; what does not say so names it.
    pub(super) named: bool,
    /// A miss because no marker came within the limited hold.
    pub(super) ran_out: bool,
    pub(super) step: Option<u8>,
    pub(super) working: Option<u8>,
    pub(super) side: Option<Side>,
    /// How the links of a chain went; then the step follows from them.
    pub(super) links: Option<LinkScores>,
    pub(super) latency: Option<At>,
    pub(super) duration: Option<At>,
    /// Whether it was corrected where it comes from.
    pub(super) edited: bool,
    pub(super) of_session: OfSession,
}

impl RepLine {
    /// What was said of the links.
    pub(super) fn links_said(&self) -> LinkMarks {
        self.links.map_or(LinkMarks::NONE, |links| links.as_said())
    }

    /// Whether it is taken in as a rep that was added after the fact, and not as one that was said.
    pub(super) fn is_added(&self) -> bool {
        self.edited && self.latency.is_none() && self.duration.is_none()
    }
}

/// What every line of a session says alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct OfSession {
    /// How long it was, pauses left out.
    pub(super) active: Option<At>,
    pub(super) start_step: Option<u8>,
    pub(super) last_step: Option<u8>,
}

pub(super) const COLUMNS: [&str; 25] = [
    "animal",
    "species",
    "behaviour",
    "session",
    "began",
    "outcome",
    "at_s",
    "step",
    "working",
    "side",
    "latency_s",
    "duration_s",
    "weight",
    "weight_g",
    "note",
    "person",
    "place",
    "zone",
    "active_s",
    "session_active_s",
    "start_step",
    "last_step",
    "edited",
    "value_named",
    "links",
];
/// Columns of our own export that follow from the others, or belong to where it came from.
pub(super) const FOLLOW: [&str; 5] = ["day", "rep", "rewarded", "event", "source"];
/// What only a rep can have.
const OF_REPS: [&str; 15] = [
    "behaviour",
    "session",
    "at_s",
    "active_s",
    "session_active_s",
    "step",
    "working",
    "start_step",
    "last_step",
    "side",
    "latency_s",
    "duration_s",
    "edited",
    "value_named",
    "links",
];

/// Which cell of a line is of which column.
pub(super) type Places = [Option<usize>; COLUMNS.len()];

/// Finds columns by their names; remembers the last start, which most lines share.
pub(super) struct Reader<'a> {
    places: Places,
    /// Columns of other names.
    strange: Vec<(usize, String)>,
    width: usize,
    /// Whether texts may have an apostrophe before them for the sake of spreadsheets.
    armed: bool,
    /// Species of the animals of a line that names none.
    species: String,
    options: &'a ImportOptions,
    last: Option<(String, Option<String>, ZonedDateTime)>,
    names: BTreeSet<Arc<str>>,
}

impl<'a> Reader<'a> {
    pub(super) fn new(
        headers: &StringRecord,
        armed: bool,
        options: &'a ImportOptions,
    ) -> Result<Self, LineError> {
        let headers: Vec<String> = headers.iter().map(names::tidy).collect();
        let other = other_export(&headers);
        let taken = names::taken_for(&headers, &options.columns);
        // A column called after a species says of which its animals are.
        let species = taken
            .iter()
            .find(|(header, column)| *column == "animal" && names::names_animals(header));
        let species = species.map(|(header, _)| header.clone()).unwrap_or_default();
        let headers: Vec<String> = headers
            .into_iter()
            .map(|header| {
                let found = taken.iter().find(|(from, _)| *from == header);
                found.map_or(header, |(_, column)| (*column).to_owned())
            })
            .collect();
        let mut places: Places = [None; COLUMNS.len()];
        let mut strange = Vec::new();
        for (index, header) in headers.iter().enumerate() {
            match COLUMNS.iter().position(|name| name == header) {
                Some(known) if places[known].is_some() => {
                    return Err(LineError {
                        line: 1,
                        column: COLUMNS[known],
                        found: "two columns of this name".into(),
                        expected: "one".into(),
                    });
                }
                Some(known) => places[known] = Some(index),
                None if FOLLOW.contains(&header.as_str()) => {}
                None => strange.push((index, header.clone())),
            }
        }
        if let Some(other) = other {
            return Err(LineError {
                line: 1,
                column: "",
                found: format!("an export of {other}"),
                expected:
                    "an export of reps, which brings its sessions along; the whole record is \
                           brought to another place by `hushtally backup` and `restore`"
                        .into(),
            });
        }
        let place = |name: &str| headers.iter().position(|header| header == name);
        let width = headers.len();
        let reader = Reader {
            places,
            strange,
            width,
            armed,
            species,
            options,
            last: None,
            names: BTreeSet::new(),
        };
        for needed in ["animal", "began"] {
            if place(needed).is_none() {
                return Err(LineError {
                    line: 1,
                    column: needed,
                    found: headers.join(","),
                    expected: format!(
                        "a first line that names the columns, this one among them; if it is there under \
                         another name, say so: --column NAME={needed}"
                    ),
                });
            }
        }
        Ok(reader)
    }

    pub(super) fn line(
        &mut self,
        record: &StringRecord,
        line: u64,
    ) -> Result<ParsedLine, LineError> {
        let fields = Fields { places: self.places, armed: self.armed, record, line };
        self.all_known(record, &fields)?;
        let animal = fields.needed("animal", "the animal's name")?;
        let began = fields.needed("began", "a date, or date and time")?;
        let began = self.moment(&began, fields.text("zone"), &fields)?;
        let optional = |column| fields.text(column);
        let behaviour = optional("behaviour");
        let rep = rep(&fields, behaviour.is_some())?;
        let entries = entries(&fields)?;
        if rep.is_none() {
            for column in OF_REPS {
                if let Some(found) = fields.text(column) {
                    let expected = "an outcome in this line, which it belongs to, or nothing here";
                    return Err(fields.wrong(column, &found, expected));
                }
            }
            if entries.is_empty() {
                return Err(fields.wrong("", "neither outcome nor weight nor note", "one of them"));
            }
        }
        let mut intern = |text: String| -> Arc<str> {
            if let Some(known) = self.names.get(text.as_str()) {
                return known.clone();
            }
            let name: Arc<str> = text.into();
            self.names.insert(name.clone());
            name
        };
        let key = Key {
            began_us: crate::store::session::micros(began.timestamp()),
            animal: intern(animal),
            species: intern(optional("species").unwrap_or_else(|| self.species.clone())),
            behaviour: intern(behaviour.unwrap_or_default()),
            session: intern(optional("session").unwrap_or_default()),
            person: optional("person").map(&mut intern),
            place: optional("place").map(&mut intern),
            began,
        };
        Ok(ParsedLine { key, rep, entries })
    }

    /// A cell that no column of ours takes would be lost without a word.
    fn all_known(&self, record: &StringRecord, fields: &Fields) -> Result<(), LineError> {
        let expected = "only columns that `hushtally import --help` names: take it for one by --column, as \
             in --column diary=note, or take it out";
        for (index, name) in &self.strange {
            if let Some(cell) = record.get(*index).filter(|cell| !cell.is_empty()) {
                return Err(fields.wrong("", &format!("{name}: {cell}"), expected));
            }
        }
        match record.iter().skip(self.width).find(|cell| !cell.is_empty()) {
            Some(cell) => Err(fields.wrong("", cell, "no more cells than the first line names")),
            None => Ok(()),
        }
    }

    /// The zone of a time with an offset: the notes' zone where that has this offset, else the offset
    /// alone, so that a session keeps the date of the place where it began. `Z` says nothing of the place.
    fn zone_of(&self, text: &str, moment: Timestamp) -> TimeZone {
        let zone = &self.options.zone;
        match Pieces::parse(text).ok().and_then(|pieces| pieces.offset()) {
            Some(PiecesOffset::Numeric(given)) if given.offset() != zone.to_offset(moment) => {
                TimeZone::fixed(given.offset())
            }
            _ => zone.clone(),
        }
    }

    fn moment(
        &mut self,
        text: &str,
        zone: Option<String>,
        fields: &Fields,
    ) -> Result<ZonedDateTime, LineError> {
        if let Some((known, known_zone, moment)) = &self.last
            && known == text
            && *known_zone == zone
        {
            return Ok(moment.clone());
        }
        let named = match &zone {
            None => None,
            Some(name) => Some(
                zone_named(name)
                    .ok_or_else(|| fields.wrong("zone", name, "a time zone as Europe/Berlin"))?,
            ),
        };
        let own = named.as_ref().unwrap_or(&self.options.zone);
        let civil = |moment: DateTime| moment.to_zoned_datetime(own.clone()).ok();
        let moment = if let Ok(moment) = text.parse::<Timestamp>() {
            let zone = named.clone().unwrap_or_else(|| self.zone_of(text, moment));
            Some(moment.to_zoned_datetime(zone))
        } else if text.len() > 10 {
            text.parse::<DateTime>().ok().and_then(civil)
        } else {
            text.parse::<Date>().ok().and_then(|date| civil(date.at(12, 0, 0, 0)))
        };
        match moment.filter(|moment| (1970..=9000).contains(&moment.year())) {
            Some(moment) => {
                self.last = Some((text.to_owned(), zone, moment.clone()));
                Ok(moment)
            }
            None => {
                let expected = "a date as 2026-01-02, or date and time as 2026-01-02 15:04:05";
                Err(fields.wrong("began", text, expected))
            }
        }
    }
}

/// A zone by its name, or by its offset as the export writes one that has no name.
fn zone_named(name: &str) -> Option<TimeZone> {
    let offset = || jiff::fmt::strtime::parse("%:::z", name).ok()?.offset();
    TimeZone::get(name).ok().or_else(|| offset().map(TimeZone::fixed))
}

/// Which other export begins with these columns.
fn other_export(headers: &[String]) -> Option<&'static str> {
    let has = |name: &str| headers.iter().any(|header| header == name);
    let of = |names: &[&str]| names.iter().all(|name| has(name));
    match () {
        () if of(&["plan_sha256", "best_step"]) => Some("sessions"),
        () if of(&["session", "kind", "name"]) => Some("marks"),
        () if of(&["session", "ordinal", "body"]) => Some("events"),
        () if of(&["entry", "kind", "body"]) => Some("journal"),
        () => None,
    }
}

fn rep(fields: &Fields, has_behaviour: bool) -> Result<Option<RepLine>, LineError> {
    let Some(outcome) = fields.text("outcome") else { return Ok(None) };
    let (paid, ran_out) = match outcome.to_ascii_lowercase().as_str() {
        "low" => (Some(RewardValue::Low), false),
        "high" => (Some(RewardValue::High), false),
        "jackpot" => (Some(RewardValue::Jackpot), false),
        "missed" | "miss" => (None, false),
        "hold_ran_out" => (None, true),
        _ => {
            let expected = "low, high, jackpot, missed or hold_ran_out";
            return Err(fields.wrong("outcome", &outcome, expected));
        }
    };
    if !has_behaviour {
        return Err(fields.wrong("behaviour", "", "what was trained"));
    }
    let at = fields.seconds("at_s")?;
    let links = match fields.text("links") {
        None => None,
        Some(text) => {
            let expected = "independent, prompted, failed, not_reached or untrained for each link";
            Some(text.parse().map_err(|_| fields.wrong("links", &text, expected))?)
        }
    };
    Ok(Some(RepLine {
        line: fields.line,
        at: at.ok_or_else(|| fields.wrong("at_s", "", "seconds since the start"))?,
        active: fields.seconds("active_s")?,
        paid,
        ran_out,
        step: if links.is_some() { None } else { fields.step("step")? },
        links,
        working: fields.step("working")?,
        side: match fields.text("side").map(|side| side.to_ascii_lowercase()).as_deref() {
            None => None,
            Some("left") => Some(Side::Left),
            Some("right") => Some(Side::Right),
            Some(other) => return Err(fields.wrong("side", other, "left, right or nothing")),
        },
        latency: fields.seconds("latency_s")?,
        duration: fields.seconds("duration_s")?,
        named: fields.yes_or_no("value_named")?.unwrap_or(true),
        edited: fields.yes_or_no("edited")?.unwrap_or(false),
        of_session: OfSession {
            active: fields.seconds("session_active_s")?,
            start_step: fields.step("start_step")?,
            last_step: fields.step("last_step")?,
        },
    }))
}

fn entries(fields: &Fields) -> Result<Vec<Entry>, LineError> {
    let mut entries = Vec::new();
    if let Some(text) = fields.text("weight") {
        let grams = in_grams(&text)
            .ok_or_else(|| fields.wrong("weight", &text, "a number with g, kg, oz or lb"))?;
        entries.push(Entry::Weight { grams, said: Some(text) });
    }
    if let Some(text) = fields.text("weight_g") {
        let grams = text.parse::<f64>().ok().filter(|grams| grams.is_finite() && *grams > 0.0);
        let grams = grams.ok_or_else(|| fields.wrong("weight_g", &text, "grams above zero"))?;
        entries.push(Entry::Weight { grams, said: None });
    }
    entries.extend(fields.text("note").map(|text| Entry::Note { text }));
    Ok(entries)
}

/// `92 g`, `1.4kg`, `3.5 oz`, `2 lb`. Ounce and pound are the international ones of 1959: a pound is
/// 453.592 37 g exactly.
fn in_grams(text: &str) -> Option<f64> {
    let text = text.trim().to_ascii_lowercase();
    let unit = text.find(|c: char| c.is_ascii_alphabetic())?;
    let number: f64 = text[..unit].trim().parse().ok()?;
    let grams = match &text[unit..] {
        "g" => number,
        "kg" => number * 1_000.0,
        "oz" => number * 453.592_37 / 16.0,
        "lb" | "lbs" => number * 453.592_37,
        _ => return None,
    };
    (grams.is_finite() && grams > 0.0).then_some(grams)
}
