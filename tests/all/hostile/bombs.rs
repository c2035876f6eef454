//! The program itself, with little memory, on sound that claims or unfolds to be enormous.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use anyhow::Result;

use crate::needs;

/// `hushtally replay` with at most this much memory, the speech model's 300 MB included.
const KILOBYTES: u32 = 700_000;

fn replay(folder: &Path, sound: &Path) -> Result<Option<Output>> {
    let Some(data) = needs::data_folder() else { return Ok(None) };
    if !needs::program("sh") {
        return Ok(None);
    }
    fs::write(folder.join("plan.toml"), include_str!("corpus/plan/small.toml"))?;
    let output = Command::new("sh")
        .args(["-c", &format!("ulimit -v {KILOBYTES}; exec \"$@\""), "sh"])
        .arg(env!("CARGO_BIN_EXE_hushtally"))
        .arg("replay")
        .arg(sound)
        .arg(folder.join("plan.toml"))
        .arg("--json")
        // Otherwise glibc sets aside 64 MB of addresses for every thread that loads the model.
        .env("MALLOC_ARENA_MAX", "1")
        .env("HUSHTALLY_MODEL", data.join("models/en-us-small"))
        .stdin(Stdio::null())
        .output()?;
    Ok(Some(output))
}

/// Ended by its own will: with words, not by a signal, a panic or for want of memory.
fn in_order(output: &Output) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(matches!(output.status.code(), Some(0..=5)), "{}: {said}", output.status);
    assert!(!said.contains("panicked") && !said.contains("memory allocation"), "{said}");
}

/// A WAV header that promises `seconds`, and a tenth of a second behind it.
fn wav(format: u16, bits: u16, rate: u32, seconds: u32) -> Vec<u8> {
    let block = bits / 8;
    let promised = rate.saturating_mul(seconds).saturating_mul(u32::from(block));
    let mut bytes = b"RIFF".to_vec();
    bytes.extend(promised.saturating_add(36).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0");
    bytes.extend(format.to_le_bytes());
    bytes.extend(1u16.to_le_bytes());
    bytes.extend(rate.to_le_bytes());
    bytes.extend((rate * u32::from(block)).to_le_bytes());
    bytes.extend(block.to_le_bytes());
    bytes.extend(bits.to_le_bytes());
    bytes.extend(b"data");
    bytes.extend(promised.to_le_bytes());
    bytes
}

#[test]
fn a_header_of_ten_hours_with_a_tenth_of_a_second_takes_no_room() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let sound = folder.path().join("long.wav");
    let mut bytes = wav(1, 16, 16_000, 36_000);
    bytes.extend([0; 3_200]);
    fs::write(&sound, bytes)?;
    if let Some(output) = replay(folder.path(), &sound)? {
        in_order(&output);
    }
    Ok(())
}

#[test]
fn samples_that_are_no_numbers_give_no_tags() -> Result<()> {
    let folder = tempfile::tempdir()?;
    let sound = folder.path().join("nan.wav");
    let mut bytes = wav(3, 32, 16_000, 2);
    for n in 0..32_000 {
        let sample = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, f32::MIN_POSITIVE][n % 5];
        bytes.extend(sample.to_le_bytes());
    }
    fs::write(&sound, bytes)?;
    if let Some(output) = replay(folder.path(), &sound)? {
        in_order(&output);
        assert!(!String::from_utf8_lossy(&output.stdout).contains("\"rep\""));
    }
    Ok(())
}

/// Silence packs to almost nothing.
#[test]
fn a_small_file_that_unfolds_to_700_megabytes_is_heard_bit_by_bit() -> Result<()> {
    if !needs::program("ffmpeg") {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let sound = folder.path().join("bomb.flac");
    let status = Command::new("ffmpeg")
        .args(["-nostdin", "-loglevel", "error", "-f", "lavfi", "-i"])
        .args(["anullsrc=r=192000:cl=7.1", "-t", "120", "-c:a", "flac"])
        .arg(&sound)
        .status()?;
    assert!(status.success());
    let packed = fs::metadata(&sound)?.len();
    let unfolded = 192_000 * 8 * 4 * 120;
    assert!(unfolded / packed > 1_000, "{packed} bytes is no bomb");
    if let Some(output) = replay(folder.path(), &sound)? {
        in_order(&output);
    }
    Ok(())
}
