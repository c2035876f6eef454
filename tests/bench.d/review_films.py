"""How far from the truth films are placed by their sound.

Sessions are made of synthetic voices at known times, recorded by `hushtally replay --record`. Films of them are
made with a known offset, a known drift of the film's clock, noise, and another microphone (band-limited, with
an echo), and encoded as MP4. The error is the largest over the session's length, a figure per film.
"""

import json
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

RATE = 48_000
PLAN = """animal = "Pepino"
species = "cockatiel"
behaviour = "rests a foot on the nail file"
[[step]]
name = "looks at the file"
[[step]]
name = "touches the file"
"""
# Offset in seconds, drift in parts per million, signal to noise in dB.
FILMS = [(3.217, 0, 30), (-11.43, 200, 20), (47.9, -200, 20), (121.05, 120, 12), (0.0, -75, 12), (-25.6, 200, 12),
         (8.5, 40, 30), (310.333, -150, 20)]
VOICES = ["en-us", "en-gb", "en-us+f3", "en-gb+m3"]


def run(*command, **more):
    return subprocess.run([str(part) for part in command], check=True, stdin=subprocess.DEVNULL, capture_output=True, **more)


def read(path):
    raw = run("ffmpeg", "-v", "error", "-i", path, "-f", "f32le", "-ac", "1", "-ar", RATE, "-").stdout
    return np.frombuffer(raw, dtype="<f4").astype(float)


def write(path, sound):
    pcm = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
    subprocess.run(["ffmpeg", "-v", "error", "-y", "-f", "s16le", "-ar", str(RATE), "-ac", "1", "-i", "-", str(path)],
                   input=pcm, check=True, capture_output=True)


def words(folder, voice):
    said = {}
    for word in ("yes", "miss"):
        file = folder / f"{word}-{voice}.wav"
        run("espeak-ng", "-v", voice, "-s", "150", "-w", file, word)
        sound = read(file)
        loud = np.flatnonzero(np.abs(sound) > 0.02 * np.abs(sound).max())
        said[word] = 0.3 * sound[loud[0]:loud[-1]] / np.abs(sound).max()
    return said


def session(seed, said, length):
    dice = random.Random(seed)
    sound = 1e-4 * np.random.default_rng(seed).standard_normal(int(length * RATE))
    at = 2.0
    while at < length - 3:
        word = said["yes"] if dice.random() < 0.8 else said["miss"]
        begin = int(at * RATE)
        sound[begin:begin + len(word)] += word * dice.uniform(0.6, 1.0)
        at += dice.uniform(2.5, 9)
    return sound


def film(path, sound, offset, ppm, snr, seed):
    """The session as another microphone with another clock heard it, from `offset` s after the film began."""
    noise = np.random.default_rng(seed + 7)
    length = offset + len(sound) / RATE * (1 + ppm * 1e-6) + 5
    times = (np.arange(int(length * RATE)) / RATE - offset) / (1 + ppm * 1e-6)
    heard = np.interp(times * RATE, np.arange(len(sound)), sound, left=0, right=0)
    level = np.sqrt(np.mean(sound[np.abs(sound) > 0.02] ** 2))
    heard += level * 10 ** (-snr / 20) * noise.standard_normal(len(heard))
    wav = path.with_suffix(".wav")
    write(wav, heard)
    run("ffmpeg", "-v", "error", "-y", "-f", "lavfi", "-i", f"testsrc=size=160x120:rate=25:duration={length}", "-i", wav,
        "-af", "highpass=f=180,lowpass=f=6500,aecho=0.8:0.5:23:0.25", "-c:v", "mpeg4", "-c:a", "aac", "-b:a", "96k", path)


def main():
    program = os.environ["HUSHTALLY"]
    errors, refused = [], 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = folder / "plan.toml"
        plan.write_text(PLAN)
        wrong = None
        for number, (offset, ppm, snr) in enumerate(FILMS):
            sound = session(number, words(folder, VOICES[number % len(VOICES)]), 150 + 30 * (number % 3))
            wav, mp4, db = folder / "session.wav", folder / "film.mp4", folder / f"{number}.db"
            write(wav, sound)
            run(program, "replay", wav, plan, "--record", "--db", db)
            film(mp4, sound, offset, ppm, snr, number)
            done = subprocess.run([program, "review", "--db", str(db), "align", str(mp4), "latest", "--json"],
                                  stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
            if done.returncode:
                refused += 1
                print(f"film {number} ({offset} s, {ppm} ppm, {snr} dB): {done.stderr.strip()}", file=sys.stderr)
            else:
                found = json.loads(done.stdout)
                ends = np.array([0, len(sound) / RATE])
                placed = found["offset_s"] + ends * (1 + found["drift_ppm"] * 1e-6)
                error = np.abs(placed - (offset + ends * (1 + ppm * 1e-6))).max() * 1e3
                errors.append(error)
                print(f"film {number} ({offset} s, {ppm} ppm, {snr} dB): off by {error:.1f} ms, {found}", file=sys.stderr)
            if wrong is not None:
                other = subprocess.run([program, "review", "--db", str(wrong), "align", str(mp4), "latest"],
                                       stdin=subprocess.DEVNULL, capture_output=True, check=False)
                if other.returncode == 0:
                    sys.exit(f"film {number} was taken for another session: {other.stdout}")
            wrong = db if number % 4 == 0 else None
    print(f"alignment_error_ms_p95\t{np.percentile(errors, 95):.2f}\tms\t<=20")
    print(f"films_placed_percent\t{100 * len(errors) / len(FILMS):.0f}\t%\t>=90")


if __name__ == "__main__":
    main()
