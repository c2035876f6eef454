//! Names are forgotten: words of plans in every spelling, which are keys, numbers, units and fixed words too, and
//! names that are nothing else. Afterwards every session must read as before, and the name must stand in no text that
//! a person wrote. What a name is looked for by here is simpler than what the program does: texts in small letters and
//! composed (NFC), cut into words where a character is neither letter nor digit.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use hushtally::at::At;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Plan, RewardValue};
use hushtally::session::{Event, Input, Output, Session};
use hushtally::store::{
    AnimalRef, Change, Edit, Entry, EventId, Filter, Forget, NewEntry, NewSession, ProbeCue,
    RepRow, SessionId, Source, Store, StoreError, Target,
};
use rusqlite::Connection;
use toml::Value as Toml;
use unicode_normalization::UnicodeNormalization;

use crate::Wanted;
use crate::ledger::{FaultCounts, utc};

const PLANS: [&str; 2] =
    [include_str!("../../demo/pepino.toml"), include_str!("../../demo/brindle.toml")];
/// Names that are nothing else; whoever wears one is invented.
const PEOPLE: [&str; 8] = [
    "Zoë",
    "Quillfeather",
    "Strauß-Ohm",
    "Σίσυφος",
    "Ångström Vale",
    "Thistlewood",
    "Nguyễn",
    "İpek",
];
/// Names of this many letters and more are rare enough to be looked for in the raw bytes.
const RARE: usize = 9;

pub(crate) fn run(wanted: Wanted, random: &mut fastrand::Rng, counts: &mut FaultCounts) {
    let words = words();
    for _ in 0..wanted.forgets {
        let name = name(&words, random);
        let folder = tempfile::tempdir().expect("a folder");
        let db = folder.path().join("hushtally.db");
        counts.forgets += 1;
        if let Err(wrong) = one(&db, &name, random, counts) {
            counts.wrong.push(format!("forgetting {name:?}: {wrong}"));
        }
    }
}

/// Every word of the plans: of keys, values, comments and numbers.
fn words() -> Vec<String> {
    let texts = PLANS.join(" ");
    let words = texts.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.map(str::to_owned).collect::<BTreeSet<_>>().into_iter().collect()
}

fn name(words: &[String], random: &mut fastrand::Rng) -> String {
    let name = match random.u8(..6) {
        0 | 1 => PEOPLE[random.usize(..PEOPLE.len())].to_owned(),
        2 => {
            format!("{} {}", words[random.usize(..words.len())], words[random.usize(..words.len())])
        }
        3 if random.bool() => random.alphabetic().to_string(),
        3 => ["Pepino", "Brindle", "cockatiel", "Donkey"][random.usize(..4)].to_owned(),
        _ => words[random.usize(..words.len())].clone(),
    };
    spelt(&name, random)
}

/// The same name, spelt in another way.
fn spelt(name: &str, random: &mut fastrand::Rng) -> String {
    let name = match random.u8(..3) {
        0 => name.to_lowercase(),
        // Capitals of these letters are others, whose small letters are not these again.
        1 if !name.contains(['ß', 'ς', 'İ']) => name.to_uppercase(),
        _ => name.to_owned(),
    };
    if random.bool() { name.nfd().collect() } else { name }
}

/// Forgets one name in a record of its own.
fn one(
    db: &Path,
    name: &str,
    random: &mut fastrand::Rng,
    counts: &mut FaultCounts,
) -> Result<(), StoreError> {
    let store = Store::open(db)?;
    let mut keys = 0;
    for (n, plan) in (0..).zip(PLANS) {
        session(&store, plan, "somebody else", &mut keys, n)?;
        // The name in every place where one can stand, and a plan that is the same but for it.
        let person = spelt(name, random);
        for _ in 0..2 {
            let by = spelt(name, random);
            let text = format!("{plan}own.\"{by}\" = \"brr {n}\" # {by} says\n# for {by}\n");
            session(&store, &text, &person, &mut keys, n)?;
        }
        let behaviour = Plan::parse("plan", plan).expect("a plan").behaviour;
        let probe = Entry::Probe {
            behaviour,
            cue: ProbeCue::Other(person.clone()),
            came: true,
            instead: Some(format!("waves, {person}")),
            latency_s: None,
            context: Some(format!("{person}'s yard")),
        };
        for entry in [probe, Entry::Note { text: format!("ask {person}, {person} knows") }] {
            keys += 1;
            store.write_entry(&NewEntry {
                id: EventId(key(keys)),
                animal: None,
                when: utc(keys).to_zoned_datetime(jiff::tz::TimeZone::UTC),
                person: Some(person.clone()),
                place: Some(format!("with {person}")),
                entry,
            })?;
        }
    }
    let before = shown(&store)?;
    let copy = db.with_file_name("hushtally.db.before-format-1");
    fs::write(&copy, "an earlier copy").expect("a copy");
    let mut animals_stay = false;
    match store.forget(&Forget::Person(name.to_owned())) {
        Ok(_) => {}
        Err(StoreError::Refused(why)) if why.contains("--keep-animals") => {
            if !copy.exists() || shown(&store)? != before {
                counts.wrong.push(format!("{name:?} was refused, and something is gone"));
            }
            counts.forgets_of_animals += 1;
            animals_stay = true;
            store.forget(&Forget::PersonNotAnimal(name.to_owned()))?;
        }
        Err(error) => return Err(error),
    }
    let unreadable = store.rebuild()?.len();
    if unreadable > 0 || shown(&store)? != before || !store.verify("faults")?.is_sound() {
        counts.unreadable_sessions += unreadable.max(1) as u64;
        counts.wrong.push(format!("{name:?} is forgotten, and sessions read otherwise"));
    }
    drop(store);
    let left = left(db, name, animals_stay);
    counts.names_left += left.len() as u64;
    counts.wrong.extend(left.into_iter().map(|text| format!("{name:?} still stands in {text:?}")));
    Ok(())
}

fn key(n: u64) -> uuid::Uuid {
    uuid::Builder::from_unix_timestamp_millis(1_767_225_600_000 + n, &[7; 10]).into_uuid()
}

/// A short session by this plan, with everything in it that can hold a name.
fn session(
    store: &Store,
    text: &str,
    person: &str,
    keys: &mut u64,
    n: u64,
) -> Result<(), StoreError> {
    let plan = Plan::parse("plan", text).map_err(|error| StoreError::Refused(error.to_string()))?;
    *keys += 1;
    let id = SessionId(key(*keys));
    store.begin_session(&NewSession {
        id,
        animal: AnimalRef::Named { name: plan.animal.clone(), species: plan.species.clone() },
        behaviour: plan.behaviour.clone(),
        plan_file: format!("plans/{person}.toml"),
        plan_text: text.into(),
        start_step: plan.start_step,
        told: Default::default(),
        person: Some(person.into()),
        place: Some(format!("{person}'s yard")),
        began: utc(1000 * n + *keys).to_zoned_datetime(jiff::tz::TimeZone::UTC),
        source: Source::Recording,
        source_name: Some(format!("{person} 2.wav")),
        made_by: "faults".into(),
        sitting: None,
    })?;
    let high = Details { value: Some(RewardValue::High), ..Details::default() };
    let inputs = [
        Input::said(Said::Rep(Details::default()), "yes"),
        Input::said(Said::Rep(high), format!("yes high {person}")),
        Input::said(Said::Own { name: person.into() }, "brr"),
        Input::Noted { text: format!("{person} held the towel, \"{person}\"") },
        Input::Doubted { words: "high".into(), other: person.into() },
        Input::said(Said::Miss(Details::default()), "miss"),
    ];
    let mut engine = Session::new(plan);
    let mut outputs = Vec::new();
    for (at, input) in (2..).zip(inputs) {
        outputs.extend(engine.handle(At::from_secs_f64(f64::from(at) * 3.0), input));
    }
    outputs.extend(engine.close(At::from_secs_f64(200.0)));
    let mut first = None;
    let mut all = Vec::new();
    for output in outputs {
        let Output::Append(logged) = output else { continue };
        *keys += 1;
        if matches!(logged.event, Event::Input(Input::Tagged { .. })) {
            first.get_or_insert(EventId(key(*keys)));
        }
        all.push((logged, EventId(key(*keys))));
    }
    store.append_all(id, &all, utc(*keys))?;
    store.finish(id)?;
    let changes = [
        Change::Remove { target: Target::Event(first.expect("a tag")) },
        Change::Film {
            name: format!("{person}.mp4"),
            offset_s: 1.0,
            drift_ppm: 0.0,
            error_ms: None,
        },
    ];
    for change in changes {
        *keys += 1;
        let edit = Edit { change, by: Some(person.into()), why: Some(format!("says {person}")) };
        store.edit(id, &edit, EventId(key(*keys)), utc(*keys))?;
    }
    Ok(())
}

/// A session, how many tries were rewarded and missed, and the tries.
type Shown = (SessionId, u32, u32, Vec<RepRow>);

/// What the views show of every session, names aside.
fn shown(store: &Store) -> Result<Vec<Shown>, StoreError> {
    let sessions = store.sessions(&Filter::default())?;
    let each = sessions
        .iter()
        .map(|row| Ok((row.id, row.rewarded, row.missed, store.reps(&Filter::session(row.id))?)));
    each.collect()
}

/// Every text of a record that a person wrote and that holds the name.
fn left(db: &Path, name: &str, animals_stay: bool) -> Vec<String> {
    let conn = Connection::open(db).expect("the record");
    let mut texts = Vec::new();
    let columns = [
        "SELECT person FROM session UNION ALL SELECT place FROM session
         UNION ALL SELECT source_name FROM session UNION ALL SELECT behaviour FROM session",
        "SELECT person FROM journal UNION ALL SELECT place FROM journal
         UNION ALL SELECT note FROM animal",
        "SELECT file FROM plan_version UNION ALL SELECT behaviour FROM plan_version
         UNION ALL SELECT name FROM mark WHERE kind IN ('note', 'own', 'doubt')",
        "SELECT name FROM animal UNION ALL SELECT name FROM animal_name
         UNION ALL SELECT species FROM animal",
    ];
    let asked = if animals_stay { &columns[..3] } else { &columns[..] };
    for sql in asked {
        texts.extend(column(&conn, sql));
    }
    for text in column(&conn, "SELECT text FROM plan_version") {
        let mut table: toml::Table = toml::from_str(&text).expect("a plan is TOML");
        if animals_stay {
            table.remove("animal");
            table.remove("species");
        }
        in_plan(&Toml::Table(table), "", &mut texts);
        let comments = text.lines().filter_map(|line| line.rsplit_once("# "));
        texts.extend(comments.map(|(_, comment)| comment.to_owned()));
    }
    for sql in [
        "SELECT body FROM journal",
        "SELECT body FROM event WHERE kind NOT IN ('nudged', 'finished')",
    ] {
        for body in column(&conn, sql) {
            in_json(&serde_json::from_str(&body).expect("JSON"), "", &mut texts);
        }
    }
    texts.retain(|text| holds(text, name));
    drop(conn);
    let nothing_else = PEOPLE.iter().any(|person| words_of(person) == words_of(name));
    if nothing_else && name.chars().count() >= RARE {
        let composed: String = name.nfc().collect();
        let apart: String = name.nfd().collect();
        let spellings = [&composed, &apart]
            .map(|name| [name.clone(), name.to_lowercase(), name.to_uppercase()]);
        for entry in fs::read_dir(db.parent().expect("a folder")).expect("files").flatten() {
            let bytes = fs::read(entry.path()).unwrap_or_default();
            for spelling in spellings.as_flattened() {
                if bytes.windows(spelling.len()).any(|bytes| bytes == spelling.as_bytes()) {
                    texts.push(format!("the bytes of {}", entry.path().display()));
                }
            }
        }
    }
    texts
}

fn column(conn: &Connection, sql: &str) -> Vec<String> {
    let mut statement = conn.prepare(sql).expect("a query");
    let rows = statement.query_map([], |row| row.get::<_, Option<String>>(0)).expect("rows");
    rows.filter_map(|text| text.expect("a text")).collect()
}

fn in_plan(value: &Toml, key: &str, texts: &mut Vec<String>) {
    match value {
        // These say one of a few words that the program knows.
        Toml::String(_) if ["dimension", "earns", "kind", "marker_sounds"].contains(&key) => {}
        Toml::String(text) => texts.push(text.clone()),
        Toml::Array(values) => values.iter().for_each(|value| in_plan(value, key, texts)),
        Toml::Table(table) => {
            if key == "own" {
                texts.extend(table.keys().cloned());
            }
            table.iter().for_each(|(key, value)| in_plan(value, key, texts));
        }
        _ => {}
    }
}

fn in_json(value: &serde_json::Value, key: &str, texts: &mut Vec<String>) {
    const PEOPLES_OWN: [&str; 11] = [
        "words",
        "other",
        "text",
        "by",
        "why",
        "name",
        "said",
        "what",
        "behaviour",
        "instead",
        "context",
    ];
    match value {
        serde_json::Value::String(text) if PEOPLES_OWN.contains(&key) => texts.push(text.clone()),
        serde_json::Value::Array(all) => all.iter().for_each(|value| in_json(value, key, texts)),
        serde_json::Value::Object(all) => {
            all.iter().for_each(|(key, value)| in_json(value, key, texts));
        }
        _ => {}
    }
}

fn words_of(text: &str) -> Vec<String> {
    let text: String = text.nfc().collect::<String>().to_lowercase().nfc().collect();
    let words = text.split(|c: char| !c.is_alphanumeric() && !is_mark(c));
    words.filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// A mark that no letter could be composed with belongs to the word all the same.
fn is_mark(c: char) -> bool {
    unicode_normalization::char::is_combining_mark(c)
}

fn holds(text: &str, name: &str) -> bool {
    let (text, name) = (words_of(text), words_of(name));
    text.windows(name.len().max(1)).any(|words| words == name)
}
