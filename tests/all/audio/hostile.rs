//! Files that are broken, cut, empty or made to do harm: a typed error that says what to do, or the
//! sound that is there; never a panic, never much memory.

use std::fs;
use std::path::{Path, PathBuf};

use hushtally::audio::decode::DecodeError;
use hushtally::audio::recording::RecordingError;
use proptest::prelude::*;

use super::{LENGTH_S, clicks, read_all, write_wav};
use crate::hostile::attack;
use crate::needs;

fn wav_bytes(rate: u32, channels: u16) -> Vec<u8> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.wav");
    write_wav(&path, &clicks(rate), rate, channels);
    fs::read(path).unwrap()
}

fn written(folder: &tempfile::TempDir, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.path().join(name);
    fs::write(&path, bytes).unwrap();
    path
}

fn open_error(path: &Path) -> DecodeError {
    match read_all(path) {
        Err(RecordingError::Decode(e)) => {
            println!("{e}");
            e
        }
        Err(e) => panic!("another error: {e}"),
        Ok((samples, error)) => panic!("{} samples and {error:?}", samples.len()),
    }
}

#[test]
fn a_missing_file_a_folder_and_an_empty_file_say_so() {
    let folder = tempfile::tempdir().unwrap();
    let missing = open_error(&folder.path().join("none.wav"));
    assert!(matches!(missing, DecodeError::Unreadable { .. }));
    assert!(missing.to_string().contains("Check that the path is right"));
    assert!(matches!(open_error(folder.path()), DecodeError::NotAFile { .. }));
    let empty = open_error(&written(&folder, "empty.wav", b""));
    assert!(matches!(empty, DecodeError::Empty { .. }));
}

#[test]
fn text_and_noise_are_not_sound() {
    let folder = tempfile::tempdir().unwrap();
    let noise: Vec<u8> =
        (0..100_000u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    for (name, bytes) in [("plan.wav", &b"animal = \"Pepino\"\n"[..]), ("noise.mp3", &noise)] {
        let error = open_error(&written(&folder, name, bytes));
        let typed = matches!(error, DecodeError::NotSound { .. } | DecodeError::NoSamples { .. });
        assert!(typed, "{error:?}");
    }
}

#[test]
fn a_header_without_sound_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let bytes = &wav_bytes(16_000, 1)[..44];
    assert!(matches!(open_error(&written(&folder, "a.wav", bytes)), DecodeError::NoSamples { .. }));
    // Cut within the header, at every byte.
    for length in 1..44 {
        let path = written(&folder, "b.wav", &bytes[..length]);
        assert!(read_all(&path).is_err(), "{length} bytes of header read as sound");
    }
}

#[test]
fn a_cut_file_gives_all_it_has_and_then_warns() {
    let folder = tempfile::tempdir().unwrap();
    let whole = wav_bytes(16_000, 1);
    let cut = written(&folder, "cut.wav", &whole[..44 + 2 * 20_001]);
    let (samples, error) = read_all(&cut).unwrap();
    assert_eq!(samples.len(), 20_001, "not one sample is lost");
    let error = error.expect("the end is missing");
    assert!(error.is_only_a_warning());
    assert!(error.to_string().contains("its end is missing (1.9 s)"), "{error}");
}

#[test]
fn a_ten_hour_header_is_not_believed() {
    let folder = tempfile::tempdir().unwrap();
    let mut bytes = wav_bytes(16_000, 1);
    let ten_hours = 10u32 * 3_600 * 32_000;
    bytes[4..8].copy_from_slice(&(ten_hours + 36).to_le_bytes());
    bytes[40..44].copy_from_slice(&ten_hours.to_le_bytes());
    let (samples, error) = read_all(&written(&folder, "long.wav", &bytes)).unwrap();
    assert_eq!(samples.len(), (LENGTH_S * 16_000.0) as usize);
    assert!(error.unwrap().to_string().contains("its end is missing (3599"));
}

#[test]
fn lengths_left_open_by_a_pipe_are_not_damage() {
    let folder = tempfile::tempdir().unwrap();
    for open in [0u32, u32::MAX, 0x7FFF_F000] {
        let mut bytes = wav_bytes(22_050, 1);
        bytes[4..8].copy_from_slice(&open.to_le_bytes());
        bytes[40..44].copy_from_slice(&open.to_le_bytes());
        let (samples, error) = read_all(&written(&folder, "pipe.wav", &bytes)).unwrap();
        assert!(error.is_none(), "{open:x}: {}", error.unwrap());
        assert_eq!(samples.len(), (LENGTH_S * 16_000.0) as usize, "{open:x}");
    }
}

#[test]
fn impossible_channels_and_rates_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    for (offset, value) in
        [(22, &[0u8, 0][..]), (22, &[0xFF, 0xFF]), (24, &[0; 4]), (24, &[0xFF; 4])]
    {
        let mut bytes = wav_bytes(16_000, 1);
        bytes[offset..offset + value.len()].copy_from_slice(value);
        let error = open_error(&written(&folder, "odd.wav", &bytes));
        let typed = matches!(
            error,
            DecodeError::OddShape { .. }
                | DecodeError::NotSound { .. }
                | DecodeError::UnknownCoding { .. }
        );
        assert!(typed, "{error:?}");
    }
}

#[test]
fn samples_that_are_not_numbers_become_silence_and_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("nan.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 16_000,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).unwrap();
    for i in 0..16_000 {
        let sample = match i % 100 {
            0 => f32::NAN,
            1 => f32::INFINITY,
            2 => f32::NEG_INFINITY,
            3 => 1e30,
            _ => 0.25,
        };
        writer.write_sample(sample).unwrap();
    }
    writer.finalize().unwrap();
    let (samples, error) = read_all(&path).unwrap();
    assert_eq!(samples.len(), 16_000);
    assert_eq!((samples[0], samples[1], samples[3], samples[4]), (0, 0, i16::MAX, 8_192));
    assert!(error.unwrap().to_string().contains("480 samples are not numbers"));
}

/// Bytes changed and the end cut off: whatever comes out is bounded by what went in.
#[test]
fn a_corrupted_wav_never_panics() {
    let good = wav_bytes(8_000, 2);
    let corrupted = (proptest::collection::vec((0usize..200, any::<u8>()), 0..12), 0usize..60_000);
    attack(file!(), &corrupted, 200, |(changes, keep)| {
        let mut bytes = good.clone();
        for (place, value) in changes {
            bytes[place] = value;
        }
        bytes.truncate(keep);
        let folder = tempfile::tempdir().unwrap();
        if let Ok((samples, _)) = read_all(&written(&folder, "a.wav", &bytes)) {
            // At most one sample for each 4 bits (ADPCM), each at most 16 times as long at 16 kHz.
            prop_assert!(samples.len() <= keep * 2 * 16 + 16);
        }
        Ok(())
    });
}

/// One small file of each packed format.
fn packed_files() -> Vec<(&'static str, Vec<u8>)> {
    let folder = tempfile::tempdir().unwrap();
    let wav = written(&folder, "a.wav", &wav_bytes(44_100, 2));
    let mut files = Vec::new();
    for name in ["a.flac", "a.mp3", "a.ogg", "a.m4a", "a.aiff", "a.caf"] {
        let path = folder.path().join(name);
        let mut ffmpeg = std::process::Command::new("ffmpeg");
        ffmpeg.args(["-nostdin", "-loglevel", "error", "-i"]).arg(&wav).arg("-t").arg("0.7");
        if ffmpeg.arg(&path).status().is_ok_and(|status| status.success()) {
            files.push((name, fs::read(path).unwrap()));
        }
    }
    files
}

/// The same for packed formats: header bytes changed most often, and the end cut off.
#[test]
fn a_corrupted_packed_file_never_panics_or_goes_on_for_ever() {
    if !needs::program("ffmpeg") {
        return;
    }
    let files = packed_files();
    assert_eq!(files.len(), 6, "ffmpeg cannot make them all");
    let changes = proptest::collection::vec((0u32..1_000, 0u32..1_000, any::<u8>()), 1..20);
    let corrupted = (0..files.len(), changes, 200u32..1_000);
    attack(file!(), &corrupted, 100, |(which, changes, keep)| {
        let (name, good) = &files[which];
        let mut bytes = good.clone();
        for (place, header, value) in changes {
            // Two of three changes fall in the first twentieth of the file.
            let reach = if header < 667 { bytes.len() / 20 } else { bytes.len() };
            let place = reach * place as usize / 1_000;
            bytes[place] = value;
        }
        bytes.truncate(good.len() * keep as usize / 1_000);
        let folder = tempfile::tempdir().unwrap();
        if let Ok((samples, _)) = read_all(&written(&folder, name, &bytes)) {
            // Silence in place of broken pieces is bounded, too.
            prop_assert!(
                samples.len() < 16_000 * 3_600,
                "{} samples from {} bytes",
                samples.len(),
                bytes.len()
            );
        }
        Ok(())
    });
}
