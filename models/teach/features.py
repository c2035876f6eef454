"""The model's view of sound: 40 MFCC every 10 ms, and i-vectors, as Kaldi's online features make them.

Everything is written once for numpy and for torch (`xp`), with a batch in front: the check against the recogniser
runs in numpy, training on a GPU. Options are those of `conf/mfcc.conf`, `ivector/*.conf` and of the recogniser's own
defaults (libvosk 0.3.45): 5 Gaussians a frame, posteriors from 0.025 on scaled by 0.1, silence weighted by 0.001.
"""

import struct

import numpy as np

from nnet import matrix_at, vector_at

RATE, WINDOW, SHIFT, PADDED = 16_000, 400, 160, 512
BINS, CEPSTRA, LIFTER = 40, 40, 22.0
LOW_HZ, HIGH_HZ, PREEMPHASIS = 20.0, 7_600.0, 0.97
SPLICE, CMN_GLOBAL = 3, 200.0
GAUSSIANS, LEAST_POSTERIOR, POSTERIOR_SCALE = 5, 0.025, 0.1
SILENCE_WEIGHT = 1e-3
# The recogniser takes sound in pieces of 0.2 s, and reads 24 frames at a time, which look 14 further.
PIECE, CHUNK, RIGHT = 20, 24, 14


def mel(hz):
    return 1127.0 * np.log(1.0 + np.asarray(hz, "f8") / 700.0)


def mfcc_tables():
    """Window, mel filters (257, 40) and cosine transform with lifter (40, 40)."""
    place = np.arange(WINDOW) / (WINDOW - 1)
    window = (0.5 - 0.5 * np.cos(2 * np.pi * place)) ** 0.85
    edges = np.linspace(mel(LOW_HZ), mel(HIGH_HZ), BINS + 2)
    bins = mel(np.arange(PADDED // 2) * RATE / PADDED)[:, None]
    rising = (bins - edges[:-2]) / (edges[1:-1] - edges[:-2])
    falling = (edges[2:] - bins) / (edges[2:] - edges[1:-1])
    filters = np.concatenate([np.maximum(0, np.minimum(rising, falling)), np.zeros((1, BINS))])
    number = np.arange(CEPSTRA)[None, :]
    cosine = np.cos(np.pi / BINS * (np.arange(BINS)[:, None] + 0.5) * number) * np.sqrt(2 / BINS)
    cosine[:, 0] = np.sqrt(1 / BINS)
    lifter = 1 + LIFTER / 2 * np.sin(np.pi * np.arange(CEPSTRA) / LIFTER)
    return window.astype("f4"), filters.astype("f4"), (cosine * lifter).astype("f4")


def mfcc(sound, tables, xp=np):
    """MFCC (batch, frames, 40) of sound (batch, samples) in steps of 16 bits."""
    window, filters, cosine = tables
    count = 1 + (sound.shape[1] - WINDOW) // SHIFT
    if xp is np:
        frames = np.lib.stride_tricks.sliding_window_view(sound, WINDOW, 1)[:, ::SHIFT]
    else:
        frames = sound.unfold(1, WINDOW, SHIFT)
    frames = frames[:, :count]
    frames = frames - frames.mean(-1)[..., None]
    before = xp.concatenate([frames[..., :1], frames[..., :-1]], -1)
    spectrum = xp.fft.rfft((frames - PREEMPHASIS * before) * window, PADDED)
    power = spectrum.real**2 + spectrum.imag**2
    energies = (power @ filters).clip(1.1920929e-07)
    return xp.log(energies) @ cosine


def text_matrix(path):
    """A matrix that Kaldi wrote as text."""
    lines = open(path, encoding="ascii").read().replace("[", "").replace("]", "").strip().splitlines()
    return np.array([line.split() for line in lines if line.strip()], "f8")


class Extractor:
    """The model's i-vector extractor."""

    def __init__(self, folder):
        transform, _ = matrix_at(open(folder / "final.mat", "rb").read(), 2)
        stats = text_matrix(folder / "global_cmvn.stats")
        mixture = open(folder / "final.dubm", "rb").read()
        field = lambda token, read: read(mixture, mixture.index(token + b" ") + len(token) + 1)[0]
        self.arrays = {
            "mean": (stats[0, :-1] / stats[0, -1]).astype("f4"),
            "transform": transform[:, :-1].T.copy(),
            "offset": transform[:, -1].copy(),
            "constants": field(b"<GCONSTS>", vector_at).copy(),
            "means": field(b"<MEANS_INVVARS>", matrix_at).T.copy(),
            "inverses": field(b"<INV_VARS>", matrix_at).T.copy(),
        }
        self._projections(open(folder / "final.ie", "rb").read())

    def _projections(self, data):
        at = data.index(b"<M> ") + 4
        (count,) = struct.unpack_from("<xi", data, at)
        at += 5
        matrices, precisions = [], []
        for _ in range(count):
            matrix, place = matrix_at(data, at)
            matrices.append(matrix)
            at = place + matrix.nbytes
        at = data.index(b"<SigmaInv> ", at) + 11
        size = matrices[0].shape[0]
        lower = np.tril_indices(size)
        for _ in range(count):
            kind, rows = struct.unpack_from("<2s2xi", data, at)
            assert kind == b"DP" and rows == size
            packed = np.frombuffer(data, "<f8", len(lower[0]), at + 8)
            full = np.zeros((size, size))
            full[lower] = packed
            precisions.append(full + np.tril(full, -1).T)
            at += 8 + packed.nbytes
        at = data.index(b"<IvectorOffset> ", at) + 16
        (self.prior,) = struct.unpack_from("<xd", data, at)
        m, p = np.array(matrices), np.array(precisions)
        projected = np.einsum("gfi,gfe->gei", m, p)
        self.arrays["linear"] = projected.reshape(-1, m.shape[2]).astype("f4")
        self.arrays["quadratic"] = np.einsum("gei,gej->gij", projected, m).reshape(count, -1).astype("f4")

    def frames(self, features, xp=np):
        """Of each frame its posteriors (batch, frames, 512), and what they are of (batch, frames, 40)."""
        a = self.arrays
        count = features.shape[1]
        so_far = xp.arange(1, count + 1)[:, None] + 0.0 if xp is np else (
            xp.arange(1, count + 1, device=features.device)[:, None].float())
        running = (xp.cumsum(features, 1) + CMN_GLOBAL * a["mean"]) / (so_far + CMN_GLOBAL)

        def transformed(x):
            ends = [x[:, :1]] * SPLICE, [x[:, -1:]] * SPLICE
            x = xp.concatenate([*ends[0], x, *ends[1]], 1)
            parts = [x[:, shift : shift + count] for shift in range(2 * SPLICE + 1)]
            return xp.concatenate(parts, -1) @ a["transform"] + a["offset"]

        normed = transformed(features - running)
        likely = a["constants"] + normed @ a["means"] - 0.5 * (normed**2 @ a["inverses"])
        if xp is np:
            least = np.sort(likely, -1)[..., -GAUSSIANS, None]
        else:
            least = likely.topk(GAUSSIANS, -1)[0][..., -1:]
        top = likely.max(-1)[..., None] if xp is np else likely.amax(-1, keepdim=True)
        share = xp.where(likely >= least, xp.exp(likely - top), 0 * likely)
        share = share / share.sum(-1)[..., None]
        share = xp.where(share >= LEAST_POSTERIOR, share, 0 * share)
        return share / share.sum(-1)[..., None], transformed(features)

    def after(self, share, frames, weights, xp=np):
        """I-vectors (batch, times, 30), each after these frames with weights of its own (batch, times, frames)."""
        batch, times, count = weights.shape
        weights = weights * POSTERIOR_SCALE
        counts = weights @ share
        weighed = (weights[..., None] * frames[:, None]).swapaxes(1, 2).reshape(batch, count, -1)
        sums = (share.swapaxes(1, 2) @ weighed).reshape(batch, share.shape[2], times, -1)
        sums = sums.swapaxes(1, 2).reshape(batch, times, -1)
        size = self.arrays["linear"].shape[1]
        eye = self.arrays["eye"] if "eye" in self.arrays else np.eye(size, dtype="f4")
        prior = self.prior * eye[0]
        quadratic = (counts @ self.arrays["quadratic"]).reshape(batch, times, size, size) + eye
        linear = sums @ self.arrays["linear"] + prior
        return xp.linalg.solve(quadratic, linear[..., None])[..., 0] - prior

    def as_decoded(self, features, speech, xp=np):
        """The i-vector with which the recogniser reads each frame (batch, frames, 30), when it gets the sound at once.

        `speech` (batch, frames): 1 where a phone is said, 0 in silence. It reads 24 frames at a time, with an i-vector
        of the sound that is there by then; what it has not yet decoded counts as what came last.
        """
        share, frames = self.frames(features, xp)
        count = features.shape[1]
        said = speech * (1 - SILENCE_WEIGHT) + SILENCE_WEIGHT
        weights = []
        for begin in range(0, count, CHUNK):
            pieces = -(-(begin + CHUNK + RIGHT + 2) // PIECE)
            there = min(pieces * PIECE - 2 - SPLICE, count)
            if begin + CHUNK + RIGHT > count:
                there = count
            last = said[:, begin - 1] if begin else 0 * said[:, 0] + SILENCE_WEIGHT
            parts = [said[:, :begin], last[:, None] + 0 * said[:, begin:there], 0 * said[:, there:]]
            weights.append(xp.concatenate(parts, 1)[:, None])
        vectors = self.after(share, frames, xp.concatenate(weights, 1), xp)
        which = np.arange(count) // CHUNK
        return vectors[:, which]
