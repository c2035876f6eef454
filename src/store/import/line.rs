//! One line to what it says, or to what is wrong with it.

use std::collections::BTreeSet;
use std::sync::Arc;

use csv::StringRecord;
use jiff::civil::{Date, DateTime};
use jiff::fmt::temporal::{Pieces, PiecesOffset};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};

use super::key::Key;
use super::{ImportOptions, LineError};
use crate::at::At;
use crate::plan::{RewardValue, Side};
use crate::store::Entry;

/// What a line says, and of which session or moment.
pub(super) struct Line {
    pub(super) key: Key,
    pub(super) what: What,
}

pub(super) enum What {
    Rep(RepLine),
    Entries(Vec<Entry>),
}

/// A rep, small: there may be millions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct RepLine {
    pub(super) line: u64,
    pub(super) at: At,
    /// `None` for a miss.
    pub(super) paid: Option<RewardValue>,
    pub(super) step: Option<u8>,
    pub(super) working: Option<u8>,
    pub(super) side: Option<Side>,
    pub(super) latency: Option<At>,
    pub(super) duration: Option<At>,
}

const COLUMNS: [&str; 16] = [
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
];
const PLACE: &str = "place";

/// Finds columns by their names; remembers the last begin, which most lines share.
pub(super) struct Reader<'a> {
    places: [Option<usize>; 17],
    options: &'a ImportOptions,
    last: Option<(String, ZonedDateTime)>,
    names: BTreeSet<Arc<str>>,
}

impl<'a> Reader<'a> {
    pub(super) fn new(
        headers: &StringRecord,
        options: &'a ImportOptions,
    ) -> Result<Self, LineError> {
        let place = |name: &str| {
            // Some programs put a mark of the byte order before the first name.
            let is = |header: &str| {
                header.trim_start_matches('\u{feff}').trim().eq_ignore_ascii_case(name)
            };
            headers.iter().position(is)
        };
        let mut places = [None; 17];
        for (place_of, name) in places.iter_mut().zip(COLUMNS.into_iter().chain([PLACE])) {
            *place_of = place(name);
        }
        let reader = Reader { places, options, last: None, names: BTreeSet::new() };
        for needed in ["animal", "began"] {
            if place(needed).is_none() {
                return Err(LineError {
                    line: 1,
                    column: needed,
                    found: headers.iter().collect::<Vec<_>>().join(","),
                    expected: "a first line that names the columns, this one among them".into(),
                });
            }
        }
        Ok(reader)
    }

    pub(super) fn line(&mut self, record: &StringRecord, line: u64) -> Result<Line, LineError> {
        let fields = Fields { places: self.places, record, line };
        let animal = fields.needed("animal", "the animal's name")?;
        let began = fields.needed("began", "a date, or date and time")?;
        let began = self.moment(&began, line)?;
        let optional = |column| fields.text(column);
        let behaviour = optional("behaviour");
        let what = self.what(&fields, behaviour.is_some())?;
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
            species: intern(optional("species").unwrap_or_default()),
            behaviour: intern(behaviour.unwrap_or_default()),
            session: intern(optional("session").unwrap_or_default()),
            person: optional("person").map(&mut intern),
            place: optional(PLACE).map(&mut intern),
            began,
        };
        Ok(Line { key, what })
    }

    fn what(&self, fields: &Fields, has_behaviour: bool) -> Result<What, LineError> {
        let Some(outcome) = fields.text("outcome") else { return entries(fields) };
        let paid = match outcome.to_ascii_lowercase().as_str() {
            "low" => Some(RewardValue::Low),
            "high" => Some(RewardValue::High),
            "jackpot" => Some(RewardValue::Jackpot),
            "missed" | "miss" | "hold_ran_out" => None,
            _ => {
                let expected = "low, high, jackpot, missed or hold_ran_out";
                return Err(fields.wrong("outcome", &outcome, expected));
            }
        };
        if !has_behaviour {
            return Err(fields.wrong("behaviour", "", "what was trained"));
        }
        let at = fields.seconds("at_s")?;
        Ok(What::Rep(RepLine {
            line: fields.line,
            at: at.ok_or_else(|| fields.wrong("at_s", "", "seconds since the begin"))?,
            paid,
            step: fields.step("step")?,
            working: fields.step("working")?,
            side: match fields.text("side").map(|side| side.to_ascii_lowercase()).as_deref() {
                None => None,
                Some("left") => Some(Side::Left),
                Some("right") => Some(Side::Right),
                Some(other) => return Err(fields.wrong("side", other, "left, right or nothing")),
            },
            latency: fields.seconds("latency_s")?,
            duration: fields.seconds("duration_s")?,
        }))
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

    fn moment(&mut self, text: &str, line: u64) -> Result<ZonedDateTime, LineError> {
        if let Some((known, moment)) = &self.last
            && known == text
        {
            return Ok(moment.clone());
        }
        let zone = &self.options.zone;
        let civil = |moment: DateTime| moment.to_zoned_datetime(zone.clone()).ok();
        let moment = if let Ok(moment) = text.parse::<Timestamp>() {
            Some(moment.to_zoned_datetime(self.zone_of(text, moment)))
        } else if text.len() > 10 {
            text.parse::<DateTime>().ok().and_then(civil)
        } else {
            text.parse::<Date>().ok().and_then(|date| civil(date.at(12, 0, 0, 0)))
        };
        match moment.filter(|moment| (1970..=9000).contains(&moment.year())) {
            Some(moment) => {
                self.last = Some((text.to_owned(), moment.clone()));
                Ok(moment)
            }
            None => Err(LineError {
                line,
                column: "began",
                found: text.to_owned(),
                expected: "a date as 2026-01-02, or date and time as 2026-01-02 15:04:05".into(),
            }),
        }
    }
}

fn entries(fields: &Fields) -> Result<What, LineError> {
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
    if entries.is_empty() {
        return Err(fields.wrong("", "neither outcome nor weight nor note", "one of them"));
    }
    Ok(What::Entries(entries))
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

struct Fields<'a> {
    places: [Option<usize>; 17],
    record: &'a StringRecord,
    line: u64,
}

impl Fields<'_> {
    fn text(&self, column: &'static str) -> Option<String> {
        let index = COLUMNS.iter().position(|name| *name == column).unwrap_or(COLUMNS.len());
        let text = self.record.get(self.places[index]?)?;
        // The export puts an apostrophe before what a spreadsheet would take for a formula.
        let armed = |rest: &&str| rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']);
        let text = text.strip_prefix('\'').filter(armed).unwrap_or(text);
        (!text.is_empty()).then(|| text.to_owned())
    }

    fn needed(&self, column: &'static str, expected: &str) -> Result<String, LineError> {
        self.text(column).ok_or_else(|| self.wrong(column, "", expected))
    }

    fn seconds(&self, column: &'static str) -> Result<Option<At>, LineError> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let seconds = text.parse::<f64>().ok().filter(|seconds| (0.0..=86_400.0).contains(seconds));
        let expected = "seconds, 0 to 86400, with a point before decimals";
        seconds.map(At::from_secs_f64).map(Some).ok_or_else(|| self.wrong(column, &text, expected))
    }

    fn step(&self, column: &'static str) -> Result<Option<u8>, LineError> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let step = text.parse::<u8>().ok().filter(|step| (1..=50).contains(step));
        step.map(Some).ok_or_else(|| self.wrong(column, &text, "a step, 1 to 50"))
    }

    fn wrong(&self, column: &'static str, found: &str, expected: &str) -> LineError {
        LineError { line: self.line, column, found: found.into(), expected: expected.into() }
    }
}
