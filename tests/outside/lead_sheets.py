"""Holds the lead sheets of songs to the published schema of MusicXML 4.0, and reads them with music21.

    lead_sheets.py OPENCHAIR SONG...

Every song must be valid, and its bars with all repeats played, which music21 counts, must be as many as its sections
have by the song file's own words.
"""

import pathlib
import subprocess
import sys
import tempfile
import tomllib

import music21
from lxml import etree

import tablature
import tunes


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
    print(f"lead sheets: {len(songs)} valid by the MusicXML 4.0 schema, and as long as their songs")


if __name__ == "__main__":
    main()
