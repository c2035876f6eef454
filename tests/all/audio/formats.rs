//! Every format that we say we read, made by ffmpeg where it is present; clicks must keep their times.

use std::path::Path;
use std::process::Command;

use super::{CLICKS, LENGTH_S, clicks, loudest_near, read_all, write_wav};
use crate::needs;

/// Makes `to` from `from` with ffmpeg; false if there is none.
fn ffmpeg(from: &Path, arguments: &[&str], to: &Path) -> bool {
    if !needs::program("ffmpeg") {
        return false;
    }
    let ran = Command::new("ffmpeg")
        .args(["-nostdin", "-loglevel", "error", "-y", "-i"])
        .arg(from)
        .args(arguments)
        .arg(to)
        .status();
    assert!(ran.is_ok_and(|status| status.success()), "ffmpeg cannot make {}", to.display());
    true
}

fn assert_clicks(path: &Path, within_ms: f64) {
    let (samples, error) = read_all(path).unwrap();
    assert!(error.is_none(), "{}: {}", path.display(), error.unwrap());
    for click in CLICKS {
        let off = (loudest_near(&samples, click) - click) * 1_000.0;
        println!("{}: click at {click} s is {off:+.2} ms off", path.display());
        assert!(off.abs() <= within_ms, "{}: {off} ms off at {click} s", path.display());
    }
    let length = samples.len() as f64 / 16_000.0;
    assert!((length - LENGTH_S).abs() < 0.1, "{}: {length} s long", path.display());
}

#[test]
fn wav_of_any_rate_and_channel_count_keeps_onsets() {
    let folder = tempfile::tempdir().unwrap();
    for rate in [8_000, 16_000, 22_050, 44_100, 48_000, 96_000] {
        for channels in [1, 2, 6] {
            let path = folder.path().join(format!("{rate}-{channels}.wav"));
            write_wav(&path, &clicks(rate), rate, channels);
            assert_clicks(&path, 0.2);
        }
    }
}

#[test]
fn every_format_that_ffmpeg_makes_keeps_onsets() {
    let folder = tempfile::tempdir().unwrap();
    for rate in [44_100, 48_000] {
        let wav = folder.path().join(format!("{rate}.wav"));
        write_wav(&wav, &clicks(rate), rate, 2);
        for (name, arguments) in [
            ("f32.wav", &["-c:a", "pcm_f32le"][..]),
            ("s24.wav", &["-c:a", "pcm_s24le"]),
            ("u8.wav", &["-c:a", "pcm_u8"]),
            ("a.flac", &[]),
            ("a.mp3", &["-b:a", "128k"]),
            ("vbr.mp3", &["-q:a", "4"]),
            ("a.ogg", &["-c:a", "libvorbis"]),
            ("aac.m4a", &["-c:a", "aac"]),
            ("alac.m4a", &["-c:a", "alac"]),
            ("early.m4a", &["-c:a", "aac", "-movflags", "+faststart"]),
            ("a.aiff", &[]),
            ("a.caf", &[]),
        ] {
            let path = folder.path().join(format!("{rate}-{name}"));
            if ffmpeg(&wav, arguments, &path) {
                assert_clicks(&path, 1.0);
            }
        }
    }
}

/// The sound of a camera that heard nothing from 1.6 s to 2.4 s: no silence there, only a jump in the film's times.
#[test]
fn a_hole_in_the_sound_of_a_film_keeps_its_length() {
    let folder = tempfile::tempdir().unwrap();
    let (wav, film) = (folder.path().join("a.wav"), folder.path().join("film.mp4"));
    write_wav(&wav, &clicks(48_000), 48_000, 1);
    let hole = ["-af", "aselect='not(between(t,1.6,2.4))'", "-c:a", "aac"];
    if ffmpeg(&wav, &hole, &film) {
        assert_clicks(&film, 30.0);
    }
}

#[test]
fn the_sound_of_a_film_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let (wav, film) = (folder.path().join("a.wav"), folder.path().join("film.mp4"));
    write_wav(&wav, &clicks(48_000), 48_000, 1);
    let picture = ["-f", "lavfi", "-i", "color=black:size=64x64:rate=10:duration=3.2"];
    let mut arguments = picture.to_vec();
    arguments.extend(["-map", "1:v", "-map", "0:a", "-c:v", "mpeg4", "-c:a", "aac"]);
    if ffmpeg(&wav, &arguments, &film) {
        assert_clicks(&film, 1.0);
    }
}
