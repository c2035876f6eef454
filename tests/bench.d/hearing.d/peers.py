"""What others make of the same files: plain Vosk with a grammar, and PocketSphinx with the same words."""

import csv
import json
import os
import random
import time

import numpy as np
import vosk
from pocketsphinx import Decoder

from sound import RATE, load

vosk.SetLogLevel(-1)
NEAR_S = 0.3
# Of computing, a set; without end when everything is measured.
PATIENCE_S = float("inf") if os.environ.get("HUSHTALLY_BENCH") == "full" else 20


class PlainVosk:
    """The recogniser as its makers ship it: a grammar, its own end of utterances."""

    @staticmethod
    def model():
        return vosk.Model(os.path.join(os.environ["HUSHTALLY_DATA"], "models", "en-us-small"))

    def __init__(self, words, unknown):
        model = self.model()
        lines = words + (["[unk]"] if unknown else [])
        self.make = lambda: vosk.KaldiRecognizer(model, RATE, json.dumps(lines))
        self.recogniser = self.make()
        self.recogniser.SetWords(True)
        self.before = 0.0

    def hear(self, sound):
        """(word, start, end, answered) in seconds."""
        raw = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
        heard = []
        step = 3200

        def take(result, place):
            for word in json.loads(result).get("result", []):
                if word["word"] != "[unk]":
                    start, end = word["start"] - self.before, word["end"] - self.before
                    heard.append((word["word"], start, end, place / 2 / RATE))

        for place in range(0, len(raw), step):
            if self.recogniser.AcceptWaveform(raw[place : place + step]):
                take(self.recogniser.Result(), place + step)
        take(self.recogniser.FinalResult(), len(raw))
        self.before += len(raw) / 2 / RATE
        return heard


class PocketSphinx:
    """PocketSphinx with its own model and the same words as a JSGF grammar, a file an utterance."""

    def __init__(self, words):
        grammar = "#JSGF V1.0; grammar tags; public <tags> = ( " + " | ".join(words) + " )+ ;"
        self.decoder = Decoder(loglevel="FATAL", samprate=RATE, lm=None)
        self.decoder.add_jsgf_string("tags", grammar)
        self.decoder.activate_search("tags")

    def hear(self, sound):
        self.decoder.start_utt()
        self.decoder.process_raw((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes(), full_utt=True)
        self.decoder.end_utt()
        end = len(sound) / RATE
        return [
            (segment.word.split("(")[0], segment.start_frame / 100, segment.end_frame / 100, end)
            for segment in self.decoder.seg() or []
            if segment.word[0] not in "<["
        ]


def score(folder, peer):
    """The same figures as `hushtally words score`, as far as they make sense for a peer.

    A peer that needs longer than PATIENCE_S for a set is scored on as many of its files, in random order, as it
    gets through; how many that were is part of the figures.
    """
    files = {}
    with open(folder / "truth.csv", encoding="utf-8") as truth:
        for row in csv.DictReader(truth):
            files.setdefault(row["file"], []).append((float(row["start_s"]), float(row["end_s"]), row["words"].split()))
    expected = right = false = 0
    silence = sound_s = 0.0
    onsets, delays = [], []
    began = time.process_time()
    names, done = sorted(files), 0
    random.Random(11).shuffle(names)
    for name in names:
        if time.process_time() - began > PATIENCE_S:
            break
        stretches, done = files[name], done + 1
        sound = load(folder / name)
        load.cache_clear()
        sound_s += len(sound) / RATE
        heard = peer.hear(sound)
        for start, end, words in stretches:
            near = [h for h in heard if h[2] > start - NEAR_S and h[1] < end + NEAR_S]
            if not words:
                silence += end - start
                false += len(near)
                continue
            expected += len(words)
            right += in_common(words, [h[0] for h in near])
            if near and [h[0] for h in near] == words:
                onsets.append(abs(near[0][1] - start) * 1000)
                delays.append((near[-1][3] - end) * 1000)
    worked = time.process_time() - began
    return {
        "recall": right / expected if expected else None,
        "false_tags_per_hour": false / (silence / 3600) if silence else None,
        "onset_median": float(np.median(onsets)) if onsets else None,
        "onset_p95": float(np.percentile(onsets, 95)) if onsets else None,
        "delay_p95": float(np.percentile(delays, 95)) if delays else None,
        "real_time_factor": worked / sound_s,
        "files_share": done / len(files),
    }


def in_common(said, heard):
    """Words of `said` heard in order (longest common subsequence)."""
    table = np.zeros((len(said) + 1, len(heard) + 1), int)
    for i, a in enumerate(said):
        for j, b in enumerate(heard):
            table[i + 1, j + 1] = table[i, j] + 1 if a == b else max(table[i, j + 1], table[i + 1, j])
    return int(table[-1, -1])
