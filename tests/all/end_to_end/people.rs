//! Outside checks on real people, from the Debian package `pocketsphinx-testdata` (CMU Sphinx project, BSD-like
//! licence; read sentences from LibriVox, public domain), with the transcripts that come in it:
//! `cards/cards.transcription`, `librivox/transcription`, and `tidigits/dhd.2934z.raw`, whose name is its text.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;

use super::{replay, tags};
use crate::needs;

const DATA: &str = "/usr/share/pocketsphinx/test/data";

/// Cards and digits as tags of a plan's own. One speaker says cards, another digits.
const PLAN: &str = r#"
animal = "Pepino"
species = "cockatiel"
behaviour = "names cards"
[[step]]
name = "as it comes"
[words]
steps = ["begin"]
[words.own]
number_0 = "zero"
number_2 = "two"
number_3 = "three"
number_4 = "four"
number_5 = "five"
number_7 = "seven"
number_8 = "eight"
number_9 = "nine"
number_10 = "ten"
queen = "queen"
clubs = "of clubs"
hearts = "of hearts"
spades = "of spades"
diamonds = "of diamonds"
"#;

/// What stands in the transcripts. The last card file is three cards in one breath, which is longer than any tag.
const SAID: [(&str, &str); 6] = [
    ("cards/001.wav", "ten of clubs"),
    ("cards/002.wav", "four queen of clubs"),
    ("cards/003.wav", "seven of clubs"),
    ("cards/004.wav", "five five"),
    ("cards/005.wav", "eight of spades four of clubs seven of hearts"),
    ("tidigits/dhd.2934z.raw", "two nine three four zero"),
];

/// Samples at 16 kHz; the raw files are 16-bit, little-endian.
fn samples(file: &Path) -> Result<Vec<i16>> {
    if file.extension().is_some_and(|ending| ending == "raw") {
        let bytes = fs::read(file)?;
        return Ok(bytes
            .chunks_exact(2)
            .map(|pair| i16::from_le_bytes([pair[0], pair[1]]))
            .collect());
    }
    Ok(hound::WavReader::open(file)?.into_samples().collect::<Result<_, _>>()?)
}

/// The recording with a second of silence around it: they are cut close, and a tag has quiet on both sides.
fn with_quiet(file: &Path, to: &Path) -> Result<()> {
    let form = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(to, form)?;
    let quiet = [0; 16_000];
    for sample in quiet.iter().chain(&samples(file)?).chain(&quiet) {
        writer.write_sample(*sample)?;
    }
    Ok(writer.finalize()?)
}

fn there() -> Option<PathBuf> {
    let data = PathBuf::from(DATA);
    needs::thing("pocketsphinx-testdata", data.is_dir()).then_some(data)
}

#[test]
fn cards_and_digits_said_by_people_are_heard_as_tags() -> Result<()> {
    let Some(data) = there() else { return Ok(()) };
    let folder = tempfile::tempdir()?;
    let plan = folder.path().join("cards.toml");
    fs::write(&plan, PLAN)?;
    let mut wrong = Vec::new();
    for (file, said) in SAID {
        let sound = folder.path().join("sound.wav");
        with_quiet(&data.join(file), &sound)?;
        let lines = replay(&sound, &plan)?;
        let heard = tags(&lines).join(" ");
        eprintln!("{file}: said {said:?}, heard {heard:?}");
        if heard != said {
            wrong.push(file);
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
    Ok(())
}

#[test]
fn sentences_read_by_people_give_no_tag() -> Result<()> {
    let Some(data) = there() else { return Ok(()) };
    let folder = tempfile::tempdir()?;
    let cards = folder.path().join("cards.toml");
    fs::write(&cards, PLAN)?;
    let pepino = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/pepino.toml");
    for number in ["0870", "0880", "0890", "0920", "0930"] {
        let file = data.join(format!("librivox/sense_and_sensibility_01_austen_64kb-{number}.wav"));
        let sound = folder.path().join("sound.wav");
        with_quiet(&file, &sound)?;
        for plan in [&cards, &pepino] {
            let lines = replay(&sound, plan)?;
            assert!(tags(&lines).is_empty(), "{}: {:?}", file.display(), tags(&lines));
        }
    }
    Ok(())
}
