"""The cases so far, and the chance that they are drawn by."""

import math

import numpy as np

rng = np.random.default_rng()
cases = []


def begin(seed):
    """Draws from here on by this seed."""
    rng.bit_generator.state = np.random.default_rng(seed).bit_generator.state


def case(name, inputs, tolerance, **wanted):
    cases.append({"fn": name, "in": inputs, "out": wanted, "tolerance": tolerance})


def plain(x):
    """A number as the program writes it: null undefined, "inf" or "-inf" endless."""
    x = float(x)
    return None if math.isnan(x) else (str(x) if math.isinf(x) else x)
