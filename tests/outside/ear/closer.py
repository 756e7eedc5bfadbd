"""The net that looks closer at what the first one holds for a beginning: a stroke, a slur, or neither.

    closer.py events TAKES STROKES.pt FOLDER FIRST COUNT    what is learnt from: FOLDER/NUMBER.npz for files FIRST and on
    closer.py train FOLDER WEIGHTS.pt MINUTES [FROM.pt]     learns; minutes are those of the processor
    closer.py weights WEIGHTS.pt WEIGHTS.bin                as the program reads them; or back, from .bin to .pt

Each note is looked at by the same weights before and after, as in notes.py, then at what was found for those that a
finger reaches from it; of all notes the most and the mean go on, with what the first net told around the place, how loud it is there from
moment to moment, and how loud in a few bands against the whole take: a pick's noise is short, wide and nearly always as
loud, a finger's is not.
"""
import pathlib
import sys
import time

import mir_eval
import numpy as np
import torch
from torch import nn

import packed
from features import SCALE, features
from net import Net as Strokes
from net import likely, peaks
from notes import BANDS, BESIDE, FIRST, NOTES, PARTIALS, RATE, STEPS, WINDOWS, hann, heard
from rooms import loud
from takes import saved

# What the first net must tell at least for a place to be looked at.
LEAST = 0.35
# Frames on either side of which it is given what the first net told.
AROUND = 3
# Moments before and after, and their samples: 4 ms each.
BEFORE, AFTER, MOMENT = 6, 10, 64
# Samples around each moment whose bands are heard, the lines of 125 Hz with which each band begins, and one past the last.
FLASH = 128
EDGES = (1, 3, 5, 8, 12, 18, 28, 42, 64)
NEAR = (-12, -7, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 7, 12)
EACH, NARROW, WIDE, LAST = 16, 6, 48, 16
# What is given beside the spectra: how long they are, what the first net told, moments, flashes.
ASIDE = 3 + 2 * (2 * AROUND + 1) + (2 + len(EDGES) - 1) * (BEFORE + AFTER)
BATCH, RATE_LEARNT, JUDGED = 128, 2e-3, 3
# Seconds from a place to what it may be.
WINDOW = 0.04


def moments(sound, at):
    """The logarithm of the energy of each moment around a place, against the loudest of them: all of it, and of what a
    sample differs from the one before, which is the high of it."""
    start = int(round(at * RATE)) - BEFORE * MOMENT
    length = (BEFORE + AFTER) * MOMENT + 1
    piece = np.zeros(length)
    low, high = max(start - 1, 0), min(start - 1 + length, len(sound))
    if high > low:
        piece[low - start + 1:high - start + 1] = sound[low:high]
    whole = [np.square(part).reshape(-1, MOMENT).sum(1) for part in (piece[1:], np.diff(piece))]
    return np.concatenate([np.log10(part / max(part.max(), 1e-12) + 1e-4) / 4 + 1 for part in whole]).astype("float32")


WINDOW_OF_FLASH = hann(FLASH)


def flashes(sound, places, level):
    """For each place what is heard in the bands around each moment's middle, against the take's loudness: as the first
    net's frames, in steps of 1/STEPS."""
    starts = np.round(np.asarray(places) * RATE).astype(int)[:, None] + MOMENT * (np.arange(BEFORE + AFTER) - BEFORE)
    starts = starts + MOMENT // 2 - FLASH // 2
    reach = (BEFORE + AFTER) * MOMENT + FLASH
    samples = np.pad(sound, reach)[reach + starts[:, :, None] + np.arange(FLASH)]
    lines = np.abs(np.fft.rfft(samples * WINDOW_OF_FLASH, axis=2))
    bands = np.add.reduceat(lines[:, :, :EDGES[-1]], EDGES[:-1], axis=2)
    steps = np.clip(np.round(np.log1p(bands * (SCALE / level)) * STEPS), 0, 255)
    return (steps / (2 * STEPS)).reshape(len(starts), -1).astype("float32")


def looked_at(model, sound, gain=1.0):
    """Where the first net holds that something may begin, and what is looked at there."""
    with torch.no_grad():
        told = likely(model(torch.from_numpy(features(sound, gain))[None]))[0].numpy()
    places = peaks(told.sum(0), LEAST)
    if not len(places):
        return places, np.zeros((0, len(WINDOWS), BANDS), "uint8"), np.zeros((0, ASIDE), "float32")
    padded = np.pad(told, ((0, 0), (AROUND, AROUND)))
    near = np.stack([padded[:, n:n + 2 * AROUND + 1].ravel() for n in np.round(places * 100).astype(int)])
    spectra, rooms = heard(sound, [0.0, *places, len(sound) / RATE])
    moment = np.stack([moments(sound, at) for at in places])
    beside = np.concatenate([rooms, near, moment, flashes(sound, places, loud(sound, RATE) / gain)], 1)
    return places, spectra, beside.astype("float32")


def events(takes, strokes_net, folder, first, count):
    torch.set_num_threads(1)
    model, folder = Strokes(), pathlib.Path(folder)
    model.load_state_dict(torch.load(strokes_net))
    folder.mkdir(parents=True, exist_ok=True)
    chance = np.random.default_rng(int(first))
    for path in sorted(pathlib.Path(takes).glob("?????.npz"))[int(first):int(first) + int(count)]:
        rows = []
        for sound, strokes, slurs in saved(path):
            places, spectra, beside = looked_at(model, sound, gain=2.0 ** chance.normal(0, 0.2))
            what = np.zeros(len(places), "uint8")
            for which, times in ((2, [at for at, _ in slurs]), (1, [at for at, _ in strokes])):
                if times and len(places):
                    what[[b for _, b in mir_eval.util.match_events(np.array(times), places, WINDOW)]] = which
            rows.append((spectra, beside, what))
        part = folder / f"{path.stem}.part.npz"
        np.savez(part, **dict(zip(("heard", "beside", "what"), map(np.concatenate, zip(*rows)))))
        part.rename(folder / f"{path.stem}.npz")


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        self.partials = nn.Linear(len(WINDOWS) * len(PARTIALS) * len(BESIDE), EACH)
        self.narrow = nn.Linear(EACH, NARROW)
        self.near = nn.Linear(NARROW * len(NEAR) + EACH, EACH)
        self.wide = nn.Linear(2 * EACH + ASIDE, WIDE)
        self.last = nn.Linear(WIDE, LAST)
        self.told = nn.Linear(LAST, 2)
        places = FIRST + 3 * np.arange(NOTES)[:, None, None] + np.array(PARTIALS)[None, :, None] + np.array(BESIDE)[None, None]
        self.places = torch.from_numpy(np.minimum(places, BANDS).reshape(NOTES, -1))

    def forward(self, heard, beside):
        """The logarithm of how much likelier a stroke, and a slur, is than neither."""
        x = nn.functional.pad(heard.float() / (2 * STEPS), (0, 1))
        x = torch.relu(self.partials(x[:, :, self.places].permute(0, 2, 1, 3).flatten(2)))
        y = nn.functional.pad(torch.relu(self.narrow(x)), (0, 0, max(NEAR), max(NEAR)))
        y = torch.cat([y[:, max(NEAR) + other:max(NEAR) + other + NOTES] for other in NEAR] + [x], 2)
        y = torch.relu(self.near(y))
        z = torch.relu(self.wide(torch.cat([y.max(1).values, y.mean(1), beside], 1)))
        return self.told(torch.relu(self.last(z)))


def judge(net, heard, beside, what):
    with torch.no_grad():
        told = torch.cat([net(*part) for part in zip(heard.split(512), beside.split(512))])
    told = torch.softmax(torch.cat([torch.zeros_like(told[:, :1]), told], 1), 1).numpy()
    what, near = what.numpy(), beside[:, 3:3 + 2 * (2 * AROUND + 1)].numpy()
    sums = near.reshape(len(near), 2, -1).sum(2)
    before = np.where(near.reshape(len(near), 2, -1)[:, :, AROUND].sum(1) < 0.55, 0, 1 + (sums[:, 1] > sums[:, 0]))
    after = np.where(told[:, 0] > 0.5, 0, 1 + (told[:, 2] > told[:, 1]))

    def f(found):
        rows = []
        for which in (1, 2):
            hit = ((found == which) & (what == which)).sum()
            rows.append(f"{2 * hit / max((found == which).sum() + (what == which).sum(), 1):.3f}")
        apart = ((found == 2) & (what == 2)).sum() / max(((found > 0) & (what == 2)).sum(), 1)
        return f"stroke {rows[0]} slur {rows[1]} apart {apart:.3f}"
    return f"before: {f(before)} | after: {f(after)}"


def train(folder, weights, minutes, *before):
    torch.set_num_threads(1)
    torch.manual_seed(1)
    folder, chance, net = pathlib.Path(folder), np.random.default_rng(1), Net()
    if before:
        net.load_state_dict(torch.load(before[0]))
    optimizer = torch.optim.AdamW(net.parameters(), RATE_LEARNT, weight_decay=1e-3)
    print(sum(weight.numel() for weight in net.parameters()), "weights", flush=True)
    loaded, begun, said, step, total = {}, time.process_time(), 0.0, 0, 0.0
    while True:
        gone = (time.process_time() - begun) / (60 * float(minutes))
        if gone >= 1:
            break
        if step % 100 == 0:
            for path in [path for path in sorted(folder.glob("?????.npz")) if path not in loaded]:
                file = np.load(path)
                loaded[path] = tuple(torch.from_numpy(file[name]) for name in ("heard", "beside", "what"))
            files = [loaded[path] for path in sorted(loaded)]
            judged, files = [torch.cat(kind) for kind in zip(*files[:JUDGED])], files[JUDGED:]
        for group in optimizer.param_groups:
            group["lr"] = RATE_LEARNT * min(1, gone / 0.02 + 0.05) * 0.5 * (1 + np.cos(np.pi * gone))
        some = [files[n] for n in chance.integers(0, len(files), 8)]
        picks = [torch.from_numpy(chance.integers(0, len(file[0]), BATCH // 8)) for file in some]
        x, beside, what = (torch.cat([file[kind][pick] for file, pick in zip(some, picks)]) for kind in range(3))
        told = net(x, beside)
        error = nn.functional.cross_entropy(torch.cat([torch.zeros_like(told[:, :1]), told], 1), what.long())
        optimizer.zero_grad()
        error.backward()
        optimizer.step()
        step += 1
        total += error.item()
        if time.process_time() - said > 30:
            print(f"{gone:4.0%} {step} {len(files)} files {total / step:.4f} | {judge(net, *judged)}", flush=True)
            torch.save(net.state_dict(), weights)
            said, step, total = time.process_time(), 0, 0.0
    torch.save(net.state_dict(), weights)
    print(judge(net, *judged))


# As the program reads them, in the order of src/hear/closer.rs.
PARTS = [part for name in ("partials", "narrow", "near", "wide", "last", "told") for part in packed.layer(name)]


def pack(*files):
    packed.either_way(PARTS, Net(), *files)


if __name__ == "__main__":
    {"events": events, "train": train, "weights": pack}[sys.argv[1]](*sys.argv[2:])
