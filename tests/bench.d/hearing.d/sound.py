"""Sound files to arrays and back, and what can be done to sound."""

import functools
import subprocess
import wave

import numpy as np

RATE = 16_000


@functools.cache
def load(path):
    """Any sound file as float samples at 16 kHz, mono."""
    command = ["ffmpeg", "-v", "error", "-i", str(path), "-f", "s16le", "-ac", "1", "-ar", str(RATE), "-"]
    raw = subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout
    return np.frombuffer(raw, "<i2").astype("float32") / 32768


def save(path, sound):
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())


def levels(sound, hop=160, window=320):
    """Level in dB of 20 ms windows every 10 ms."""
    count = max(1, (len(sound) - window) // hop + 1)
    sums = np.concatenate([[0], np.cumsum(sound.astype("float64") ** 2)])
    begins = np.arange(count) * hop
    ends = np.minimum(begins + window, len(sound))
    return 10 * np.log10((sums[ends] - sums[begins]) / window + 1e-10)


def active(sound):
    """Root mean square of the parts within 20 dB of the loudest."""
    db = levels(sound)
    return float(np.sqrt(np.mean(10 ** (db[db > db.max() - 20] / 10))))


def ends(sound):
    """Where the sound begins and ends in samples, by its level; a guess for recordings with room noise."""
    db = levels(sound)
    floor = np.percentile(db, 10)
    over = np.where(db > max(db.max() - 25, min(floor + 6, db.max() - 6)))[0]
    return int(over[0]) * 160, min(int(over[-1]) * 160 + 320, len(sound))


def padded(sound, before, after, chance):
    """The sound in soft hiss of its own floor (never above -45 dB)."""
    floor = np.clip(10 ** (np.percentile(levels(sound), 10) / 20), 1e-5, 10 ** (-45 / 20))
    whole = chance.standard_normal(len(sound) + int((before + after) * RATE)).astype("float32") * floor
    at = int(before * RATE)
    whole[at : at + len(sound)] = sound
    return whole, at


def with_noise(sound, noise, decibels, speech, chance):
    """Noise under the sound: `speech` is this many decibels above it."""
    noise = np.tile(noise, len(sound) // len(noise) + 2)
    begin = int(chance.integers(0, len(noise) - len(sound)))
    part = noise[begin : begin + len(sound)]
    power = float(np.sqrt(np.mean(part**2))) + 1e-9
    return sound + part * (active(speech) / power * 10 ** (-decibels / 20))
