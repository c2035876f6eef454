//! `hushtally soundcheck [PLAN]`

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::listen::typed;
use super::{Class, Failure, devices, places, sound};
use crate::audio::choice::{Device, DeviceChoice, choose};
use crate::audio::device::{Direction, list};
use crate::clock::Clock;
use crate::config::Settings;
use crate::hear::{self, Frequent};
use crate::plan::{Command, Plan, Role};
use crate::run::{self, CheckUp, CheckedUp, Desk, JsonLines, Plain, Printer, Tuning};
use crate::soundcheck::{Check, Report, Setup, prompts};
use crate::speak;
use crate::terminal::{self, Out};

/// More devices of a kind than this are not tried: it would take longer than anyone listens.
const MOST_DEVICES: usize = 4;

#[derive(Debug, Args)]
#[command(after_help = "\
It goes by voice alone: be quiet, say yes, say yes after the sound you hear in your ear,
say each word once, choose the voice (miss brings another), say yes to keep it. Every question runs out by
itself, and then nothing changes; what is kept is read out first.

Without a voice: Enter is yes; held, it is no, and so is the word for a miss; twice, it
asks to say it again, and then reads what else can be taken, one by one, by a press. On a
word, Enter goes past it.

Examples:
  hushtally soundcheck                     with the default words
  hushtally soundcheck pepino.toml         with the words of this plan
  hushtally soundcheck --mic headset       this microphone first
  hushtally soundcheck --json              what was said, and at the end what was found")]
pub(super) struct SoundcheckArgs {
    /// The plan (TOML) whose words are tried; without one, the default words
    plan: Option<PathBuf>,
    #[command(flatten)]
    sound: sound::SoundArgs,
    /// Take lines from the standard input as if said. On a terminal this is so anyway
    #[arg(long = "type")]
    type_: bool,
    /// Take typed lines only, no single keys (for screen readers)
    #[arg(long)]
    plain: bool,
    /// Print one JSON object a line
    #[arg(long)]
    json: bool,
    /// Folder of another speech model, or the name of a fetched one
    #[arg(long, value_name = "FOLDER", env = "HUSHTALLY_MODEL")]
    model: Option<PathBuf>,
}

/// What a program reads.
#[derive(Serialize)]
struct Summary<'a> {
    kind: &'static str,
    #[serde(flatten)]
    report: &'a Report,
    heard: usize,
    asked: usize,
    words_a_minute: u16,
    voice_dbfs: f32,
    nudge_db: f32,
    took_s: f64,
}

pub(super) fn run(args: &SoundcheckArgs) -> Result<(), Failure> {
    terminal::never_wait();
    let settings = places::settings()?;
    let plan = match &args.plan {
        Some(path) => places::plan(path)?.0,
        None => Plan::of_default_words(),
    };
    let check_up = check_up(plan, args.model.clone(), &args.sound, &settings)?;
    let clock = Clock::real();
    let mut desk = Desk::new(printer(args), clock.clone());
    let (keys, typed) = typed(args.type_, args.plain || args.json, &settings, &clock);
    let answering = args.sound.answering(&settings, typed);
    let checked = run::soundcheck(check_up, answering, &mut desk, &clock);
    drop(keys);
    let checked = checked?;
    if args.json {
        let summary = serde_json::to_string(&summary(&checked))
            .map_err(|error| Failure::new(Class::Failed, error))?;
        terminal::json(&summary);
    }
    outcome(&checked)
}

/// What a sound check with the words of this plan is made of.
pub(super) fn check_up(
    plan: Plan,
    model: Option<PathBuf>,
    sound: &sound::SoundArgs,
    settings: &Settings,
) -> Result<CheckUp, Failure> {
    let mics = in_order(Direction::Input, &sound.microphone(settings))?;
    let outputs = in_order(Direction::Output, &sound.ear(settings)).unwrap_or_default();
    let tuning = Tuning { noise_dbfs: None, ..sound.tuning(settings) };
    let voices = speak::voices(&tuning.voice);
    let setup = Setup { voices: voices.clone(), ..setup(&plan, &mics, &outputs) };
    let (check, effects) = Check::begin(setup);
    let file = places::settings_file()?;
    let save = Box::new(move |report: &Report, tuning: &Tuning| {
        // Read again: somebody may have changed something else meanwhile.
        let before = Settings::load(&file)?;
        Ok(before.with_checked(report, &tuning.voice, tuning.nudge_db).save(&file)?)
    });
    Ok(CheckUp {
        check,
        effects,
        mics: choices(&mics),
        outputs: choices(&outputs),
        voices,
        tuning,
        words: plan.words.clone(),
        ears: Box::new(move || places::ears(model.as_deref(), &plan).map_err(|f| f.error)),
        save,
    })
}

fn outcome(checked: &CheckedUp) -> Result<(), Failure> {
    if let Some(why) = &checked.unsaved {
        let error = anyhow::anyhow!("the settings were not written: {why}");
        return Err(Failure::new(Class::Failed, error));
    }
    if checked.ended && checked.report.mic.is_none() && checked.report.noise_dbfs.is_none() {
        let error = anyhow::anyhow!(
            "no microphone hears you. `hushtally devices` lists them; choose one with --mic"
        );
        return Err(Failure::new(Class::Device, error));
    }
    Ok(())
}

fn summary(checked: &CheckedUp) -> Summary<'_> {
    let (heard, asked) = checked.report.heard();
    Summary {
        kind: "soundcheck",
        report: &checked.report,
        heard,
        asked,
        words_a_minute: checked.tuning.voice.words_a_minute,
        voice_dbfs: checked.tuning.voice.level_dbfs,
        nudge_db: checked.tuning.nudge_db,
        took_s: (checked.took.as_secs_f64() * 10.0).round() / 10.0,
    }
}

fn printer(args: &SoundcheckArgs) -> Box<dyn Printer> {
    if args.json {
        Box::new(JsonLines::new(Out::json()))
    } else {
        Box::new(Plain::new(Out::text()))
    }
}

/// The devices of one kind, the chosen one first.
fn in_order(direction: Direction, meant: &DeviceChoice) -> Result<Vec<Device>, Failure> {
    let mut all = list(direction).map_err(anyhow::Error::from)?;
    let first = match meant {
        DeviceChoice::SystemDefault => None,
        DeviceChoice::Named(name) => {
            let device =
                |error| anyhow::Error::from(crate::audio::device::DeviceError::from(error));
            Some(all.swap_remove(choose(&all, name).map_err(device)?))
        }
    };
    let rest = devices::useful(all);
    Ok(first.into_iter().chain(rest).take(MOST_DEVICES).collect())
}

fn choices(devices: &[Device]) -> Vec<DeviceChoice> {
    devices.iter().map(|device| DeviceChoice::from_setting(Some(&device.id))).collect()
}

fn setup(plan: &Plan, mics: &[Device], outputs: &[Device]) -> Setup {
    let first = |role: &Role| plan.words.of(role).first().cloned().unwrap_or_default();
    let ids = |devices: &[Device]| devices.iter().map(|device| device.id.clone()).collect();
    let changes = [Command::Slower, Command::Faster, Command::Louder, Command::Quieter];
    Setup {
        mics: ids(mics),
        ears: ids(outputs),
        words: prompts(&plan.words),
        attention: first(&Role::Attention),
        yes: first(&Role::Marker),
        no: first(&Role::Miss),
        changes: changes.map(|command| first(&Role::Command(command))).to_vec(),
        instead: hear::instead(&plan.words, &Frequent::english()),
        voices: Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::json::lines;

    #[test]
    fn the_last_line_is_as_the_list_of_lines_says() {
        let (report, tuning) = (Report::default(), Tuning::default());
        let took = std::time::Duration::from_secs(100);
        let checked = CheckedUp { report, tuning, ended: true, unsaved: None, took };
        let line = serde_json::to_value(summary(&checked)).unwrap();
        assert_eq!(lines::wrong_with(line.as_object().unwrap()), None);
    }
}
