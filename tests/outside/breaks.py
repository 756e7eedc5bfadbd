"""Breaks that are made up from chords, held against tunes that people made.

    breaks.py OPENCHAIR [--show]

The chords of `charts.txt` are led by each instrument without a tune, and what `openchair export` writes for the lead is
measured beside the tunes to which those chords belong: how many notes that begin on a strong beat are of the chord. How
the line moves (steps, skips and leaps), how many notes a bar has and where it ends is measured beside some hundred songs
and reels in music21's collections, as music21 reads them. A plain break lies between the two: it moves more than a song
and is less busy than a reel.
"""

import argparse
import collections
import pathlib
import re
import subprocess
import sys
import tempfile
import warnings

import mido

from chords import charts, examples, root_of
from tunes import BARS, tunes_of

warnings.simplefilter("ignore")

# A banjo's roll and a resonator's fills stand on the grid as their line does, and no file tells them apart.
# Nor what a mandolin breaks over three strings in 3/4 where its line holds a note.
BROKEN = [("mandolin", "3/4")]
LEADS = ["fiddle", "mandolin", "guitar"]
STYLES = {"4/4": "boom-chick", "2/2": "breakdown", "2/4": "polka", "3/4": "waltz", "6/8": "jig"}
# Strong beats in quarters, of a bar written as in BARS.
STRONG = {"4/4": 2, "2/2": 2, "2/4": 1, "3/4": 3, "6/8": 1.5}
# Between which people's tunes a break is to lie, and how far outside of them its shares and its notes a bar may.
GROUPS = {"4/4": ["songs in 4/4", "reels"], "3/4": ["songs in 3/4"]}
CHORD, MOVES, BUSY = 0.03, 0.1, 1.0
# Two half steps at most (the same note too), three or four, more.
KINDS = ("step", "skip", "leap")
SEVENTH = re.compile(r"[A-G][#b]?m?7$")


def tones_of(chord):
    root = root_of(chord)
    tones = {root, root + (3 if "m" in chord[1:] else 4), root + 7}
    if SEVENTH.match(chord):
        tones.add(root + 10)
    return {tone % 12 for tone in tones}


class Line:
    """The figures of a line: one tune's, or a break's."""

    def __init__(self):
        self.strong = self.strong_of_chord = self.notes = self.bars = 0
        self.moves = collections.Counter()

    def move(self, way):
        way = abs(way)
        kind = "step" if way <= 2 else "skip" if way <= 4 else "leap"
        self.moves[kind] += 1

    def share(self, kind):
        return self.moves[kind] / max(1, self.moves.total())


class Sum(Line):
    """Those of many, with how many end at home."""

    def __init__(self):
        super().__init__()
        self.lines = self.home = 0

    def add(self, line, ends_home):
        for name in ("strong", "strong_of_chord", "notes", "bars"):
            setattr(self, name, getattr(self, name) + getattr(line, name))
        self.moves += line.moves
        self.lines += 1
        self.home += ends_home

    def row(self, name):
        chord = f"{100 * self.strong_of_chord / self.strong:5.1f}" if self.strong else "    -"
        moves = "  ".join(f"{100 * self.share(kind):5.1f}" for kind in KINDS)
        return (f"{name:22} {self.lines:5}  {chord}  {moves}  {self.notes / self.bars:6.2f}"
                f"  {100 * self.home / self.lines:5.1f}")


def song_file(key, meter, chords, lead):
    rows = "\n".join("| " + " | ".join(" ".join(bar) for bar in chords[at:at + 4]) + " |"
                     for at in range(0, len(chords), 4))
    return (f'title = "Held out"\nkey = "{key}"\nmeter = "{meter}"\ntempo = 100\nstyle = "{STYLES[meter]}"\n'
            f'ending = "none"\n{"" if meter == "6/8" else "swing = 0.5"}\nform = ["part: {lead}"]\n'
            f'[section.part]\nchords = """\n{rows}\n"""\n')


def led(openchair, song, seed):
    """What the lead's chair plays: where in quarters, how long, what."""
    with tempfile.TemporaryDirectory() as folder:
        source, out = pathlib.Path(folder, "song.toml"), pathlib.Path(folder, "song.mid")
        source.write_text(song, encoding="utf-8")
        subprocess.run([openchair, "export", source, "-o", out, "--band", "bass,lead", "--feel", "grid",
                        "--seed", str(seed)], check=True, capture_output=True)
        file = mido.MidiFile(out)
        track = next(track for track in file.tracks if track.name == "lead")
        at, open_, notes = 0, {}, []
        for message in track:
            at += message.time
            if message.type == "note_on" and message.velocity:
                open_[message.note] = at
            elif message.type in ("note_on", "note_off") and message.note in open_:
                began = open_.pop(message.note)
                notes.append((began / file.ticks_per_beat, (at - began) / file.ticks_per_beat, message.note))
        assert not open_, "a note without an end"
        return sorted(notes)


def tune_of(notes, grid):
    """The line: what begins on the grid, of two at once the higher. What a hand sets off from is left out, a strum over
    three strings too, and a tremolo is one note."""
    struck, trembles, ends = {}, {}, {}
    for at, length, pitch in notes:
        goes_on = pitch in ends and at - ends[pitch] < 0.06 and trembles[pitch] < 0.2 and length < 0.4
        trembles[pitch], ends[pitch] = length, at + length
        if not goes_on and abs(at / grid - round(at / grid)) < 0.04:
            struck.setdefault(round(at / grid) * grid, []).append((pitch, length))
    return [(at, *max(struck[at])) for at in sorted(struck) if len(struck[at]) < 3]


def measured(line, meter, chords):
    """The figures of a line over the chords of each bar."""
    out = Line()
    out.bars = len(chords)
    length, strong = BARS[meter], STRONG[meter]
    pitches = [pitch for _, pitch, _ in line]
    for before, after in zip(pitches, pitches[1:]):
        out.move(after - before)
    for at, pitch, _ in line:
        out.notes += 1
        bar, place = int(at // length), at % length
        if place % strong == 0 and bar < len(chords):
            cell = chords[bar]
            out.strong += 1
            chord = cell[min(len(cell) - 1, int(place * len(cell) / length))]
            out.strong_of_chord += pitch % 12 in tones_of(chord)
    return out


def people_over_chords(openchair):
    """The tunes of the charts on their strong beats."""
    out = Sum()
    for example in examples(openchair, False):
        line = Line()
        for index, half, count, _, notes in example.part.places:
            root, minor = example.chords[example.part.places.index((index, half, count, _, notes))]
            home = example.key[0]
            tones = {(home + root + step) % 12 for step in (0, 3 if minor else 4, 7)}
            for pitch, struck, *_ in notes:
                if struck == 0:
                    line.strong += 1
                    line.strong_of_chord += pitch in tones
        out.add(line, False)
    return out


def people(corpus, files, meters, most):
    """How tunes move, as music21 reads them, each as it is written."""
    from music21 import converter

    out = Sum()
    for file in files:
        for text in tunes_of(corpus / file):
            meter = re.search(r"(?m)^M:\s*(\S+)", text)
            if not meter or meter[1] not in meters or out.lines >= most:
                continue
            try:
                score = converter.parse(text, format="abc")
                key = next(iter(score.recurse().getElementsByClass("KeySignature")))
                notes = [note for note in score.recurse().notes if note.isNote and not note.duration.isGrace]
                bars = sum(note.quarterLength for note in notes) / meters[meter[1]]
                tonic = key.asKey() if not hasattr(key, "tonic") else key
            except Exception:
                continue
            if len(notes) < 16:
                continue
            line = Line()
            line.bars, line.notes = float(bars), len(notes)
            for before, after in zip(notes, notes[1:]):
                line.move(after.pitch.midi - before.pitch.midi)
            out.add(line, notes[-1].pitch.pitchClass == tonic.tonic.pitchClass)
    return out


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("openchair")
    parser.add_argument("--show", action="store_true", help="prints each break")
    arguments = parser.parse_args()
    openchair = pathlib.Path(arguments.openchair).resolve()

    import music21

    corpus = pathlib.Path(music21.__file__).parent / "corpus"
    songs = [f"essenFolksong/{name}.abc" for name in ("irl", "erk10", "ballad10", "boehme10")]
    reels = [f"ryansMammoth/{path.name}" for path in sorted((corpus / "ryansMammoth").glob("*Reel.abc"))]
    reels += ["oneills1850/1276-1375.abc"]
    four, three = {"4/4": 4, "C": 4, "C|": 4}, {"3/4": 3}
    over_chords = people_over_chords(openchair)
    theirs = {
        "songs in 4/4": people(corpus, songs, four, 200),
        "reels": people(corpus, reels, four, 200),
        "songs in 3/4": people(corpus, songs, three, 150),
    }
    print("                        lines  chord   step   skip   leap   a bar   home")
    print(over_chords.row("tunes of the charts") if over_chords.moves else
          f"tunes of the charts    {over_chords.lines:5}  {100 * over_chords.strong_of_chord / over_chords.strong:5.1f}")
    for name, sums in theirs.items():
        print(sums.row(name))

    failures = []
    for lead in LEADS:
        for meter in GROUPS:
            sums = Sum()
            if (lead, meter) in BROKEN:
                continue
            for seed, (_, title, _, chords) in enumerate(charts()):
                key = home_of_chart(chords)
                if key is None:
                    continue
                if meter == "3/4":
                    chords = [[bar[0]] for bar in chords[:-1]] + [chords[-1][-1:]]
                line = tune_of(led(openchair, song_file(key, meter, chords, lead), seed), 0.5)
                if arguments.show:
                    print(lead, meter, title, [(float(at), pitch) for at, pitch, _ in line])
                ends = line[-1][1] % 12 == root_of(key)
                sums.add(measured(line, meter, chords), ends)
            print(sums.row(f"{lead} {meter}"))
            groups = [theirs[name] for name in GROUPS[meter]]
            failures += [f"{lead} in {meter}: {what}" for what in strange(sums, over_chords, groups)]
    for failure in failures:
        print("FAILED", failure)
    return bool(failures)


def strange(ours, over_chords, groups):
    """In what breaks are not near what people play."""
    def between(value, values, far):
        return min(values) - far <= value <= max(values) + far

    chord = [line.strong_of_chord / line.strong for line in (ours, over_chords)]
    # What leans on a strong beat is people's own; but a break without any would be an exercise.
    if not chord[1] - CHORD <= chord[0] < 1:
        yield f"of the chord on strong beats {chord[0]:.3f}, people's {chord[1]:.3f}"
    for kind in KINDS:
        shares = [group.share(kind) for group in groups]
        if not between(ours.share(kind), shares, MOVES):
            yield f"{kind}s {ours.share(kind):.3f}, people's {shares}"
    a_bar = [group.notes / group.bars for group in groups]
    if not between(ours.notes / ours.bars, a_bar, BUSY):
        yield f"notes a bar {ours.notes / ours.bars:.2f}, people's {a_bar}"
    if ours.home / ours.lines < max(group.home / group.lines for group in groups):
        yield f"{ours.home} of {ours.lines} end at home"


def home_of_chart(chords):
    """The chord at the end, if the chart comes home."""
    last = chords[-1][-1]
    return last if re.fullmatch(r"[A-G][#b]?m?", last) else None


if __name__ == "__main__":
    sys.exit(main())
