"""The pinned acoustic model: a Kaldi nnet3 file, read and changed in place.

Only numbers are read and written: the file's layout, its tokens and its length stay as they are, so that the
recogniser loads what comes out as it loads the original. Nothing here needs more than numpy.
"""

import re
import struct

import numpy as np

# Frames of sound that one output frame looks at, before and after its own; every third frame has an output.
LEFT, RIGHT, STRIDE = 26, 14, 3
BYPASS = 0.75
LAYERS = 12


def vector_at(data, at):
    """A float vector that begins at `at` with its token: (values, offset of the first value)."""
    kind, mark, size = struct.unpack_from("<2sxB", data, at) + struct.unpack_from("<i", data, at + 4)
    assert kind in (b"FV", b"DV") and mark == 4, data[at : at + 8]
    dtype = "<f4" if kind == b"FV" else "<f8"
    return np.frombuffer(data, dtype, size, at + 8), at + 8


def matrix_at(data, at):
    """A matrix that begins at `at` with its token: (values, offset of the first value)."""
    kind, mark, rows, mark_too, columns = struct.unpack_from("<2sxBiBi", data, at)
    assert kind in (b"FM", b"DM") and mark == mark_too == 4, data[at : at + 16]
    dtype = "<f4" if kind == b"FM" else "<f8"
    values = np.frombuffer(data, dtype, rows * columns, at + 13)
    return values.reshape(rows, columns), at + 13


class Model:
    """Every number of the network, by component and field."""

    def __init__(self, path):
        self.data = open(path, "rb").read()
        self.values, self.places, self.offsets, self.norms = {}, {}, {}, {}
        names = list(re.finditer(rb"<ComponentName> (\S+) <(\w+)> ", self.data))
        for found, after in zip(names, names[1:] + [None]):
            end = after.start() if after else len(self.data)
            self._component(found[1].decode(), found[2].decode(), found.end(), end)

    def _component(self, name, kind, begin, end):
        data = self.data

        def after(token):
            at = data.find(token + b" ", begin, end)
            return at + len(token) + 1 if at >= 0 else None

        for token, read in ((b"<LinearParams>", matrix_at), (b"<Params>", matrix_at), (b"<BiasParams>", vector_at)):
            at = after(token)
            if at is None:
                continue
            values, place = read(data, at)
            if values.size:
                key = name + token.decode()
                self.values[key], self.places[key] = values, place
        if kind == "TdnnComponent":
            at = after(b"<TimeOffsets>")
            size, count = struct.unpack_from("<Bi", data, at)
            assert size == 4
            self.offsets[name] = struct.unpack_from(f"<{count}i", data, at + 5)
        if kind == "BatchNormComponent":
            self.norms[name] = self._norm(after)

    def _norm(self, after):
        """A batch norm as it is at test: what is taken away, and what the rest is multiplied with."""
        number = lambda token: struct.unpack_from("<xf", self.data, after(token))[0]
        mean, variance = (vector_at(self.data, after(token))[0] for token in (b"<StatsMean>", b"<StatsVar>"))
        scale = number(b"<TargetRms>") / np.sqrt(variance.astype("f8") + number(b"<Epsilon>"))
        return mean.copy(), scale.astype("f4")

    def trained(self):
        """Names of what decoding uses and training may change."""
        return [name for name in self.values if "xent" not in name]

    def changed(self, values):
        """The file with other numbers in the place of some."""
        data = bytearray(self.data)
        for name, new in values.items():
            assert new.shape == self.values[name].shape, name
            raw = np.ascontiguousarray(new, "<f4").tobytes()
            data[self.places[name] : self.places[name] + len(raw)] = raw
        return bytes(data)


def distance(values, pinned, scales):
    """How far weights have gone from the pinned ones: mean square over all of their numbers, each in units of its part's
    `scales`. Every number counts alike: were each part to count as one, the few of a bias could hardly move.
    """
    gone = sum(((values[name] - pinned[name]) ** 2).sum() / scales[name] ** 2 for name in values)
    return gone / sum(len(values[name].reshape(-1)) for name in values)


def forward(model, values, features, ivectors, xp=np):
    """Outputs of the network, every third frame.

    `features` (batch, LEFT + n + RIGHT, 40) MFCC, `ivectors` (batch, the same, 30): of each frame the i-vector with
    which it is read. `values` by name and `xp` are numpy's, or torch's with its own arrays in `model.norms`.
    """
    cat = lambda parts: xp.concatenate(parts, -1)
    relu = (lambda x: np.maximum(x, 0)) if xp is np else (lambda x: x.relu())

    def norm(name, x):
        mean, scale = model.norms[name]
        return (x - mean) * scale

    def affine(name, x, field="<LinearParams>"):
        bias = values.get(name + "<BiasParams>")
        x = x @ values[name + field].T
        return x if bias is None else x + bias

    before, now, after = features[:, 1:-3], features[:, 2:-2], features[:, 3:-1]
    further = features[:, :-4] + features[:, 4:] - 2 * now
    x = norm("delta", cat([now, features[:, 3:-1] - before, further]))
    x = cat([x, ivectors[:, 2:-2]])
    x = norm("tdnn1.batchnorm", relu(affine("tdnn1.affine", x)))
    # `first` is the time of x's first frame, counted from the first output's; `step` frames lie between two.
    first, step = 2 - LEFT, 1

    def spliced(x, first, name):
        offsets = model.offsets[name]
        low, high = min(offsets), max(offsets)
        length = x.shape[1] - (high - low) // step
        parts = [x[:, (offset - low) // step :][:, :length] for offset in offsets]
        return cat(parts), first - low

    for layer in range(2, LAYERS + 1):
        name = f"tdnnf{layer}"
        # Splicing after the product instead of before it: the same sums, and far less to move.
        matrix, offsets = values[name + ".linear<LinearParams>"], model.offsets[name + ".linear"]
        width, rank = x.shape[2], matrix.shape[0]
        parts = [matrix[:, place * width : (place + 1) * width] for place in range(len(offsets))]
        products = x @ xp.concatenate(parts, 0).T
        length = x.shape[1] - (max(offsets) - min(offsets)) // step
        shifts = [(offset - min(offsets)) // step for offset in offsets]
        y = sum(products[:, shift : shift + length, place * rank : (place + 1) * rank] for place, shift in enumerate(shifts))
        start = first - min(offsets)
        y, start = spliced(y, start, name + ".affine")
        y = norm(name + ".batchnorm", relu(affine(name + ".affine", y)))
        skip = (start - first) // step
        x = y + BYPASS * x[:, skip : skip + y.shape[1]]
        first = start
        if step == 1 and layer == 4:
            # From here on only every third frame is looked at.
            skip = -first % STRIDE
            x, first, step = x[:, skip::STRIDE], first + skip, STRIDE
    assert first == 0, first
    x = x @ values["prefinal-l<Params>"].T
    x = norm("prefinal-chain.batchnorm1", relu(affine("prefinal-chain.affine", x)))
    x = norm("prefinal-chain.batchnorm2", x @ values["prefinal-chain.linear<Params>"].T)
    return affine("output.affine", x)
