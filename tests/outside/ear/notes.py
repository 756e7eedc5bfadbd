"""The net that tells which notes a stroke or slur begins, from the spectrum before it and after it.

    notes.py takes VOICES FOLDER FIRST COUNT     writes FOLDER/NUMBER.npz: what is learnt from
    notes.py train FOLDER WEIGHTS.pt MINUTES     learns
    notes.py weights WEIGHTS.pt WEIGHTS.bin      as the program reads them

Each note is looked at by the same weights: at its partials and at the octave and twelfth below it, before and after
(harmonic stacking: Bittner, McFee, Salamon, Li and Bello, "Deep salience representations for f0 estimation in
polyphonic music", ISMIR 2017); then at what was found for the notes that share partials with it.
"""
import pathlib
import sys
import time

import numpy as np
import torch
from torch import nn

RATE = 16_000
# Seconds: from the end of what is before to the stroke, from the stroke to what is after.
MARGIN, NOISE = 0.003, 0.004
# Samples before; after; after, longer: as many as there are from the last that began, or to the next. All are
# transformed with silence after them.
WINDOWS = (1024, 1024, 2304)
LEAST, STEP = 512, 128
SIZE = 4096
# Three bands a semitone from two octaves below the lowest partial of interest.
LOWEST, BANDS, OCTAVE = 65.406 * 2 ** (-16 / 12), 292, 36
# The notes that are told: E2, a guitar's lowest, to E6.
LOW, HIGH = 40, 88
SCALE = 200.0
STEPS = 32

# Partials in bands from the fundamental; 0.5 and 1/3 are the notes that it may be a partial of.
PARTIALS = [round(OCTAVE * np.log2(ratio)) for ratio in (1 / 3, 1 / 2, 1, 2, 3, 4, 5, 6, 7, 8)]
BESIDE = (-1, 0, 1)
# The band of the fundamental of the lowest note that is told.
FIRST = round(OCTAVE * np.log2(440 * 2 ** ((LOW - 69) / 12) / LOWEST))
OTHERS = (-24, -19, -16, -12, -7, -5, -4, -3, -1, 0, 1, 3, 4, 5, 7, 12, 16, 19, 24)
WIDE, NARROW, LAST = 28, 8, 16


def line_of_bands(cents=0.0):
    return LOWEST * 2 ** (np.arange(BANDS) / OCTAVE + cents / 1200) * SIZE / RATE


def bands(spectrum, cents=0.0):
    """The spectrum by pitch: between its lines where they are far apart, the highest of them where they are close."""
    places = line_of_bands(cents)
    half = 2 ** (0.5 / OCTAVE)
    whole = np.floor(places).astype(int)
    part = places - whole
    last = len(spectrum) - 1
    value = spectrum[np.minimum(whole, last)] * (1 - part) + spectrum[np.minimum(whole + 1, last)] * part
    for n in np.flatnonzero(places * (half - 1 / half) > 1):
        low, high = int(np.ceil(places[n] / half)), int(np.floor(places[n] * half))
        if low <= high and low <= last:
            value[n] = max(value[n], spectrum[low:min(high, last) + 1].max())
    value[places > last] = 0
    return value


def stretch(sound, start, length):
    """The magnitudes of a stretch; what lies outside is silence."""
    piece = np.zeros(length, "float32")
    low, high = max(start, 0), min(start + length, len(sound))
    if high > low:
        piece[low - start:high - start] = sound[low:high]
    window = (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length)).astype("float32")
    return np.abs(np.fft.rfft(piece * (window * 2 / window.sum()), SIZE)).astype("float32")


def fitting(most, room):
    """The longest window that there is room for: a multiple of STEP samples."""
    return int(min(max(room // STEP * STEP, LEAST), most))


def heard(sound, last, at, next_, cents=0.0):
    """3 x BANDS in steps of 1/STEPS: before, after, after for longer, over the loudest line after. `last` and `next_`:
    seconds at which what is beside it began."""
    last, at, next_ = (int(round(time * RATE)) for time in (last, at, next_))
    margin, noise = int(MARGIN * RATE), int(NOISE * RATE)
    before = fitting(WINDOWS[0], at - margin - last - noise)
    short, long = (fitting(window, next_ - margin - at - noise) for window in WINDOWS[1:])
    spectra = [stretch(sound, at - margin - before, before), stretch(sound, at + noise, short), stretch(sound, at + noise, long)]
    most = max(spectra[1].max(), 1e-9)
    whole = np.stack([np.log1p(bands(spectrum, cents) * (SCALE / most)) for spectrum in spectra])
    return np.clip(np.round(whole * STEPS), 0, 255).astype("uint8")


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        inputs = 3 * len(PARTIALS) * len(BESIDE)
        self.partials = nn.Linear(inputs, WIDE)
        self.place = nn.Parameter(torch.zeros(HIGH - LOW + 1, WIDE))
        self.narrow = nn.Linear(WIDE, NARROW)
        self.others = nn.Linear(NARROW * len(OTHERS) + WIDE, LAST)
        self.told = nn.Linear(LAST, 1)
        places = FIRST + 3 * np.arange(HIGH - LOW + 1)[:, None, None] + np.array(PARTIALS)[None, :, None] + np.array(BESIDE)[None, None]
        assert places.min() >= 0, places.min()
        # Beyond the highest band there is nothing: one more band of zeros.
        self.places = torch.from_numpy(np.minimum(places, BANDS).reshape(HIGH - LOW + 1, -1))

    def forward(self, heard):
        """From strokes x 3 x BANDS, as bytes, to strokes x notes: the logarithm of how much likelier than not."""
        x = torch.nn.functional.pad(heard.float() / (2 * STEPS), (0, 1))
        # Strokes x notes x (spectrum, partial, beside).
        x = x[:, :, self.places].permute(0, 2, 1, 3).flatten(2)
        x = torch.relu(self.partials(x) + self.place)
        y = torch.relu(self.narrow(x))
        reach = max(OTHERS)
        padded = torch.nn.functional.pad(y, (0, 0, reach, reach))
        notes = y.shape[1]
        y = torch.cat([padded[:, reach + other:reach + other + notes] for other in OTHERS] + [x], 2)
        return self.told(torch.relu(self.others(y)))[:, :, 0]


def takes(voices, folder, first, count):
    from takes import TOGETHER, Stage
    stage, folder = Stage(voices), pathlib.Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(int(first), int(first) + int(count)):
        spectra, notes = [], []
        for n in range(TOGETHER):
            sound, truth, chance = stage.take([seed, n, 5])
            begun = sorted(list(truth.strokes) + [(at, {pitch}) for at, pitch, kind in truth.slurs], key=lambda one: one[0])
            # As far off as a beginning is found.
            times = [0.0, *(at + chance.normal(0, 0.002) for at, _ in begun), len(sound) / RATE]
            for (_, pitches), last, at, next_ in zip(begun, times, times[1:], times[2:]):
                told = np.zeros(HIGH - LOW + 1, "uint8")
                for pitch in pitches:
                    if LOW <= pitch <= HIGH:
                        told[pitch - LOW] = 1
                spectra.append(heard(sound, last, at, next_))
                notes.append(told)
        np.savez(folder / f"{seed:05}.npz", heard=np.stack(spectra), notes=np.stack(notes))


def judge(net, heard, notes, least=0.5):
    with torch.no_grad():
        likely = torch.sigmoid(torch.cat([net(part) for part in heard.split(512)])).numpy()
    told, notes = likely > least, notes.numpy().astype(bool)
    one = notes.sum(1) == 1
    any_ = told.any(1)
    right = any_ & ~(told & ~notes).any(1)
    same = (told == notes).all(1)
    best = notes[np.arange(len(notes)), likely.argmax(1)]
    hit, wrong, missed = (told & notes).sum(), (told & ~notes).sum(), (~told & notes).sum()
    return (f"told {any_.mean():.3f} right {right.sum() / any_.sum():.3f} all the same {same.mean():.3f} one: told {any_[one].mean():.3f} "
            f"right {right[one].sum() / any_[one].sum():.3f} best right {best.mean():.3f} F {2 * hit / (2 * hit + wrong + missed):.3f}")


def train(folder, weights, minutes):
    torch.set_num_threads(1)
    torch.manual_seed(1)
    files = [np.load(path) for path in sorted(pathlib.Path(folder).glob("*.npz"))]
    heard, notes = (torch.from_numpy(np.concatenate([file[name] for file in files])) for name in ("heard", "notes"))
    judged = len(files[0]["heard"]) + len(files[1]["heard"])
    net, begun, said, step = Net(), time.time(), time.time(), 0
    optimizer = torch.optim.AdamW(net.parameters(), 3e-3, weight_decay=1e-4)
    print(sum(weight.numel() for weight in net.parameters()), "weights", len(heard), "strokes")
    while True:
        gone = (time.time() - begun) / (60 * float(minutes))
        if gone >= 1:
            break
        for group in optimizer.param_groups:
            group["lr"] = 3e-3 * min(1, gone / 0.02 + 0.05) * 0.5 * (1 + np.cos(np.pi * gone))
        some = torch.randint(judged, len(heard), (128,))
        x, target = heard[some], notes[some].float()
        told = net(x)
        error = nn.functional.binary_cross_entropy_with_logits(told, target, reduction="none").sum(1).mean()
        optimizer.zero_grad()
        error.backward()
        optimizer.step()
        step += 1
        if time.time() - said > 60:
            said = time.time()
            print(f"{gone:4.0%} {step} {error.item():.3f} | {judge(net, heard[:judged], notes[:judged])}", flush=True)
            torch.save(net.state_dict(), weights)
    torch.save(net.state_dict(), weights)
    print(judge(net, heard[:judged], notes[:judged]))


def write(weights, path):
    state = {name: tensor.numpy() for name, tensor in torch.load(weights).items()}
    with open(path, "wb") as file:
        for name in ("partials.weight", "partials.bias", "place", "narrow.weight", "narrow.bias", "others.weight", "others.bias",
                     "told.weight", "told.bias"):
            part = state[name]
            # From out x in to in x out.
            file.write(np.ascontiguousarray(part.T if name.endswith("weight") else part, "<f4").tobytes())


if __name__ == "__main__":
    {"takes": takes, "train": train, "weights": write}[sys.argv[1]](*sys.argv[2:])
