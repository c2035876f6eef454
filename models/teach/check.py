"""Compares features and i-vectors with the recogniser's own, seen from inside while it listens.

    python check.py MODEL SOUND.wav      (16 kHz, mono; needs a C++ compiler and the package vosk)

Fails where an i-vector is further than 0.01 from the recogniser's (their length is about 3.5; it stops after 15 steps
of conjugate gradients), or MFCC further than its dither explains.
"""

import os
import struct
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np

import features
import nnet

LISTEN = """
import sys, vosk
vosk.SetLogLevel(-1)
recogniser = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000)
recogniser.AcceptWaveform(open(sys.argv[2], "rb").read())
recogniser.FinalResult()
"""


def from_inside(model, raw):
    """What the recogniser computed: MFCC (frames, 40), i-vectors [(frame, values, changes of weights before)], changes."""
    import vosk

    library = Path(vosk.__file__).parent / "libvosk.so"
    with tempfile.TemporaryDirectory() as folder:
        shim, sound, out = (Path(folder) / name for name in ("inside.so", "sound.raw", "out"))
        source = Path(__file__).parent / "inside.cc"
        subprocess.run(["c++", "-O1", "-shared", "-fPIC", "-o", shim, source, "-ldl"], check=True)
        sound.write_bytes(raw)
        around = dict(os.environ, LD_PRELOAD=str(shim), SHIM_LIB=str(library), SHIM_OUT=str(out))
        subprocess.run([sys.executable, "-c", LISTEN, model, sound], check=True, env=around)
        data, at = out.read_bytes(), 0
    mfcc, vectors, changes = {}, [], []
    while at < len(data):
        kind, frame, size = struct.unpack_from("<iii", data, at)
        values = np.frombuffer(data, "<f4", size, at + 12)
        at += 12 + 4 * size
        if kind == 0:
            mfcc[frame] = values
        elif kind == 1:
            vectors.append((frame, values, len(changes)))
        else:
            changes.append((frame, float(values[0])))
    return np.array([mfcc[frame] for frame in sorted(mfcc)]), vectors, changes


def main(model, file):
    with wave.open(file) as sound:
        assert sound.getframerate() == features.RATE and sound.getnchannels() == 1
        raw = sound.readframes(5 * features.RATE)
    theirs, vectors, changes = from_inside(model, raw)
    ours = features.mfcc(np.frombuffer(raw, "<i2").astype("f4")[None], features.mfcc_tables())[0][: len(theirs)]
    dither = float(np.abs(ours - theirs).mean())
    extractor = features.Extractor(Path(model) / "ivector")
    share, frames = extractor.frames(theirs[None])
    # The recogniser's own weights of silence, as they stood each time.
    furthest, ended = 0.0, np.zeros(len(theirs), "f4")
    for frame, vector, known in vectors:
        weights = np.zeros(frame + 1, "f4")
        for place, change in changes[:known]:
            if place <= frame:
                weights[place] += change
        got = extractor.after(share[:, : frame + 1], frames[:, : frame + 1], weights[None, None])[0, 0]
        furthest = max(furthest, float(np.abs(got - vector).max()))
    for place, change in changes:
        if place < len(ended):
            ended[place] += change
    # And by the rule that training goes by.
    ruled = extractor.as_decoded(theirs[None], (ended > 0.5).astype("f4")[None])[0]
    ruled = max(float(np.abs(ruled[features.CHUNK * place] - vector).max())
                for place, (_, vector, _) in enumerate(vectors) if features.CHUNK * place < len(ruled))
    network = nnet.Model(Path(model) / "am/final.mdl")
    assert network.changed({}) == network.data
    context = np.arange(-nnet.LEFT, 60 + nnet.RIGHT).clip(0, len(theirs) - 1)
    answers = nnet.forward(network, network.values, theirs[context][None], np.zeros((1, len(context), 30), "f4"))
    print(f"mfcc {dither:.3f} (its dither), i-vectors {furthest:.5f}, by the rule {ruled:.5f}, answers {answers.shape}")
    assert len(vectors) > 5 and dither < 0.5 and furthest < 1e-2, "they differ from the recogniser's"
    assert answers.shape == (1, 20, 2192) and np.isfinite(answers).all()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
