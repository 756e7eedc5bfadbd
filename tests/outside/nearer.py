#!/usr/bin/env python3
"""Whose notes are nearer to recorded ones: the built-in sound's or a soundfont's.

    nearer.py SINGLE_NOTES [SOUNDFONT.sf2 ...]

SINGLE_NOTES is the program of `examples/single_notes.rs`. For each instrument 40 notes (20 pitches, soft and hard) of
the built-in sound and of each soundfont are held to those of a recorded set that is neither: by mel-frequency cepstra
(13 coefficients, frames of 43 ms every 10 ms over the first 0.78 s, Davis and Mermelstein, IEEE Trans. ASSP 28(4), 1980),
and by the root of the mean square of the differences in 40 bands of the mel scale, in decibels. Levels are made equal.

The recorded sets are Debian's: freepats (a steel guitar, a bass, a violin, a voice; GPL with an exception for music),
csound-soundfont (a banjo) and fluid-soundfont-gm (a mandolin, which General MIDI has none of: a soundfont plays its steel
guitar then). A soundfont that holds the recorded set's own samples, as its distance shows, is left out.
No voice is judged by what it was tuned on: FluidR3's banjo, steel guitar and bass for those three, so that its mandolin alone
judges. The bass of freepats is nearer to that of TimGM6mb and csound-soundfont than two other recordings of one instrument are
to each other: it is not one set among many.
"""
import pathlib
import struct
import subprocess
import sys
import tempfile

import numpy
import scipy.fft
import scipy.signal
import soundfile

RATE = 48_000
SECONDS, HELD = 1.2, 0.8
FREEPATS = "/usr/share/midi/freepats/Tone_000"
CSOUND = "/usr/share/sounds/sf2/sf_GMbank.sf2"
FLUID = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
SOUNDFONTS = ["/usr/share/sounds/sf2/TimGM6mb.sf2", FLUID]
# Instrument: lowest and highest note, the program a soundfont plays, and what is recorded.
INSTRUMENTS = {
    "bass": (28, 55, 32, f"{FREEPATS}/032_Acoustic_Bass.pat"),
    "mandolin": (55, 84, 25, (FLUID, 8, 25)),
    "guitar": (40, 79, 25, f"{FREEPATS}/025_Steel_Guitar.pat"),
    "banjo": (50, 81, 105, (CSOUND, 0, 105)),
    "fiddle": (55, 84, 40, f"{FREEPATS}/040_Violin.pat"),
    "hum": (48, 76, 53, f"{FREEPATS}/053_Voice_Oohs.pat"),
}
HARD = (70, 105)
# Nearer than this in cepstra, both are the same recording.
SAME = 4.0


def patch(path):
    """The samples of a patch of the Gravis Ultrasound (its manual's appendix; from memory): sound, rate, loop, root."""
    data = pathlib.Path(path).read_bytes()
    if not data.startswith(b"GF1PATCH110\0"):
        sys.exit(f"{path}: no patch")
    samples, at = [], 129 + 63 + 47
    for _ in range(data[129 + 63 + 6]):
        size, begin, end, rate, low, high, root = struct.unpack("<IIIHIII", data[at + 8 : at + 34])
        modes = data[at + 55]
        raw = data[at + 96 : at + 96 + size]
        at += 96 + size
        if not modes & 1 or modes & 2:
            sys.exit(f"{path}: not of 16 bits with a sign")
        sound = numpy.frombuffer(raw, "<i2") / 32768
        samples.append((sound, rate, begin // 2, end // 2, low / 1000, high / 1000, root / 1000))
    return samples


def from_patch(path, notes):
    samples = patch(path)
    for pitch, _ in notes:
        hertz = 440 * 2 ** ((pitch - 69) / 12)
        inside = [it for it in samples if it[4] <= hertz <= it[5]] or samples
        sound, rate, begin, end, _, _, root = min(inside, key=lambda it: abs(numpy.log(it[6] / hertz)))
        wanted = int(SECONDS * rate * hertz / root) + 2
        loop = sound[begin:end]
        times = max(0, -(-(wanted - end) // max(1, len(loop))))
        whole = numpy.concatenate([sound[:end], numpy.tile(loop, times)])
        at = numpy.arange(int(SECONDS * RATE)) * rate / RATE * hertz / root
        yield numpy.interp(at, numpy.arange(len(whole)), whole)


def length(number):
    """A number as MIDI files write lengths."""
    out = [number & 127]
    while number := number >> 7:
        out.insert(0, number & 127 | 128)
    return bytes(out)


def from_soundfont(font, bank, program, notes, folder):
    """Rendered by fluidsynth, two seconds a note, without its room."""
    track, last = b"\0\xff\x51\3\x0f\x42\x40\0\xb0\0" + bytes([bank]) + b"\0" + bytes([0xC0, program]), 0
    for number, (pitch, velocity) in enumerate(notes):
        for at, message in (
            (number * 1920, bytes([0x90, pitch, velocity])),
            (number * 1920 + int(HELD * 960), bytes([0x80, pitch, 64])),
        ):
            track += length(at - last) + message
            last = at
    track += b"\0\xff\x2f\0"
    midi, wav = folder / "notes.mid", folder / "notes.wav"
    midi.write_bytes(b"MThd" + struct.pack(">IHHH", 6, 0, 1, 960) + b"MTrk" + struct.pack(">I", len(track)) + track)
    style = "gs" if bank else "gm"
    command = ["fluidsynth", "-niq", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE)]
    command += ["-o", f"synth.midi-bank-select={style}", "-F", str(wav), font, str(midi)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    sound = soundfile.read(wav)[0].mean(1)
    for number in range(len(notes)):
        begin = number * 2 * RATE
        yield sound[begin : begin + int(SECONDS * RATE)]


def built_in(program, name, notes, folder):
    for velocity in HARD:
        pitches = ",".join(str(pitch) for pitch, hard in notes if hard == velocity)
        asked = f"{name}:{velocity}:{HELD}:{SECONDS}:{pitches}"
        subprocess.run([program, folder, asked], check=True)
    for pitch, velocity in notes:
        yield soundfile.read(folder / f"{name}_{pitch}_{velocity}.wav")[0]


def mel_bands(count, size, low=60, high=12_000):
    mel = lambda hertz: 2595 * numpy.log10(1 + hertz / 700)
    edges = 700 * (10 ** (numpy.linspace(mel(low), mel(high), count + 2) / 2595) - 1)
    at = numpy.fft.rfftfreq(size, 1 / RATE)
    rise = lambda n: (at - edges[n]) / (edges[n + 1] - edges[n])
    fall = lambda n: (edges[n + 2] - at) / (edges[n + 2] - edges[n + 1])
    return numpy.array([numpy.clip(numpy.minimum(rise(n), fall(n)), 0, None) for n in range(count)])


SIZE = 2048
BANDS = mel_bands(40, SIZE)


def looked_at(sound):
    """The levels of the bands and the cepstra, frame by frame from where the note begins."""
    size = numpy.abs(sound)
    begin = int(numpy.argmax(size > 0.05 * size.max()))
    wanted = int(0.78 * RATE)
    heard = numpy.pad(sound[begin : begin + wanted], (0, max(0, wanted - len(sound) + begin)))
    heard = heard / numpy.sqrt((heard[: int(0.3 * RATE)] ** 2).mean() + 1e-12)
    heard = numpy.pad(heard, SIZE // 2)
    frames = [heard[at : at + SIZE] * numpy.hanning(SIZE) for at in range(0, len(heard) - SIZE, RATE // 100)]
    power = numpy.abs(numpy.fft.rfft(frames)) ** 2 @ BANDS.T
    levels = 10 * numpy.log10(power + 1e-6 * power.max())
    return levels, scipy.fft.dct(levels, axis=1, norm="ortho")[:, :13]


def apart(one, other):
    """How far two notes lie apart: in bands, in cepstra."""
    return [numpy.sqrt(((a - b) ** 2).mean(1)).mean() for a, b in zip(looked_at(one), looked_at(other))]


def main():
    program, fonts = sys.argv[1], sys.argv[2:] or SOUNDFONTS
    nearest = []
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        for name, (low, high, number, source) in INSTRUMENTS.items():
            pitches = [round(at) for at in numpy.linspace(low, high, 20)]
            notes = [(pitch, velocity) for pitch in pitches for velocity in HARD]
            if isinstance(source, str):
                recorded = list(from_patch(source, notes))
            else:
                recorded = list(from_soundfont(*source, notes, folder))
            held = lambda played: numpy.array([apart(a, b) for a, b in zip(recorded, played)])
            own = held(built_in(program, name, notes, folder))
            print(f"{name:9} built-in  bands {own[:, 0].mean():5.1f} dB  cepstra {own[:, 1].mean():5.1f}")
            others = []
            for font in fonts:
                if font == source[0]:
                    continue
                other = held(from_soundfont(font, 0, number, notes, folder))
                stem = pathlib.Path(font).stem
                bands, cepstra = other.mean(0)
                same = cepstra < SAME
                if not same:
                    others.append(cepstra)
                verdict = "the same recording" if same else f"built-in nearer in {(own[:, 1] < other[:, 1]).sum()} of 40"
                print(f"          {stem:9} bands {bands:5.1f} dB  cepstra {cepstra:5.1f}  {verdict}")
            if others and own[:, 1].mean() < min(others):
                nearest.append(name)
    print(f"the built-in sound is the nearest in {len(nearest)} of {len(INSTRUMENTS)}: {', '.join(nearest)}")
    if len(nearest) < 4:
        sys.exit("less than four")


main()
