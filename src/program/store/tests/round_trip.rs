//! What is exported comes back: random sessions, in every format.

use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::exchange::{options, plain};
use crate::store::export::{Format, Names, Table};
use crate::store::testing::{cases, place};
use crate::store::{Filter, Store};

/// What was said, in time and in any order: pauses, steps, cues that run out, take-backs.
fn any_tags() -> impl Strategy<Value = Vec<(u32, crate::interpret::Said)>> {
    use crate::interpret::{Details, Said};
    use crate::plan::{Command, RewardValue, Side};
    let command = |command| Just(Said::Command { command });
    let value =
        prop_oneof![Just(RewardValue::Low), Just(RewardValue::High), Just(RewardValue::Jackpot)];
    let side = prop_oneof![Just(Side::Left), Just(Side::Right)];
    let details =
        (proptest::option::of(1_u8..=3), proptest::option::of(side), proptest::option::of(value))
            .prop_map(|(step, side, value)| Details { step, side, value, ..Details::default() });
    let said = prop_oneof![
        6 => details.clone().prop_map(Said::Rep),
        3 => details.clone().prop_map(|details| Said::Miss(details.of_a_miss())),
        1 => details.prop_map(Said::Detail),
        2 => Just(Said::Cue),
        2 => Just(Said::HoldStart),
        1 => Just(Said::TakeBack),
        2 => command(Command::Pause),
        3 => command(Command::GoOn),
        1 => command(Command::StepUp),
        1 => command(Command::StepBack),
    ];
    proptest::collection::vec((0_u32..20_000_000, said), 1..30)
}

/// Sessions and their reps as views show them, but for what belongs to the record that they come from.
fn told(store: &Store) -> Vec<(crate::store::SessionRow, Vec<crate::session::Rep>)> {
    let sessions = store.sessions(&Filter::default()).unwrap().into_iter();
    let of = |mut row: crate::store::SessionRow| {
        let reps = plain(&store.reps(&Filter::session(row.id)).unwrap());
        (row.plan_version, row.source, row.edits, row.unsure) =
            (0, crate::store::Source::Import, 0, 0);
        (row.animal_id, row.main_nudge, row.ended) = (crate::store::AnimalId(row.id.0), None, None);
        // As nudges are, what follows from them is another where nothing but tries came over.
        row.declining = None;
        (row, reps)
    };
    sessions.map(of).filter(|(_, reps)| !reps.is_empty()).collect()
}

proptest! {
    #![proptest_config(cases(8))]
    /// A session without a rep stands in no table of reps; every other comes back as it was, in every format.
    #[test]
    fn what_is_exported_comes_back_as_it_was(
        sessions in proptest::collection::vec((any_tags(), 0_u32..90_000_000, 0_u8..4), 1..4)
    ) {
        use crate::session::{Event, Input, Output, Session};
        use crate::store::{Change, Edit, EventId, NewSession, SessionId, Target};
        use crate::store::testing::{key, later, new_session, plan};

        let (here, there) = (place(), place());
        let from = Store::open(&here.file).unwrap();
        let mut keys = 1_000;
        for (tags, rest, how) in sessions {
            keys += 1_000;
            let zones = ["Europe/Berlin", "America/St_Johns", "UTC"];
            let began = crate::store::testing::began()
                .with_time_zone(TimeZone::get(zones[usize::from(how) % 3]).unwrap())
                .checked_add(jiff::Span::new().minutes(keys as i64 / 10)).unwrap();
            let person = (how != 1).then(|| "=Ada, \"A\"".to_owned());
            let new = NewSession { began, person, ..new_session(keys) };
            from.begin_session(&new).unwrap();
            let mut engine = Session::new(plan(new.start_step));
            let (mut at, mut out) = (0_u64, Vec::new());
            for (after, said) in tags {
                at += u64::from(after) * 1_000;
                out.extend(engine.handle(at.into(), Input::said(said, "words")));
            }
            out.extend(engine.close((at + u64::from(rest) * 1_000).into()));
            let mut reps = Vec::new();
            let mut logged = Vec::new();
            for output in out {
                let Output::Append(event) = output else { continue };
                keys += 1;
                if let Event::Input(Input::Tagged { said: crate::interpret::Said::Rep(_) | crate::interpret::Said::Miss(_), .. }) = event.event {
                    reps.push(EventId(key(keys)));
                }
                logged.push((event, EventId(key(keys))));
            }
            from.append_all(SessionId(new.id.0), &logged, later(1)).unwrap();
            // Some are corrected afterwards.
            if how == 2 && let Some(target) = reps.first() {
                let rep = crate::store::RepEdit { step: Some(2), ..Default::default() };
                for change in [
                    Change::Add { at: (at / 2).into(), rep, settles: None },
                    Change::Remove { target: Target::Event(*target) },
                ] {
                    keys += 1;
                    let edit = Edit { change, by: None, why: None };
                    from.edit(new.id, &edit, EventId(key(keys)), later(2)).unwrap();
                }
            }
            from.finish(new.id).unwrap();
        }
        let expected = told(&from);
        for format in [Format::Csv, Format::JsonLines, Format::Parquet] {
            let file = there.folder.path().join("reps");
            let mut out = Vec::new();
            from.export(Table::Reps, &Filter::default(), format, Names::Kept, &mut out).unwrap();
            std::fs::write(&file, &out).unwrap();
            let to = Store::open(&there.folder.path().join(format!("{format:?}.db"))).unwrap();
            let read = |store: &Store| match format {
                Format::Csv => store.import_csv(&mut out.as_slice(), &options()),
                Format::JsonLines => store.import_json_lines(&mut out.as_slice(), &options()),
                Format::Parquet => store.import_parquet(std::fs::File::open(&file).unwrap(), &options()),
            };
            let imported = read(&to).unwrap();
            prop_assert_eq!(imported.sessions as usize, expected.len());
            prop_assert_eq!(&told(&to), &expected);
            prop_assert!(to.verify("0.1.0").unwrap().is_sound());
            // There already, in the new place as in the old one.
            for store in [&to, &from] {
                let again = read(store).unwrap();
                prop_assert_eq!((again.sessions, again.known as usize), (0, expected.len()));
            }
        }
    }
}
