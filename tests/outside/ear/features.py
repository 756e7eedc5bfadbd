"""What the net hears: the sound at 16,000 samples a second as logarithms of magnitudes in bands, 100 times a second.
The program does the same in src/hear; what differs between them must stay below a step of 1/64."""
import numpy as np

from rooms import loud

RATE, HOP = 16_000, 160
# Window, lowest and highest middle, bands an octave: a long one to tell notes, a short one to tell when.
WINDOWS = ((1024, 110.0, 7_000.0, 16), (256, 200.0, 7_600.0, 5))
# Magnitudes are multiplied by this over the take's loudness before the logarithm is taken of one more.
SCALE = 300.0
# Logarithms are kept in steps of a share of one.
STEPS = 32


def middles(size, low, high, octave):
    """The middles of the triangles, in lines of the spectrum: evenly spaced by pitch, never less than a line apart."""
    step = RATE / size
    places = [low / step]
    while places[-1] * step < high:
        places.append(max(places[-1] * 2 ** (1 / octave), places[-1] + 1.0))
    return np.array(places)


def triangles(size, low, high, octave):
    """Weights from lines to bands. Each triangle reaches to its neighbours' middles; its sides are lines in hertz."""
    places = middles(size, low, high, octave)
    lines = np.arange(size // 2 + 1)
    bands = []
    for left, middle, right in zip(places, places[1:], places[2:]):
        up, down = (lines - left) / (middle - left), (right - lines) / (right - middle)
        bands.append(np.clip(np.minimum(up, down), 0, None))
    return np.array(bands, "float32")


BANDS = [triangles(*window) for window in WINDOWS]
COUNTS = [len(bands) for bands in BANDS]


def magnitudes(sound, size):
    """Frame n's window has its middle at n hops; a steady sine of amplitude 1 has 1 at its line."""
    turn = 2 * np.pi * (np.arange(size) + 0.5) / size
    window = (0.5 - 0.5 * np.cos(turn)).astype("float32")
    window *= 2 / window.sum()
    padded = np.pad(sound, (size // 2, size)).astype("float32")
    frames = np.lib.stride_tricks.sliding_window_view(padded, size)[::HOP]
    frames = frames[:len(sound) // HOP + 1]
    return np.abs(np.fft.rfft(frames * window, axis=1)).astype("float32")


def features(sound, gain=1.0):
    """In steps of 1/STEPS, as bytes: frames x bands. `gain` stands for a loudness that was judged wrongly."""
    level = loud(sound, RATE) / gain
    columns = []
    for (size, *_), bands in zip(WINDOWS, BANDS):
        columns.append(np.log1p(magnitudes(sound, size) @ bands.T * np.float32(SCALE / level)))
    whole = np.concatenate(columns, axis=1)
    return np.clip(np.round(whole * STEPS), 0, 255).astype("uint8")
