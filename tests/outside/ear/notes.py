"""The net that tells which notes a stroke or slur begins, from the spectra before it and after it.

    notes.py train TAKES WEIGHTS.pt MINUTES      learns from takes as they come; minutes are those of the processor
    notes.py weights WEIGHTS.pt WEIGHTS.bin      as the program reads them; or back, from .bin to .pt

Each note is looked at by the same weights: at its partials and at the octave and twelfth below it, before and after
(harmonic stacking: Bittner, McFee, Salamon, Li and Bello, "Deep salience representations for f0 estimation in
polyphonic music", ISMIR 2017); then twice at what was found for the notes that share partials with it.
"""
import pathlib
import sys
import time

import numpy as np
import torch
from torch import nn

import packed
from takes import RATE, saved

# Seconds: from the end of what is before to the stroke, from the stroke to what is after.
MARGIN, NOISE = 0.003, 0.004
# Samples before; before, longer; after; after, longer; after, longest. The first, third and fourth are as many as there
# are from the last that began, or to the next; the others go on over these: in them is seen what rings on. All are
# transformed with silence after them.
WINDOWS = (1024, 2304, 1024, 2304, 4096)
LEAST, STEP = 512, 128
SIZE = 4096
# Three bands a semitone from two octaves below the lowest partial of interest.
LOWEST, BANDS, OCTAVE = 65.406 * 2 ** (-16 / 12), 292, 36
# The notes that are told: E2, a guitar's lowest, to E6.
LOW, HIGH = 40, 88
NOTES = HIGH - LOW + 1
SCALE = 200.0
STEPS = 32

# Partials in bands from the fundamental; below 1 are the notes that it may be a partial of.
PARTIALS = [round(OCTAVE * np.log2(ratio)) for ratio in (1 / 3, 1 / 2, 1, 3 / 2, 2, 3, 4, 5, 6, 7, 8, 10)]
BESIDE = (-1, 0, 1)
# The band of the fundamental of the lowest note that is told.
FIRST = round(OCTAVE * np.log2(440 * 2 ** ((LOW - 69) / 12) / LOWEST))
OTHERS = (-24, -19, -16, -12, -7, -5, -4, -3, -1, 0, 1, 3, 4, 5, 7, 12, 16, 19, 24)
WIDE, NARROW, NARROWER, LAST = 32, 12, 8, 16
# Strokes that are learnt from at once; files that are judged by: the first.
BATCH, RATE_LEARNT, JUDGED = 128, 3e-3, 3


class Bands:
    """Spectra by pitch: between their lines where those are far apart, the highest of them where they are close."""

    def __init__(self, cents=0.0):
        places = LOWEST * 2 ** (np.arange(BANDS) / OCTAVE + cents / 1200) * SIZE / RATE
        last = SIZE // 2
        self.inside = int(np.sum(places <= last))
        places = places[:self.inside]
        half = 2 ** (0.5 / OCTAVE)
        self.whole = np.floor(places).astype(int)
        self.part = (places - self.whole).astype("float32")
        low, high = np.ceil(places / half).astype(int), np.minimum(np.floor(places * half).astype(int), last)
        self.wide = np.flatnonzero((places * (half - 1 / half) > 1) & (low <= high))
        self.spans = np.stack([low[self.wide], high[self.wide] + 1], 1).ravel()

    def of(self, spectra):
        """From rows x lines to rows x BANDS."""
        spectra = np.pad(spectra, ((0, 0), (0, 2)))
        value = np.zeros((len(spectra), BANDS), "float32")
        value[:, :self.inside] = spectra[:, self.whole] * (1 - self.part) + spectra[:, self.whole + 1] * self.part
        most = np.maximum.reduceat(spectra, self.spans, axis=1)[:, ::2]
        value[:, self.wide] = np.maximum(value[:, self.wide], most)
        return value


def hann(length):
    window = (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length)).astype("float32")
    return window * (2 / window.sum())


HANNS = {length: hann(length) for length in range(LEAST, max(WINDOWS) + 1, STEP)}


def fitting(most, room):
    """The longest window that there is room for: a multiple of STEP samples."""
    return int(min(max(room // STEP * STEP, LEAST), most))


def heard(sound, times, bands=Bands()):
    """For all that began but the first and last time, which are where the sound begins and ends: WINDOWS x BANDS in steps of
    1/STEPS, over the loudest line after; and how long the windows before and after are, shortest 0, longest 1."""
    places = [int(round(at * RATE)) for at in times]
    margin, noise = int(MARGIN * RATE), int(NOISE * RATE)
    reach = max(WINDOWS) + SIZE
    sound = np.pad(sound, reach).astype("float32")
    count = len(places) - 2
    pieces, rooms = np.zeros((count, len(WINDOWS), SIZE), "float32"), np.zeros((count, 3), "float32")
    for n, (last, at, next_) in enumerate(zip(places, places[1:], places[2:])):
        before, after = at - margin - last - noise, next_ - margin - at - noise
        lengths = [fitting(WINDOWS[0], before), WINDOWS[1], fitting(WINDOWS[2], after), fitting(WINDOWS[3], after), WINDOWS[4]]
        rooms[n] = [(lengths[which] - LEAST) / (WINDOWS[which] - LEAST) for which in (0, 2, 3)]
        for which, length in enumerate(lengths):
            start = reach + (at - margin - length if which < 2 else at + noise)
            pieces[n, which, :length] = sound[start:start + length] * HANNS[length]
    spectra = np.abs(np.fft.rfft(pieces, axis=2)).astype("float32")
    most = np.maximum(spectra[:, 2].max(1), 1e-9)[:, None, None]
    whole = bands.of(spectra.reshape(-1, SIZE // 2 + 1)).reshape(count, len(WINDOWS), BANDS)
    return np.clip(np.round(np.log1p(whole * (SCALE / most)) * STEPS), 0, 255).astype("uint8"), rooms


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        self.partials = nn.Linear(len(WINDOWS) * len(PARTIALS) * len(BESIDE) + 3, WIDE)
        self.place = nn.Parameter(torch.zeros(NOTES, WIDE))
        self.narrow = nn.Linear(WIDE, NARROW)
        self.others = nn.Linear(NARROW * len(OTHERS) + WIDE, WIDE)
        self.narrower = nn.Linear(WIDE, NARROWER)
        self.last = nn.Linear(NARROWER * len(OTHERS) + WIDE, LAST)
        self.told = nn.Linear(LAST, 1)
        places = FIRST + 3 * np.arange(NOTES)[:, None, None] + np.array(PARTIALS)[None, :, None] + np.array(BESIDE)[None, None]
        assert places.min() >= 0, places.min()
        # Beyond the highest band there is nothing: one more band of zeros.
        self.places = torch.from_numpy(np.minimum(places, BANDS).reshape(NOTES, -1))

    @staticmethod
    def beside(x):
        """What stands at the others of each note, by note."""
        reach = max(OTHERS)
        padded = nn.functional.pad(x, (0, 0, reach, reach))
        return torch.cat([padded[:, reach + other:reach + other + NOTES] for other in OTHERS], 2)

    def forward(self, heard, rooms):
        """From strokes x WINDOWS x BANDS, as bytes, to strokes x notes: the logarithm of how much likelier than not."""
        x = nn.functional.pad(heard.float() / (2 * STEPS), (0, 1))
        # Strokes x notes x (spectrum, partial, beside).
        x = x[:, :, self.places].permute(0, 2, 1, 3).flatten(2)
        x = torch.cat([x, rooms[:, None].expand(-1, NOTES, -1)], 2)
        x = torch.relu(self.partials(x) + self.place)
        x = torch.relu(self.others(torch.cat([self.beside(torch.relu(self.narrow(x))), x], 2)))
        x = torch.relu(self.last(torch.cat([self.beside(torch.relu(self.narrower(x))), x], 2)))
        return self.told(x)[:, :, 0]


def load(path, chance):
    """What is heard of all that begins in a file's takes, and which notes it is."""
    rows = []
    for sound, strokes, slurs in saved(path):
        begun = sorted([(at, pitches) for at, pitches in strokes] + [(at, [pitch]) for at, pitch in slurs])
        if not begun:
            continue
        # As far off as a beginning is found.
        times = [0.0, *(at + chance.normal(0, 0.002) for at, _ in begun), len(sound) / RATE]
        notes = np.zeros((len(begun), NOTES), "uint8")
        for row, (_, pitches) in zip(notes, begun):
            row[[pitch - LOW for pitch in pitches if LOW <= pitch <= HIGH]] = 1
        rows.append((*heard(sound, times), notes))
    return tuple(torch.from_numpy(np.concatenate(kind)) for kind in zip(*rows))


def judge(net, heard, rooms, notes, least=0.5):
    with torch.no_grad():
        likely = torch.sigmoid(torch.cat([net(*part) for part in zip(heard.split(512), rooms.split(512))])).numpy()
    told, notes = likely > least, notes.numpy().astype(bool)
    one = notes.sum(1) == 1
    any_ = told.any(1)
    right = any_ & ~(told & ~notes).any(1)
    same = (told == notes).all(1)
    best = notes[np.arange(len(notes)), likely.argmax(1)]
    hit, wrong, missed = (told & notes).sum(), (told & ~notes).sum(), (~told & notes).sum()
    return (f"told {any_.mean():.3f} right {right.sum() / any_.sum():.3f} all the same {same.mean():.3f} one: told {any_[one].mean():.3f} "
            f"right {right[one].sum() / any_[one].sum():.3f} best right {best.mean():.3f} F {2 * hit / (2 * hit + wrong + missed):.3f}")


def train(folder, weights, minutes, *before):
    torch.set_num_threads(1)
    torch.manual_seed(1)
    folder, chance, net = pathlib.Path(folder), np.random.default_rng(1), Net()
    if before:
        net.load_state_dict(torch.load(before[0]))
    optimizer = torch.optim.AdamW(net.parameters(), RATE_LEARNT, weight_decay=1e-4)
    print(sum(weight.numel() for weight in net.parameters()), "weights", flush=True)
    loaded, begun, said, step, total = {}, time.process_time(), time.process_time(), 0, 0.0
    while True:
        gone = (time.process_time() - begun) / (60 * float(minutes))
        if gone >= 1:
            break
        if step % 40 == 0:
            for path in [path for path in sorted(folder.glob("?????.npz")) if path not in loaded][:1 if loaded else 30]:
                loaded[path] = load(path, chance)
            files = [loaded[path] for path in sorted(loaded)]
            judged, files = [torch.cat(kind) for kind in zip(*files[:JUDGED])], files[JUDGED:]
        for group in optimizer.param_groups:
            group["lr"] = RATE_LEARNT * min(1, gone / 0.02 + 0.05) * 0.5 * (1 + np.cos(np.pi * gone))
        # Some of a few files: whole files are never put together.
        some = [files[n] for n in chance.integers(0, len(files), 8)]
        picks = [torch.from_numpy(chance.integers(0, len(file[0]), BATCH // 8)) for file in some]
        x, rooms, target = (torch.cat([file[kind][pick] for file, pick in zip(some, picks)]) for kind in range(3))
        error = nn.functional.binary_cross_entropy_with_logits(net(x, rooms), target.float(), reduction="none").sum(1).mean()
        optimizer.zero_grad()
        error.backward()
        optimizer.step()
        step += 1
        total += error.item()
        if time.process_time() - said > 90:
            print(f"{gone:4.0%} {step} {len(files)} files {total / step:.3f} | {judge(net, *judged)}", flush=True)
            torch.save(net.state_dict(), weights)
            said, step, total = time.process_time(), 0, 0.0
    torch.save(net.state_dict(), weights)
    print(judge(net, *judged))


# As the program reads them, in the order of src/hear/note_net.rs.
PARTS = [*packed.layer("partials"), ("place", packed.ROWS),
         *(part for name in ("narrow", "others", "narrower", "last", "told") for part in packed.layer(name))]


def pack(*files):
    packed.either_way(PARTS, Net(), *files)


if __name__ == "__main__":
    {"train": train, "weights": pack}[sys.argv[1]](*sys.argv[2:])
