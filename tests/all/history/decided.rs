//! One decision, everywhere: whatever was trained, no two surfaces say otherwise of the step, of how long or how much.

use std::time::Duration;

use anyhow::{Context, Result};
use hushtally::at::At;
use hushtally::clock::Clock;
use hushtally::decide::Says;
use hushtally::interpret::{Details, Said};
use hushtally::plan::{Command, Mood, Plan};
use hushtally::run::{Conductor, Desk as RunDesk, Origin, Plain, Recorder};
use hushtally::session::{Input, Session};
use hushtally::store::{Filter, MarkKind, Source, Store};
use hushtally::wording::Wording;
use jiff::Timestamp;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::Desk;
use crate::review::pages::page_of;

const PLAN: &str = "animal = 'Pepino'\nspecies = 'cockatiel'\nbehaviour = 'rests'\n\
    [[step]]\nname = 'looks'\n[[step]]\nname = 'touches'\n[[step]]\nname = 'rests a foot'\n\
    dimension = 'duration'\ngoal = 5.0\n[rewards.high]\nwhat = 'seed'\nkcal_per_piece = 0.12\n\
    [rewards.low]\nwhat = 'seed'\nkcal_per_piece = 0.1\n[rewards.jackpot]\nwhat = 'seed'\nkcal_per_piece = 0.1\n\
    [body]\nweight_g = 90\nkind = 'other_bird'\nactivity = 1.5\n";

/// One session as the program has it, told of what the record knows.
fn train(record: &std::path::Path, clock: &Clock, dice: &mut ChaCha8Rng) -> Result<Session> {
    let plan = Plan::parse("plan.toml", PLAN)?;
    let mut desk = RunDesk::new(Box::new(Plain::new(std::io::sink())), clock.clone());
    let store = Store::open(record)?;
    let origin = Origin {
        plan: plan.clone(),
        plan_file: "plan.toml".into(),
        plan_text: PLAN.into(),
        source: Source::Simulated,
        source_name: None,
        person: None,
        place: None,
    };
    desk.recorder = Some(Recorder::new(store, clock.clone(), origin));
    let mut conductor = Conductor::new(plan);
    let chance = dice.random_range(0.1..1.0);
    let mut now = 0.0;
    for _ in 0..dice.random_range(1..30) {
        now += dice.random_range(2.0..9.0);
        let said = match dice.random_range(0..60) {
            0 => Said::State { mood: Mood::Tired },
            1 => Said::Command { command: Command::StepUp },
            2 => Said::Command { command: Command::StepBack },
            _ if dice.random_bool(chance) => Said::Rep(Details::default()),
            _ => Said::Miss(Details::default()),
        };
        conductor.take(At::from_secs_f64(now), Input::said(said, "w"), None, &mut desk);
    }
    conductor.close(At::from_secs_f64(now + 1.0), &mut desk);
    Ok(conductor.session().clone())
}

/// Nudges of the latest session, given or held back.
fn nudged(record: &std::path::Path, session: &Session) -> Result<Vec<String>> {
    let given = Store::open(record)?.marks(&Filter::latest(), &[MarkKind::Nudge])?;
    let held_back = session.summary().held_back;
    let held_back = held_back.into_iter().map(|kind| kind.name().to_owned());
    Ok(given.into_iter().map(|row| row.mark.name).chain(held_back).collect())
}

#[tokio::test]
async fn no_two_surfaces_differ_on_the_same_data() -> Result<()> {
    let mut dice = ChaCha8Rng::seed_from_u64(18);
    let mut seen = std::collections::BTreeSet::new();
    for _ in 0..3 {
        let desk = Desk::new();
        let record = desk.path("record.db");
        let days = 10;
        let began = Timestamp::now() - jiff::SignedDuration::from_hours(24 * days);
        let (clock, hands) = Clock::fake(began);
        for _ in 0..days {
            hands.advance(Duration::from_secs(86_400));
            let session = train(&record, &clock, &mut dice)?;
            if session.reps().is_empty() {
                continue;
            }
            let live = session.decision();
            // Live, a step is told to be too hard where that is sure (`session::detect`): the recap then says so, too.
            let told = nudged(&record, &session)?;
            let asked = session.tally().at_step >= session.plan().advice.settle_tries;
            if asked && live.too_hard > 0.95 {
                assert_eq!(live.says, Says::TooHard, "{live:?}");
                assert!(told.iter().any(|kind| kind == "step_too_much"), "{told:?} {live:?}");
            }
            let recap = desk.json(&["recap"]);
            let next = desk.json(&["plan", "next", "Pepino"]);
            let live_json = serde_json::to_value(&live)?;
            let rested = next["decision"]["says"] == "try_first";
            seen.insert(next["decision"]["says"].as_str().context("says")?.to_owned());
            assert_eq!(recap["next"], live_json);
            if !rested {
                for part in ["step", "says", "to", "share", "ready", "too_hard", "more_tries"] {
                    assert_eq!(next["decision"][part], live_json[part], "{part} of {live:?}");
                }
                assert_eq!(next["decision"]["stuck"].is_null(), live.stuck.is_none());
            }
            assert_eq!(next["work"]["step"], next["decision"]["to"]);
            // In words: the same sentence everywhere, by ear without the step's name.
            let name = next["work"]["name"].as_str().context("name")?;
            let english = Wording::english();
            let told = english.decision(&live, Some(name));
            let heard = desk.ok(&["recap", "--quiet"]);
            assert!(heard.contains(&english.decision(&live, None)), "{heard}");
            let text = desk.ok(&["plan", "next", "Pepino"]);
            let note = desk.ok(&["handover", "Pepino"]);
            let list = page_of(&record, "").await?;
            let animal = list.split("animal/").nth(1).and_then(|rest| rest.split('"').next());
            let animal = animal.context("no animal")?;
            let page = page_of(&record, &format!("animal/{animal}")).await?;
            let card = page_of(&record, &format!("animal/{animal}/card?behaviour=rests")).await?;
            if !rested {
                for surface in [&text, &note, &page, &card] {
                    assert!(surface.to_lowercase().contains(&told), "{told}\n{surface}");
                }
            }
            // How much: one number, or that nothing is left today.
            let most = next["length"]["planned_reps"].as_u64().context("planned_reps")?;
            for surface in [&text, &note] {
                let much = format!("{most} rewarded tr");
                let none = surface.contains("used up for today; train tomorrow");
                assert!(if most == 0 { none } else { surface.contains(&much) }, "{surface}");
            }
            assert_eq!(
                heard.contains("are used up for today; train tomorrow"),
                most == 0,
                "{heard}"
            );
        }
    }
    assert!(seen.len() >= 4, "only {seen:?}");
    Ok(())
}
