"""The net that hears strokes and slurs: adds, multiplies and max(0, x) alone, so that a few lines run it anywhere.

Two layers look at the long window's bands beside each other, so that what they learn holds at every pitch; then
layers over time with growing gaps (temporal convolutions, as in Bai, Kolter and Koltun, "An empirical evaluation of
generic convolutional and recurrent networks for sequence modeling", arXiv 1803.01271, 2018; that small nets over
bands find onsets well: Schlueter and Boeck, "Improved musical onset detection with convolutional neural networks",
ICASSP 2014).
"""
import numpy as np
import torch
from torch import nn

from features import COUNTS, STEPS

LONG, SHORT = COUNTS
FIRST, SECOND, WIDE = 6, 10, 40
GAPS = (1, 2, 4, 8, 16, 4)
# After each layer over bands the larger of every two is kept.
QUARTER = LONG // 2 // 2


def larger(layer, x):
    """A layer over bands, and of every two bands the larger. Both at once, each two by a step over every other one: that
    takes a third of the time."""
    pad = nn.functional.pad
    both = torch.cat([pad(layer.weight, (0, 1)), pad(layer.weight, (1, 0))])
    y = nn.functional.conv2d(x, both, layer.bias.repeat(2), stride=(1, 2), padding=layer.padding)
    return torch.relu(torch.maximum(*y.chunk(2, 1)))


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        self.first = nn.Conv2d(1, FIRST, (3, 5), padding=(1, 2))
        self.second = nn.Conv2d(FIRST, SECOND, 3, padding=1)
        self.gather = nn.Conv1d(SECOND * QUARTER + SHORT, WIDE, 3, padding=1)
        self.layers = nn.ModuleList(nn.Conv1d(WIDE, WIDE, 3, padding=gap, dilation=gap) for gap in GAPS)
        self.told = nn.Conv1d(WIDE, 2, 1)

    def forward(self, heard):
        """From takes x frames x bands, as bytes, to takes x 2 x frames: the logarithm of how much likelier a stroke is, and a
        slur, than that neither begins there."""
        x = heard.float() / (2 * STEPS)
        long, short = x[:, :, :LONG], x[:, :, LONG:]
        y = larger(self.second, larger(self.first, long[:, None]))
        y = y.permute(0, 1, 3, 2).reshape(len(x), SECOND * QUARTER, -1)
        y = torch.relu(self.gather(torch.cat([y, short.transpose(1, 2)], 1)))
        for layer in self.layers:
            y = y + torch.relu(layer(y))
        return self.told(y)


def likely(told):
    """From the net's logarithms to how likely a stroke is, and a slur: with neither, they add up to 1."""
    return torch.softmax(torch.cat([told, torch.zeros_like(told[:, :1])], 1), 1)[:, :2]


# A slur is told where it is likelier than a stroke by this.
SLURRED = 1.0


def begun(told, least=0.5):
    """Seconds of strokes and of slurs: where something begins, and the likelier of both there."""
    places = peaks(told.sum(0), least)
    frames = np.round(places * 100).astype(int)
    sums = np.array([told[:, max(0, n - 3):n + 4].sum(1) for n in frames]).reshape(-1, 2)
    slurred = sums[:, 1] > SLURRED * sums[:, 0]
    return places[~slurred], places[slurred]


def peaks(told, least, apart=3):
    """Seconds at which the likelihood peaks: at least `least`, the highest within `apart` frames on either side; the
    top of the parabola through it and its neighbours."""
    padded = np.pad(told, apart)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * apart + 1)
    found = np.flatnonzero((told >= least) & (told >= around.max(1)))
    times = []
    for n in found:
        if times and n - times[-1][0] <= apart:
            continue
        left, right = told[n - 1] if n else 0.0, told[n + 1] if n + 1 < len(told) else 0.0
        bow = left - 2 * told[n] + right
        shift = 0.5 * (left - right) / bow if bow < -1e-9 else 0.0
        times.append((n, (n + np.clip(shift, -0.5, 0.5)) / 100))
    return np.array([time for _, time in times])
