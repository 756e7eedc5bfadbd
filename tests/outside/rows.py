#!/usr/bin/env python3
"""The built-in sound's single notes beside recorded ones, figure by figure: how they rise, die away and are coloured.

    rows.py SINGLE_NOTES [SOUNDFONT.sf2]

SINGLE_NOTES is the program of `examples/single_notes.rs`; the recorded notes are the banjo, the steel guitar and the bass of
Debian's fluid-soundfont-gm (FluidR3): one instrument each, in an unknown room, of one loudness. For each figure it prints the
recorded notes' median and range, ours (the same pitches at velocity 100, dry), and whether the medians lie within a third of
each other: of the value, of decibels at least 2. `sound.md` has the table, and the reasons where they do not.

T60: the slope over the first 20 dB from 40 ms on, in octaves. Falls of partials: of each by its strength, in bands.
"""
import pathlib
import struct
import subprocess
import sys
import tempfile

import numpy
import scipy.signal
import soundfile

OCTAVES = [63, 125, 250, 500, 1000, 2000, 4000, 8000]
BANDS = [(250, 500), (500, 1000), (1000, 2000), (2000, 3500)]
# The samples by name, with the pitch that they were found to have, in hertz.
RECORDED = {
    "bass": {"E2": 41.5, "F2": 44, "C3": 65, "F3": 88, "A#3": 116.5, "F#4": 185.5},
    "banjo": {"1": 147.2, "2": 198.3, "3": 248.3, "5": 297.6, "4": 378, "6": 594.5},
    "guitar": {
        "E3": 82.3, "A3": 110.1, "D4": 146.7, "G4": 196.1, "B4": 246.9, "E5": 330.1, "A5": 440.1, "B6": 495.1, "E6": 661.5,
    },
}  # fmt: skip
STEMS = {"bass": "Acoustic Bass ", "banjo": "Banjo ", "guitar": "Steel "}


def samples(path):
    """The samples of a soundfont by name: sound up to where its loop begins, rate."""
    data, chunks = pathlib.Path(path).read_bytes(), {}

    def walk(at, end):
        while at < end - 8:
            name, size = data[at : at + 4], struct.unpack_from("<I", data, at + 4)[0]
            if name == b"LIST":
                walk(at + 12, at + 8 + size)
            chunks[name] = at + 8, size
            at += 8 + size + size % 2

    walk(12, len(data))
    at, size = chunks[b"smpl"]
    waves = numpy.frombuffer(data[at : at + size], "<i2") / 32768
    at, size = chunks[b"shdr"]
    for head in struct.iter_unpack("<20sIIIIIBbHH", data[at : at + size // 46 * 46]):
        yield head[0].split(b"\0")[0].decode("latin1"), waves[head[1] : head[3]], head[5]


def recorded(path):
    found = {name: (sound, rate) for name, sound, rate in samples(path)}
    return {
        instrument: [(hertz, *found[STEMS[instrument] + name]) for name, hertz in notes.items()]
        for instrument, notes in RECORDED.items()
    }


def built_in(program):
    out = {}
    with tempfile.TemporaryDirectory() as folder:
        for instrument, notes in RECORDED.items():
            pitches = [round(69 + 12 * numpy.log2(hertz / 440)) for hertz in notes.values()]
            asked = f"{instrument}:100:2.9:3.0:{','.join(map(str, pitches))}"
            subprocess.run([program, folder, asked], check=True)
            files = [f"{folder}/{instrument}_{pitch}_100.wav" for pitch in pitches]
            out[instrument] = [
                (440 * 2 ** ((pitch - 69) / 12), *soundfile.read(file)) for pitch, file in zip(pitches, files)
            ]
    return out


def envelope(sound, rate, millis):
    frames = max(1, int(rate * millis / 1000))
    return numpy.sqrt(numpy.convolve(sound * sound, numpy.ones(frames) / frames, "same"))


def onset(sound, rate):
    heard = envelope(sound, rate, 1)
    return max(0, int(numpy.argmax(heard > 0.03 * heard[: int(0.2 * rate)].max())))


def decibels(x):
    return 20 * numpy.log10(x + 1e-9)


def rise(hertz, sound, rate):
    """Milliseconds from a tenth of its peak to the peak, within 60 ms."""
    heard = envelope(sound, rate, 1)[: onset(sound, rate) + int(0.06 * rate)]
    peak = heard.argmax()
    return [(peak - numpy.argmax(heard > 0.1 * heard[peak])) / rate * 1000]


def level(hertz, sound, rate):
    """Decibels 0.8 s after the beginning, beside those after 12 ms."""
    heard, begin = envelope(sound, rate, 15), onset(sound, rate)
    late = begin + int(0.8 * rate)
    return [decibels(heard[late]) - decibels(heard[begin + int(0.012 * rate)]) if late < len(heard) else numpy.nan]


def octaves(begin, end):
    """Decibels in each octave beside the loudest, between two times."""

    def of(hertz, sound, rate):
        start = onset(sound, rate)
        heard = sound[start + int(begin * rate) : start + int(end * rate)]
        power = numpy.abs(numpy.fft.rfft(heard * numpy.hanning(len(heard)), 1 << 16)) ** 2
        at = numpy.fft.rfftfreq(1 << 16, 1 / rate)
        levels = [10 * numpy.log10(power[(at >= o / 2**0.5) & (at < o * 2**0.5)].sum() + 1e-20) for o in OCTAVES]
        return numpy.array(levels) - max(levels)

    return of


def dies_away(hertz, sound, rate):
    """Seconds for 60 dB in each octave."""
    sound, out = sound[: 3 * rate], []
    begin = onset(sound, rate) + int(0.04 * rate)
    for octave in OCTAVES:
        edges = [octave / 2**0.5, min(octave * 2**0.5, 0.49 * rate)]
        heard = scipy.signal.sosfilt(scipy.signal.butter(3, edges, "band", fs=rate, output="sos"), sound)
        frames = int(max(0.02, 3 / octave) * rate)
        power = numpy.cumsum(numpy.concatenate([[0], heard * heard]))
        mean = numpy.maximum(power[frames:] - power[:-frames], 0) / frames
        falling = 10 * numpy.log10(mean[max(0, begin - frames // 2) : -frames // 2] + 1e-18)[::32]
        gone = falling < falling[: max(3, int(0.02 * rate / 32))].mean() - 20
        until = int(numpy.argmax(gone)) if gone.any() else len(falling)
        slope = numpy.polyfit(numpy.arange(until) * 32 / rate, falling[:until], 1)[0] if until > 8 else 0
        out.append(-60 / slope if slope < -1 else numpy.nan)
    return out


def falls(begin, end):
    """Decibels a second by which partials fall between two times, in each of BANDS, each partial by its strength."""

    def of(hertz, sound, rate):
        start = onset(sound, rate)
        length = int(min(0.25, max(0.08, 10 / hertz)) * rate)
        heard = sound[start + int(0.05 * rate) :][:length]
        size = 1 << int(numpy.ceil(numpy.log2(len(heard) * 8)))
        power, at = numpy.abs(numpy.fft.rfft(heard * numpy.hanning(len(heard)), size)), numpy.fft.rfftfreq(size, 1 / rate)
        sums = numpy.zeros((len(BANDS), 2))
        time = numpy.arange(len(sound)) / rate
        for number in range(1, int(3600 / hertz) + 1):
            near = numpy.flatnonzero(numpy.abs(at - number * hertz) < 0.2 * hertz)
            best = near[numpy.argmax(power[near])]
            band = next((n for n, (low, high) in enumerate(BANDS) if low <= at[best] < high), None)
            if band is None:
                continue
            window = numpy.hanning(max(3, int(2 * rate / min(0.7 * hertz, 200))))
            turned = numpy.exp(-2j * numpy.pi * at[best] * time) * sound
            heard = decibels(numpy.abs(scipy.signal.fftconvolve(turned, window / window.sum(), "same")))
            piece = heard[start + int(begin * rate) : start + int(end * rate)]
            slope = numpy.polyfit(numpy.arange(len(piece)) / rate, piece, 1)[0]
            sums[band] += [-slope * power[best], power[best]]
        with numpy.errstate(invalid="ignore"):
            return sums[:, 0] / sums[:, 1]

    return of


# What it is called, the instrument, the figure, its columns, which columns and notes of it, and whether it is decibels.
ROWS = [
    ("T60, E1 to C2, s", "bass", dies_away, "63 125 250", slice(0, 3), slice(0, 3), False),
    ("level at 0.8 s, E1 to C2, dB", "bass", level, "all", slice(0, 1), slice(0, 3), True),
    ("0-40 ms, dB", "bass", octaves(0, 0.04), "63 125 250 500 1k 2k 4k 8k", slice(0, 8), slice(None), True),
    ("rise, ms", "bass", rise, "all", slice(0, 1), slice(None), False),
    ("falls 30-150 ms, dB/s", "banjo", falls(0.03, 0.15), "250-500 -1k -2k -3.5k", slice(0, 4), slice(None), False),
    ("falls 350-750 ms, dB/s", "banjo", falls(0.35, 0.75), "250-500 -1k -2k -3.5k", slice(0, 4), slice(None), False),
    ("level at 0.8 s, dB", "banjo", level, "all", slice(0, 1), slice(None), True),
    ("T60, s", "banjo", dies_away, "4k 8k", slice(6, 8), slice(None), False),
    ("T60, s", "guitar", dies_away, "4k 8k", slice(6, 8), slice(None), False),
    ("100-300 ms, from D up, dB", "guitar", octaves(0.1, 0.3), "8k", slice(7, 8), slice(2, None), True),
    ("100-300 ms, without the low D, dB", "banjo", octaves(0.1, 0.3), "8k", slice(7, 8), slice(1, None), True),
    ("T60, E A D, s", "guitar", dies_away, "125 250 500", slice(1, 4), slice(0, 3), False),
    ("0-40 ms, plain strings, dB", "guitar", octaves(0, 0.04), "8k", slice(7, 8), slice(4, None), True),
    ("0-40 ms, wound strings, dB", "guitar", octaves(0, 0.04), "8k", slice(7, 8), slice(0, 4), True),
]


def main():
    program = sys.argv[1]
    font = sys.argv[2] if len(sys.argv) > 2 else "/usr/share/sounds/sf2/FluidR3_GM.sf2"
    theirs, ours = recorded(font), built_in(program)
    print("| figure | | recorded: median (range) | ours: median (range) | within a third |\n| --- | --- | --- | --- | --- |")
    for name, instrument, figure, columns, which, notes, is_decibels in ROWS:
        both = []
        for played in (theirs, ours):
            values = [figure(hertz, sound, rate)[which] for hertz, sound, rate in played[instrument][notes]]
            both.append(numpy.array(values, float).T)
        for column, one, other in zip(columns.split(), *both):
            middle, own = numpy.nanmedian(one), numpy.nanmedian(other)
            far = max(abs(middle) / 3, 2 if is_decibels else 0)
            told = [f"{m:.3g} ({numpy.nanmin(v):.3g} to {numpy.nanmax(v):.3g})" for m, v in ((middle, one), (own, other))]
            met = "yes" if abs(own - middle) <= far else "no"
            print(f"| {instrument}: {name} | {column} | {told[0]} | {told[1]} | {met} |")


main()
