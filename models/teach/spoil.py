"""What happens to speech on its way to a microphone, for a whole batch on a GPU. All chance comes from one generator.

Every function takes and gives sound (batch, samples), full scale at 1, and keeps each moment where it was, so that
what the teacher heard in the clean sound stays true of the corrupted one.
"""

import math

import torch

RATE = 16_000


class Chance:
    """A seeded source of chance on a device."""

    def __init__(self, seed, device):
        self.device = device
        self.source = torch.Generator(device).manual_seed(seed)
        self.here = torch.Generator("cpu").manual_seed(seed)

    def uniform(self, low, high, *shape):
        return low + (high - low) * torch.rand(shape, generator=self.source, device=self.device)

    def normal(self, *shape):
        return torch.randn(shape, generator=self.source, device=self.device)

    def whole(self, low, high, *shape):
        return torch.randint(low, high, shape, generator=self.source, device=self.device)

    def happens(self, share, count):
        return torch.rand(count, generator=self.source, device=self.device) < share

    def one(self, choices):
        return choices[int(torch.randint(len(choices), (1,), generator=self.here))]


def level(sound):
    """Root mean square of the parts within 20 dB of the loudest (batch, 1)."""
    power = sound.unfold(1, 320, 160).square().mean(-1)
    loud = (power >= power.amax(1, keepdim=True) * 0.01).float()
    return ((power * loud).sum(1, keepdim=True) / loud.sum(1, keepdim=True)).clamp_min(1e-12).sqrt()


def resampled(sound, rate):
    """The sound so much faster, and higher; its length changes."""
    length = sound.shape[1]
    wanted = int(round(length / rate))
    spectrum = torch.fft.rfft(sound)
    bins = wanted // 2 + 1
    if bins <= spectrum.shape[1]:
        spectrum = spectrum[:, :bins]
    else:
        spectrum = torch.nn.functional.pad(spectrum, (0, bins - spectrum.shape[1]))
    return torch.fft.irfft(spectrum, wanted) * (wanted / length)


def moved(sound, rate):
    """Formants and pitch `rate` times as high, every moment where it was: a child, or a deeper voice."""
    size, hop = 512, 128
    window = torch.hann_window(size, device=sound.device)
    short = torch.stft(resampled(sound, rate), size, hop, window=window, return_complex=True)
    steps = torch.arange(0, short.shape[2] - 1, 1 / rate, device=sound.device)
    before = steps.long().clamp_max(short.shape[2] - 2)
    part = steps - before
    height = short.abs()
    height = height[:, :, before] * (1 - part) + height[:, :, before + 1] * part
    turn = torch.linspace(0, math.pi * hop, size // 2 + 1, device=sound.device)[None, :, None]
    angle = short.angle()
    step = angle[:, :, before + 1] - angle[:, :, before] - turn
    step = step - 2 * math.pi * torch.round(step / (2 * math.pi)) + turn
    phase = torch.cumsum(torch.cat([angle[:, :, :1], step[:, :, :-1]], 2), 2)
    return torch.istft(torch.polar(height, phase), size, hop, window=window, length=sound.shape[1])


def whispered(sound, chance, breath):
    """The vocal tract excited by noise: the spectrum's envelope with chance in place of the voice.

    `breath` (batch, 1, 1): 1 whispers, less leaves so much of the voice: out of breath.
    """
    size, hop = 512, 128
    window = torch.hann_window(size, device=sound.device)
    short = torch.stft(sound, size, hop, window=window, return_complex=True)
    cepstrum = torch.fft.irfft(torch.log(short.abs() + 1e-5), dim=1)
    kept = torch.zeros(size, device=sound.device)
    kept[:36] = 1
    kept[-35:] = 1
    envelope = torch.exp(torch.fft.rfft(cepstrum * kept[None, :, None], dim=1).real)
    # A whisper lacks the weight of the voice below 1.5 kHz.
    hz = torch.linspace(0, RATE / 2, size // 2 + 1, device=sound.device)
    lift = 10 ** ((6 * torch.log2((hz + 150) / 1650).clamp(-2.5, 0)) / 20)
    noise = torch.complex(chance.normal(*envelope.shape), chance.normal(*envelope.shape)) / 2**0.5
    mixed = breath * envelope * lift[None, :, None] * noise + (1 - breath) * short
    return torch.istft(mixed, size, hop, window=window, length=sound.shape[1])


def filtered(sound, gains):
    """Sound through a filter given by its gain at every frequency (batch, bins)."""
    length = sound.shape[1]
    spectrum = torch.fft.rfft(sound)
    gains = torch.nn.functional.interpolate(gains[:, None], spectrum.shape[1], mode="linear", align_corners=True)[:, 0]
    return torch.fft.irfft(spectrum * gains, length)


def bands(chance, count):
    """Gains of microphones: tilted, without lows, without highs (telephone, headset), or as they are."""
    hz = torch.linspace(0, RATE / 2, 129, device=chance.device)[None]
    tilt = torch.where(chance.happens(0.4, count)[:, None], chance.uniform(-4, 4, count, 1), torch.zeros(1, device=chance.device))
    gains = tilt * torch.log2((hz + 100) / 1100)
    low = torch.where(chance.happens(0.2, count)[:, None], chance.uniform(100, 400, count, 1), torch.zeros(1, device=chance.device))
    high = torch.where(chance.happens(0.22, count)[:, None], chance.uniform(3200, 4200, count, 1),
                       torch.full((1,), 9e3, device=chance.device))
    gains = gains - 48 * torch.log2((low + 1) / (hz + 1)).clamp(0, 1) - 300 * torch.log2((hz + 1) / high).clamp(0, 0.25)
    return 10 ** (gains / 20)


def in_rooms(sound, measured, chance):
    """Echo of measured rooms and of invented ones; the direct sound stays where it was."""
    count, length = sound.shape
    size = 8_000
    time = torch.arange(size, device=sound.device) / RATE
    decay = chance.uniform(0.15, 0.7, count, 1)
    made = chance.normal(count, size) * torch.exp(-6.9 * time / decay)
    made[:, :40] = 0
    made = made / made.square().sum(1, keepdim=True).sqrt() * 10 ** (chance.uniform(-12, 3, count, 1) / 20)
    made[:, 0] = 1
    if len(measured):
        real = measured[chance.whole(0, len(measured), count)]
        made = torch.where(chance.happens(0.4, count)[:, None], real[:, :size], made)
    whole = 1 << (length + size - 1).bit_length()
    return torch.fft.irfft(torch.fft.rfft(sound, whole) * torch.fft.rfft(made, whole), whole)[:, :length]


def coloured(chance, count, length):
    """Steady noise of any colour, at times with a hum: fans, rain, motors."""
    bins = length // 2 + 1
    place = torch.arange(bins, device=chance.device)[None] * (RATE / length)
    slope = chance.uniform(-1.0, 0.3, count, 1)
    edge = chance.uniform(200, 8000, count, 1)
    gains = ((place + 60) / 1000) ** slope / (1 + (place / edge) ** 4 * (chance.happens(0.4, count)[:, None]).float())
    noise = torch.fft.irfft(torch.fft.rfft(chance.normal(count, length)) * gains, length)
    noise = noise / noise.square().mean(1, keepdim=True).sqrt()
    time = torch.arange(length, device=chance.device)[None] / RATE
    hum = sum(torch.sin(2 * math.pi * k * chance.uniform(50, 240, count, 1) * time + chance.uniform(0, 6, count, 1)) / k
              for k in (1, 2, 3))
    return noise + hum * chance.uniform(0, 1.5, count, 1) * chance.happens(0.3, count)[:, None].float()


def overdriven(sound, chance):
    """Too loud for its microphone."""
    peak = sound.abs().amax(1, keepdim=True).clamp_min(1e-6)
    ceiling = peak * chance.uniform(0.12, 0.7, len(sound), 1)
    return torch.maximum(torch.minimum(sound, ceiling), -ceiling)


def coarse(sound, chance):
    """As an 8-bit telephone codec leaves it (µ-law, ITU-T G.711's curve)."""
    peak = sound.abs().amax(1, keepdim=True).clamp_min(1e-6)
    curve = torch.sign(sound) * torch.log1p(255 * (sound / peak).abs()) / math.log(256)
    curve = torch.round(curve * 127) / 127
    return torch.sign(curve) * (torch.exp(curve.abs() * math.log(256)) - 1) / 255 * peak
