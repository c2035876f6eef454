"""Makes of what was learnt the file that `models/fetch` applies.

    python ship.py MODEL OUT DIFFERENCES.npz [DIFFERENCES.npz ...]

Several runs are averaged. OUT gets half-precision differences by their place in the pinned `am/final.mdl`.
"""

import json
import sys
from pathlib import Path

import numpy as np

from nnet import Model


def differences(model, runs):
    names = sorted(model.trained(), key=model.places.get)
    mean = {name: np.mean([run[name].astype("f4") for run in runs], 0) for name in names}
    head = json.dumps([[model.places[name], model.values[name].size] for name in names], separators=(",", ":"))
    return head.encode() + b"\n" + b"".join(mean[name].astype("<f2").tobytes() for name in names)


if __name__ == "__main__":
    pinned = Model(Path(sys.argv[1]) / "am/final.mdl")
    Path(sys.argv[2]).write_bytes(differences(pinned, [np.load(run) for run in sys.argv[3:]]))
