"""Players made up and seeded, heard through an instrument that nothing was learnt from, in a room: whether the review
names what a teacher would. Who they are stands in tests/pure/players_for_sound.rs, which writes them down:

    FOLDER=/tmp/players SEEDS=10 cargo test --test pure players_are_written_down -- --ignored
    players.py VOICES FOLDER OPENCHAIR SOUNDFONT [PLAYER,PLAYER [FIRST:END]]

from the repository's root. A take's sound is made, reviewed and thrown away again; FOLDER/told.json keeps what was said.
Beside those written down there are the band alone, the band softly with nobody near, and vampers beside a loudspeaker.
"""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
import scipy.signal
import soundfile

from parts import Player, amplitude
from rooms import behind, room, rms
from voices import HELD_OUT, Voice

RATE = 16_000
# Decibels of the band in the microphone below the player, and the rooms: seconds to die away, decibels of the direct sound.
LOUDSPEAKER = (30, 20)
ROOMS = {"bedroom": (0.35, 4.0), "kitchen": (0.7, 2.0)}
STRINGS = 5
VOICES, FOLDER, PROGRAM, SOUNDFONT = (None,) * 4


def play(voice, take, chance):
    """The sound of a take: each note on a string that is free or has rung longest, chords choked as a vamp's are."""
    length = take["hits"][-1][0] + 2.0
    player = Player(voice, chance, length)
    player.open, player.ringing, player.held = [40] * STRINGS, [None] * STRINGS, [40] * STRINGS
    player.detune = np.resize(player.detune, STRINGS)
    player.string_gain = np.resize(player.string_gain, STRINGS)
    player.thud = min(player.thud, amplitude(-24))
    # As a banjo rings: the voices' own notes are cut off after 2.5 seconds, and must be over by then.
    player.ring = chance.uniform(0.3, 0.7)
    used, string, count = [-9.0] * STRINGS, 0, 0
    for at, loud, pitches, how in take["hits"]:
        if how == "slur":
            player.slur(string, at, pitches[0], "hammer" if pitches[0] > player.ringing[string].pitch else "pull")
            continue
        taken = set()
        for n, pitch in enumerate(pitches):
            same = [s for s in range(STRINGS) if player.ringing[s] is not None and player.ringing[s].pitch == pitch and s not in taken]
            string = same[0] if same else min((s for s in range(STRINGS) if s not in taken), key=lambda s: used[s])
            taken.add(string)
            used[string] = at
            player.pluck(string, at + 0.006 * n, pitch, (loud / 90) ** 2)
        if how == "choked":
            player.damp(at + chance.uniform(0.07, 0.14))
    for string in range(STRINGS):
        player.end(string, length - 0.5, 0.05)
    return player.sound[:int(length * RATE)]


def band(options):
    """What the band of a take plays, by the soundfont."""
    options = [option for option in options if option not in ("--count-in", "1")]
    path = FOLDER / ("_".join(options).replace("/", "-") + ".wav")
    if not path.exists():
        part = path.with_suffix(f".{os.getpid()}.wav")
        subprocess.run([PROGRAM, "export", *options, "--count-in", "1", "--soundfont", SOUNDFONT, "-o", part], check=True, capture_output=True)
        sound, rate = soundfile.read(part, dtype="float32", always_2d=True)
        soundfile.write(part, scipy.signal.resample_poly(sound.mean(1), RATE, rate), RATE)
        part.rename(path)
    return soundfile.read(path, dtype="float32")[0]


def with_band(sound, take, softer):
    other = band(take["options"])
    other = np.pad(other, (0, max(0, len(sound) - len(other))))[:len(sound)]
    return behind(sound, other, softer)


def sounds(take, chance):
    """Each sound of a take: its name, and what is heard."""
    name = take["player"]
    voices = list(HELD_OUT)
    voice = Voice(VOICES, voices[take["seed"] % len(voices)], RATE)
    sound = play(voice, take, chance)
    if name == "vamper":
        for place, (rt60, direct) in ROOMS.items():
            there = room(sound, RATE, chance, rt60=rt60, direct=direct)
            yield f"{name}-{place}", there
            for softer in LOUDSPEAKER:
                yield f"{name}-{place}-band-{softer}", with_band(there, take, softer)
        return
    there = room(sound, RATE, chance, rt60=chance.uniform(0.2, 0.8), direct=chance.uniform(0, 8))
    yield name, there + 1e-4 * rms(there) * chance.normal(0, 1, len(there)).astype("float32")
    if name == "good":
        heard = room(band(take["options"]), RATE, chance, rt60=chance.uniform(0.2, 0.8), direct=chance.uniform(0, 8))
        yield "band-alone", heard
        yield "nobody-band-soft", heard / np.abs(heard).max() * amplitude(-30) + 3e-4 * chance.normal(0, 1, len(heard)).astype("float32")


def review(sound, take, loud):
    with tempfile.TemporaryDirectory(dir=FOLDER) as folder:
        path = pathlib.Path(folder) / "take.wav"
        soundfile.write(path, sound / np.abs(sound).max() * loud, RATE, subtype="PCM_16")
        song, *options = take["options"]
        done = subprocess.run([PROGRAM, "review", song, path, *options, "--json", "--no-log"], capture_output=True, text=True)
    if done.returncode:
        return {"error": done.stderr.replace(str(path), "take")}
    told = json.loads(done.stdout)
    return {"about": told["advice"]["about"], "speed": told["speed"], "begins": told["begins"], "sure": told["sure"],
            "remarks": told["remarks"], "bad": [(it["about"], it["words"]) for it in told["findings"] if not it["good"]]}


def one(path):
    take = json.loads(path.read_text())
    chance = np.random.default_rng([take["seed"], sum(take["player"].encode())])
    out = []
    for name, sound in sounds(take, chance):
        told = review(sound, take, amplitude(-30) if name.startswith("nobody") else 0.7)
        about = ["nobody-heard"] if name.startswith(("nobody", "band")) else take["about"]
        right = told.get("about") in about
        if name == "at-60":
            right = right and told["speed"] == (48 if "80" in take["options"] else 60)
        out.append((name, {"take": path.name, "right": right, "wanted": about, **told}))
    return out


def main():
    global VOICES, FOLDER, PROGRAM, SOUNDFONT
    VOICES, FOLDER, PROGRAM, SOUNDFONT = sys.argv[1], pathlib.Path(sys.argv[2]), sys.argv[3], sys.argv[4]
    wanted = sys.argv[5].split(",") if len(sys.argv) > 5 else None
    first, end = map(int, sys.argv[6].split(":")) if len(sys.argv) > 6 else (0, 1000)
    paths = [path for path in sorted(FOLDER.glob("*_???.json"))
             if (not wanted or path.stem.split("_")[0] in wanted) and first <= int(path.stem.split("_")[1]) < end]
    told = {}
    for path in paths:
        for name, row in one(path):
            told.setdefault(name, []).append(row)
            if not row["right"]:
                print(name, row["take"], row.get("error") or row["bad"], flush=True)
    (FOLDER / "told.json").write_text(json.dumps(told, indent=1))
    for name, rows in told.items():
        print(f"{name:28} {sum(row['right'] for row in rows):3} of {len(rows)}")


if __name__ == "__main__":
    main()
