"""Single notes of plucked strings, each alone and with its beginning known, for parts to be put together from.

    voices.py FOLDER        writes FOLDER/NAME-RATE.npz for every voice below

A voice is an instrument of a sound set, its notes played one at a time by fluidsynth or timidity, or a set of
partials that decay, with parameters drawn at random (`made`). Those of TRAIN are learnt from; those of HELD_OUT are
judged by, and nothing is tuned on them. VOICES.md lists the sound sets with their licences.
"""
import os
import pathlib
import subprocess
import sys
import tempfile

import mido
import numpy as np
import scipy.signal
import soundfile

FLUID = "FluidR3_GM.sf2"
MUSESCORE = "MuseScore_General_Full.sf2"
TIM = "TimGM6mb.sf2"
FREEPATS = "freepats"

# Name: sound set, bank, program (from 0), lowest and highest note.
TRAIN = {
    "fluid-banjo": (FLUID, 0, 105, 48, 88),
    "fluid-steel": (FLUID, 0, 25, 40, 84),
    "fluid-nylon": (FLUID, 0, 24, 40, 84),
    "fluid-jazz": (FLUID, 0, 26, 40, 84),
    "fluid-clean": (FLUID, 0, 27, 40, 84),
    "fluid-muted": (FLUID, 0, 28, 40, 84),
    "fluid-twelve": (FLUID, 8, 25, 40, 84),
    "fluid-mandolin": (FLUID, 16, 25, 55, 90),
    "fluid-ukulele": (FLUID, 8, 24, 55, 86),
    "fluid-sitar": (FLUID, 0, 104, 48, 84),
    "fluid-shamisen": (FLUID, 0, 106, 48, 84),
    "fluid-koto": (FLUID, 0, 107, 48, 88),
    "fluid-dulcimer": (FLUID, 0, 15, 48, 88),
    "fluid-harp": (FLUID, 0, 46, 43, 88),
    "fluid-harpsichord": (FLUID, 0, 6, 43, 88),
    "fluid-pizzicato": (FLUID, 0, 45, 48, 84),
    "muse-pizzicato": (MUSESCORE, 0, 45, 48, 84),
}
HELD_OUT = {
    "tim-banjo": (TIM, 0, 105, 48, 86),
    "tim-steel": (TIM, 0, 25, 43, 84),
    "tim-nylon": (TIM, 0, 24, 43, 84),
    "tim-clean": (TIM, 0, 27, 43, 84),
    "pats-steel": (FREEPATS, 0, 25, 43, 84),
    "pats-nylon": (FREEPATS, 0, 24, 43, 84),
}
# What plays in the background: bass, fiddle, voices, piano, accordion, harmonica and drums beside the guitars.
BAND_TRAIN = {
    "fluid-bass": (FLUID, 0, 32, 28, 55),
    "fluid-fiddle": (FLUID, 0, 40, 55, 88),
    "fluid-oohs": (FLUID, 0, 53, 45, 79),
    "fluid-voice": (FLUID, 0, 85, 45, 79),
    "fluid-piano": (FLUID, 0, 0, 40, 84),
    "fluid-accordion": (FLUID, 0, 21, 50, 84),
    "fluid-harmonica": (FLUID, 0, 22, 55, 84),
    "fluid-drums": (FLUID, 128, 0, 35, 60),
}
BAND_HELD_OUT = {
    "tim-bass": (TIM, 0, 32, 28, 55),
    "tim-fiddle": (TIM, 0, 40, 55, 88),
    "tim-oohs": (TIM, 0, 53, 45, 79),
    "tim-drums": (TIM, 128, 0, 35, 60),
}
MADE = 36
"""How many voices of decaying partials there are, for training."""

VELOCITIES = (70, 110)
# Seconds that a note is held, from one to the next, and that are kept before its beginning.
HELD, APART, BEFORE = 2.6, 3.0, 0.01
RATES = (16_000, 44_100)


# Where Debian's packages put sound sets; where else, the environment's SOUND_SETS says.
ROOTS = [pathlib.Path(root) for root in ("/usr/share/sounds", "/usr/share/midi", os.environ.get("SOUND_SETS", "")) if root]


def sound_set(pattern):
    found = [path for root in ROOTS for path in root.rglob(pattern)]
    if not found:
        raise SystemExit(f"{pattern} is not there; VOICES.md says which packages are needed")
    return found[0]


def played(where, bank, program, notes, folder):
    """One note after the other: the sound and its rate."""
    drums = bank == 128
    channel = 9 if drums else 0
    file = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    if not drums:
        track.append(mido.Message("control_change", control=0, value=bank, channel=channel))
    track.append(mido.Message("program_change", program=program, channel=channel))
    wait = 500
    for pitch, velocity in notes:
        track.append(mido.Message("note_on", note=pitch, velocity=velocity, time=wait, channel=channel))
        track.append(mido.Message("note_off", note=pitch, time=int(HELD * 1000), channel=channel))
        wait = int((APART - HELD) * 1000)
    mid, wav = folder / "notes.mid", folder / "notes.wav"
    file.save(mid)
    if where == FREEPATS:
        config = folder / "timidity.cfg"
        patch = sound_set(f"Tone_000/{program:03}_*.pat")
        config.write_text(f"dir {patch.parent}\nbank 0\n{program} {patch.name}\n")
        command = ["timidity", "-c", config, "-Ow", "-s", "44100", "--output-mono", "-EFreverb=0", "-EFchorus=0",
                   "--volume-compensation", "-o", wav, mid]
    else:
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-z", "64", "-r", "44100", "-g", "0.6",
                   "-O", "float", "-T", "wav", "-F", wav, sound_set(where), mid]
    subprocess.run([str(word) for word in command], check=True, capture_output=True)
    sound, rate = soundfile.read(wav, dtype="float32", always_2d=True)
    return sound.mean(axis=1), rate


def from_beginning(clip, rate):
    """From BEFORE seconds before the place where it reaches a twentieth of its peak."""
    level = np.abs(clip)
    begins = int(np.argmax(level > 0.05 * level.max()))
    before = int(BEFORE * rate)
    clip = np.concatenate([np.zeros(before, "float32"), clip])
    clip = clip[begins:begins + int((HELD + BEFORE) * rate)].copy()
    clip[:before // 2] *= np.linspace(0, 1, before // 2, dtype="float32")
    return clip


def recorded(where, bank, program, low, high):
    notes = [(pitch, velocity) for pitch in range(low, high + 1) for velocity in VELOCITIES]
    with tempfile.TemporaryDirectory() as folder:
        sound, rate = played(where, bank, program, notes, pathlib.Path(folder))
    clips = []
    for n in range(len(notes)):
        start = int((0.49 + APART * n) * rate)
        clip = sound[start:start + int((HELD + 0.05) * rate)]
        clip = np.pad(clip, (0, max(0, int((HELD + 0.05) * rate) - len(clip))))
        clips.append(from_beginning(clip, rate) if np.abs(clip).max() > 1e-4 else None)
    return notes, clips, rate


def made(seed):
    """Decaying partials of a stiff string, plucked somewhere, over a body that is struck with it."""
    chance = np.random.default_rng(seed)
    rate = 44_100
    place = chance.uniform(0.04, 0.35)
    fall = chance.uniform(0.2, 1.6)
    stiff = 10 ** chance.uniform(-5.5, -3.6)
    ring = 10 ** chance.uniform(-0.6, 0.9)
    damp = chance.uniform(0.3, 1.5)
    rise = chance.uniform(0.0002, 0.004)
    body = [(chance.uniform(150, 2500), chance.uniform(0.008, 0.09), 10 ** chance.uniform(-2, 0))
            for _ in range(chance.integers(3, 9))]
    knock = 10 ** chance.uniform(-1.6, 0.3)
    hiss = 10 ** chance.uniform(-2.5, -0.5)
    formants = [(chance.uniform(150, 4000), chance.uniform(0.1, 0.8), chance.uniform(-12, 12)) for _ in range(5)]
    time = np.arange(int((HELD + 0.01) * rate)) / rate
    notes, clips = [], []
    for pitch in range(43, 88):
        for velocity in VELOCITIES:
            hertz = 440 * 2 ** ((pitch - 69) / 12)
            sound = np.zeros_like(time)
            soft = 0.35 if velocity < 90 else 0.0
            for n in range(1, 46):
                partial = hertz * n * np.sqrt(1 + stiff * n * n)
                if partial > 9_000:
                    break
                level = abs(np.sin(np.pi * n * place)) * n ** -(fall + soft) * 10 ** (chance.normal(0, 4) / 20)
                for middle, width, gain in formants:
                    level *= 10 ** (gain / 20 * np.exp(-0.5 * (np.log2(partial / middle) / width) ** 2))
                lasts = ring * (200 / partial) ** damp * (196 / hertz) ** 0.3 * np.exp(chance.normal(0, 0.3))
                lasts = np.clip(lasts, 0.03, 12)
                beat, share = chance.uniform(0.1, 3), chance.uniform(0, 0.6)
                phase = chance.uniform(0, 2 * np.pi)
                fade = np.exp(-6.9 / lasts * time)
                sound += level * fade * ((1 - share) * np.sin(2 * np.pi * partial * time + phase)
                                         + share * np.exp(-1.5 * time / lasts)
                                         * np.sin(2 * np.pi * (partial + beat) * time + phase))
            sound /= np.abs(sound[:4_000]).max() + 1e-9
            for middle, lasts, level in body:
                middle *= np.exp(chance.normal(0, 0.01))
                sound += knock * level * np.exp(-6.9 / lasts * time) * np.sin(2 * np.pi * middle * time)
            pick = chance.normal(0, 1, len(time)) * np.exp(-time / chance.uniform(0.001, 0.006))
            sound += hiss * pick
            sound *= 1 - np.exp(-time / rise)
            sound = np.concatenate([np.zeros(441), sound]).astype("float32")
            notes.append((pitch, velocity))
            clips.append(from_beginning(sound * (0.4 if velocity < 90 else 0.8), rate))
    return notes, clips, rate


def save(folder, name, notes, clips, rate, rates):
    """The quietest and loudest of a voice's notes may be 30 dB apart between sound sets: all get one peak."""
    most = max(np.abs(clip).max() for clip in clips if clip is not None)
    for to in rates:
        kept, sounds = [], []
        for note, clip in zip(notes, clips):
            if clip is None:
                continue
            sound = scipy.signal.resample_poly(clip, 160, 441) if to == 16_000 else clip
            kept.append(note)
            sounds.append(np.round(np.clip(sound / most, -1, 1) * 32_767).astype("int16"))
        length = int((HELD + BEFORE) * to)
        whole = np.stack([np.pad(sound, (0, max(0, length - len(sound))))[:length] for sound in sounds])
        np.savez(folder / f"{name}-{to}.npz", notes=np.array(kept), sounds=whole)


def main():
    folder = pathlib.Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, voice in {**TRAIN, **HELD_OUT, **BAND_TRAIN, **BAND_HELD_OUT}.items():
        held_out = name in HELD_OUT or name in BAND_HELD_OUT
        save(folder, name, *recorded(*voice), RATES if held_out else RATES[:1])
        print(name, flush=True)
    for n in range(MADE):
        save(folder, f"made-{n:02}", *made(n), RATES[:1])
    print(MADE, "made", flush=True)


class Voice:
    """The notes of a voice at a rate."""

    def __init__(self, folder, name, rate):
        file = np.load(pathlib.Path(folder) / f"{name}-{rate}.npz")
        self.name, self.rate, self.sounds = name, rate, file["sounds"]
        self.places = {(int(pitch), int(velocity)): n for n, (pitch, velocity) in enumerate(file["notes"])}
        self.pitches = sorted({pitch for pitch, _ in self.places})
        self.before = int(BEFORE * rate)

    def clip(self, pitch, hard):
        """A note from `before` samples before its beginning; of the nearest there is, with how many semitones off."""
        near = min(self.pitches, key=lambda other: (abs(other - pitch), other))
        place = self.places.get((near, VELOCITIES[1 if hard else 0]), self.places.get((near, VELOCITIES[0])))
        if place is None:
            place = next(n for (other, _), n in self.places.items() if other == near)
        return self.sounds[place].astype("float32") / 32_767, pitch - near


if __name__ == "__main__":
    main()
