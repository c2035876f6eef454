"""Gathers what the network learns from: people's clean speech, synthetic voices, noises and measured rooms.

    python material.py SPEECH OUT [--small | --choosing]

SPEECH is a folder of recordings as `tests/bench hearing` uses it. Only speakers of the half on which things are tuned
take part, and of these a quarter stays out too, so that bounds can be chosen on people whom the network never heard.
Sounds under a share-alike licence, and kinds on which hearing is measured, stay out. OUT gets one file a group, with
all of its clips one after another, and `index.json`. With `--choosing` it gets what those people said who stay out: to
try what was learnt with, or, once everything is chosen, to train with besides.
"""

import csv
import hashlib
import json
import random
import subprocess
import sys
from pathlib import Path

import numpy as np
import soundfile
from scipy.signal import resample_poly

RATE = 16_000
# Measured with, so never trained with.
MEASURED_SOUNDS = ("rain", "bird_", "seagull", "peacock", "chicken", "turkey", "penguin", "horse", "cow", "pig",
                   "squirrel", "raccoon", "bear")
MEASURED_ROOMS = ("pos18", "seminar")
MEASURED_VOICES = {"m1", "m3", "m4", "m7", "f1", "f2", "f4", "f5", "Andrea", "Alicia", "belinda", "steph"}
TAGS = """yes no miss zero one two three four five six seven eight nine ten ordinary bonus jackpot left right up down stop
go eager calm anxious tired signal steady cancel correction good super nice hold wait cue click treat back again juniper
finish pause count treats begin change note""".split()
ACCENTS = ("en-us", "en-gb", "en-gb-x-rp", "en-gb-x-gbcwmd", "en-029", "en-us-nyc")


def digit(name, place):
    return int(hashlib.sha1(name.encode()).hexdigest()[place], 16)


def part(speaker):
    """`report`, `choose` or `train`: which part a speaker belongs to, by the SHA-1 of the name."""
    if digit(speaker, 0) % 2:
        return "report"
    return "choose" if digit(speaker, 1) < 4 else "train"


def load(path):
    sound, rate = soundfile.read(path, dtype="float32")
    assert rate == RATE and sound.ndim == 1, path
    return sound


def single_words(speech, which="train"):
    with open(speech / "speech_commands/index.csv", encoding="utf-8") as index:
        rows = [row for row in csv.DictReader(index) if row["word"] not in ("_silence_", "word")]
    return [speech / "speech_commands" / row["file"] for row in rows if part(row["speaker"]) == which]


def readers(speech, which="train"):
    files = sorted((speech / "librispeech").glob("*.flac"))
    return [file for file in files if part(file.name.split("-")[0]) == which]


def noises(speech, which=0):
    """Sounds that are no speech; of the recordings of `noises/` the half whose name's SHA-1 is even, or odd."""
    files = [file for file in sorted((speech / "noises").glob("*/*.flac")) if digit(file.name, 0) % 2 == which]
    if which == 0:
        with open(speech / "sounds/ATTRIBUTION.tsv", encoding="utf-8") as listed:
            free = [row["file"] for row in csv.DictReader(listed, delimiter="\t") if "SA" not in row["licence"]]
        files += [speech / "sounds" / name for name in free if not Path(name).name.startswith(MEASURED_SOUNDS)]
    return [file for file in files if file.is_file()]


def rooms(speech):
    files = sorted((speech / "rooms").glob("*.flac"))
    return [file for file in files if not any(name in file.name for name in MEASURED_ROOMS)]


def voices():
    """espeak-ng's variants but those with which hearing is measured."""
    listed = subprocess.run(["espeak-ng", "--voices=variant"], check=True, stdout=subprocess.PIPE, text=True).stdout
    names = sorted({line.split()[4].split("/")[-1] for line in listed.splitlines()[1:] if "!v/" in line})
    odd = ("whisper", "croak", "Demonic", "Storm", "robosoft", "UniRobot", "Mr_serious", "fast", "klatt", "grandma")
    return [name for name in names if name not in MEASURED_VOICES and not name.lower().startswith(tuple(o.lower() for o in odd))]


def spoken(text, voice, speed, pitch):
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout", text]
    raw = subprocess.run(command, check=True, stdout=subprocess.PIPE).stdout
    at = raw.index(b"data") + 8
    rate = int.from_bytes(raw[24:28], "little")
    sound = np.frombuffer(raw[at : at + (len(raw) - at) // 2 * 2], "<i2").astype("float32") / 32768
    divisor = np.gcd(rate, RATE)
    return resample_poly(sound, RATE // divisor, rate // divisor).astype("float32")


def synthetic(words, count, seed=1):
    """Short lists of words and phrases by many voices."""
    chance, every = random.Random(seed), voices()
    for number in range(count):
        voice = f"{chance.choice(ACCENTS)}+{every[number % len(every)]}"
        chosen = chance.sample(words, chance.choice((1, 1, 2, 3, 6)))
        text = (", " if chance.random() < 0.5 else " ").join(chosen)
        yield spoken(text, voice, chance.randint(120, 190), chance.randint(25, 75))


def trimmed(sound):
    loud = np.flatnonzero(np.abs(sound) > 0.02 * max(float(np.abs(sound).max()), 1e-4))
    return sound[max(0, loud[0] - 800) : loud[-1] + 800]


def some_words():
    """Every tag and command of the default vocabulary several times, and ten thousand words of the CMU dictionary.

    A sixth of the dictionary stays out, so that it can be told what words gain that nobody taught.
    """
    import pocketsphinx

    listed = Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict")).read_text(encoding="utf-8").splitlines()
    words = sorted({line.split()[0] for line in listed if line.split()[0].isalpha() and 2 < len(line.split()[0]) < 9})
    words = [word for word in words if digit(word, 0) < 13 and word not in TAGS]
    random.Random(3).shuffle(words)
    return words[:10_000] + TAGS * 20


def write(folder, name, clips, index):
    """All clips of a group as one Vorbis file: hardly audible losses, an eighth of the size."""
    sounds = [np.asarray(clip, "float32") for clip in clips]
    peak = [max(float(np.abs(sound).max()), 1e-4) for sound in sounds]
    # Of the same height, so that the codec is equally good to all.
    whole = np.concatenate([sound / high * 0.7 for sound, high in zip(sounds, peak)])
    with soundfile.SoundFile(folder / f"{name}.ogg", "w", RATE, 1, format="OGG", subtype="VORBIS",
                             compression_level=0.25) as file:
        for begin in range(0, len(whole), 1 << 16):
            file.write(whole[begin : begin + (1 << 16)])
    index[name] = [len(sound) for sound in sounds]


def of_those_who_choose(speech, out):
    out.mkdir(parents=True, exist_ok=True)
    index = {}
    write(out, "words", map(load, single_words(speech, "choose")), index)
    write(out, "readers", map(load, readers(speech, "choose")), index)
    (out / "index.json").write_text(json.dumps(index), encoding="utf-8")


def main(speech, out, small):
    out.mkdir(parents=True, exist_ok=True)
    some = (lambda files: files[:6]) if small else (lambda files: files)
    index = {}
    words = some_words()
    write(out, "words", map(load, some(single_words(speech))), index)
    write(out, "readers", map(load, some(readers(speech))), index)
    write(out, "voices", map(trimmed, synthetic(words, 12 if small else 1200)), index)
    write(out, "noises", map(load, some(noises(speech))), index)
    responses = [load(file) for file in some(rooms(speech))]
    soundfile.write(out / "rooms.flac", np.concatenate(responses), RATE, subtype="PCM_16")
    index["rooms"] = [len(response) for response in responses]
    (out / "index.json").write_text(json.dumps(index), encoding="utf-8")
    for name, lengths in index.items():
        print(name, len(lengths), f"{sum(lengths) / RATE / 60:.1f} min")


if __name__ == "__main__":
    if "--choosing" in sys.argv:
        of_those_who_choose(Path(sys.argv[1]), Path(sys.argv[2]))
    else:
        main(Path(sys.argv[1]), Path(sys.argv[2]), "--small" in sys.argv)
