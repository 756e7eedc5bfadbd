"""Takes to learn from: parts on the voices of TRAIN under any conditions.

    takes.py VOICES FOLDER FIRST COUNT      writes FOLDER/NUMBER.npz for seeds FIRST and on, 20 takes in each
"""
import json
import pathlib
import sys

import numpy as np

from parts import Player
from rooms import Band, any_way
from voices import BAND_TRAIN, MADE, TRAIN, Voice

RATE = 16_000
SECONDS = 10.0
TOGETHER = 20
# The share of takes on recorded instruments; the others are on made ones.
RECORDED = 0.65
# The share of players who slur gently.
GENTLY = 0.5
# The share of instruments with a smaller or larger body than their voice has, and by how many semitones at most: few
# voices stand for many.
SIZED, MOST = 0.6, 5


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
        player = Player(self.voices[chance.choice(names)], chance, SECONDS, GENTLY)
        if chance.random() < SIZED:
            player.smaller = int(chance.integers(-MOST, MOST + 1))
        player.play()
        player.mishaps()
        sound = any_way(player.sound, RATE, chance, Band(self.band, chance), np.exp(chance.uniform(-1.3, 0.1)))
        return sound, player.truth()


def saved(path):
    """The takes of a file: sound, strokes with their pitches, slurs with the one they lead to."""
    file = np.load(path)
    for sound, (strokes, slurs) in zip(file["sounds"], json.loads(str(file["truths"]))):
        yield sound.astype("float32") / 32_767, strokes, slurs


def main():
    stage, folder = Stage(sys.argv[1]), pathlib.Path(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    first, count = int(sys.argv[3]), int(sys.argv[4])
    for seed in range(first, first + count):
        sounds, truths = [], []
        for n in range(TOGETHER):
            sound, truth = stage.take([seed, n, 9])
            sounds.append(np.round(sound / (np.abs(sound).max() + 1e-9) * 32_000).astype("int16"))
            truths.append(([(at, sorted(pitches)) for at, pitches in truth.strokes], [slur[:2] for slur in truth.slurs]))
        part = folder / f"{seed:05}.part.npz"
        np.savez(part, sounds=np.stack(sounds), truths=json.dumps(truths))
        part.rename(folder / f"{seed:05}.npz")


if __name__ == "__main__":
    main()
