use std::time::Duration;

use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::journal::entry;
use crate::store::export::{Format, Names, Table};
use crate::store::import::{ImportError, ImportOptions, Imported};
use crate::store::testing::{cases, live, place, stored, usual};
use crate::store::{Entry, Filter, JournalFilter, RepRow, Store};

pub(super) fn options() -> ImportOptions {
    ImportOptions {
        zone: TimeZone::get("Europe/Berlin").unwrap(),
        file: "earlier.csv".into(),
        made_by: "0.1.0".into(),
        columns: Vec::new(),
        dry_run: false,
    }
}

fn import(store: &Store, text: &str) -> Result<Imported, ImportError> {
    store.import_csv(&mut text.as_bytes(), &options())
}

fn export(store: &Store, table: Table, format: Format, names: Names) -> String {
    let mut out = Vec::new();
    store.export(table, &Filter::default(), format, names, &mut out).unwrap();
    String::from_utf8(out).unwrap()
}

const EARLIER: &str = "\
began,animal,species,behaviour,at_s,outcome,step,working,side,latency_s,duration_s,person,weight,note
2026-01-02 15:04:05,Pepino,cockatiel,rests a foot,2.5,high,1,1,left,,,Ada,,
2026-01-02 15:04:05,Pepino,cockatiel,rests a foot,9,missed,,2,,,,Ada,,
2026-01-02 15:04:05,Pepino,cockatiel,rests a foot,20.25,jackpot,3,2,,1.5,3,Ada,,
2026-01-03,Pepino,cockatiel,,,,,,,,,Ada,3.25 oz,eats well
2026-01-03T09:00:00Z,Brindle,donkey,lifts a hoof,4,low,1,,,,,,,
";

#[test]
fn earlier_notes_become_sessions_and_entries() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let imported = import(&store, EARLIER).unwrap();
    assert_eq!(imported, Imported { sessions: 2, reps: 4, entries: 2, known: 0 });
    let sessions = store.sessions(&Filter::default()).unwrap();
    assert_eq!(sessions[0].began.to_string(), "2026-01-02T14:04:05Z");
    assert_eq!((sessions[0].rewarded, sessions[0].missed, sessions[0].paid), (2, 1, [0, 1, 1]));
    assert_eq!(sessions[0].active, Duration::from_secs_f64(20.25));
    assert_eq!(sessions[0].last_step, 2);
    let reps = store.reps(&Filter::session(sessions[0].id)).unwrap();
    let last = &reps[2].rep;
    assert_eq!((last.step, last.working), (3, 2));
    assert_eq!(last.latency, Some(Duration::from_secs_f64(1.5)));
    assert_eq!(last.duration, Some(Duration::from_secs(3)));
    let journal = store.journal(&JournalFilter::default()).unwrap();
    let Entry::Weight { grams, .. } = journal[0].entry else { panic!("{journal:?}") };
    assert!((grams - 92.135_950_156).abs() < 1e-6, "{grams}");
    assert_eq!(journal[0].day.to_string(), "2026-01-03");
    assert!(store.verify("0.1.0").unwrap().is_sound());
    // Once more: known.
    let again = import(&store, EARLIER).unwrap();
    assert_eq!(again, Imported { known: 2, ..Imported::default() });
}

#[test]
fn every_fault_is_told_with_its_line_and_nothing_is_taken_in() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let wrong = "\
began,animal,behaviour,at_s,outcome,step,latency_s,weight_g,weight
2026-01-02,Pepino,rests,2.5,high,1,,,
yesterday,Pepino,rests,2.5,high,1,,,
2026-02-30,Pepino,rests,2.5,high,1,,,
2026-01-02,,rests,2.5,high,1,,,
2026-01-02,Pepino,,2.5,high,1,,,
2026-01-02,Pepino,rests,,high,1,,,
2026-01-02,Pepino,rests,\"2,5\",high,1,,,
2026-01-02,Pepino,rests,2.5,great,1,,,
2026-01-02,Pepino,rests,2.5,high,51,,,
2026-01-02,Pepino,rests,NaN,high,1,,,
2026-01-02,Pepino,,,,,,-4,
2026-01-02,Pepino,,,,,,,4 stone
2026-01-02,Pepino
2026-01-02,Pepino,rests,3,high,1,2.0,,
";
    let ImportError::Lines(errors) = import(&store, wrong).unwrap_err() else { panic!() };
    let told: Vec<(u64, &str)> = errors.first.iter().map(|e| (e.line, e.column)).collect();
    let expected = [
        (3, "began"),
        (4, "began"),
        (5, "animal"),
        (6, "behaviour"),
        (7, "at_s"),
        (8, "at_s"),
        (9, "outcome"),
        (10, "step"),
        (11, "at_s"),
        (12, "weight_g"),
        (13, "weight"),
        (14, ""),
        (15, "latency_s"),
    ];
    assert_eq!(told, expected);
    assert!(errors.to_string().contains("line 9, outcome: found \"great\"; expected low, high"));
    assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 0);
    assert!(store.animals().unwrap().is_empty());
    let no_columns = import(&store, "a,b\n1,2\n").unwrap_err().to_string();
    assert!(no_columns.contains("line 1, animal"), "{no_columns}");
    let changed = EARLIER.replace("20.25", "21.25");
    import(&store, EARLIER).unwrap();
    let changed = import(&store, &changed).unwrap_err().to_string();
    assert!(changed.contains("line 2") && changed.contains("review"), "{changed}");
}

#[test]
fn an_open_quote_does_not_fill_the_memory() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let head = b"began,animal,note\n2026-01-02,Pepino,\"".as_slice();
    let mut endless = std::io::Read::chain(head, std::io::repeat(b'x'));
    let error = store.import_csv(&mut endless, &options()).unwrap_err().to_string();
    assert!(error.contains("quote left open"), "{error}");
    let mut no_text = b"began,animal,note\n2026-01-02,Pepino,\xff\n".as_slice();
    let error = store.import_csv(&mut no_text, &options()).unwrap_err().to_string();
    assert!(error.contains("line 2") && error.contains("UTF-8"), "{error}");
}

pub(super) fn plain(rows: &[RepRow]) -> Vec<crate::session::Rep> {
    rows.iter().map(|row| row.rep.clone()).collect()
}

#[test]
fn an_export_of_reps_can_be_taken_in_elsewhere() {
    let (here, there) = (place(), place());
    let from = Store::open(&here.file).unwrap();
    import(&from, EARLIER).unwrap();
    let text = export(&from, Table::Reps, Format::Csv, Names::Kept);
    let to = Store::open(&there.file).unwrap();
    assert_eq!(import(&to, &text).unwrap().reps, 4);
    let all = Filter::default();
    assert_eq!(plain(&to.reps(&all).unwrap()), plain(&from.reps(&all).unwrap()));
}

#[test]
fn exports_have_the_documented_columns_and_stay_the_same() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let session = stored(&store, 1, &live(&usual()[..4], Some(60.0)).1);
    store.finish(session).unwrap();
    store.write_entry(&entry(50, Entry::Note { text: "=1+1, \"quoted\"\nline".into() })).unwrap();
    store.write_entry(&entry(51, Entry::Weight { grams: 92.5, said: None })).unwrap();
    for table in Table::ALL {
        let csv = export(&store, table, Format::Csv, Names::Kept);
        let names: Vec<&str> = table.columns().iter().map(|column| column.name).collect();
        assert_eq!(csv.lines().next().unwrap(), names.join(","), "{}", table.name());
        for line in export(&store, table, Format::JsonLines, Names::Kept).lines() {
            let row: serde_json::Value = serde_json::from_str(line).unwrap();
            assert!(
                row.as_object().unwrap().keys().all(|key| names.contains(&key.as_str())),
                "{row}"
            );
        }
    }
    let reps = export(&store, Table::Reps, Format::JsonLines, Names::Kept);
    insta::assert_snapshot!(reps.lines().nth(1).unwrap(), @r#"{"session":"019b76da-abe8-7707-8707-070707070707","animal":"Pepino","species":"cockatiel","behaviour":"rests a foot on the nail file","began":"2026-01-02T02:04:05.123456Z","day":"2026-01-02","person":"Ada","place":"kitchen","rep":2,"at_s":5.0,"active_s":3.0,"working":2,"step":3,"outcome":"high","rewarded":true,"value_named":false,"edited":false,"event":"019b76da-abeb-7707-8707-070707070707","source":"live","zone":"Europe/Berlin","session_active_s":58.0,"start_step":2,"last_step":2}"#);
    let sessions = export(&store, Table::Sessions, Format::Csv, Names::Kept);
    insta::assert_snapshot!(sessions.lines().nth(1).unwrap(), @r#"019b76da-abe8-7707-8707-070707070707,Pepino,cockatiel,rests a foot on the nail file,2026-01-02T02:04:05.123456Z,2026-01-02,Europe/Berlin,3600,Ada,kitchen,live,,pepino.toml,f67f1ac307efa7e11e028481c904fb0b559b836335b20937bcb70ae4be9de4c7,2,2,3,58,3,2,1,0,2,0,2.0689655172413794,,,0,false,sound_ended,"#);
    let journal = export(&store, Table::Journal, Format::Csv, Names::Kept);
    insta::assert_snapshot!(journal, @r#"
    entry,animal,species,utc,day,person,place,kind,weight_g,body
    019b76da-a832-7707-8707-070707070707,Pepino,cockatiel,2026-01-02T02:04:05.123456Z,2026-01-02,Ada,kitchen,note,,"{""entry"":""note"",""text"":""=1+1, \""quoted\""\nline""}"
    019b76da-a833-7707-8707-070707070707,Pepino,cockatiel,2026-01-02T02:04:05.123456Z,2026-01-02,Ada,kitchen,weight,92.5,"{""entry"":""weight"",""grams"":92.5}"
    "#);
}

/// Checked against the other writer: what JSON Lines say of a row, the library's own reader of Parquet says too.
#[test]
fn parquet_says_the_same_as_json_lines() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field;

    let place = place();
    let store = Store::open(&place.file).unwrap();
    import(&store, EARLIER).unwrap();
    let mut dates = 0;
    for table in Table::ALL {
        let lines = export(&store, table, Format::JsonLines, Names::Kept);
        let mut out = Vec::new();
        store.export(table, &Filter::default(), Format::Parquet, Names::Kept, &mut out).unwrap();
        let file = SerializedFileReader::new(bytes::Bytes::from(out)).unwrap();
        let rows: Vec<_> = file.get_row_iter(None).unwrap().map(Result::unwrap).collect();
        assert_eq!(rows.len(), lines.lines().count(), "{}", table.name());
        for (row, line) in rows.iter().zip(lines.lines()) {
            let line: serde_json::Value = serde_json::from_str(line).unwrap();
            for (name, field) in row.get_column_iter() {
                let said = &line[name.as_str()];
                match field {
                    Field::Null => assert!(said.is_null(), "{name}: {line}"),
                    Field::Str(text) if said.is_string() => assert_eq!(text, said),
                    Field::Str(json) => {
                        assert_eq!(&serde_json::from_str::<serde_json::Value>(json).unwrap(), said);
                    }
                    Field::Long(number) => assert_eq!(said.as_i64(), Some(*number), "{name}"),
                    Field::Double(number) => assert_eq!(said.as_f64(), Some(*number), "{name}"),
                    Field::Bool(yes) => assert_eq!(said.as_bool(), Some(*yes), "{name}"),
                    Field::TimestampMicros(micros) => {
                        let moment = jiff::Timestamp::from_microsecond(*micros).unwrap();
                        assert_eq!(said.as_str(), Some(moment.to_string().as_str()), "{name}");
                    }
                    // Parquet's own DATE: days since 1970-01-01.
                    Field::Date(days) => {
                        let day = jiff::civil::date(1970, 1, 1)
                            .checked_add(jiff::Span::new().days(*days))
                            .unwrap();
                        assert_eq!(said.as_str(), Some(day.to_string().as_str()), "{name}");
                        dates += 1;
                    }
                    other => panic!("{name} is {other:?}"),
                }
            }
        }
    }
    assert_eq!(dates, 8, "a day in every row of reps, sessions and journal");
}

#[test]
fn hidden_names_are_nowhere_in_an_export() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    import(&store, EARLIER).unwrap();
    for table in Table::ALL {
        for format in [Format::Csv, Format::JsonLines] {
            let text = export(&store, table, format, Names::Hidden);
            for name in ["Pepino", "Brindle", "Ada", "eats well", "earlier.csv"] {
                assert!(!text.contains(name), "{name} in {}: {text}", table.name());
            }
        }
    }
    let reps = export(&store, Table::Reps, Format::Csv, Names::Hidden);
    assert!(reps.contains("animal 1") && reps.contains("animal 2") && reps.contains("person 1"));
}

proptest! {
    #![proptest_config(cases(64))]
    #[test]
    fn no_file_panics(text in "(began|animal|,|\n|\"|2026-01-02|Pepino|at_s|outcome|high|[ -~]){0,60}") {
        let place = place();
        let store = Store::open(&place.file).unwrap();
        // What is taken in must be readable; what is not must change nothing.
        if import(&store, &text).is_err() {
            prop_assert_eq!(store.sessions(&Filter::default()).unwrap().len(), 0);
        }
        prop_assert!(store.verify("0.1.0").unwrap().is_sound());
    }
}

#[test]
fn every_cell_is_taken_in_or_its_line_is_told() {
    let head = "began,animal,behaviour,at_s,outcome,side,step,weight,weight_g,note,weather";
    let told = |line: &str| {
        let place = place();
        let store = Store::open(&place.file).unwrap();
        match import(&store, &format!("{head}\n{line}\n")) {
            Err(ImportError::Lines(errors)) => Err(errors.first[0].to_string()),
            other => Ok((
                other.unwrap(),
                store.journal(&JournalFilter::default()).unwrap(),
                store.reps(&Filter::default()).unwrap(),
            )),
        }
    };
    // Beside an outcome.
    let (imported, journal, _) =
        told("2026-01-02,Pepino,rests,2.5,high,,,3 oz,,eats well,").unwrap();
    assert_eq!((imported.reps, imported.entries), (1, 2));
    assert!(
        matches!(journal[0].entry, Entry::Weight { .. })
            && matches!(journal[1].entry, Entry::Note { .. })
    );
    let (_, _, reps) = told("2026-01-02,Pepino,rests,2.5,missed,left,3,,,,").unwrap();
    assert_eq!((reps[0].rep.side, reps[0].rep.step), (Some(crate::plan::Side::Left), 3));
    for (line, why) in [
        ("2026-01-02,Pepino,rests,2.5,high,,,heavy,,,", "weight"),
        ("2026-01-02,Pepino,rests,2.5,high,,,,-1,,", "weight_g"),
        ("2026-01-02,Pepino,,2.5,,,,,92,,", "at_s"),
        ("2026-01-02,Pepino,,,,left,,,92,,", "side"),
        ("2026-01-02,Pepino,rests,,,,,,92,,", "behaviour"),
        ("2026-01-02,Pepino,rests,2.5,high,,,,,,rain", "weather: rain"),
        ("2026-01-02,Pepino,rests,2.5,high,,,,,,,more", "more"),
    ] {
        let said = told(line).unwrap_err();
        assert!(said.starts_with("line 2") && said.contains(why), "{line}: {said}");
    }
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let twice =
        import(&store, "began,animal,note,note\n2026-01-02,Pepino,a,b\n").unwrap_err().to_string();
    assert!(twice.contains("line 1, note: found \"two columns"), "{twice}");
    import(&store, EARLIER).unwrap();
    for table in [Table::Sessions, Table::Marks, Table::Events, Table::Journal] {
        let said = import(&store, &export(&store, table, Format::Csv, Names::Kept))
            .unwrap_err()
            .to_string();
        assert!(said.contains(table.name()) && said.contains("backup"), "{said}");
    }
}

#[test]
fn what_is_not_such_a_file_is_an_error_with_words() {
    let place = place();
    let store = Store::open(&place.file).unwrap();
    let file = place.folder.path().join("t.parquet");
    let mut whole = Vec::new();
    import(&store, EARLIER).unwrap();
    store
        .export(Table::Reps, &Filter::default(), Format::Parquet, Names::Kept, &mut whole)
        .unwrap();
    let mut random = proptest::test_runner::TestRng::deterministic_rng(
        proptest::test_runner::RngAlgorithm::ChaCha,
    );
    for n in 0..60 {
        use proptest::prelude::Rng;
        let mut corrupted = whole.clone();
        match n % 3 {
            0 => corrupted.truncate(random.next_u32() as usize % whole.len()),
            1 => corrupted[random.next_u32() as usize % whole.len()] ^= 1 << (n % 8),
            _ => {
                corrupted[whole.len() - 1 - random.next_u32() as usize % 1_000.min(whole.len())] =
                    random.next_u32() as u8
            }
        }
        std::fs::write(&file, corrupted).unwrap();
        let before = store.sessions(&Filter::default()).unwrap().len();
        if store.import_parquet(std::fs::File::open(&file).unwrap(), &options()).is_err() {
            assert_eq!(store.sessions(&Filter::default()).unwrap().len(), before);
        }
    }
    for text in [
        "{\"animal\":\"Pepino\"",
        "[1]",
        "{\"animal\":[1],\"began\":3}",
        "{\"began\":\"2026-01-02\",\"animal\":\"P\",\"note\":\"n\",\"weather\":1}",
    ] {
        let said =
            store.import_json_lines(&mut text.as_bytes(), &options()).unwrap_err().to_string();
        assert!(said.contains("line 1"), "{said}");
    }
    let endless = &mut std::io::BufReader::new(std::io::repeat(b'x'));
    let said = store.import_json_lines(endless, &options()).unwrap_err().to_string();
    assert!(said.contains("longer"), "{said}");
}

/// Whether a reward was named comes over with it: by what the plan gives, by what its step earns, or by hand.
#[test]
fn whether_a_reward_was_named_is_exported_and_read_in_again() {
    let place = place();
    let from = Store::open(&place.file).unwrap();
    let notes = "\
began,animal,behaviour,at_s,outcome,step,working,value_named
2026-01-02,Pepino,rests a foot,2,high,1,1,false
2026-01-02,Pepino,rests a foot,4,high,1,1,true
2026-01-02,Pepino,rests a foot,6,high,1,1,
2026-01-02,Pepino,rests a foot,8,low,1,2,false
2026-01-02,Pepino,rests a foot,10,jackpot,3,2,false
2026-01-02,Pepino,rests a foot,12,jackpot,3,2,false
2026-01-02,Pepino,rests a foot,14,jackpot,2,2,false
2026-01-02,Pepino,rests a foot,16,high,2,2,false
2026-01-02,Pepino,rests a foot,18,missed,2,2,
";
    import(&from, notes).unwrap();
    let named = |store: &Store| -> Vec<bool> {
        let id = store.sessions(&Filter::default()).unwrap()[0].id;
        let reps = store.reps(&Filter::session(id)).unwrap();
        reps.iter().map(|row| row.rep.value_named).collect()
    };
    let expected = [false, true, true, false, false, false, false, false, false];
    assert_eq!(named(&from), expected);
    // Only what neither the plan nor a step gives takes an edit.
    assert_eq!(from.sessions(&Filter::default()).unwrap()[0].edits, 1);
    let to = Store::open(&place.folder.path().join("to.db")).unwrap();
    let exported = export(&from, Table::Reps, Format::Csv, Names::Kept);
    import(&to, &exported).unwrap();
    assert_eq!(named(&to), expected);
    // A rep that was corrected has the key of another event there.
    let but_event = |text: &str| -> Vec<String> {
        let cells = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
        let event = cells(text.lines().next().unwrap()).iter().position(|name| name == "event");
        let but = |line: &str| {
            let mut cells = cells(line);
            cells.remove(event.unwrap());
            cells.join(",")
        };
        text.lines().map(but).collect()
    };
    let again = export(&to, Table::Reps, Format::Csv, Names::Kept);
    assert_eq!(but_event(&again), but_event(&exported));
}
