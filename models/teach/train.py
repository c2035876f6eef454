"""Teaches a student, which hears spoilt sound, the answers of its teacher, which hears the same sound clean.

    python train.py MODEL MATERIAL OUT [--steps N] [--batch N] [--seed N] [--seconds N] ...

MODEL is the pinned model's folder, MATERIAL what `material.py` made. OUT (npz) gets the differences of the weights.
No transcripts are needed: the teacher is the pinned network itself, so every word gains, not only those of a plan.
"""

import argparse
import json
import time
from pathlib import Path

import numpy as np
import soundfile
import torch

import features
import nnet
import spoil
from spoil import RATE, Chance

if not hasattr(torch, "concatenate"):
    torch.concatenate = torch.cat  # torch before 2.0

SAMPLES = 41_600  # 2.6 s: longer than nearly every tag with the quiet around it
LEVEL = 0.05  # root mean square at which the teacher hears
SHIFT = 12  # frames by which the recogniser reads ahead of what it answers for


class Material:
    """Clips by group, all of a group in one array; what several folders have of a group is one."""

    def __init__(self, folders, device):
        self.sound, self.begins, self.lengths = {}, {}, {}
        for folder in folders:
            for name, lengths in json.loads((folder / "index.json").read_text()).items():
                self._add(name, folder, torch.tensor(lengths, device=device))
        self.rooms = self._rooms() if "rooms" in self.sound else torch.zeros(0, 8_000, device=device)

    def _add(self, name, folder, lengths):
        path = next(path for path in (folder / f"{name}.flac", folder / f"{name}.ogg") if path.is_file())
        sound = torch.tensor(soundfile.read(path, dtype="float32")[0], device=lengths.device)
        if name in self.sound:
            sound, lengths = torch.cat([self.sound[name], sound]), torch.cat([self.lengths[name], lengths])
        self.sound[name], self.lengths[name] = sound, lengths
        self.begins[name] = torch.cumsum(lengths, 0) - lengths

    def borrow(self, other):
        """Takes noises and rooms from another, where it has none."""
        for name in {"noises", "rooms"} - self.sound.keys():
            self.sound[name], self.lengths[name] = other.sound[name], other.lengths[name]
            self.begins[name] = other.begins[name]
        self.rooms = other.rooms if "rooms" in other.sound else self.rooms
        return self

    def _rooms(self):
        kept = []
        for begin, length in zip(self.begins["rooms"].tolist(), self.lengths["rooms"].tolist()):
            room = self.sound["rooms"][begin : begin + length]
            first = int(room.abs().argmax())
            room = room[first : first + 8_000] / room[first]
            kept.append(torch.nn.functional.pad(room, (0, 8_000 - len(room))))
        return torch.stack(kept)

    def pieces(self, name, count, samples, chance, least_quiet=0):
        """Pieces (count, samples): of a longer clip any part, a shorter one anywhere in silence."""
        which = chance.whole(0, len(self.lengths[name]), count)
        begins, lengths = self.begins[name][which], self.lengths[name][which]
        room = (lengths - samples).float()
        least = torch.where(room > 0, torch.zeros_like(room), torch.full_like(room, float(least_quiet)))
        # Negative: so much silence before the clip.
        start = torch.where(room > 0, chance.uniform(0, 1, count) * room,
                            -(least + chance.uniform(0, 1, count) * (-room - least).clamp_min(0))).long()
        place = start[:, None] + torch.arange(samples, device=start.device)
        there = (place >= 0) & (place < lengths[:, None])
        place = begins[:, None] + place.clamp_min(0).minimum(lengths[:, None] - 1)
        edge = torch.minimum(place - begins[:, None], begins[:, None] + lengths[:, None] - 1 - place).clamp(0, 160) / 160
        edge = torch.where((room > 0)[:, None], torch.ones_like(edge), edge)
        return self.sound[name][place] * there * edge


def clean(material, count, chance, mix, others=0.0):
    """Clean sound as the teacher hears it, at several speeds, a share of it in voices that are nobody's; what no group has,
    the others share."""
    mix = {name: share for name, share in mix.items() if name in material.lengths or name in ("slow", "nothing")}
    whole = sum(mix.values())
    sizes = [int(count * share / whole) for share in mix.values()]
    sizes[0] += count - sum(sizes)
    parts = []
    for name, size in zip(mix, sizes):
        fast = chance.one((0.875, 0.9375, 1.0, 1.0, 1.0, 1.0667, 1.125, 1.1875))
        samples = int(SAMPLES * fast) // 2 * 2
        if name == "slow":
            # Words one by one with quiet between, as somebody who learns to read says them.
            half = samples // 2
            said = [name for name in ("words", "voices", "kokoro") if name in material.lengths]
            sound = torch.cat([material.pieces(chance.one(said), size, half, chance, 1600) for _ in "ab"], 1)
        elif name == "nothing":
            sound = torch.zeros(size, samples, device=chance.device)
        else:
            sound = material.pieces(name, size, samples, chance, 3200)
        sound = sound / spoil.level(sound).clamp_min(1e-4) * LEVEL
        sound = spoil.resampled(sound, fast)[:, :SAMPLES]
        parts.append(torch.nn.functional.pad(sound, (0, SAMPLES - sound.shape[1])))
    sound = torch.cat(parts)
    moved = torch.randperm(count, generator=chance.source, device=chance.device)[: int(count * others)]
    for part in moved.chunk(6) if len(moved) else ():
        sound[part] = spoil.moved(sound[part], chance.one((0.84, 0.9, 0.95, 1.06, 1.12, 1.2)))
        hz = torch.linspace(0, RATE / 2, 129, device=chance.device)
        tilt = chance.uniform(-2.5, 2.5, len(part), 1) * torch.log2((hz + 100) / 1100)
        sound[part] = spoil.filtered(sound[part], 10 ** (tilt / 20))
    return sound + chance.normal(*sound.shape) * 10 ** (chance.uniform(-80, -68, len(sound), 1) / 20)


def voiced(sound, chance, arguments):
    """The same said by a child, whispered, or out of breath."""
    count = len(sound)
    sound = sound.clone()
    order = torch.randperm(count, generator=chance.source, device=sound.device)
    children = order[: int(count * arguments.children)]
    for part in children.chunk(4):
        if len(part):
            sound[part] = spoil.moved(sound[part], chance.one((0.88, 1.12, 1.2, 1.3, 1.4)))
    breathy = order[len(children) : len(children) + int(count * arguments.whisper)]
    if len(breathy):
        breath = torch.where(chance.happens(0.7, len(breathy)), torch.ones(1, device=sound.device),
                             chance.uniform(0.3, 0.9, len(breathy)))
        sound[breathy] = spoil.whispered(sound[breathy], chance, breath[:, None, None])
    return sound


def around(material, count, chance):
    """Noise of a kind for each, of the same power: talkers, sounds, steady noise, or all of them; and (batch) for which of
    them it is one or two talkers."""
    def talk(size, talkers):
        said = [name for name in ("readers", "readers", "voices", "words", "kokoro") if name in material.lengths]
        parts = [material.pieces(chance.one(said), size, SAMPLES, chance) for _ in range(talkers)]
        parts = [part / part.square().mean(1, keepdim=True).sqrt().clamp_min(1e-5) for part in parts]
        return sum(part * 10 ** (chance.uniform(-6, 0, size, 1) / 20) for part in parts)

    def even(sound):
        return sound / sound.square().mean(1, keepdim=True).sqrt().clamp_min(1e-6)

    size = count // 9 + 1
    sounds = material.pieces("noises", 2 * size, SAMPLES, chance)
    kinds = [talk(size, chance.one((1, 2))), talk(size, chance.one((4, 6))), talk(2 * size, chance.one((10, 14, 20))), sounds,
             spoil.coloured(chance, 2 * size, SAMPLES),
             even(talk(size, 6)) + even(spoil.coloured(chance, size, SAMPLES)) * chance.uniform(0, 1, size, 1)]
    noise = torch.cat([even(kind) for kind in kinds])
    order = torch.randperm(len(noise), generator=chance.source, device=noise.device)[:count]
    return noise[order], order < size


def spoilt(sound, material, chance, arguments):
    """As a microphone gets it, and which (batch) of them stayed as they were but for how loud they are.

    So many, `arguments.plain`, must stay: they keep the student to what its teacher knows of quiet.
    """
    count, plain, as_was = len(sound), chance.happens(arguments.plain, len(sound)), sound
    original = torch.full((count, 1), LEVEL, device=sound.device)
    sound = voiced(sound, chance, arguments)
    mask = lambda share: chance.happens(share, count)[:, None]
    sound = sound * torch.where(mask(0.2), 10 ** (chance.uniform(-20, -5, count, 1) / 20), torch.ones(1, device=sound.device))
    sound = torch.where(mask(0.35), spoil.in_rooms(sound, material.rooms, chance), sound)
    noise, few = around(material, count, chance)
    noise = torch.where(mask(0.2), spoil.in_rooms(noise, material.rooms, chance), noise)
    speech = torch.maximum(spoil.level(sound), original * 0.1)
    below = chance.uniform(arguments.snr[0], arguments.snr[1], count, 1)
    # What one or two others say is as good as what is said, unless it is softer: it is not taught to be nothing.
    below = torch.where(few[:, None], below.clamp_min(arguments.few), below)
    alone = few[:, None] & (spoil.level(as_was) < 0.1 * LEVEL)
    noise = noise * speech * 10 ** (-below / 20)
    floor = chance.normal(*sound.shape) * speech * 10 ** (-chance.uniform(15, 50, count, 1) / 20)
    sound = sound + torch.where(mask(0.85) & ~alone, noise, torch.zeros(1, device=sound.device)) + floor
    sound = torch.where(mask(0.5), spoil.filtered(sound, spoil.bands(chance, count)), sound)
    sound = torch.where(mask(0.06), spoil.overdriven(sound, chance), sound)
    sound = torch.where(mask(0.05), spoil.coarse(sound, chance), sound)
    sound = torch.where(plain[:, None], as_was, sound)
    loud = 10 ** (chance.uniform(-38, -14, count, 1) / 20)
    return sound / spoil.level(sound) * loud, plain


class Student:
    """The network in torch, and the sounds' features as the recogniser sees them."""

    def __init__(self, folder, device):
        self.model = nnet.Model(folder / "am/final.mdl")
        tensor = lambda x: torch.tensor(np.asarray(x), device=device)
        self.pinned = {name: tensor(self.model.values[name].copy()) for name in self.model.trained()}
        self.model.norms = {name: tuple(map(tensor, norm)) for name, norm in self.model.norms.items()}
        self.tables = tuple(map(tensor, features.mfcc_tables()))
        self.extractor = features.Extractor(folder / "ivector")
        self.extractor.arrays = {name: tensor(x) for name, x in self.extractor.arrays.items()}
        self.extractor.arrays["eye"] = torch.eye(30, device=device)
        frames = 1 + (SAMPLES - features.WINDOW) // features.SHIFT
        context = torch.arange(-nnet.LEFT, frames + nnet.RIGHT, device=device)
        self.context = context.clamp(0, frames - 1)
        self.read_with = (context - SHIFT).clamp(0, frames - 1)

    def features(self, sound, chance):
        """MFCC of sound, with the dither that Kaldi adds."""
        torch.backends.cuda.matmul.allow_tf32 = False
        return features.mfcc((sound * 32768).round().clamp(-32768, 32767) + chance.normal(*sound.shape), self.tables, torch)

    def ivectors(self, mfcc, speech):
        return self.extractor.as_decoded(mfcc, speech, torch)

    def answers(self, values, mfcc, ivectors):
        torch.backends.cuda.matmul.allow_tf32 = True
        return nnet.forward(self.model, values, mfcc[:, self.context], ivectors[:, self.read_with], torch)

    def speech(self, sound):
        """Of each frame of clean sound whether somebody speaks: 30 dB below its loud parts nobody does."""
        power = sound.unfold(1, features.WINDOW, features.SHIFT).square().mean(-1)
        return (power > (LEVEL * 10 ** (-30 / 20)) ** 2).float()


def loss_of(teacher, answers, speech, arguments):
    """Kullback-Leibler distance of the answers, and squared distance of the raw ones, silence at a weight of its own."""
    target = teacher.log_softmax(-1)
    weight = arguments.silence + (1 - arguments.silence) * speech[:, :: nnet.STRIDE]
    apart = (target.exp() * (target - answers.log_softmax(-1))).sum(-1)
    centred = lambda x: x - x.mean(-1, keepdim=True)
    raw = (centred(teacher) - centred(answers)).square().mean(-1)
    return (weight * (apart + arguments.raw * raw)).sum() / weight.sum()


def batch_of(student, material, chance, arguments):
    with torch.no_grad():
        sound = clean(material, arguments.batch, chance, arguments.mix, arguments.others)
        mfcc = student.features(sound, chance)
        speech = student.speech(sound)
        teacher = student.answers(student.pinned, mfcc, student.ivectors(mfcc, speech))
        for rate in arguments.views:
            # What the teacher makes of the same words by a shorter and by a longer vocal tract.
            moved = student.features(spoil.moved(sound, rate), chance)
            teacher = teacher + 0.5 * student.answers(student.pinned, moved, student.ivectors(moved, speech))
        teacher = teacher / (1 + 0.5 * len(arguments.views))
        changed, plain = spoilt(sound, material, chance, arguments)
        other = student.features(changed, chance)
        ivectors = student.ivectors(other, speech)
        ivectors = ivectors * (plain | ~chance.happens(0.15, len(sound)))[:, None, None]
    return teacher, other, ivectors, speech


def train(arguments, student, material, others=None, report=print):
    device = arguments.device
    chance = Chance(arguments.seed, device)
    values = {name: x.clone() for name, x in student.pinned.items()}
    if arguments.begin:
        for name, change in np.load(arguments.begin).items():
            values[name] += torch.tensor(change.astype("f4"), device=device)
    # The mean of the weights over the last steps is better than any of them.
    means = {name: x.clone() for name, x in values.items()}
    values = {name: x.requires_grad_() for name, x in values.items()}
    scale = {name: float(x.square().mean().sqrt()) for name, x in student.pinned.items()}
    optimiser = torch.optim.Adam(values.values(), lr=1, betas=(0.9, 0.98))
    steps, began, losses = arguments.steps, time.time(), []
    for step in range(steps):
        part = step / steps
        if arguments.seconds:
            # As long as there is time: the number of steps follows from what the machine does in it.
            part = (time.time() - began) / arguments.seconds
            if part >= 1:
                break
        rate = arguments.rate * min(1, (step + 1) / 100) * 0.5 * (1 + np.cos(np.pi * part))
        for group in optimiser.param_groups:
            group["lr"] = rate
        teacher, other, ivectors, speech = batch_of(student, material, chance, arguments)
        answers = student.answers(values, other, ivectors)
        loss = loss_of(teacher, answers, speech, arguments)
        pull = nnet.distance(values, student.pinned, scale)
        optimiser.zero_grad()
        (loss + arguments.pull * pull).backward()
        torch.nn.utils.clip_grad_norm_(list(values.values()), 5.0)
        optimiser.step()
        with torch.no_grad():
            for name, x in values.items():
                means[name].lerp_(x, 1 - min(arguments.mean, step / (step + 10)))
        losses.append(loss.detach())
        if step % max(1, arguments.every) == 0:
            mean = float(torch.stack(losses[-arguments.every :]).mean())
            keep(arguments.out, changes(means, student.pinned))
            report(f"seed {arguments.seed} step {step} loss {mean:.4f} pull {float(pull):.5f} {time.time() - began:.0f} s"
                   + "".join(f" {name} {value:.4f}" for name, value in unheard_losses(arguments, student, means, others)), flush=True)
    return changes(means, student.pinned)


def unheard_losses(arguments, student, values, others):
    """Losses on people who do not train, always with the same chance: clean, in little noise and in much."""
    for name, plain, snr in () if others is None else (("plain", 1.0, (0, 25)), ("little", 0.0, (10, 25)), ("much", 0.0, (0, 10))):
        how = argparse.Namespace(**{**vars(arguments), "plain": plain, "snr": snr, "views": (), "others": 0.0})
        with torch.no_grad():
            teacher, other, ivectors, speech = batch_of(student, others, Chance(77, arguments.device), how)
            yield name, float(loss_of(teacher, student.answers(values, other, ivectors), speech, how))


def changes(values, pinned):
    return {name: (values[name] - pinned[name]).detach().cpu().numpy() for name in values}


def keep(out, differences):
    """Writes what was learnt so far: a run that is cut off leaves its last weights."""
    np.savez(out, **{name: change.astype("f2") for name, change in differences.items()})


def options(given=None):
    parser = argparse.ArgumentParser()
    for name in ("model", "material", "out"):
        parser.add_argument(name, type=Path)
    for name, kind, default in (("steps", int, 6000), ("batch", int, 256), ("seed", int, 1), ("seconds", float, 0.0),
                                ("rate", float, 5e-4), ("pull", float, 0.3), ("raw", float, 0.5), ("every", int, 100),
                                ("children", float, 0.06), ("whisper", float, 0.1),
                                ("plain", float, 0.15), ("few", float, 8.0), ("others", float, 0.5),
                                ("silence", float, 0.5), ("mean", float, 0.998)):
        parser.add_argument("--" + name, type=kind, default=default)
    parser.add_argument("--besides", type=Path, nargs="*", default=(), help="more folders of material")
    parser.add_argument("--unheard", type=Path, nargs="*", default=(), help="folders of material with which it is only tried")
    parser.add_argument("--begin", type=Path, help="differences to go on from")
    parser.add_argument("--views", type=float, nargs="*", default=(), help="vocal tracts that the teacher hears besides")
    parser.add_argument("--snr", type=float, nargs=2, default=(0.0, 20.0))
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    arguments = parser.parse_args(given)
    arguments.mix = {"words": 0.40, "readers": 0.28, "kokoro": 0.20, "voices": 0.10, "slow": 0.08, "nothing": 0.07}
    return arguments


def main():
    arguments = options()
    torch.manual_seed(arguments.seed)
    student = Student(arguments.model, arguments.device)
    material = Material([arguments.material, *arguments.besides], arguments.device)
    others = Material(arguments.unheard, arguments.device).borrow(material) if arguments.unheard else None
    keep(arguments.out, train(arguments, student, material, others))


if __name__ == "__main__":
    main()
