"""Holds the lead sheets of songs to the published schema of MusicXML 4.0, and reads them with music21.

    lead_sheets.py OPENCHAIR SONG...

Every song must be valid, and its bars with all repeats played, which music21 counts, must be as many as its sections
have by the song file's own words. Exported as ABC and as MusicXML, and imported again, its file says the same.
"""

import fractions
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib

import music21
from lxml import etree

import tablature
import tunes


# What of a song file a lead sheet holds, besides its sections.
WORDS = ["title", "composer", "key", "meter", "tempo", "style", "kickoff", "ending", "form"]


def timed(cell):
    """What sounds in a bar, and for which share of it: `C / D /` is `C D`."""
    head, _, rest = cell.rpartition(") ") if cell.startswith("(") and "/" in cell.split()[0] else ("", "", cell)
    steps = []
    for word in rest.split():
        if steps and (word == "/" or word == "-" == steps[-1][0]):
            steps[-1][1] += 1
        else:
            steps.append([word, 1])
    whole = sum(count for _, count in steps)
    return head, [(word, fractions.Fraction(count, whole)) for word, count in steps]


def words(toml, in_numbers):
    """What the file says; a section by what is played, however its rows are laid out."""
    notes = [line.strip() for line in toml.get("notes", "").splitlines()]
    usual = {"kickoff": "none", "ending": "hit"}
    # Who sits out a pass, and how loud a section is, are no part of a lead sheet.
    form = [f"{entry['play']}: {entry['lead']}" if isinstance(entry, dict) else entry for entry in toml["form"]]
    sections = {}
    for name, section in toml["section"].items():
        order = tunes.unrolled(section["chords"])
        played = []
        for row in ("chords", "melody"):
            cells = []
            for _, cell in tunes.cells(section.get(row, "")):
                if cell is not None:
                    cells.append(cells[-1] if cell == "%" else cell)
            if row == "chords" and in_numbers:
                # They come back by their names.
                cells = ["1"] * len(cells)
            bars = [timed(cells[place]) for place in order] if cells else []
            # The length of a pickup may stand in the tune's row too, and need not.
            played.append(bars if row == "chords" else [steps for _, steps in bars])
        sections[name] = played
    said = {word: toml.get(word, usual.get(word)) for word in WORDS} | {"form": form}
    return said, [line for line in notes if line], sections


def comes_back(program, song):
    """Fails if another song comes back from a lead sheet."""
    toml = tomllib.loads(pathlib.Path(song).read_text(encoding="utf-8"))
    for ending in ("abc", "musicxml"):
        with tempfile.TemporaryDirectory() as folder:
            target, back = pathlib.Path(folder) / f"sheet.{ending}", pathlib.Path(folder) / "back"
            subprocess.run([program, "export", song, "-o", target], check=True)
            subprocess.run([program, "import", target, "-o", back], check=True, capture_output=True)
            again = tomllib.loads(next(back.glob("*.toml")).read_text(encoding="utf-8"))
        in_numbers = all(re.match(r"[|:\s]*[b#]?\d", section["chords"]) for section in toml["section"].values())
        before, after = words(toml, in_numbers), words(again, in_numbers)
        assert before == after, f"{song} as {ending}:\n{before}\n{after}"


def main():
    program, *songs = sys.argv[1:]
    published = tablature.schema()
    for song in songs:
        with tempfile.TemporaryDirectory() as folder:
            target = pathlib.Path(folder) / "sheet.musicxml"
            subprocess.run([program, "export", song, "-o", target], check=True)
            document = etree.parse(target, etree.XMLParser(load_dtd=False, no_network=True))
            assert published.validate(document), f"{song}: {published.error_log}"
            part = music21.converter.parse(target, format="musicxml").parts[0]
        toml = tomllib.loads(pathlib.Path(song).read_text(encoding="utf-8"))
        bars = sum(len(tunes.unrolled(section["chords"])) for section in toml["section"].values())
        played = len(part.expandRepeats().getElementsByClass("Measure"))
        assert played == bars, f"{song}: {played} bars are played, and it has {bars}"
        comes_back(program, song)
    print(f"lead sheets: {len(songs)} valid by the MusicXML 4.0 schema, as long as their songs, and the same when they come back")


if __name__ == "__main__":
    main()
