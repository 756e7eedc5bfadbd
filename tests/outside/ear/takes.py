"""Takes to learn from: parts on the voices of TRAIN under any conditions, with what the net hears of them.

    takes.py VOICES FOLDER FIRST COUNT      writes FOLDER/NUMBER.npz for seeds FIRST and on, 20 takes in each
"""
import pathlib
import sys

import numpy as np

from features import RATE, features
from parts import Player
from rooms import Band, any_way
from voices import BAND_TRAIN, MADE, TRAIN, Voice

SECONDS = 10.0
TOGETHER = 20
# The share of takes on recorded instruments; the others are on made ones.
RECORDED = 0.65


class Stage:
    """All voices to train on."""

    def __init__(self, folder):
        names = [*TRAIN, *(f"made-{n:02}" for n in range(MADE))]
        self.voices = {name: Voice(folder, name, RATE) for name in names}
        self.recorded, self.made = names[:len(TRAIN)], names[len(TRAIN):]
        self.band = {name: Voice(folder, name, RATE) for name in BAND_TRAIN}
        self.band |= {name: self.voices[name] for name in ("fluid-steel", "fluid-mandolin", "fluid-nylon")}

    def take(self, seed):
        """The sound and its truth."""
        chance = np.random.default_rng(seed)
        names = self.recorded if chance.random() < RECORDED else self.made
        player = Player(self.voices[chance.choice(names)], chance, SECONDS)
        sound, _ = player.play()
        player.mishaps()
        sound = any_way(player.sound, RATE, chance, Band(self.band, chance), np.exp(chance.uniform(-1.3, 0.1)))
        return sound, player.truth(), chance


def targets(times, frames, reach):
    """1 at each time, falling to 0 at `reach` frames from it."""
    target = np.zeros(frames, "float32")
    for at in times:
        near = np.arange(max(0, int(at * 100 - reach)), min(frames, int(at * 100 + reach) + 2))
        target[near] = np.maximum(target[near], 1 - np.abs(near - at * 100) / reach)
    return np.clip(target, 0, 1)


def main():
    stage, folder = Stage(sys.argv[1]), pathlib.Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    first, count = int(sys.argv[3]), int(sys.argv[4])
    for seed in range(first, first + count):
        heard, strokes, slurs = [], [], []
        for n in range(TOGETHER):
            sound, truth, chance = stage.take([seed, n])
            heard.append(features(sound, gain=2.0 ** chance.normal(0, 0.6)))
            frames = len(heard[-1])
            strokes.append(targets([at for at, _ in truth.strokes], frames, 2.0))
            slurs.append(targets([at for at, *_ in truth.slurs], frames, 4.0))
        part = folder / f"{seed:05}.part.npz"
        np.savez(part, heard=np.stack(heard), strokes=np.stack(strokes).astype("float16"),
                 slurs=np.stack(slurs).astype("float16"))
        part.rename(folder / f"{seed:05}.npz")


if __name__ == "__main__":
    main()
