//! The verb that measures hearing, on a voice whose words and times are known; and what hearing made of them.

use std::fs;
use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result, bail};
use hushtally::plan::{self, Mood, Plan, RewardValue, Role, Side};
use serde_json::Value;

use crate::audio::{read_all, write_wav};
use crate::needs;
use crate::speech::{Said, Tape, Voice, words};

/// Runs the program; its output and its lines about what it did, or why it failed.
fn run(arguments: &[&str]) -> Result<(bool, String, String)> {
    let output = Command::new(env!("CARGO_BIN_EXE_hushtally")).args(arguments).output()?;
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    Ok((output.status.success(), text(output.stdout), text(output.stderr)))
}

fn score(tape: &Tape, nothing: bool) -> Result<Value> {
    let folder = tempfile::tempdir()?;
    tape.write(&folder.path().join("said.wav"))?;
    let mut truth = "file,start_s,end_s,words\n".to_owned();
    if nothing {
        truth += &format!("said.wav,0,{:.4},\n", tape.seconds());
    } else {
        for said in &tape.said {
            truth += &format!("said.wav,{:.4},{:.4},{}\n", said.onset_s, said.end_s, said.words);
        }
    }
    fs::write(folder.path().join("truth.csv"), truth)?;
    figures(folder.path())
}

/// What the program makes of a folder with sound and truth.
fn figures(folder: &Path) -> Result<Value> {
    let (well, out, err) =
        run(&["words", "score", &folder.to_string_lossy(), "--json", "--no-learnt"])?;
    if !well {
        bail!("{err}");
    }
    serde_json::from_str(&out).context(out)
}

#[test]
fn every_default_tag_of_a_clear_voice_is_heard_with_its_onset() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let plan = Plan::of_default_words();
    let said: [&[Role]; 9] = [
        &[Role::Marker],
        &[Role::Marker, Role::Step(2)],
        &[Role::Marker, Role::Step(3), Role::Value(RewardValue::High)],
        &[Role::Marker, Role::Side(Side::Left)],
        &[Role::Miss],
        &[Role::Mood(Mood::Tired)],
        &[Role::HoldStart],
        &[Role::TakeBack],
        &[Role::Command(plan::Command::Finish)],
    ];
    let mut tape = Tape::new();
    for roles in said {
        tape.say(1.2, Voice::USUAL, &words(&plan, roles))?;
    }
    tape.quiet(1.5);
    let figures = score(&tape, false)?;
    assert_eq!(figures["recall"], 1.0, "{figures}");
    assert_eq!(figures["extra"], 0, "{figures}");
    assert!(figures["onset_error_ms"]["p95"].as_f64().context("no onsets")? < 30.0, "{figures}");
    // What is told in two parts, a marker before its detail, has no delay of its own; of commands none is counted.
    assert!(figures["delay_ms"]["n"].as_u64().context("no delays")? >= 5, "{figures}");
    // It was 180 ms while every tag waited until its segment had ended.
    assert!(figures["delay_ms"]["median"].as_f64().context("no delays")? < 140.0, "{figures}");
    Ok(())
}

#[test]
fn talk_with_tag_words_in_it_gives_no_tag() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for sentence in [
        "yes, I think two is enough for today",
        "could you hand me the towel from the shelf",
        "he was a bit tired and anxious yesterday",
        "please finish this now and go on",
    ] {
        tape.say(1.0, Voice::USUAL, sentence)?;
    }
    tape.quiet(1.5);
    let figures = score(&tape, true)?;
    assert_eq!(figures["false_tags"], 0, "{figures}");
    assert_eq!(figures["accidental_commands"], 0, "{figures}");
    Ok(())
}

#[test]
fn what_goes_on_as_talk_was_talk_from_its_first_word_on() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let mut tape = Tape::new();
    for sentence in [
        "yes, yes, I am coming",
        "yes, yes, yes, I know",
        "one, two, three, and off we go",
        "cancel, that was not mine",
        "hit or miss",
    ] {
        tape.say(2.0, Voice::USUAL, sentence)?;
    }
    tape.quiet(1.5);
    let figures = score(&tape, true)?;
    assert_eq!(figures["false_tags"], 0, "{figures}");
    Ok(())
}

/// A bird that never stops: a chirp from 2 to 4 kHz five times a second, its loud parts as loud as asked for.
fn bird(loud: f64) -> impl Fn(f64) -> f64 {
    move |t| {
        let of_chirp = t % 0.2;
        let swell = (std::f64::consts::PI * (of_chirp / 0.15).min(1.0)).sin();
        let phase = std::f64::consts::TAU * (2_000.0 * of_chirp + 6_500.0 * of_chirp * of_chirp);
        loud * swell * phase.sin()
    }
}

#[test]
fn tags_and_commands_are_heard_among_birds_that_never_stop() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let plan = Plan::of_default_words();
    let mut tape = Tape::new();
    tape.quiet(1.0);
    for _ in 0..2 {
        for roles in [
            &[Role::Marker][..],
            &[Role::Marker, Role::Step(2)],
            &[Role::Miss],
            &[Role::Mood(Mood::Tired)],
            &[Role::Command(plan::Command::Treats)],
        ] {
            tape.say(2.0, Voice::USUAL, &words(&plan, roles))?;
        }
    }
    tape.quiet(1.5).beside(bird(600.0));
    let figures = score(&tape, false)?;
    assert_eq!(figures["recall"], 1.0, "{figures}");
    assert_eq!(figures["extra"], 0, "{figures}");
    Ok(())
}

/// A segment in noise is read again with less of it: of 148 words 108 are right and 12 wrong; without that, 105 and 17.
#[test]
fn needs_shared_the_second_look_hears_more_in_babble_ten_decibels_below_people() -> Result<()> {
    let Some(speech) = needs::shared("speech").filter(|_| needs::model()) else { return Ok(()) };
    let read = |file: &Path| -> Result<Vec<f64>> {
        Ok(read_all(file)?.0.into_iter().map(f64::from).collect())
    };
    // Of what is loud in it: the clips have quiet around the word.
    let level = |sound: &[f64]| {
        let peak = sound.iter().fold(0.0, |peak: f64, s| peak.max(s.abs()));
        let loud: Vec<f64> =
            sound.iter().map(|s| s * s).filter(|s| *s > peak * peak / 100.0).collect();
        (loud.iter().sum::<f64>() / loud.len() as f64).sqrt()
    };
    let babble = read(&speech.join("babble/babble_20_talkers.flac"))?;
    let gain = 1_000.0 / level(&babble);
    let babble: Vec<f64> = babble.into_iter().map(|s| s * gain).collect();
    let words = speech.join("speech_commands");
    let index = fs::read_to_string(words.join("index.csv"))?;
    let tags = ["yes", "no", "left", "right", "up", "down", "stop", "go"];
    let rows = index.lines().map(|line| line.split(',').collect::<Vec<_>>());
    let listed = rows.filter(|row| tags.contains(&row[2])).step_by(12);
    let (mut sound, mut truth) = (Vec::new(), "file,start_s,end_s,words\n".to_owned());
    for row in listed {
        let clip = read(&words.join(row[0]))?;
        let begin = sound.len() + 24_000;
        let below = babble.iter().cycle().skip(sound.len() % babble.len());
        let gain = 3_160.0 / level(&clip);
        let quiet = vec![0.0; 24_000];
        let piece = quiet.iter().chain(&clip).chain(&quiet[..8_000]);
        sound.extend(
            piece.zip(below).map(|(clip, babble)| ((gain * clip + babble) / 32_768.0) as f32),
        );
        let second = |sample: usize| sample as f64 / 16_000.0;
        truth +=
            &format!("a.wav,{:.3},{:.3},{}\n", second(begin), second(begin + clip.len()), row[2]);
    }
    let folder = tempfile::tempdir()?;
    write_wav(&folder.path().join("a.wav"), &sound, 16_000, 1);
    fs::write(folder.path().join("truth.csv"), truth)?;
    fs::copy(
        concat!(env!("CARGO_MANIFEST_DIR"), "/tests/plans/people.toml"),
        folder.path().join("plan.toml"),
    )?;
    let figures = figures(folder.path())?;
    let count = |name: &str| figures[name].as_i64().context("no figure");
    assert!(count("right")? - count("wrong")? >= 92, "{figures}");
    Ok(())
}

#[test]
fn of_two_hundred_markers_a_minute_in_one_breath_nine_of_ten_are_heard() -> Result<()> {
    let quick = Voice::Espeak("en-us+f3", 225);
    if !quick.is_here() || !needs::model() {
        return Ok(());
    }
    let marker = words(&Plan::of_default_words(), &[Role::Marker]);
    let mut tape = Tape::new();
    tape.say(1.0, quick, &marker)?;
    for _ in 1..30 {
        tape.say(0.0, quick, &marker)?;
    }
    let took = tape.seconds() - 1.0;
    assert!(took < 9.0, "200 a minute, not 30 in {took} s");
    let all = vec![marker.as_str(); 30].join(" ");
    tape.said = vec![Said { words: all, onset_s: 1.0, end_s: tape.seconds() }];
    tape.quiet(1.5);
    let figures = score(&tape, false)?;
    let right = figures["right"].as_u64().context("no figure")?;
    assert!(right >= 27, "{figures}");
    Ok(())
}

#[test]
fn talk_in_one_long_breath_gives_no_tag_though_it_begins_with_one() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let mut tape = Tape::new();
    tape.say(
        1.0,
        Voice::USUAL,
        "yes yes yes I know that the bucket is leaking and the gate was open",
    )?;
    tape.quiet(1.5);
    let figures = score(&tape, true)?;
    assert_eq!(figures["false_tags"], 0, "{figures}");
    Ok(())
}

#[test]
fn a_note_is_taken_in_free_words_until_a_pause() -> Result<()> {
    if !Voice::USUAL.is_here() || !needs::model() {
        return Ok(());
    }
    let plan = Plan::of_default_words();
    let mut tape = Tape::new();
    tape.say(1.0, Voice::USUAL, &words(&plan, &[Role::Marker]))?;
    tape.say(1.0, Voice::USUAL, &words(&plan, &[Role::Command(plan::Command::Note)]))?;
    tape.say(0.6, Voice::USUAL, "the left foot was slow today")?;
    tape.say(2.5, Voice::USUAL, &words(&plan, &[Role::Marker]))?;
    tape.quiet(1.5);
    let folder = tempfile::tempdir()?;
    let (wav, plan_file) = (folder.path().join("said.wav"), folder.path().join("plan.toml"));
    tape.write(&wav)?;
    let text = "animal = \"Pepino\"\nspecies = \"cockatiel\"\nbehaviour = \"rests a foot\"\n\
                [[step]]\nname = \"looks\"\n";
    fs::write(&plan_file, text)?;
    let (well, out, err) =
        run(&["replay", &wav.to_string_lossy(), &plan_file.to_string_lossy(), "--json"])?;
    assert!(well, "{err}");
    let events: Vec<Value> = out.lines().map(serde_json::from_str).collect::<Result<_, _>>()?;
    let note = events.iter().find(|event| event["kind"] == "note").context(out.clone())?;
    let text = note["text"].as_str().context("a note without text")?;
    assert!(text.contains("foot was slow"), "{text}");
    let reps = events.iter().filter(|event| event["kind"] == "rep").count();
    assert_eq!(reps, 2, "one before the note and one after it: {out}");
    Ok(())
}

#[test]
fn a_truth_that_cannot_be_read_says_which_line() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let dir = folder.path().to_string_lossy();
    let (well, _, err) = run(&["words", "score", &dir])?;
    assert!(!well && err.contains("truth.csv cannot be read"), "{err}");
    fs::write(folder.path().join("truth.csv"), "file,start_s,end_s,words\na.wav,1,soon,yes\n")?;
    let (well, _, err) = run(&["words", "score", &dir])?;
    assert!(!well && err.contains("line 2"), "{err}");
    Ok(())
}
