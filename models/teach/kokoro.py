"""Adds to gathered material what a neural synthesiser says: some fifty voices and blends of them.

    python kokoro.py write TEXTS [--clips N]     # what is said, as tokens; espeak-ng is needed
    python kokoro.py speak TEXTS KOKORO MATERIAL # says it, on all cores, and adds the group `kokoro`

KOKORO is a folder with `model.onnx` (Kokoro-82M, Apache License 2.0, as 8-bit ONNX) and `voices/*.bin`, its styles;
README.md tells which packages they come from. Two steps, since the machine that trains need not have espeak-ng.
"""

import argparse
import json
import multiprocessing
import os
import random
import re
import subprocess
from pathlib import Path

import numpy as np

RATE, ITS_RATE = 16_000, 24_000
# From espeak-ng's signs to those that Kokoro was trained with.
SIGNS = [("aɪ", "I"), ("aʊ", "W"), ("dʒ", "ʤ"), ("eɪ", "A"), ("tʃ", "ʧ"), ("ɔɪ", "Y"), ("əl", "ᵊl"), ("oʊ", "O"),
         ("əʊ", "Q"), ("ɚ", "əɹ"), ("r", "ɹ"), ("x", "k"), ("ɐ", "ə"), ("ɬ", "l"), ("ɜːɹ", "ɜɹ"), ("ɜː", "ɜɹ"), ("ɪə", "iə"),
         ("ː", "")]
# Kokoro's tokens of the signs that English needs.
TOKENS = {**dict(zip(";:,.!?", range(1, 7))), " ": 16, "A": 24, "I": 25, "O": 31, "Q": 33, "W": 39, "Y": 41, "ᵊ": 42,
          **dict(zip("abcdef", range(43, 49))), **dict(zip("hijklmnopqrstuvwxyz", range(50, 69))), "ɑ": 69, "ɐ": 70, "ɒ": 71,
          "æ": 72, "ɔ": 76, "ð": 81, "ʤ": 82, "ə": 83, "ɚ": 85, "ɛ": 86, "ɜ": 87, "ɡ": 92, "ɨ": 101, "ɪ": 102, "ŋ": 112,
          "θ": 119, "ɹ": 123, "ɾ": 125, "ʃ": 131, "ʧ": 133, "ʊ": 135, "ʌ": 138, "ʒ": 147, "ʔ": 148, "ˈ": 156, "ˌ": 157, "ᵻ": 177}
PROSE = ("README.md", "DEVELOPERS.md", "models/README.md", "prompts/en")


def phonemes(texts):
    """Of each text its tokens, word by word as espeak-ng says them."""
    words = sorted({word for text in texts for word in text.replace(",", "").split()})
    said = subprocess.run(["espeak-ng", "-v", "en-us", "--ipa", "-q"], input="\n".join(words) + "\n", text=True, check=True,
                          stdout=subprocess.PIPE).stdout.strip().splitlines()
    assert len(said) == len(words), "espeak-ng makes of a word more than a line"
    signs = dict(zip(words, said))
    for word, sign in signs.items():
        for theirs, kokoros in SIGNS:
            sign = sign.replace(theirs, kokoros)
        signs[word] = sign.replace(" ", "")
    whole = lambda text: re.sub(r"[a-z']+", lambda word: signs[word[0]], text)
    return [[TOKENS[sign] for sign in whole(text) + "." if sign in TOKENS] for text in texts]


def sentences(root, held_out):
    """Parts of sentences of the project's own texts, of two to ten words, without words that are held out."""
    found = set()
    for name in PROSE:
        for file in sorted((root / name).glob("*.toml")) if (root / name).is_dir() else [root / name]:
            text = re.sub(r"`[^`]*`|\{[^}]*\}|\([^)]*\)|https?:\S+|[\w/.-]*[_/]\S*", " , ", file.read_text(encoding="utf-8"))
            for part in re.split(r"[^a-zA-Z' \n]+|\n\n", text):
                words = part.lower().split()
                if 2 <= len(words) <= 10 and all(re.fullmatch(r"[a-z]+('[a-z]+)?", word) for word in words):
                    if not any(len(word) > 3 and held_out(word) for word in words):
                        found.add(" ".join(words))
    return sorted(found)


def texts(count, seed=1):
    """Words of the default vocabulary and of the dictionary, one by one and in a row, and sentences."""
    from material import TAGS, digit, some_words

    chance, words = random.Random(seed), some_words()
    prose = sentences(Path(__file__).resolve().parents[2], lambda word: digit(word, 0) >= 13 and word not in TAGS)
    for _ in range(count):
        kind = chance.random()
        if kind < 0.3:
            yield chance.choice(prose)
        elif kind < 0.5:
            yield ", ".join(chance.sample(TAGS, chance.choice((1, 2, 3, 4))))
        elif kind < 0.6:
            yield " ".join(chance.sample(TAGS, chance.choice((2, 3, 4))))
        elif kind < 0.85:
            yield ", ".join(chance.sample(words, chance.choice((1, 2, 3, 4))))
        else:
            yield " ".join(chance.sample(words, chance.choice((3, 4, 5))))


def speak(task):
    tokens, voices, share, speed = task
    styles = [VOICES[voice].reshape(-1, 256)[len(tokens)] for voice in voices]
    style = share * styles[0] + (1 - share) * styles[1]
    sound = SESSION.run(None, {"tokens": np.array([[0] + tokens + [0]], "i8"), "style": style[None].astype("f4"),
                               "speed": np.array([speed], "f4")})[0].reshape(-1)
    from scipy.signal import resample_poly

    sound = resample_poly(sound, RATE, ITS_RATE).astype("f4")
    loud = np.flatnonzero(np.abs(sound) > 0.02 * max(float(np.abs(sound).max()), 1e-4))
    return sound[max(0, loud[0] - 800) : loud[-1] + 800] if len(loud) > 1600 else None


def begin(folder):
    import onnxruntime

    global SESSION, VOICES
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    SESSION = onnxruntime.InferenceSession(folder / "model.onnx", options, providers=["CPUExecutionProvider"])
    VOICES = {file.stem: np.fromfile(file, "<f4") for file in (folder / "voices").glob("*.bin")}


def say(said, folder, material, seed=2):
    import soundfile

    chance = random.Random(seed)
    every = sorted(file.stem for file in (folder / "voices").glob("*.bin"))
    english = [voice for voice in every if voice[0] in "ab"]
    tasks = []
    for tokens in said:
        voices = chance.choice(english), chance.choice(english + every)
        share = chance.choice((1.0, chance.uniform(0.4, 0.8)))
        tasks.append((tokens, voices, share, chance.uniform(0.75, 1.25)))
    with multiprocessing.get_context("spawn").Pool(os.cpu_count(), begin, (folder,)) as pool:
        clips = [clip for clip in pool.imap(speak, tasks, 4) if clip is not None]
    whole = np.concatenate([clip / max(float(np.abs(clip).max()), 1e-4) * 0.7 for clip in clips])
    soundfile.write(material / "kokoro.flac", whole, RATE, subtype="PCM_16")
    index = json.loads((material / "index.json").read_text())
    index["kokoro"] = [len(clip) for clip in clips]
    (material / "index.json").write_text(json.dumps(index), encoding="utf-8")
    print("kokoro", len(clips), f"{sum(map(len, clips)) / RATE / 60:.1f} min")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("do", choices=("write", "speak"))
    parser.add_argument("texts", type=Path)
    parser.add_argument("folders", type=Path, nargs="*")
    parser.add_argument("--clips", type=int, default=2_400)
    given = parser.parse_args()
    if given.do == "write":
        given.texts.write_text(json.dumps(phonemes(list(texts(given.clips)))), encoding="utf-8")
    else:
        say(json.loads(given.texts.read_text()), *given.folders)
