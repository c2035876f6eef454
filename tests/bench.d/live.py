"""Measures the release build in a virtual room (a private PulseAudio), and peers on the same sound.

The same session is spoken by a synthesiser three times: into a file that is replayed on one core, into the
virtual microphone, and to the peers. The end of a word is where its waveform ends, not where a recogniser says.
"""

import argparse
import array
import json
import os
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
import wave

RATE = 16_000
HUSHTALLY = os.environ["HUSHTALLY"]
DATA = pathlib.Path(os.environ["HUSHTALLY_DATA"])
DEMO = pathlib.Path(__file__).resolve().parents[2] / "demo"
PLAN = DEMO / "pepino.toml"


def tell(text):
    print(text, file=sys.stderr, flush=True)


def speak(words, folder):
    """Samples of what is said, without the silence around it, at RATE."""
    raw, even = folder / "raw.wav", folder / "even.wav"
    subprocess.run(["espeak-ng", "-v", "en-us", "-s", "140", "-w", raw, words], check=True)
    subprocess.run(["sox", raw, "-r", str(RATE), "-c", "1", "-b", "16", even, "norm", "-9"], check=True)
    with wave.open(str(even)) as sound:
        samples = array.array("h", sound.readframes(sound.getnframes()))
    loud = [place for place, sample in enumerate(samples) if abs(sample) > 300]
    return samples[loud[0] : loud[-1] + 1]


def tape(phrases, quiet_s, folder):
    """All phrases in one sound, and (words, onset, end) of each in seconds."""
    samples, said, cache = array.array("h"), [], {}
    for words in phrases:
        if words not in cache:
            cache[words] = speak(words, folder)
        # One step of noise, as a still room gives.
        samples.extend((place * 7919 % 5) - 2 for place in range(int(quiet_s * RATE)))
        onset = len(samples) / RATE
        samples.extend(cache[words])
        said.append((words, onset, len(samples) / RATE))
    samples.extend((place * 7919 % 5) - 2 for place in range(2 * RATE))
    return samples, said


def write(samples, file):
    with wave.open(str(file), "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(RATE)
        sound.writeframes(samples.tobytes())


class Room:
    """A sound server of its own with a microphone `mic` and an earphone `ear`."""

    def __init__(self, folder):
        self.env = dict(os.environ)
        root = str(folder)
        self.env.update(
            XDG_RUNTIME_DIR=root,
            PULSE_RUNTIME_PATH=root,
            PULSE_STATE_PATH=root,
            PULSE_COOKIE=root + "/cookie",
            PULSE_CLIENTCONFIG=root + "/client.conf",
            PULSE_SERVER="unix:" + root + "/native",
            ALSA_CONFIG_PATH=root + "/asound.conf",
        )
        (folder / "client.conf").write_text("autospawn = no\nenable-shm = no\n")
        (folder / "asound.conf").write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
        sinks = [f"--load=module-null-sink sink_name={name} rate=48000 channels=2" for name in ("mic", "ear")]
        protocol = f"--load=module-native-protocol-unix socket={root}/native auth-anonymous=1 auth-cookie-enabled=0"
        self.server = subprocess.Popen(
            ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--disable-shm", "--high-priority=no",
             "--exit-idle-time=120", protocol, *sinks],
            env=self.env, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )
        for _ in range(200):
            if subprocess.run(["pactl", "info"], env=self.env, capture_output=True).returncode == 0:
                break
            time.sleep(0.05)
        else:
            sys.exit("the sound server does not answer")
        for what, name in (("sink", "ear"), ("source", "mic.monitor")):
            subprocess.run(["pactl", f"set-default-{what}", name], env=self.env, check=True)

    def close(self):
        self.server.kill()
        self.server.wait()


def resident_mb(process):
    """Of the program and of the recogniser that it started."""
    children = pathlib.Path(f"/proc/{process.pid}/task").glob("*/children")
    pids = [process.pid, *(int(pid) for part in children for pid in part.read_text().split())]
    return sum(resident_kib(pid) for pid in pids) / 1024


def resident_kib(pid):
    status = pathlib.Path(f"/proc/{pid}/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1])


def replay(file):
    """Seconds of computing per second of sound, on one core, the start included."""
    with wave.open(str(file)) as sound:
        length = sound.getnframes() / sound.getframerate()
    core = str(min(os.sched_getaffinity(0)))
    before = os.times()
    subprocess.run(["taskset", "-c", core, HUSHTALLY, "replay", file, PLAN, "--json"], check=True,
                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    after = os.times()
    busy = after.children_user + after.children_system - before.children_user - before.children_system
    return busy / length


def begun_by_a_tag(folder):
    """The plan, with a session that any tag begins: the phrases come in no order."""
    plan = folder / "begun.toml"
    plan.write_text(PLAN.read_text().replace("\n[words]\n", "\n[words]\nmarker_begins = true\n", 1))
    return plan


def live(room, sound, said, folder, minutes):
    """Delays in ms by phrase, resident MB, seconds to listening."""
    begun = time.monotonic()
    listener = subprocess.Popen(
        [HUSHTALLY, "listen", begun_by_a_tag(folder), "--json", "--quiet", "--db", folder / "record.db"],
        env=room.env, stdin=subprocess.DEVNULL, stdout=open(folder / "lines", "wb"), stderr=subprocess.PIPE, text=True,
    )
    for remark in listener.stderr:
        if "listening on" in remark:
            break
    else:
        sys.exit("hushtally does not listen")
    start_s = time.monotonic() - begun
    rounds, points = 0, []
    while rounds == 0 or time.monotonic() - begun < minutes * 60:
        subprocess.run(["paplay", "--device=mic", sound], env=room.env, check=True)
        rounds += 1
        points.append(((time.monotonic() - begun) / 3600, resident_mb(listener)))
    time.sleep(1)
    memory = resident_mb(listener)
    listener.terminate()
    listener.wait()
    lines = [json.loads(line) for line in (folder / "lines").read_text().splitlines()]
    heard = [line for line in lines if line.get("words") and "saved_s" in line]
    gaps = sum(line["kind"] == "gap" for line in lines)
    # The first quarter fills caches.
    settled = points[len(points) // 4 :]
    if len(settled) >= 10:
        slope = statistics.linear_regression(*zip(*settled)).slope
        tell(f"live: memory {settled[0][1]:.1f} to {settled[-1][1]:.1f} MB, {slope:+.2f} MB an hour")
    tell(f"live: {gaps} gaps in the sound")
    delays, place = [], 0
    for words, onset, end in said * rounds:
        # In order; what was not heard is skipped and counted.
        found = next((n for n in range(place, min(place + 3, len(heard))) if heard[n]["words"] == words), None)
        if found is None:
            continue
        place = found + 1
        line = heard[found]
        # The word's true length, from the onset that was logged (its own error is a few milliseconds).
        delays.append(1000 * (line["saved_s"] - line["at_s"] - (end - onset)))
    tell(f"live: {len(delays)} of {len(said) * rounds} phrases heard, {rounds} rounds")
    return delays, memory, start_s


def grammar_lines(said):
    return sorted({words for words, _, _ in said})


def vosk_peer(samples, said):
    """Plain Vosk, a grammar of the same phrases: computing per second of sound; delays with its own end-pointing."""
    import vosk

    vosk.SetLogLevel(-1)
    model = vosk.Model(str(DATA / "models" / "en-us-small"))
    recogniser = vosk.KaldiRecognizer(model, RATE, json.dumps([*grammar_lines(said), "[unk]"]))
    data, step = samples.tobytes(), RATE // 50 * 2
    begun, delays, ends = time.process_time(), [], [end for _, _, end in said]
    for place in range(0, len(data), step):
        if recogniser.AcceptWaveform(data[place : place + step]):
            now = (place + step) / 2 / RATE
            before = [end for end in ends if end < now]
            if json.loads(recogniser.Result())["text"] and before:
                delays.append(1000 * (now - before[-1]))
    return (time.process_time() - begun) / (len(samples) / RATE), delays


def sphinx_peer(samples, said, folder):
    import pocketsphinx

    grammar = folder / "tags.gram"
    grammar.write_text("#JSGF V1.0;\ngrammar tags;\npublic <tag> = " + " | ".join(grammar_lines(said)) + ";\n")
    decoder = pocketsphinx.Decoder(samprate=RATE, jsgf=str(grammar), loglevel="FATAL")
    begun = time.process_time()
    for _, onset, end in said:
        part = samples[int((onset - 0.3) * RATE) : int((end + 0.3) * RATE)]
        decoder.start_utt()
        decoder.process_raw(part.tobytes(), full_utt=True)
        decoder.end_utt()
    # Given the speech alone: it has no gate of its own here. The rest of the sound counts as free.
    return (time.process_time() - begun) / (len(samples) / RATE)


def percentile(values, share):
    return sorted(values)[min(len(values) - 1, round(share * (len(values) - 1)))]


def figure(name, value, unit, reach, **peers):
    others = "".join(f"\t{who}={its:.4g}" for who, its in peers.items())
    print(f"{name}\t{value:.4g}\t{unit}\t{reach}{others}", flush=True)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--full", action="store_true", help="listen for ten minutes before memory is read")
    parser.add_argument("--minutes", type=float, help="listen for so long instead of one minute")
    options = parser.parse_args()
    full = options.full or os.environ.get("HUSHTALLY_BENCH_FULL") == "1"
    for program in ("pulseaudio", "pactl", "paplay", "espeak-ng", "sox", "taskset"):
        if not shutil.which(program):
            sys.exit(f"{program} is missing; models/fetch --tests brings it")
    words = tomllib.loads(PLAN.read_text())["words"]
    marker, steps = words["marker"], words["steps"]
    phrases = [marker, words["miss"], f"{marker} {steps[1]}", f"{marker} {steps[2]} {words['high']}",
               words["calm"], marker, words["cue"], f"{marker} {words['jackpot']}", words["take_back"], marker,
               words["miss"], f"{marker} {steps[0]} {words['low']}"]
    with tempfile.TemporaryDirectory(prefix="bench") as name:
        folder = pathlib.Path(name)
        samples, said = tape(phrases, 1.5, folder)
        sound = folder / "session.wav"
        write(samples, sound)
        tell("replaying on one core")
        write(samples * 4, folder / "long.wav")
        factor = replay(folder / "long.wav")
        vosk_factor, vosk_delays = vosk_peer(samples * 4, [
            (words, onset + n * len(samples) / RATE, end + n * len(samples) / RATE)
            for n in range(4) for words, onset, end in said])
        sphinx_factor = sphinx_peer(samples, said, folder)
        minutes = options.minutes or (10 if full else 1)
        tell(f"listening live for {minutes:g} minutes; --minutes changes it")
        room = Room(folder)
        try:
            delays, memory, start_s = live(room, sound, said, folder, minutes)
        finally:
            room.close()
    figure("replay_real_time_factor", factor, "s/s", "<=0.06", vosk=vosk_factor, pocketsphinx=sphinx_factor)
    figure("commit_delay_ms_median", statistics.median(delays), "ms", "-", vosk=statistics.median(vosk_delays))
    figure("commit_delay_ms_p95", percentile(delays, 0.95), "ms", "<=300", vosk=percentile(vosk_delays, 0.95))
    figure("memory_mb", memory, "MB", "<=250")
    figure("start_s", start_s, "s", "<=2")


main()
