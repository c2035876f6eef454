//! The program itself and its memory, on sound that claims or unfolds to be enormous.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use anyhow::{Result, bail};

use crate::needs;

/// `hushtally replay` takes at most this much memory, the speech model's 300 MB included. Measured rather
/// than limited: a limit on addresses makes the arithmetic library under the recogniser try for ever.
const KILOBYTES: u64 = 700_000;
const LONGEST: Duration = Duration::from_secs(120);

/// How the program ended, what it said, and the most memory it ever had.
fn replay(folder: &Path, sound: &Path) -> Result<Option<Output>> {
    let Some(data) = needs::data_folder() else { return Ok(None) };
    fs::write(folder.join("plan.toml"), include_str!("corpus/plan/small.toml"))?;
    let mut child = Command::new(env!("CARGO_BIN_EXE_hushtally"))
        .arg("replay")
        .arg(sound)
        .arg(folder.join("plan.toml"))
        .arg("--json")
        .env("HUSHTALLY_MODEL", data.join("models/en-us-small"))
        .stdin(Stdio::null())
        .stdout(fs::File::create(folder.join("out"))?)
        .stderr(fs::File::create(folder.join("err"))?)
        .spawn()?;
    let begun = Instant::now();
    let status = loop {
        let most = most_kilobytes(child.id());
        if most > KILOBYTES || begun.elapsed() > LONGEST {
            child.kill()?;
            child.wait()?;
            bail!("{most} kB after {:?}", begun.elapsed());
        }
        match child.try_wait()? {
            Some(status) => break status,
            None => std::thread::sleep(Duration::from_millis(10)),
        }
    };
    let (stdout, stderr) = (fs::read(folder.join("out"))?, fs::read(folder.join("err"))?);
    Ok(Some(Output { status, stdout, stderr }))
}

/// The most memory that a process ever had, as Linux counts it; nothing once it has ended.
fn most_kilobytes(process: u32) -> u64 {
    let status = fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    most.and_then(|most| most.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0)
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
fn samples_that_are_not_numbers_give_no_tags() -> Result<()> {
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
