#!/usr/bin/env python3
"""Holds that two builds of the program play the same: python3 same_bytes.py OLD NEW, in the project's folder.

Every song in every style with every chair open, and what is made of each song, byte for byte. For changes that are
to alter nothing a player hears.
"""

import glob
import itertools
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

ROLES = ["bass", "chop", "guitar", "banjo", "fiddle", "lead"]
OPEN = [[], *([role] for role in ROLES), ["bass", "chop"], ["turns"], ["surprise"]]
EXPORT = ["-o", "-", "--format", "mid"]
OF_A_SONG = [
    ["export", "SONG", *EXPORT, "--with", "banjo"],
    ["export", "SONG", *EXPORT, "--with", "banjo", "--level", "plain"],
    ["export", "SONG", *EXPORT, "--seed", "7", "--count-in", "2"],
    ["export", "SONG", *EXPORT, "--key", "A"],
    ["export", "SONG", *EXPORT, "--speed", "60"],
    ["tab", "SONG"],
    ["tab", "SONG", "--json"],
    ["tab", "SONG", "--level", "plain", "--sit-out", "chop"],
    ["coverage", "SONG", "--json"],
    ["coverage", "SONG", "--sit-out", "chop"],
]


def calls():
    """What both are asked for."""
    songs = sorted(glob.glob("songs/*.toml"))
    styles = sorted(Path(style).stem for style in glob.glob("backing-styles/*.toml"))
    for song, style, out in itertools.product(songs, styles, OPEN):
        chairs = [word for role in out for word in ("--sit-out", role)]
        for band in ([], ["--band", ",".join(ROLES)]):
            yield ["export", song, "--style", style, *EXPORT, *chairs, *band]
    for song, call in itertools.product(songs, OF_A_SONG):
        yield [song if word == "SONG" else word for word in call]


def answer(program, call):
    done = subprocess.run([program, *call], capture_output=True, check=False)
    return done.returncode, done.stdout, done.stderr


def main():
    old, new = sys.argv[1:]
    same = refused = 0
    differ = []
    with ThreadPoolExecutor(2) as pool:
        both = lambda call: (call, answer(old, call), answer(new, call))
        for call, before, after in pool.map(both, calls()):
            if before == after:
                same += 1
                refused += before[0] != 0
            else:
                differ.append(" ".join(call))
    print(*differ[:20], sep="\n", end="\n" if differ else "")
    print(f"{same} the same ({refused} of them refused alike), {len(differ)} differ")
    sys.exit(bool(differ))


main()
