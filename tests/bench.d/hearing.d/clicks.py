"""Synthesised clicks and whistles, and sounds that are nearly so, for measuring markers without words.

There are no recordings of a hand clicker here, so its sound is made: two short bursts of a few damped tones.
Rooms are measured ones where recordings are at hand. Tuning and reporting use other seeds, other rooms, and
reporting a wider range of every parameter.
"""

import numpy as np

from sets import Set
from sound import RATE, load

CLICKS, WHISTLES = ("clicker", "tongue_click"), ("whistle",)
PLAN = """animal = "any"\nspecies = "any"\nbehaviour = "any"\n[[step]]\nname = "any"\n[words]\nmarker_sounds = [{}]\n"""


def damped(chance, tones, seconds):
    """Damped tones (Hz, decay in ms, level), all from the first sample on."""
    t = np.arange(int(seconds * RATE)) / RATE
    parts = [a * np.exp(-t / (d / 1000)) * np.sin(2 * np.pi * f * t + chance.uniform(0, 6.28)) for f, d, a in tones]
    return np.sum(parts, axis=0).astype("float32")


def place(sound, at, piece):
    at = int(at)
    sound[at : at + len(piece)] += piece[: max(0, len(sound) - at)]


def clicker(chance, wide):
    """Press and release of a metal tongue in a box."""
    top = chance.uniform(2600, 5200 if wide else 4500)
    tones = [(top * k, chance.uniform(0.8, 3.5 if wide else 2.5), a) for k, a in ((0.6, 0.4), (1.0, 1.0), (1.37, 0.6))]
    press = damped(chance, tones, 0.03)
    bend = chance.uniform(0.85, 1.15)
    release = damped(chance, [(f * bend, d, a) for f, d, a in tones], 0.03)
    gap = chance.uniform(0.05, 0.26 if wide else 0.2)
    sound = np.zeros(int((gap + 0.05) * RATE), "float32")
    place(sound, 0, press / np.abs(press).max())
    place(sound, gap * RATE, release / np.abs(release).max() * 10 ** (-chance.uniform(0, 8) / 20))
    return sound


def tongue(chance, wide):
    """A tongue click: the mouth rings once."""
    f = chance.uniform(1000, 2400 if wide else 2000)
    tones = [(f, chance.uniform(2.5, 7 if wide else 6), 1.0), (f * chance.uniform(1.8, 2.4), 2.0, 0.3)]
    return damped(chance, tones, 0.05)


def whistle(chance, wide):
    """A steady or gliding whistle, by mouth or with a pea."""
    seconds = chance.uniform(0.18, 1.0 if wide else 0.7)
    t = np.arange(int(seconds * RATE)) / RATE
    start, glide = chance.uniform(1000, 3800 if wide else 3200), chance.uniform(0.85, 1.25)
    hz = start * glide ** (t / seconds)
    if chance.random() < 0.3:
        hz = hz * (1 + 0.02 * np.sin(2 * np.pi * chance.uniform(20, 40) * t))
    tone = np.sin(2 * np.pi * np.cumsum(hz) / RATE) + 0.02 * chance.standard_normal(len(t))
    rise, fall = chance.uniform(0.003, 0.012), 0.02
    return (tone * np.minimum(1, t / rise) * np.minimum(1, (seconds - t) / fall)).astype("float32")


def bowl(chance):
    """A dropped bowl: it rings, and bounces faster and faster."""
    tones = [(f, chance.uniform(60, 300), a) for f, a in zip(np.sort(chance.uniform(500, 6000, 5)), chance.uniform(0.3, 1, 5))]
    sound, at, gap, level = np.zeros(2 * RATE, "float32"), 0.0, chance.uniform(0.15, 0.35), 1.0
    while gap > 0.02 and at < 1.5:
        place(sound, at * RATE, level * damped(chance, tones, 0.6))
        at, gap, level = at + gap, gap * 0.7, level * 0.75
    return sound


def cage_door(chance):
    """A thud with rattling wire."""
    sound = np.zeros(RATE, "float32")
    place(sound, 0, damped(chance, [(chance.uniform(90, 250), 40, 1.0)], 0.3))
    for at in np.sort(chance.uniform(0, 0.35, chance.integers(3, 8))):
        tones = [(f, chance.uniform(5, 40), 0.5) for f in chance.uniform(900, 5500, 4)]
        place(sound, at * RATE, chance.uniform(0.2, 0.8) * damped(chance, tones, 0.15))
    return sound


def keyboard(chance):
    """Keys going down and up while somebody types."""
    sound, at = np.zeros(int(2.4 * RATE), "float32"), 0.05
    while at < 2.0:
        for late, level in ((0, 1.0), (chance.uniform(0.07, 0.13), 0.5)):
            burst = chance.standard_normal(int(0.012 * RATE)) * np.exp(-np.arange(int(0.012 * RATE)) / (0.003 * RATE))
            place(sound, (at + late) * RATE, (0.5 * level * burst).astype("float32"))
            place(sound, (at + late) * RATE, level * damped(chance, [(chance.uniform(200, 500), 8, 0.6)], 0.05))
        at += chance.uniform(0.1, 0.4)
    return sound


def applause(chance):
    """Many hands."""
    sound = np.zeros(2 * RATE, "float32")
    for at in chance.uniform(0, 1.9, chance.integers(15, 120)):
        burst = chance.standard_normal(int(0.03 * RATE)) * np.exp(-np.arange(int(0.03 * RATE)) / (0.005 * RATE))
        place(sound, at * RATE, (chance.uniform(0.2, 1) * burst).astype("float32"))
    return sound


def knock(chance):
    """One thing put down on a table, or a knock."""
    tones = [(chance.uniform(120, 450), chance.uniform(8, 25), 1.0), (chance.uniform(700, 1800), 5, 0.4)]
    return damped(chance, tones, 0.15)


MARKS = {"clicker": (clicker, "click"), "tongue_click": (tongue, "click"), "whistle": (whistle, "whistle")}
NEARLY = {"bowl": bowl, "cage_door": cage_door, "keyboard": keyboard, "applause": applause, "knock": knock}


def rooms(shared, wide):
    """Impulse responses from their direct sound on; the half for tuning or for reporting."""
    if not shared:
        return []
    files = sorted((shared / "rooms").glob("*.flac"))
    chosen = [file for i, file in enumerate(files) if (i % 2 == 0) == wide]
    found = []
    for file in chosen:
        response = load(file)
        direct = int(np.argmax(np.abs(response)))
        found.append(response[direct:] / np.abs(response[direct]))
    return found


def in_room(sound, chance, responses):
    """Half of them dry, half in a measured room."""
    if not responses or chance.random() < 0.5:
        return sound
    response = responses[int(chance.integers(0, len(responses)))][: RATE // 2]
    return np.convolve(sound, response).astype("float32")


def synthesised(folder, shared, count, wide=True):
    """Every kind this many times, a file each; every sound that marks at its true place, the others must give nothing."""
    chance = np.random.default_rng(23 if wide else 20)
    made = Set(folder)
    names = ", ".join(f'"{name}"' for name in CLICKS + WHISTLES)
    (folder / "plan.toml").write_text(PLAN.format(names), encoding="utf-8")
    responses = rooms(shared, wide)
    makers = [(name, lambda c, make=make: make(c, wide), word) for name, (make, word) in MARKS.items()]
    makers += [(name, make, "") for name, make in NEARLY.items()]
    for name, make, word in makers:
        for index in range(count):
            dry = make(chance)
            piece = in_room(dry, chance, responses)
            piece = piece * (10 ** (-chance.uniform(4, 24) / 20) / np.abs(piece).max())
            floor = 10 ** (-chance.uniform(56, 72) / 20)
            sound = (chance.standard_normal(len(piece) + int(2.2 * RATE)) * floor).astype("float32")
            at = int(chance.uniform(1.0, 1.1) * RATE)
            place(sound, at, piece)
            end = (at + len(dry)) / RATE
            stretch = (at / RATE, end, word) if word else (0, len(sound) / RATE, "")
            made.add(f"{name}_{index:03}.wav", np.clip(sound, -1, 1), [stretch])
    return made.close()
