"""Sets that are hard to hear, or hard not to take for tags: whispers, soft voices, slow reading."""

import json
import random

import numpy as np
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter

import sets
from sound import RATE, active, load

# Single words said slowly must give nothing, but for those that are tags, or sound the same.
SAME = set("""no know yes two too to one won for four right write left go up down stop miss mist calm come six sick three
free five steady eager tired signal bonus ordinary jackpot anxious cancel correction juniper""".split())


def whispered(sound, chance):
    """The vocal tract, by linear prediction of order 18 every 10 ms, excited by noise in place of the voice."""
    size, hop, order = 480, 160, 18
    window = np.hanning(size)
    made = np.zeros(len(sound) + size)
    for begin in range(0, len(sound) - size, hop):
        part = sound[begin : begin + size] * window
        products = np.correlate(part, part, "full")[size - 1 : size + order]
        if products[0] < 1e-8:
            continue
        products[0] *= 1.0001
        filter_ = np.concatenate([[1], -solve_toeplitz(products[:-1], products[1:])])
        power = max(float(products @ filter_), 1e-12) / size
        noise = chance.standard_normal(size + 160) * np.sqrt(power / np.mean(window**2))
        # The filter has settled when its first 10 ms are taken off.
        made[begin : begin + size] += lfilter([1], filter_, noise)[160:] * window * (hop / size * 2)
    made = made[: len(sound)]
    # Without the voice's weight in the lows.
    made = lfilter([1, -0.7], [1], made)
    return (made / max(active(made), 1e-9) * active(sound)).astype("float32")


def whisper(chance):
    """A whisper 20 dB softer than a voice, 25 dB over the room's hiss."""
    def corrupt(sound):
        made = whispered(sound, chance)
        return (made / active(made) * 0.006 + chance.standard_normal(len(made)) * 0.006 * 10 ** (-25 / 20)).astype("float32")
    return corrupt


def soft(chance):
    """A voice 20 dB softer than usual in the room's noise: 22 dB over it."""
    def corrupt(sound):
        noise = lfilter([1], [1, -0.9], chance.standard_normal(len(sound)))
        noise *= 0.006 * 10 ** (-22 / 20) / np.sqrt(np.mean(noise**2))
        return (sound / max(active(sound), 1e-6) * 0.006 + noise).astype("float32")
    return corrupt


ROLES = "marker miss low high jackpot left right keen calm worried tired cue hold_start take_back change".split()
# Frequent words by the order of their SHA-1: such as speech for teaching was made of, and such as were held out of it
# (`models/teach`: a first digit of 13 and more). None of the latter was found among what the readers say who train.
TRAINED = """cloud currency library alive issue bedroom circle solution strong routine claim switch release
    decent block attorney album ensure extent paint knock awesome comic sixth dozen fellow minute
    justice summary design bright asset agent superior auction trial juice thursday month content""".split()
UNTRAINED = """story secure apple confirm bought decide painful judge naval carbon equality client somebody
    purchase volume street include grown settle radio shame driven check final civil failure doubt
    invasion original wisdom mountain peace kingdom twist relative parent birthday college close
    absolute""".split()


def swapped(folder, words, count):
    """A plan whose words are all others than the default ones, said by synthetic voices that trained nothing."""
    made = sets.synthetic(folder, count, tuple(words))
    role = [f'{name} = "{word}"' for name, word in zip(ROLES, words)]
    steps, own = words[len(ROLES) : len(ROLES) + 6], words[len(ROLES) + 6 :]
    lines = ['animal = "Pepino"', 'species = "cockatiel"', 'behaviour = "rests a foot"', "[words]", *role, f"steps = {json.dumps(steps)}",
             "[words.own]", *(f'{word} = "{word}"' for word in own)]
    lines[3:3] = [line for name in ("looks", "comes", "touches", "lifts", "holds", "rests") for line in ("[[step]]", f'name = "{name}"')]
    (made / "plan.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return made


def faded(piece):
    edge = np.minimum(np.arange(len(piece)), np.arange(len(piece))[::-1]) / 160
    return piece * np.minimum(1, edge)


def one_by_one(folder, minutes, clips, seed, plan=None):
    """Slow reading: `clips` (of one voice each list) word by word with 0.3 to 1 s between; must give nothing."""
    made, chance = sets.Set(folder, plan), np.random.default_rng(seed)
    order = random.Random(seed)
    for index in range(minutes):
        pieces, length, voice = [np.zeros(RATE, "float32")], RATE, order.choice(clips)
        place = order.randrange(len(voice))
        while length < 60 * RATE:
            word = voice[place % len(voice)]
            place += 1
            word = faded(word * (0.2 / max(float(np.abs(word).max()), 1e-4)))
            pieces += [word, np.zeros(int(chance.uniform(0.3, 1.0) * RATE), "float32")]
            length += len(pieces[-1]) + len(pieces[-2])
        sound = np.concatenate(pieces).astype("float32")
        sound = sound + chance.standard_normal(len(sound)).astype("float32") * 3e-4
        made.add(f"{index:03}.wav", sound, [(0, len(sound) / RATE, "")])
    return made.close()


def aligned(shared, which, model):
    """Where each reader of a half says which word, by the free recogniser: {file: [(start, end, word)]}."""
    import vosk

    found = {}
    for file in sorted((shared / "librispeech").glob("*.flac")):
        if sets.half(file.name.split("-")[0]) != which:
            continue
        recogniser = vosk.KaldiRecognizer(model, RATE)
        recogniser.SetWords(True)
        recogniser.AcceptWaveform((load(file) * 32767).astype("<i2").tobytes())
        words = json.loads(recogniser.FinalResult()).get("result", [])
        found[file.name] = [(word["start"], word["end"], word["word"]) for word in words if word["conf"] > 0.9]
    return found


def readers_words(shared, found):
    """Words of read sentences, cut out: a list for each reader."""
    voices = {}
    for name, words in found.items():
        sound = load(shared / "librispeech" / name)
        cut = [sound[int(max(0, begin - 0.03) * RATE) : int((end + 0.05) * RATE)] for begin, end, word in words if word not in SAME]
        voices.setdefault(name.split("-")[0], []).extend(piece for piece in cut if len(piece) > 1600)
    return [voice for voice in voices.values() if len(voice) > 5]


def fluent(folder, shared, which, speeds=(1.0,), plan=None):
    """Read sentences of a half, each with a second of quiet around; must give nothing."""
    from scipy.signal import resample_poly
    from sound import padded

    made, chance = sets.Set(folder, plan), np.random.default_rng(8)
    for file in sorted((shared / "librispeech").glob("*.flac")):
        if sets.half(file.name.split("-")[0]) != which:
            continue
        for speed in speeds:
            sound = load(file)
            if speed != 1:
                sound = resample_poly(sound, 32, int(32 * speed)).astype("float32")
            sound, _ = padded(sound, 0.8, 0.8, chance)
            made.add(f"{file.stem}-{speed}.wav", sound, [(0, len(sound) / RATE, "")])
    return made.close()
