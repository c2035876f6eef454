"""Makes the sets: folders of sound files, each with a truth.csv, in a cache folder.

People's recordings are split by speaker: the SHA-1 of the speaker's name begins with an even hex digit for
the half on which hearing was tuned, with an odd one for the half that is measured here.
"""

import csv
import hashlib
import os
import random
import shutil
import subprocess
from pathlib import Path

import numpy as np
from scipy.signal import fftconvolve, resample_poly

from sound import RATE, active, ends, load, padded, save, with_noise

PEOPLE = "yes no left right up down stop go one two three four five".split()
DIGITS = "zero one two three four five six seven eight nine".split()
# Words of the default vocabulary; the plan beside a set decides what is listened for.
DEFAULT = """yes miss one two three four five six ordinary bonus jackpot left right eager calm anxious tired
signal steady cancel correction""".split()
PHRASES = [
    "yes two", "yes three bonus", "yes left", "yes one jackpot", "yes right four", "miss anxious",
    "yes five ordinary", "correction bonus", "yes bonus", "juniper finish", "juniper step up",
    "juniper pause", "juniper go on", "juniper count", "juniper treats",
]
# Talk that holds the tag words.
NEAR = [
    "yes, I think two is enough for today", "no, that is not what I meant by left", "we could go right after lunch",
    "she said yes to one of them", "there are five of those and three of these", "I would miss you if you left",
    "he was a bit tired and anxious yesterday", "that was a steady signal, was it not",
    "an ordinary day with a small bonus", "you can cancel the correction I made", "keep calm and stay eager",
    "the jackpot was two hundred and one", "go down to the stop and turn right", "yes yes I know that already",
    "one of you should finish this now", "it is up to you four, not to me",
]
TALK = [
    "the weather has been rather mild for this time of the year", "I put the kettle on a while ago",
    "could you hand me the towel from the shelf over there", "they moved the fence again last week",
    "my sister called about the party on Saturday", "we need more hay before the winter comes",
    "the vet wants to see him once more in a month", "did you close the gate behind you",
    "I never understood how that machine works", "it took them an hour to find the keys",
    "what a nice afternoon, let us sit outside", "the bucket is leaking, we should buy another",
    "he told me the whole story twice", "there is coffee in the kitchen if you want some",
    "she runs every morning before work", "the neighbours have a new puppy, very lively",
    "our bus was late and full of children", "somebody left the light on in the barn",
    "I read about it in the paper yesterday", "turn the page and read the last part aloud",
]


def half(speaker):
    return "tune" if int(hashlib.sha1(speaker.encode()).hexdigest()[0], 16) % 2 == 0 else "report"


def recordings(shared):
    """(file, speaker, word) of every single word by a person."""
    listed = []
    with open(shared / "speech_commands/index.csv", encoding="utf-8") as index:
        for row in csv.DictReader(index):
            if row["word"] not in ("_silence_", "word"):
                listed.append((shared / "speech_commands" / row["file"], row["speaker"], row["word"]))
    for file in sorted((shared / "digits").glob("*/*.flac")):
        listed.append((file, file.parent.name, DIGITS[int(file.name[0])]))
    return listed


def chosen_people(shared, which, words, count, seed):
    """This many recordings of these words by the speakers of a half, in random order."""
    chosen = [r for r in recordings(shared) if half(r[1]) == which and r[2] in words]
    random.Random(seed).shuffle(chosen)
    return chosen[:count]


class Set:
    """A folder that is being filled."""

    def __init__(self, folder, plan=None):
        self.folder = folder
        self.rows = ["file,start_s,end_s,words"]
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        if plan:
            shutil.copy(plan, folder / "plan.toml")

    def add(self, name, sound, stretches):
        save(self.folder / name, sound)
        self.rows += [f"{name},{start:.4f},{end:.4f},{words}" for start, end, words in stretches]

    def close(self):
        (self.folder / "truth.csv").write_text("\n".join(self.rows) + "\n", encoding="utf-8")
        return self.folder


def people(folder, plan, shared, which, count, decibels=None, words=PEOPLE, silent=False, noise=None, corrupt=None):
    """Single words by people, each in a file. `silent`: they must give nothing.

    `noise` lies so many `decibels` below the word, babble unless told; `corrupt` does something to the whole sound.
    """
    made, chance = Set(folder, plan), np.random.default_rng(5)
    chosen = chosen_people(shared, which, words, count, 5)
    if noise is None:
        noise = load(shared / "babble/babble_20_talkers.flac")
    for index, (file, _, word) in enumerate(chosen):
        clip = load(file)
        start, end = ends(clip)
        sound, at = padded(clip, 1.0, 0.7, chance)
        if decibels is not None:
            sound = with_noise(sound, noise, decibels, clip, chance)
        if corrupt:
            sound = corrupt(sound)
        sound = sound * min(1, 0.98 / max(float(np.abs(sound).max()), 1e-6))
        truth = (0, len(sound) / RATE, "") if silent else ((at + start) / RATE, (at + end) / RATE, word)
        made.add(f"{index:04}_{word}.wav", sound, [truth])
    return made.close()


def of_kind(shared, *kinds):
    """All sounds of these kinds one after another, each as loud as the next."""
    files = [file for kind in kinds for file in sorted((shared / "sounds").glob(f"*/{kind}_*.flac"))]
    return np.concatenate([sound / active(sound) * 0.1 for sound in map(load, files)])


def all_the_time(folder, plan, shared, which, count, noise, decibels):
    """Single words by people, a dozen in a recording, with noise that never stops, `decibels` below each word."""
    made, chance = Set(folder, plan), np.random.default_rng(4)
    chosen = chosen_people(shared, which, PEOPLE, count, 9)
    for first in range(0, len(chosen), 12):
        pieces, truth, length = [], [], 0
        for file, _, word in chosen[first : first + 12]:
            clip = load(file)
            clip = clip / max(active(clip), 1e-5) * 0.1
            start, end = ends(clip)
            # The word alone, 50 ms around it, without a click at either end.
            begin = max(0, int(start) - 800)
            clip = clip[begin : int(end) + 800]
            edge = np.minimum(np.arange(len(clip)), np.arange(len(clip))[::-1]) / 160
            quiet = np.zeros(int(chance.uniform(1.2, 3.5) * RATE), "float32")
            pieces += [quiet, clip * np.minimum(1, edge)]
            length += len(quiet)
            truth.append(((length + start - begin) / RATE, (length + end - begin) / RATE, word))
            length += len(clip)
        sound = np.concatenate([*pieces, np.zeros(RATE, "float32")])
        around = np.resize(np.roll(noise, -int(chance.integers(len(noise)))), len(sound))
        sound = sound + around / active(noise) * 0.1 * 10 ** (-decibels / 20)
        sound = sound + chance.standard_normal(len(sound)) * 3e-4
        sound = sound * min(1, 0.98 / float(np.abs(sound).max()))
        made.add(f"{first:04}.wav", sound.astype("float32"), truth)
    return made.close()


def beside_others(folder, plan, shared, which, near):
    """Each recording is one person's words as they were recorded; after every second one somebody else says a word 12
    to 20 dB softer, who must give nothing: in turn a parrot that repeats it (the word half as high again and as short)
    and another person. The plan says that others are near, or not.
    """
    made, chance = Set(folder), np.random.default_rng(4)
    text = plan.read_text(encoding="utf-8")
    told = text.replace("[words.own]", "[words]\nothers_near = true\n\n[words.own]", 1)
    (folder / "plan.toml").write_text(told if near else text, encoding="utf-8")
    said = {}
    for file, speaker, word in recordings(shared):
        if half(speaker) == which and word in PEOPLE:
            said.setdefault(speaker, []).append((file, word))
    people = sorted(speaker for speaker, clips in said.items() if len(clips) >= 8)
    for speaker in people:
        clips = list(said[speaker])
        chance.shuffle(clips)
        clips = [(load(file), word) for file, word in clips[:24]]
        gain = 0.06 / max(float(np.median([active(clip) for clip, _ in clips])), 1e-5)
        pieces, truth, length = [], [], 0

        def put(sound, words=None, begin=0, end=0):
            nonlocal length
            if words is not None:
                truth.append(((length + begin) / RATE, (length + end) / RATE, words))
            pieces.append(sound)
            length += len(sound)

        def quiet(least, most):
            put(np.zeros(int(chance.uniform(least, most) * RATE), "float32"))

        quiet(1.0, 1.5)
        for place, (clip, word) in enumerate(clips):
            begin, end = ends(clip)
            put(clip * gain, word, begin, end)
            quiet(0.5, 1.2)
            if place < 3 or place % 2 == 0:
                continue
            other = resample_poly(clip, 2, 3)
            if place % 4 == 3:
                theirs = said[chance.choice([person for person in people if person != speaker])]
                other = load(theirs[int(chance.integers(len(theirs)))][0])
            softer = 0.06 * 10 ** (-chance.uniform(12, 20) / 20) / max(active(other), 1e-5)
            put((other * softer).astype("float32"), "", -0.1 * RATE, len(other) + 0.2 * RATE)
            quiet(0.7, 1.2)
        sound = np.concatenate(pieces)
        sound = sound + chance.standard_normal(len(sound)).astype("float32") * 2e-4
        made.add(f"{speaker}.wav", sound * min(1, 0.98 / float(np.abs(sound).max())), truth)
    return made.close()


def corrupted(shared, chance):
    """What a room, a distance, a telephone and a recording that is too loud do to a sound.

    Room and distance are by measured responses of real rooms; the direct sound stays where it was.
    """

    def in_room(response, softer_db=0.0):
        response = load(shared / "rooms" / response)
        first = int(np.argmax(np.abs(response)))
        response = response[first:] / np.abs(response[first])

        def corrupt(sound):
            with_echo = fftconvolve(sound, response)[: len(sound)] * 10 ** (-softer_db / 20)
            # What a good microphone adds by itself.
            return (with_echo + chance.standard_normal(len(sound)) * 2e-4).astype("float32")

        return corrupt

    return {
        "echo": in_room("mit_surrey_roomA_pos18_left_ear.flac"),
        "far": in_room("cc0_seminar_room_clap.flac", 20.0),
        "8khz": lambda sound: resample_poly(resample_poly(sound, 1, 2), 2, 1).astype("float32"),
        "clipped": lambda sound: np.clip(sound * 4 / max(float(np.abs(sound).max()), 1e-6), -1, 1),
    }


def speak(text, voice, folder):
    """A text by a synthetic voice, or nothing when the program is not there."""
    file = folder / "spoken.wav"
    program, name, speed, pitch = voice
    if program == "espeak-ng":
        command = ["espeak-ng", "-v", name, "-s", str(speed), "-p", str(pitch), "-w", str(file), text]
    elif program == "flite":
        command = ["flite", "-voice", name, "--setf", f"duration_stretch={160 / speed:.2f}", "-t", text, "-o", str(file)]
    else:
        command = ["text2wave", "-eval", f"({name})", "-o", str(file)]
    subprocess.run(
        command, check=True, input=text.encode() if program == "festival" else None,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )
    load.cache_clear()
    return load(file)


def voices(festival=False):
    names = "m1 m3 m4 m7 f1 f2 f4 f5 Andrea Alicia belinda steph".split()
    every = [("espeak-ng", f"en-us+{name}", speed, pitch) for name, speed, pitch in zip(
        names, [140, 165, 150, 175, 140, 165, 150, 175, 145, 160, 155, 170], [40, 50, 60, 45] * 3)]
    every += [("espeak-ng", "en-gb+f3", 155, 50), ("espeak-ng", "en-gb-scotland+m2", 150, 50)]
    every += [("flite", name, speed, 0) for name, speed in (("kal16", 150), ("slt", 160), ("rms", 150), ("awb", 150))]
    if festival and shutil.which("text2wave"):
        every += [("festival", name, 0, 0) for name in ("voice_kal_diphone", "voice_cmu_us_slt_arctic_hts")]
    return every


def trimmed(sound):
    """Without the silence that synthesisers put around."""
    loud = np.where(np.abs(sound) > 0.03 * np.abs(sound).max())[0]
    return sound[loud[0] : loud[-1] + 1]


def synthetic(folder, count, words=tuple(DEFAULT) + tuple(PHRASES)):
    """Every default word and some phrases by several voices; `count` takes in all."""
    made, chance = Set(folder), np.random.default_rng(6)
    takes = [(text, voice) for text in words for voice in voices(festival=count > 1_000)]
    random.Random(6).shuffle(takes)
    for index, (text, voice) in enumerate(takes[:count]):
        word = trimmed(speak(text, voice, folder))
        word = word * (0.3 / float(np.abs(word).max()))
        noise = chance.standard_normal(len(word) + int(1.7 * RATE)).astype("float32") * 3e-4
        # At any sample, so that no grid of ours is met by chance.
        start = RATE + int(chance.integers(0, RATE // 10))
        noise[start : start + len(word)] += word
        made.add(f"{index:04}.wav", noise, [(start / RATE, (start + len(word)) / RATE, text)])
    return made.close()


def synthetic_talk(folder, minutes, sentences):
    """Sentences by several voices one after another, with pauses; must give nothing."""
    made, chance, all_voices = Set(folder), np.random.default_rng(7), voices()
    for index in range(minutes):
        pieces, length = [], 0
        while length < 60 * RATE:
            voice = all_voices[int(chance.integers(0, len(all_voices)))]
            said = trimmed(speak(sentences[int(chance.integers(0, len(sentences)))], voice, folder))
            pieces += [said * (0.3 / float(np.abs(said).max())), np.zeros(int(chance.uniform(0.4, 2.5) * RATE), "float32")]
            length += len(pieces[-1]) + len(pieces[-2])
        sound = np.concatenate([np.zeros(RATE, "float32"), *pieces])
        sound = sound + chance.standard_normal(len(sound)).astype("float32") * 3e-4
        made.add(f"{index:03}.wav", sound, [(0, len(sound) / RATE, "")])
    return made.close()


def other_sound(folder, shared):
    """Read sentences, other words, animals, machines, clicks; must give nothing."""
    made, chance = Set(folder), np.random.default_rng(8)
    places = ["librispeech/*.flac", "other_words/*/*.flac", "sounds/*/*.flac"]
    for file in sorted(file for place in places for file in shared.glob(place)):
        sound, _ = padded(load(file), 0.8, 0.8, chance)
        made.add(f"{file.parent.name}_{file.stem}.wav", sound, [(0, len(sound) / RATE, "")])
    return made.close()


def cache_folder():
    cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return cache / "hushtally" / "hearing-sets"
