"""Sets for learnt sounds: what each person teaches, and other takes of the same by the same person.

Digits by people as they are, and changed into voices unlike the recogniser's: a small one (speed and with it
formants up by 1.3), a large one (down by 0.78), a slow one. Single words by people with five takes or more, of
which four are taught. Synthetic voices of other languages reading English words, and sounds that are no words.
Only the reporting half of the speakers (see sets.py).
"""

import collections
import csv
import shutil
import subprocess

import numpy as np

from sets import DEFAULT, DIGITS, NEAR, TALK, Set, half, trimmed
from sound import RATE, load, padded, save

PLAN = """animal = "any"\nspecies = "any"\nbehaviour = "any"\n""" + '[[step]]\nname = "any"\n' * 6 + "[words.own]\n{}"
SHAPES = {"plain": None, "small": (1.30, 0.85), "large": (0.78, 1.2), "slow": (1.12, 0.7)}
VOICES = [("de+m2", 40), ("hi+m4", 45), ("pl+f4", 55), ("it+m7", 50), ("cmn+f5", 50), ("ru+m1", 35)]
SOUNDS = {"brr": "brrr", "mmm": "mmm", "tss": "tsss", "woo": "wooo", "lala": "la la", "oy": "oy"}
TAUGHT = 5


class Person:
    """One person's folders: `taught` and `asked`, with one plan."""

    def __init__(self, folder, own):
        self.folder = folder
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        self.plan = folder / "plan.toml"
        self.plan.write_text(PLAN.format("".join(f'{word} = "{word}"\n' for word in own)), encoding="utf-8")
        self.taught, self.asked = Set(folder / "taught", self.plan), Set(folder / "asked", self.plan)

    def add(self, asked, name, clip, word, chance, hiss=None):
        sound, at = padded(clip, 1.0, 0.7, chance)
        if hiss is not None:
            # A clip that was cut tight holds no noise of its own room.
            quiet = chance.standard_normal(len(sound)).astype("float32") * hiss
            sound = np.where((np.arange(len(sound)) - at) // max(len(clip), 1) == 0, sound, quiet).astype("float32")
        sound = sound * min(1, 0.98 / max(float(np.abs(sound).max()), 1e-6))
        stretch = (at / RATE, (at + len(clip)) / RATE, word) if word else (0, len(sound) / RATE, "")
        (self.asked if asked else self.taught).add(f"{name}.wav", sound, [stretch])

    def close(self):
        self.taught.close()
        self.asked.close()
        return self.folder


def shaped(clip, shape, folder, chance):
    """The clip by a voice of another size, each take at a slightly other pace."""
    if shape is None:
        return clip
    before, after = folder / "before.wav", folder / "after.wav"
    save(before, clip * 0.5)
    speed, tempo = shape
    effects = ["speed", str(speed), "tempo", "-s", str(tempo * chance.uniform(0.94, 1.06))]
    subprocess.run(["sox", str(before), str(after), *effects], check=True, stderr=subprocess.DEVNULL)
    load.cache_clear()
    return load(after)


def talk_of_others(person, shared, chance):
    """A little talk by people of the tuning half: there is none by the same person."""
    files = [f for f in sorted((shared / "librispeech").glob("*.flac")) if half(f.stem.split("-")[0]) == "tune"]
    for index, file in enumerate(files[:4]):
        person.add(False, f"talk_{index}", load(file), "", chance)


def digits(folder, shared):
    chance, people = np.random.default_rng(31), []
    for speaker in sorted(path.name for path in (shared / "digits").iterdir()):
        if half(speaker) != "report":
            continue
        for name, shape in SHAPES.items():
            # Number words up to the plan's six steps are tags already.
            person = Person(folder / f"{speaker}-{name}", ["zero"] + DIGITS[7:])
            for digit, word in enumerate(DIGITS):
                for take in range(10):
                    clip = shaped(load(shared / f"digits/{speaker}/{digit}_{take * 5}.flac"), shape, folder, chance)
                    person.add(take >= TAUGHT, f"{word}_{take}", clip, word, chance, hiss=5e-4)
            talk_of_others(person, shared, chance)
            people.append(person.close())
    return people


def single_words(folder, shared):
    chance, people, takes = np.random.default_rng(32), [], collections.defaultdict(list)
    with open(shared / "speech_commands/index.csv", encoding="utf-8") as index:
        for row in csv.DictReader(index):
            if row["word"] not in ("_silence_", "word") and half(row["speaker"]) == "report":
                takes[row["speaker"], row["word"]].append(shared / "speech_commands" / row["file"])
    enough = collections.Counter(speaker for (speaker, _), files in takes.items() if len(files) >= 5)
    for speaker in sorted(name for name, count in enough.items() if count >= 4):
        words = sorted(word for (who, word), files in takes.items() if who == speaker and len(files) >= 5)
        person = Person(folder / speaker, [word for word in words if word not in DEFAULT])
        for word in words:
            for take, file in enumerate(takes[speaker, word][:8]):
                person.add(take >= 4, f"{word}_{take}", load(file), word, chance)
        talk_of_others(person, shared, chance)
        people.append(person.close())
    return people


def accents(folder, count):
    """Voices of other languages; every take at another pace and pitch."""
    chance, people = np.random.default_rng(33), []
    spoken = folder / "spoken.wav"
    folder.mkdir(parents=True, exist_ok=True)

    def say(text, voice, speed, pitch):
        command = ["espeak-ng", "-v", voice, "-s", str(int(speed)), "-p", str(int(pitch)), "-w", str(spoken), text]
        subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
        load.cache_clear()
        sound = trimmed(load(spoken))
        return sound * (0.3 / float(np.abs(sound).max()))

    for voice, pitch in VOICES[:count]:
        person = Person(folder / voice, SOUNDS)
        words = sorted(DEFAULT) + list(SOUNDS)
        for word in words:
            for take in range(TAUGHT + 3):
                clip = say(SOUNDS.get(word, word), voice, 150 * chance.uniform(0.8, 1.25), pitch + chance.uniform(-12, 12))
                person.add(take >= TAUGHT, f"{word}_{take}", clip, word, chance, hiss=5e-4)
        for index, text in enumerate(TALK + NEAR[:4]):
            # What is asked holds other sentences than what was taught.
            person.add(index >= 4, f"talk_{index}", say(text, voice, 155, pitch), "", chance, hiss=5e-4)
        people.append(person.close())
    return people
