//! What comes out of the earphone: nudges as they are defined, the recap; and none of it taken for a tag.

use std::f64::consts::TAU;
use std::time::Duration;

use anyhow::{Context, Result};
use hushtally::nudge::signals::{Signal, Signals, Tone};
use hushtally::plan::{Command, Mood, Role};

use super::listener::Stage;
use crate::room::{RATE, Room};
use crate::speech::loud_segments;

/// About -55 dBFS: well below every nudge, well above nothing.
const AUDIBLE: u16 = 58;

fn dbfs(samples: &[i16]) -> f64 {
    let power =
        samples.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / samples.len().max(1) as f64;
    10.0 * (power / f64::from(i16::MAX).powi(2)).max(1e-12).log10()
}

/// Strength at one pitch (Goertzel's sum, with a Hann window so that edges of the cut do not smear).
fn strength(samples: &[i16], hertz: f64) -> f64 {
    let length = samples.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    for (place, sample) in samples.iter().enumerate() {
        let place = place as f64;
        let window = 0.5 - 0.5 * (TAU * place / length).cos();
        let angle = TAU * hertz * place / f64::from(RATE);
        re += window * f64::from(*sample) * angle.cos();
        im += window * f64::from(*sample) * angle.sin();
    }
    re.hypot(im)
}

/// Seconds from a tenth to nine tenths of the steady level, by the largest sample in each 4 ms.
fn rise_s(samples: &[i16]) -> Option<f64> {
    let envelope: Vec<u16> = samples
        .chunks(RATE as usize / 250)
        .map(|part| part.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0))
        .collect();
    let steady = f64::from(envelope[envelope.len() / 2]);
    let reaches =
        |share: f64| envelope.iter().position(|level| f64::from(*level) >= share * steady);
    Some((reaches(0.9)? - reaches(0.1)?) as f64 * 0.004)
}

#[test]
fn nudges_come_out_as_they_are_defined() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &[])?;
    let ear = room.record_ear()?;
    stage.speak(&room, 1.0, &[&[Role::Marker], &[Role::Mood(Mood::Tired)]])?;
    listener
        .until("end soon is told", |l| l.of("nudge").iter().any(|n| n["nudge"] == "end_soon"))?;
    std::thread::sleep(Duration::from_secs(2));
    let heard = ear.finish();
    drop(listener);

    let signals = Signals::built_in();
    let tones = loud_segments(&heard, AUDIBLE, 0.05);
    // A receipt for the marker, one for the state word, then the nudge.
    let expected: Vec<(Signal, Tone)> = [Signal::Heard, Signal::Heard, Signal::EndSoon]
        .into_iter()
        .flat_map(|kind| signals.get(kind).rhythm.iter().map(move |tone| (kind, *tone)))
        .collect();
    assert_eq!(tones.len(), expected.len(), "{tones:?}");
    for ((from, to), (kind, tone)) in tones.iter().zip(expected) {
        let nudge = signals.get(kind);
        let whole_s =
            f64::from(if tone == Tone::Short { nudge.short_ms } else { nudge.long_ms }) / 1000.0;
        let fade_s = f64::from(nudge.fade_ms) / 1000.0;
        let length = to - from;
        assert!((whole_s - fade_s..whole_s + 0.01).contains(&length), "{kind:?} lasts {length} s");
        let margin = 0.03;
        let place = |seconds: f64| (seconds.max(0.0) * f64::from(RATE)) as usize;
        let all = &heard[place(from - margin)..place(to + margin).min(heard.len())];
        let steady = &heard[place(from + fade_s)..place(to - fade_s)];
        let level = dbfs(steady);
        assert!((level - f64::from(nudge.level_dbfs)).abs() < 1.5, "{kind:?} at {level:.1} dBFS");
        // The default bound of the design: below -30 dBFS.
        assert!(level < -30.0, "{kind:?} at {level:.1} dBFS");
        // A raised cosine takes 0.59 of its length from a tenth to nine tenths.
        let mut backwards = all.to_vec();
        backwards.reverse();
        for edge in [all, &backwards] {
            let rise = rise_s(edge).context("no edge")?;
            assert!(rise >= 0.59 * fade_s - 0.008, "{kind:?} rises in {rise} s");
        }
        let pitch = f64::from(nudge.pitch_hz);
        let at_pitch = strength(all, pitch);
        for hertz in [pitch * 2.0, pitch * 3.0, 2_000.0, 4_000.0, 8_000.0, 16_000.0] {
            let below = 20.0 * (strength(all, hertz) / at_pitch).log10();
            assert!(below < -40.0, "{kind:?} has {below:.0} dB at {hertz} Hz");
        }
    }
    Ok(())
}

#[test]
fn what_the_ear_plays_is_not_taken_for_a_tag_when_the_microphone_hears_it() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    room.ear_reaches_mic()?;
    let mut listener = stage.listen(&room, &[])?;
    let said: [&[Role]; 3] =
        [&[Role::Marker, Role::Step(2)], &[Role::Miss], &[Role::Mood(Mood::Tired)]];
    stage.speak(&room, 1.5, &said)?;
    listener.until("a nudge is told", |l| !l.of("nudge").is_empty())?;
    std::thread::sleep(Duration::from_secs(2));

    // The recap names numbers, steps and misses: just the words that are tags.
    let microphone = room.record_mic()?;
    stage.speak(&room, 0.5, &[&[Role::Command(Command::Recap)]])?;
    listener.until("the recap is said", |l| !l.of("said").is_empty())?;
    listener.for_a_while(Duration::from_secs(14));
    let in_room = loud_segments(&microphone.finish(), AUDIBLE, 1.0);
    let longest = in_room.iter().map(|(from, to)| to - from).fold(0.0, f64::max);
    assert!(longest > 3.0, "the recap did not reach the microphone: {in_room:?}");
    let words: Vec<&str> = listener
        .lines
        .iter()
        .filter(|line| !["unsure", "said"].contains(&line["kind"].as_str().unwrap_or("")))
        .filter_map(|line| line["words"].as_str())
        .filter(|words| !words.is_empty())
        .collect();
    let mut expected: Vec<String> = said.iter().map(|roles| stage.words(roles)).collect();
    expected.push(stage.words(&[Role::Command(Command::Recap)]));
    assert_eq!(words, expected, "{}", listener.all());
    Ok(())
}

#[test]
fn the_recap_is_spoken_at_the_end() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let stage = Stage::new()?;
    let mut listener = stage.listen(&room, &[])?;
    stage.speak(&room, 1.0, &[&[Role::Marker]])?;
    listener.until("a rep is told", |l| !l.of("rep").is_empty())?;
    let ear = room.record_ear()?;
    stage.speak(&room, 1.0, &[&[Role::Command(Command::Finish)]])?;
    let status = listener.end()?;
    assert!(status.success(), "{status}:\n{}", listener.all());
    let text = listener.of("said")[0]["text"].as_str().context("no recap")?;
    assert!(text.starts_with("Pepino, rests a foot on the nail file: 1 try in "), "{text}");
    let heard = ear.finish();
    let spoken: f64 = loud_segments(&heard, AUDIBLE, 0.3).iter().map(|(from, to)| to - from).sum();
    assert!(spoken > 3.0, "only {spoken} s were spoken of: {text}");
    Ok(())
}
