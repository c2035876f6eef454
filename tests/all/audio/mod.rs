//! Sound files as they come: every format, and every way in which a file can be wrong.

mod formats;
mod hostile;

use std::path::Path;

use hushtally::audio::recording::{Recording, RecordingError};

/// The clicks in every test sound, in seconds.
const CLICKS: [f64; 3] = [0.5, 1.25, 2.9];
/// Length of every test sound, in seconds.
const LENGTH_S: f64 = 3.2;

/// Near silence with a 4 ms burst of 2 kHz (soft-edged) centred on each of [`CLICKS`].
fn clicks(rate: u32) -> Vec<f32> {
    let hz = f64::from(rate);
    (0..(LENGTH_S * hz) as usize)
        .map(|i| {
            let t = i as f64 / hz;
            let burst = CLICKS.iter().map(|c| {
                let x = t - c;
                0.8 * (-(x / 0.001).powi(2)).exp() * (std::f64::consts::TAU * 2_000.0 * x).cos()
            });
            burst.sum::<f64>() as f32
        })
        .collect()
}

/// Writes `samples` as 16-bit WAV with the same sound on every channel.
pub(crate) fn write_wav(path: &Path, samples: &[f32], rate: u32, channels: u16) {
    let spec = hound::WavSpec {
        channels,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).unwrap();
    for sample in samples {
        for _ in 0..channels {
            writer.write_sample((sample * 32_767.0) as i16).unwrap();
        }
    }
    writer.finalize().unwrap();
}

/// Everything a recording gives: its samples and the error after them, if any.
pub(crate) fn read_all(path: &Path) -> Result<(Vec<i16>, Option<RecordingError>), RecordingError> {
    let mut recording = Recording::open(path)?;
    let mut samples = Vec::new();
    let mut last = 0.0;
    loop {
        match recording.next_frame() {
            Ok(Some(frame)) => {
                assert_eq!(frame.first_sample, samples.len() as u64, "frames follow each other");
                samples.extend(frame.samples);
            }
            Ok(None) => return Ok((samples, None)),
            Err(e) => return Ok((samples, Some(e))),
        }
        let progress = recording.progress();
        assert!((0.0..=1.0).contains(&progress) && progress >= last, "{last} then {progress}");
        last = progress;
    }
}

/// The place of the greatest magnitude within 0.1 s of `near`, in seconds.
fn loudest_near(samples: &[i16], near: f64) -> f64 {
    let from = ((near - 0.1) * 16_000.0) as usize;
    let to = (((near + 0.1) * 16_000.0) as usize).min(samples.len());
    let within = samples.get(from..to).expect("the sound reaches this far");
    let (place, peak) =
        within.iter().enumerate().max_by_key(|(_, s)| s.unsigned_abs()).expect("not empty");
    assert!(peak.unsigned_abs() > 3_000, "no click near {near} s: peak {peak}");
    (from + place) as f64 / 16_000.0
}
