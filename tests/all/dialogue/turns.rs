//! Turning to another behaviour by voice: how soon after the words the first tag counts for it.

use anyhow::{Context, Result};
use hushtally::audio::recording::Recording;
use hushtally::clock::Clock;
use hushtally::hear::{Ears, SpeechModel};
use hushtally::plan::{Command, Plan};
use hushtally::run::{self, Conductor, Desk, JsonLines};
use serde_json::Value;

use super::talk::called;
use crate::needs;
use crate::speech::{Tape, Voice};
use crate::typed::Page;

/// A trainer marks the first try so soon after turning to it, and the next ones so long after that.
const FIRST_S: f64 = 0.5;
const NEXT_S: f64 = 1.0;

fn plan(behaviour: &str) -> Plan {
    let mut plan = Plan::of_default_words();
    plan.behaviour = behaviour.to_owned();
    for name in ["turn", "wave"] {
        plan.words.add_behaviour(name, &[name.to_owned()]);
    }
    plan
}

/// The bench reads the figure that this prints.
#[test]
fn a_tag_right_after_the_name_of_a_behaviour_counts_for_it() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let rounds = if std::env::var_os("HUSHTALLY_BENCH").is_some() { 20 } else { 4 };
    let mut tape = Tape::new();
    tape.say(1.0, Voice::USUAL, &called(Command::Begin))?;
    tape.say(1.5, Voice::USUAL, "yes")?;
    let mut turned = Vec::new();
    for behaviour in ["wave", "turn"].into_iter().cycle().take(rounds) {
        tape.say(2.0, Voice::USUAL, &format!("juniper behaviour {behaviour}"))?;
        turned.push((behaviour, tape.said.last().context("said")?.end_s));
        tape.say(FIRST_S, Voice::USUAL, "yes")?;
        tape.say(NEXT_S, Voice::USUAL, "yes")?;
    }
    tape.quiet(2.0);
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("turns.wav");
    tape.write(&file)?;
    let page = Page::default();
    let mut desk = Desk::new(Box::new(JsonLines::new(page.clone())), Clock::real());
    let mut conductor = Conductor::new(plan("turn")).and([plan("wave")]).begun_by_word();
    let data = needs::data_folder().context("no speech model")?;
    let model = SpeechModel::load(&data.join("models/en-us-small"), &folder.path().join("seen"))?;
    let mut ears = Ears::new(model, &plan("turn").words)?;
    run::replay(Recording::open(&file)?, &mut ears, &mut conductor, &mut desk, |_| {})?;
    let text = page.text()?;
    let lines: Vec<Value> =
        text.lines().map(serde_json::from_str).collect::<Result<_, serde_json::Error>>()?;
    let session = |behaviour: &str| {
        let began =
            lines.iter().find(|line| line["kind"] == "began" && line["behaviour"] == behaviour);
        began.map(|line| line["session"].clone())
    };
    let mut delays = Vec::new();
    for (behaviour, end_s) in turned {
        let session = session(behaviour).with_context(|| format!("no {behaviour} in {text}"))?;
        let first = lines
            .iter()
            .filter(|line| line["kind"] == "rep" && line["session"] == session)
            .filter_map(|line| line["at_s"].as_f64())
            .find(|at| *at > end_s)
            .with_context(|| format!("nothing counted after {end_s} s: {text}"))?;
        delays.push(first - end_s);
    }
    delays.sort_by(f64::total_cmp);
    let p95 = delays[(delays.len() * 95).div_ceil(100) - 1];
    println!("\nswitches\t{}\nswitch_behaviour_s_p95\t{p95:.3}", delays.len());
    // By the time of the sound, so a busy machine makes no difference.
    assert!(p95 <= 1.0, "{delays:?}\n{text}");
    Ok(())
}
