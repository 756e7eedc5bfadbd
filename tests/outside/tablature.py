#!/usr/bin/env python3
"""Holds the tab's MusicXML to the published schema, and reads it with a library that is not ours (music21).

    tablature.py OPENCHAIR SONG...

Every song at every level must be valid by the MusicXML 4.0 schema (W3C Music Notation Community Group, under
the W3C Community Final Specification Agreement), which the package `musicxml` brings along. One level of each
song is opened by music21 as well: its measures are as long as their meters, its notes are what
`tab --json` says is picked, its chords are the chart's and mean what the program takes them for, and it
stands on a staff of five lines with a TAB clef. What `tab` writes as MIDI, read by mido, has the same notes, and what the left
hand joins is joined in both.
"""
import importlib.util
import io
import json
import pathlib
import subprocess
import sys
import tempfile
from collections import Counter

import mido
import music21
from lxml import etree

LEVELS = ["plain", "sixths", "lead-ins", "full"]

# What the schema takes from two others, which are not published with it: attributes of XML 1.0 and XLink 1.1.
IMPORTED = {
    "xml.xsd": ("http://www.w3.org/XML/1998/namespace", ["lang", "space"]),
    "xlink.xsd": (
        "http://www.w3.org/1999/xlink",
        ["href", "type", "role", "title", "show", "actuate"],
    ),
}


class Imports(etree.Resolver):
    """Answers for the schemas that are imported, without a network."""

    def resolve(self, url, public_id, context):
        found = IMPORTED.get(url.rsplit("/", 1)[-1])
        if not found:
            return None
        namespace, names = found
        attributes = "".join(f'<xs:attribute name="{name}" type="xs:string"/>' for name in names)
        return self.resolve_string(
            '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" '
            f'targetNamespace="{namespace}">{attributes}</xs:schema>',
            context,
        )


def schema():
    [folder] = importlib.util.find_spec("musicxml").submodule_search_locations
    [path] = pathlib.Path(folder).rglob("musicxml_4_0.xsd")
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Imports())
    return etree.XMLSchema(etree.parse(path, parser))


def tab(program, song, *options):
    command = [program, "tab", song, *options]
    return subprocess.run(command, check=True, capture_output=True).stdout


def begun(measure):
    """What begins in a measure: strings with their frets, and pitches, each in order."""
    places, pitches = [], []
    for note in measure.notes:
        if isinstance(note, music21.harmony.Harmony):
            continue
        each = getattr(note, "notes", [note])
        if any(one.tie and one.tie.type != "start" for one in each):
            continue
        pitches += [one.pitch.midi for one in each]
        # A chord has those of all of its notes, in the order in which they are written.
        marks = {"StringIndication": [], "FretIndication": []}
        for mark in note.articulations:
            marks.get(type(mark).__name__, []).append(getattr(mark, "number", None))
        places += zip(*marks.values(), strict=True)
    return sorted(places), sorted(pitches)


def check_chords(symbols, bars):
    """The harmonies are the chart's, and their tones are those of the program's chords."""
    named = [c["chord"] for bar in bars for c in bar["chords"]]
    kept = [name for at, name in enumerate(named) if at == 0 or name != named[at - 1]]
    written = list(symbols)
    assert len(written) == len(kept), (len(written), len(kept))
    for symbol, name in zip(written, kept):
        if name is None:
            assert isinstance(symbol, music21.harmony.NoChord), symbol
            continue
        root = symbol.root().name.replace("-", "b")
        assert name.startswith(root), (symbol, name)


def check_midi(track, picks, song):
    """What sounds is what is picked and slurred, and the frets that slides go over; what goes on from a key that
    sounds is named before it begins."""
    begun, passing = Counter(), Counter()
    sounding, named = set(), None
    for message in track:
        if message.type == "control_change" and message.control == 84:
            assert message.value in sounding, (song, message)
            named = message.value
        elif message.type == "note_on" and message.velocity:
            begun[message.note] += 1
            sounding.add(message.note)
            named = None
        elif message.type in ("note_on", "note_off"):
            assert named is None, (song, message)
            sounding.discard(message.note)
    for pick in picks:
        if pick.get("slur", {}).get("kind") == "slide":
            low, high = sorted((pick["slur"]["from"], pick["fret"]))
            passing.update(pick["pitch"] - pick["fret"] + fret for fret in range(low + 1, high))
    picked = Counter(pick["pitch"] for pick in picks)
    assert not picked - begun and not begun - picked - passing, song


def check_slurs(part, picks, song):
    """music21 finds as many hammer-ons, pull-offs, slides and slurs as the data has."""
    kinds = Counter(pick["slur"]["kind"] for pick in picks if "slur" in pick)
    spanners = Counter(type(one).__name__ for one in part.recurse().getElementsByClass("Spanner"))
    assert spanners["Slur"] == sum(kinds.values()), (song, spanners, kinds)
    assert spanners["Glissando"] == kinds["slide"], (song, spanners, kinds)
    assert spanners["HammerOn"] == kinds["hammer"], (song, spanners, kinds)
    assert spanners["PullOff"] == kinds["pull"], (song, spanners, kinds)


def check(program, song, level, published):
    for one in LEVELS:
        document = tab(program, song, "--level", one, "--format", "musicxml")
        if not published.validate(etree.fromstring(document)):
            raise AssertionError(f"{song} {one}: {published.error_log}")
    document = tab(program, song, "--level", level, "--format", "musicxml")
    data = json.loads(tab(program, song, "--level", level, "--json"))
    score = music21.converter.parseData(document, format="musicxml")
    [part] = score.parts
    measures = list(part.getElementsByClass("Measure"))
    assert len(measures) == len(data["bars"])
    clef = measures[0].clef
    assert isinstance(clef, music21.clef.TabClef), clef
    [layout] = measures[0].recurse().getElementsByClass("StaffLayout")
    assert layout.staffLines == 5
    for measure, bar in zip(measures, data["bars"]):
        above, below = map(int, bar["meter"].split("/"))
        assert measure.highestTime == 4 * above / below, (song, bar["number"])
        places = sorted((pick["string"], pick["fret"]) for pick in bar["picks"])
        pitches = sorted(pick["pitch"] for pick in bar["picks"])
        assert begun(measure) == (places, pitches), (song, bar["number"], begun(measure), places)
    check_chords(part.recurse().getElementsByClass("Harmony"), data["bars"])
    file = mido.MidiFile(file=io.BytesIO(tab(program, song, "--level", level, "--format", "mid")))
    assert [track.name for track in file.tracks[1:]] == ["banjo"]
    picks = [pick for bar in data["bars"] for pick in bar["picks"]]
    check_midi(file.tracks[1], picks, song)
    check_slurs(part, picks, song)
    return len(picks)


def check_symbols(program):
    """music21 takes every symbol that we write for the tones on which general music libraries agree."""
    reference = pathlib.Path(__file__).parent.parent / "reference" / "chords.jsonl"
    rows = [json.loads(line) for line in reference.read_text().splitlines()]
    bars = "\n".join(f"| {row['symbol']} |" for row in rows)
    with tempfile.TemporaryDirectory() as folder:
        song = pathlib.Path(folder) / "symbols.toml"
        song.write_text(
            f'title = "Symbols"\nkey = "C"\nmeter = "4/4"\ntempo = 100\nstyle = "boom-chick"\n'
            f'form = ["a"]\nending = "none"\n[section.a]\nchords = """\n{bars}\n"""\n'
        )
        document = tab(program, song, "--level", "plain", "--format", "musicxml")
    score = music21.converter.parseData(document, format="musicxml")
    measures = score.parts[0].getElementsByClass("Measure")
    symbol = None
    for row, measure in zip(rows, measures, strict=True):
        # A chord that goes on under another spelling is not written again.
        symbol = measure.getElementsByClass("ChordSymbol").first() or symbol
        classes = {pitch.pitchClass for pitch in symbol.pitches}
        assert classes == set(row["pcs"]), (row, symbol.figure, sorted(classes))
        assert symbol.bass().pitchClass == row["bass"], (row, symbol.figure)
    return len(rows)


def main():
    program, songs = sys.argv[1], sys.argv[2:]
    published = schema()
    symbols = check_symbols(program)
    count = sum(
        check(program, song, LEVELS[at % len(LEVELS)], published) for at, song in enumerate(songs)
    )
    print(
        f"MusicXML 4.0 schema: {len(songs) * len(LEVELS)} files valid; music21 "
        f"{music21.__version__}: {len(songs)} scores with {count} notes and {symbols} chord symbols read back"
    )
    assert songs and count


if __name__ == "__main__":
    main()
