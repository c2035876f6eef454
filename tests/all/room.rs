//! A virtual room: a private sound server with a microphone that tests speak into and an earphone that they
//! listen to. It needs no sound card and touches nobody's sound settings.

use std::ffi::OsString;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::thread::{self, JoinHandle};
use std::time::Duration;

use anyhow::{Context, Result, bail};
use tempfile::TempDir;

use crate::needs;

/// Samples a second of the virtual devices.
pub(crate) const RATE: u32 = 48_000;

/// The server quits by itself after this many seconds without a client, should the test be killed.
const ORPHAN_SECONDS: u32 = 120;

/// The running room; dropping it ends the server.
pub(crate) struct Room {
    folder: TempDir,
    server: Child,
}

impl Room {
    /// Opens a room, or `None` after a plain message where there is no sound server to be had.
    pub(crate) fn start() -> Result<Option<Self>> {
        if !["pulseaudio", "pactl", "paplay", "parec"].into_iter().all(needs::program) {
            return Ok(None);
        }
        // Short, because the path of a socket may have only some hundred letters.
        let folder = tempfile::Builder::new().prefix("room").tempdir()?;
        let root = folder.path();
        let socket = root.join("native");
        fs::write(root.join("client.conf"), "autospawn = no\nenable-shm = no\n")?;
        // The system's definitions first, then ours on top.
        fs::write(
            root.join("asound.conf"),
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n",
        )?;
        let log = fs::File::create(root.join("log"))?;
        let mut server = Command::new("pulseaudio");
        server
            .args([
                "-n",
                "--daemonize=no",
                "--use-pid-file=no",
                "--disable-shm",
                "--high-priority=no",
            ])
            .arg(format!("--exit-idle-time={ORPHAN_SECONDS}"))
            .arg("--load")
            .arg(format!(
                "module-native-protocol-unix socket={} auth-anonymous=1 auth-cookie-enabled=0",
                socket.display()
            ))
            .args(["mic", "ear"].map(|name| {
                format!("--load=module-null-sink sink_name={name} rate={RATE} channels=2")
            }))
            .envs(variables(root))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log);
        let server = server.spawn().context("pulseaudio does not start")?;
        let mut room = Self { folder, server };
        room.wait_until_ready()?;
        room.pactl(&["set-default-sink", "ear"])?;
        room.pactl(&["set-default-source", "mic.monitor"])?;
        Ok(Some(room))
    }

    /// The variables that let a child process hear and play in this room, through ALSA or PulseAudio.
    pub(crate) fn env(&self) -> Vec<(&'static str, OsString)> {
        variables(self.folder.path())
    }

    /// A command that runs inside the room.
    pub(crate) fn command(&self, program: impl AsRef<std::ffi::OsStr>) -> Command {
        let mut command = Command::new(program);
        command.envs(self.env());
        command
    }

    /// Plays a sound file into the microphone and returns when it has been played. The sound is sent well
    /// ahead, so that a busy machine does not tear holes into it; measure when it was spoken by [`Self::record_mic`].
    pub(crate) fn speak(&self, file: &Path) -> Result<()> {
        let status =
            self.command("paplay").arg("--device=mic").arg(file).stdin(Stdio::null()).status()?;
        if !status.success() {
            bail!("paplay could not play {}: {status}", file.display());
        }
        Ok(())
    }

    /// Starts to record what the earphone plays. Returns once the first sound, be it silence, has come in.
    pub(crate) fn record_ear(&self) -> Result<Recording> {
        self.record("ear.monitor")
    }

    /// The same for what the microphone hears.
    pub(crate) fn record_mic(&self) -> Result<Recording> {
        self.record("mic.monitor")
    }

    /// Asks something of the server, for instance to unload a device in mid-session; returns its answer.
    pub(crate) fn pactl(&self, arguments: &[&str]) -> Result<String> {
        let output = self.command("pactl").args(arguments).stdin(Stdio::null()).output()?;
        if !output.status.success() {
            bail!("pactl {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        }
        Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
    }

    /// Pulls every device out. With one left, the server would move the listener to that one, as it does
    /// for people, and nothing would be lost.
    pub(crate) fn unplug(&self) -> Result<()> {
        let modules = self.pactl(&["list", "short", "modules"])?;
        for line in modules.lines().filter(|line| line.contains("sink_name=")) {
            let number = line.split_whitespace().next().context("no number")?;
            self.pactl(&["unload-module", number])?;
        }
        Ok(())
    }

    /// Puts them back in.
    pub(crate) fn plug_in(&self) -> Result<()> {
        let rate = format!("rate={RATE}");
        for name in ["sink_name=mic", "sink_name=ear"] {
            self.pactl(&["load-module", "module-null-sink", name, &rate, "channels=2"])?;
        }
        self.pactl(&["set-default-sink", "ear"])?;
        self.pactl(&["set-default-source", "mic.monitor"]).map(drop)
    }

    /// From now on the microphone hears what the earphone plays, as with a loudspeaker.
    pub(crate) fn ear_reaches_mic(&self) -> Result<()> {
        self.pactl(&[
            "load-module",
            "module-loopback",
            "source=ear.monitor",
            "sink=mic",
            "latency_msec=60",
        ])
        .map(drop)
    }

    /// Puts one more output beside the default one, for programs that start from now on.
    pub(crate) fn add_output(&self, name: &str) -> Result<()> {
        let (sink, rate) = (format!("sink_name={name}"), format!("rate={RATE}"));
        self.pactl(&["load-module", "module-null-sink", &sink, &rate, "channels=2"])?;
        let conf = self.folder.path().join("asound.conf");
        let mut text = fs::read_to_string(&conf)?;
        text += &format!(
            "pcm.{name} {{ type pulse device {name} hint {{ show on description \"{name}\" }} }}\n"
        );
        fs::write(conf, text)?;
        Ok(())
    }

    /// Starts to record what an output of that name plays.
    pub(crate) fn record_output(&self, name: &str) -> Result<Recording> {
        self.record(&format!("{name}.monitor"))
    }

    fn record(&self, source: &str) -> Result<Recording> {
        let mut recorder = self
            .command("parec")
            .args(["--raw", "--format=s16le", "--channels=1", "--latency-msec=20"])
            .arg(format!("--device={source}"))
            .arg(format!("--rate={RATE}"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()?;
        let mut stream = recorder.stdout.take().context("parec has no output")?;
        let (first, started) = mpsc::channel();
        let reader = thread::spawn(move || {
            let mut bytes = Vec::new();
            let mut block = [0; 4096];
            while let Ok(count @ 1..) = stream.read(&mut block) {
                bytes.extend_from_slice(&block[..count]);
                // Nobody waits for the later ones.
                first.send(()).ok();
            }
            bytes.chunks_exact(2).map(|pair| i16::from_le_bytes([pair[0], pair[1]])).collect()
        });
        let mut recording = Recording { recorder, reader: Some(reader) };
        if started.recv_timeout(Duration::from_secs(10)).is_err() {
            recording.stop();
            bail!("no sound came from {source}");
        }
        Ok(recording)
    }

    fn wait_until_ready(&mut self) -> Result<()> {
        for _ in 0..200 {
            if self.pactl(&["info"]).is_ok() {
                return Ok(());
            }
            if let Some(status) = self.server.try_wait()? {
                let log = fs::read_to_string(self.folder.path().join("log")).unwrap_or_default();
                bail!("pulseaudio stopped at once, {status}: {log}");
            }
            thread::sleep(Duration::from_millis(50));
        }
        bail!("pulseaudio does not answer");
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        self.server.kill().ok();
        self.server.wait().ok();
    }
}

/// A recording under way.
pub(crate) struct Recording {
    recorder: Child,
    reader: Option<JoinHandle<Vec<i16>>>,
}

impl Recording {
    /// Ends the recording and gives its samples, one channel at [`RATE`].
    pub(crate) fn finish(mut self) -> Vec<i16> {
        self.stop();
        self.reader.take().and_then(|reader| reader.join().ok()).unwrap_or_default()
    }

    /// The same, kept as a WAV file.
    pub(crate) fn finish_as(self, file: &Path) -> Result<Vec<i16>> {
        let samples = self.finish();
        write_wav(file, &samples)?;
        Ok(samples)
    }

    fn stop(&mut self) {
        self.recorder.kill().ok();
        self.recorder.wait().ok();
    }
}

impl Drop for Recording {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Writes samples at [`RATE`] as a WAV file of one channel.
pub(crate) fn write_wav(file: &Path, samples: &[i16]) -> Result<()> {
    let form = hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(file, form)?;
    for &sample in samples {
        writer.write_sample(sample)?;
    }
    Ok(writer.finalize()?)
}

fn variables(root: &Path) -> Vec<(&'static str, OsString)> {
    let mut server = OsString::from("unix:");
    server.push(root.join("native"));
    vec![
        ("XDG_RUNTIME_DIR", root.into()),
        ("PULSE_RUNTIME_PATH", root.into()),
        ("PULSE_STATE_PATH", root.into()),
        ("PULSE_COOKIE", root.join("cookie").into()),
        ("PULSE_CLIENTCONFIG", root.join("client.conf").into()),
        ("PULSE_SERVER", server),
        ("ALSA_CONFIG_PATH", root.join("asound.conf").into()),
    ]
}

/// A pure tone of one second with soft edges, half of full scale.
fn tone(hertz: f64) -> Vec<i16> {
    (0..RATE)
        .map(|index| {
            let at = f64::from(index) / f64::from(RATE);
            let edge = (at.min(1.0 - at) / 0.05).min(1.0);
            let wave = (at * hertz * std::f64::consts::TAU).sin();
            (0.5 * edge * wave * f64::from(i16::MAX)).round() as i16
        })
        .collect()
}

/// Seconds of sound above a tenth of full scale, and its pitch from upward zero crossings.
fn length_and_pitch(samples: &[i16]) -> Result<(f64, f64)> {
    let loud = |sample: &i16| sample.unsigned_abs() > 3_277;
    let first = samples.iter().position(loud).context("silence")?;
    let last = samples.iter().rposition(loud).context("silence")?;
    let part = &samples[first..last];
    let rises: Vec<usize> =
        (1..part.len()).filter(|&index| part[index - 1] < 0 && part[index] >= 0).collect();
    let (Some(from), Some(to)) = (rises.first(), rises.last()) else { bail!("no wave") };
    let seconds = (to - from) as f64 / f64::from(RATE);
    Ok((part.len() as f64 / f64::from(RATE), (rises.len() - 1) as f64 / seconds))
}

#[test]
fn a_tone_played_into_the_microphone_is_heard_at_its_pitch() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("tone.wav");
    write_wav(&file, &tone(440.0))?;

    let recording = room.record_mic()?;
    room.speak(&file)?;
    thread::sleep(Duration::from_millis(200));
    let heard = recording.finish_as(&folder.path().join("heard.wav"))?;

    let (seconds, hertz) = length_and_pitch(&heard)?;
    assert!((hertz - 440.0).abs() < 1.0, "{hertz} Hz");
    assert!((seconds - 0.98).abs() < 0.03, "{seconds} s");
    let loudest = heard.iter().map(|sample| sample.unsigned_abs()).max();
    assert!(loudest.is_some_and(|peak| peak.abs_diff(i16::MAX as u16 / 2) < 200), "{loudest:?}");
    Ok(())
}

#[test]
fn the_default_sound_device_of_a_child_is_the_room() -> Result<()> {
    let Some(room) = Room::start()? else { return Ok(()) };
    if !needs::program("ffmpeg") {
        return Ok(());
    }
    let folder = tempfile::tempdir()?;
    let file = folder.path().join("tone.wav");
    write_wav(&file, &tone(440.0))?;

    // Out through the ALSA default, into the ear.
    let recording = room.record_ear()?;
    let status = room
        .command("ffmpeg")
        .args(["-nostdin", "-loglevel", "error", "-i"])
        .arg(&file)
        .args(["-f", "alsa", "default"])
        .status()?;
    assert!(status.success(), "{status}");
    let (_, hertz) = length_and_pitch(&recording.finish())?;
    assert!((hertz - 440.0).abs() < 1.0, "{hertz} Hz in the ear");

    // In through the ALSA default, from the microphone.
    let heard = folder.path().join("heard.wav");
    let mut listener = room
        .command("ffmpeg")
        .args([
            "-nostdin",
            "-loglevel",
            "error",
            "-f",
            "alsa",
            "-i",
            "default",
            "-t",
            "3",
            "-ac",
            "1",
        ])
        .arg(&heard)
        .spawn()?;
    // It counts as listening once the server has its stream.
    for _ in 0..100 {
        if !room.pactl(&["list", "short", "source-outputs"])?.is_empty() {
            break;
        }
        thread::sleep(Duration::from_millis(50));
    }
    room.speak(&file)?;
    assert!(listener.wait()?.success());
    let samples: Vec<i16> =
        hound::WavReader::open(&heard)?.into_samples().collect::<Result<_, _>>()?;
    let (_, hertz) = length_and_pitch(&samples)?;
    assert!((hertz - 440.0).abs() < 1.0, "{hertz} Hz from the microphone");
    Ok(())
}
