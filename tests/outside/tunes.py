"""Tunes that are imported, held against what others read of the same files.

    tunes.py OPENCHAIR [--every N] [--list CLASS]

Every tune of music21's collections of ABC (O'Neill's, Ryan's, Aird's, Essen) is imported by `openchair import`, and
the song file that comes out is read here once more, by itself: its rows are unrolled and its notes are laid out in
quarters. The same tune is read by music21, its repeats unrolled, and by abc2midi if that is installed. Pitches and
lengths must be the same, one after the other, and each note must begin at the same time.

What one reader alone says is its own opinion: a tune agrees if it is as either of the two has it. The rest is put into
classes, so that what agrees and what is explained add up to all: first those whose notes are the same, and the time of a
bar was changed so that the band keeps its meter, which the song file says bar by bar; then those that are played in
another order, for reasons that are named; what no reason is found for stands last.
"""

import argparse
import collections
import contextlib
import difflib
import fractions
import functools
import io
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
import warnings

warnings.simplefilter("ignore")

Fraction = fractions.Fraction
COLLECTIONS = ["oneills1850", "ryansMammoth", "airdsAirs", "essenFolksong"]
BARS = {"4/4": 4, "2/2": 4, "2/4": 2, "3/4": 3, "6/8": 3}
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARPS = "FCGDAEB"
FLATTER = {"": 0, "m": 3, "mixolydian": 1, "dorian": 2}
TUPLET = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}


# The song file, read by the README's words and by nothing of the program.

def signature(key):
    """What each letter is raised by."""
    match = re.fullmatch(r"([A-G])(#*|b*)(m?)(?: (\w+))?", key)
    letter, marks, minor, mode = match.groups()
    fifths = "FCGDAEB".index(letter) - 1 + 7 * (marks.count("#") - marks.count("b"))
    fifths -= FLATTER[minor or mode or ""]
    raised = dict.fromkeys("CDEFGAB", 0)
    for step in range(abs(fifths)):
        raised[SHARPS[step % 7] if fifths > 0 else SHARPS[6 - step % 7]] += 1 if fifths > 0 else -1
    return raised


def cells(row):
    """The bars of a row, each with the sign before it; the sign at the end of the row stands alone."""
    out = []
    for line in row.strip().splitlines():
        parts = re.split(r"(:?\|+[:12]?(?=\s|$))", line.strip())
        sign = None
        for part in parts:
            if re.fullmatch(r":?\|+[:12]?", part):
                sign = part if sign is None else sign + part
            elif part.strip():
                out.append([sign or "|", part.strip()])
                sign = None
        out.append([sign or "|", None])
    return out


def unrolled(row):
    """The bars in the order played, by their places in the row."""
    order, body, ending, place = [], [], None, -1
    first, again = [], []
    state = "plain"
    for sign, cell in cells(row):
        if ":" in sign and not sign.endswith(":") or sign.startswith(":"):
            # A repeat ends: with a first ending, the body comes again before the second.
            if state == "first":
                order += body + first + body
                state = "second"
            else:
                order += body + body
                state = "plain"
            body, first = [], []
        if sign.endswith("|:") or sign.endswith(":") and not sign.startswith(":|:"):
            state, body = "body", []
        if sign.endswith("1"):
            state = "first"
        if cell is None:
            continue
        place += 1
        if state == "body":
            body.append(place)
        elif state == "first":
            first.append(place)
        else:
            order.append(place)
    if state in ("body", "first"):
        order += body + first
    return order


def notes_of(section, key, meter, at, sounding, before):
    """The notes of a section as [pitch, onset, length], and where it ends. `sounding` is the note that goes on."""
    own = signature(key)
    chords = [cell for _, cell in cells(section["chords"]) if cell is not None]
    rows = [cell for _, cell in cells(section["melody"]) if cell is not None] if "melody" in section else []
    out = []
    for place in unrolled(section["chords"]):
        head = re.match(r"\((pickup |bar )?(\d+)/(\d+)\)", chords[place])
        length = Fraction(4 * int(head[2]), int(head[3])) if head else Fraction(BARS[meter])
        # What stands first and is less than a bar leads in, unless it is a meter of songs or says that it is a bar.
        short = head and f"{head[2]}/{head[3]}" not in BARS and length < BARS[meter]
        lead_in = place == 0 and head and (head[1] == "pickup " or not head[1] and short)
        if lead_in:
            # It sounds over the end of the bar before.
            at -= length
            while before and before[-1][1] >= at:
                before.pop()
            if before:
                before[-1][2] = min(before[-1][2], at - before[-1][1])
            sounding = None
        cell = rows[place] if rows else "-"
        if cell == "%":
            raise ValueError("a melody with %")
        words, ratio, left, laid = cell.split(), Fraction(1), 0, []
        for word in words:
            if word.startswith("("):
                count, _, time = word[1:].partition(":")
                ratio, left = Fraction(int(time) if time else TUPLET[int(count)], int(count)), int(count)
                continue
            laid.append((word, ratio if left else Fraction(1)))
            left -= left > 0
        share = length / sum(weight for _, weight in laid)
        raised = dict(own)
        for word, weight in laid:
            lasts = share * weight
            if word == "/":
                if sounding:
                    sounding[2] += lasts
            elif word == "-":
                sounding = None
            else:
                marks, letter, octave = re.fullmatch(r"([\^_=]*)([A-Ga-g])([',]*)", word).groups()
                if marks:
                    raised[letter.upper()] = marks.count("^") - marks.count("_")
                pitch = 60 + STEPS[letter.upper()] + raised[letter.upper()] + 12 * letter.islower()
                sounding = [pitch + 12 * (octave.count("'") - octave.count(",")), at, lasts]
                out.append(sounding)
            at += lasts
    return out, at, sounding


def once_through(song):
    """The notes of the first time through: up to where a section is led by the banjo."""
    out, at, sounding = [], Fraction(0), None
    for entry in song["form"]:
        name, _, lead = entry.partition(": ")
        if lead == "banjo":
            break
        section = song["section"][name]
        notes, at, sounding = notes_of(section, song["key"], song["meter"], at, sounding, out)
        out += notes
    return [tuple(note) for note in out]


# What others read.

@functools.cache
def by_music21(text):
    """The notes as music21 has them, repeats unrolled; None where it gives up."""
    from music21 import abcFormat
    from music21.abcFormat import translate

    try:
        with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
            score = translate.abcToStreamScore(abcFormat.ABCFile().readstr(bare(text)))
            part = score.parts[0].expandRepeats()
        flat = part.flatten().stripTies()
        out = []
        for element in flat.notes:
            if element.duration.isGrace or "Symbol" in type(element).__name__:
                continue
            pitch = max(p.midi for p in element.pitches)
            out.append((pitch, Fraction(element.offset).limit_denominator(5040),
                        Fraction(element.quarterLength).limit_denominator(5040)))
        return out
    except Exception as why:
        if os.environ.get("SHOW"):
            print("music21:", repr(why), file=sys.__stderr__)
        return None


def bare(text):
    """The text without what is no part of the notes: chords and words over them, grace notes, slurs, staccato dots and
    decorations (4.11, 4.14 of the standard). Both readers take `(A>.B)` for even notes; to the standard (4.4) it
    is a broken rhythm whatever stands around it."""
    def plain(line):
        if re.match(r"[A-Za-z]:|%", line):
            return line
        line = re.sub(r'"[^"]*"|\{[^}]*\}', "", line)
        line = re.sub(r"![^!|\s]+!", "", line)
        # Inline fields stay as they are.
        pieces = re.split(r"(\[[A-Za-z]:[^\]]*\])", line)
        pieces[::2] = [re.sub(r"\((?!\d)|\)|\.(?=[^|])|[~HLMOPSTuvk]", "", piece) for piece in pieces[::2]]
        return "".join(pieces)

    return "\n".join(plain(line) for line in text.split("\n"))


@functools.cache
def by_abc2midi(text):
    """The notes as abc2midi plays them, without its accents and its chords; None where it gives up."""
    import mido

    # It swings hornpipes, and has 2:1 for a broken rhythm, where the standard has 3:1 (4.4).
    text = re.sub(r"(?m)^R:.*\n", "", bare(text))
    text = re.sub(r"(?m)^(K:.*)$", r"%%MIDI ratio 3 1\n\1", text, count=1)
    with tempfile.TemporaryDirectory() as folder:
        source, target = os.path.join(folder, "t.abc"), os.path.join(folder, "t.mid")
        text = re.sub(r"^X:.*", "X:1", text)
        pathlib.Path(source).write_text(text, encoding="latin-1", errors="replace")
        try:
            subprocess.run(["abc2midi", source, "1", "-o", target, "-quiet", "-silent"], capture_output=True, timeout=20)
            midi = mido.MidiFile(target)
        except Exception:
            return None
        out, open_notes = [], {}
        for track in midi.tracks:
            at = 0
            for message in track:
                at += message.time
                if message.type == "note_on" and message.velocity > 0:
                    open_notes.setdefault(message.note, []).append(at)
                elif message.type in ("note_off", "note_on") and open_notes.get(message.note):
                    start = open_notes[message.note].pop(0)
                    out.append((message.note, Fraction(start, midi.ticks_per_beat), Fraction(at - start, midi.ticks_per_beat)))
        out.sort(key=lambda note: (note[1], note[0]))
        # Of notes struck together the highest; it strikes them a hair apart.
        kept = []
        for note in out:
            if kept and note[1] - kept[-1][1] < Fraction(1, 24):
                if note[0] > kept[-1][0]:
                    kept[-1] = (note[0], kept[-1][1], note[2])
            else:
                kept.append(note)
        return kept


def scale_of(song, ours, theirs):
    """By how much lengths were changed for a meter that charts have: told by all notes together."""
    mine, other = sum(n[2] for n in ours), sum(n[2] for n in theirs)
    if not mine or not other:
        return Fraction(1)
    ratios = [Fraction(1), Fraction(2), Fraction(1, 2), Fraction(2, 3), Fraction(1, 3), Fraction(1, 4), Fraction(4)]
    return min(ratios, key=lambda ratio: abs(float(mine / other / ratio) - 1))


def same_but_for_time(ours, theirs):
    """True if the pitches and lengths are the same, whatever rests stand between."""
    if theirs is None or not ours:
        return False
    scale = scale_of(None, ours, theirs)
    near = Fraction(1, 24)
    return len(ours) == len(theirs) and all(
        one[0] == other[0] and abs(one[2] - other[2] * scale) <= near for one, other in zip(ours, theirs))


def same(ours, theirs, lengths=True):
    """True if the pitches, and where each note begins, are the same. A reader may shorten notes."""
    if theirs is None or len(ours) != len(theirs) or not ours:
        return False
    if [note[0] for note in ours] != [note[0] for note in theirs]:
        return False
    scale = scale_of(None, ours, theirs)
    near = Fraction(1, 24)
    start = theirs[0][1] * scale - ours[0][1]
    for one, other in zip(ours, theirs):
        if abs(one[1] + start - other[1] * scale) > near:
            return False
        if lengths and abs(one[2] - other[2] * scale) > near:
            return False
    return True


def same_pitches(ours, theirs):
    """True if the notes are the same, whenever they begin."""
    return bool(ours) and theirs is not None and [note[0] for note in ours] == [note[0] for note in theirs]


def same_and_back(ours, theirs, lengths=True):
    """True if the notes are the same but for stretches that are gone back to (D.C. or D.S.): what the other readers leave to
    the player. Each of them must have been played before."""
    if theirs is None or len(ours) <= len(theirs):
        return False
    kept, pitches = list(ours), [note[0] for note in theirs]
    for _ in range(MOST_BACK):
        at = next((i for i, (a, b) in enumerate(zip(kept, theirs)) if a[0] != b[0]), len(theirs))
        if at >= len(kept):
            break
        for length in range(1, len(kept) - len(theirs) + 1):
            after = [note[0] for note in kept[at + length:at + length + 8]]
            if after != pitches[at:at + len(after)] or not after and at < len(theirs):
                continue
            # What goes on as the stretch begins is told by later notes, so that it may have begun before.
            heads = range(max(0, at - 12), at + 1)
            if any(played_before(ours, [note[0] for note in kept[head:head + length]]) for head in heads):
                gone = kept[at + length][1] - kept[at][1] if at + length < len(kept) else 0
                kept = kept[:at] + [(p, start - gone, lasts) for p, start, lasts in kept[at + length:]]
                break
        else:
            return False
    return same(kept, theirs, lengths)


# How often the music goes back in a tune: before a trio, and after it.
MOST_BACK = 3


def played_before(notes, stretch):
    """True if the stretch comes more than once."""
    pitches = [note[0] for note in notes]
    places = [at for at in range(len(pitches)) if pitches[at:at + len(stretch)] == stretch]
    return len(places) > 1


def order_of(text, remarks):
    """Why a tune may be played in another order: what is in it; the first that holds. The standard (4.8 to 4.10) says what
    each sign is, and nothing of repeats that are closed and opened nowhere: here they go back to where their part begins, at
    a double bar or after an ending, and in the other readers to the beginning of all, or of the ending."""
    body = bare(text)
    if GONE in remarks:
        return "a pickup left out where the part comes again, after a bar that is whole"
    if re.search(r"(\|\||\|\]|:\|\s*[2-9]|\[2)((?!\|:|::).)*:\|", body, re.S):
        return "a repeat that is opened nowhere, and goes back to where its part begins"
    if re.search(r"(?i)D\.?\s?[CS]\b|da ?capo|segno", text):
        return "D.C. or D.S., which the others leave out, with repeats that they take otherwise"
    if re.search(r"[\[|]\s?[1-9]", body):
        return "endings"
    if "\nP:" in text:
        return "parts in an order of their own"
    return "repeats"


def as_written(text):
    """The text without signs that send the player elsewhere."""
    head, key, body = re.split(r"(?m)^(K:.*\n)", text, maxsplit=1)
    head = re.sub(r"(?m)^P:.*\n", "", head)
    body = re.sub(r"(?m)^P:.*\n", "", bare(body))
    body = re.sub(r"\[P:[^\]]*\]", "", body)
    body = re.sub(r"\[[1-9](?:[,-][1-9])*|(?<=\|)\s?[1-9](?:[,-][1-9])*(?![:\d])", "", body)
    body = re.sub(r":*\|+[\]:]*:*|\[\|\]?|::+|\|\]", "|", body)
    return head + key + body


def without_pickups(ours, theirs):
    """True if a few notes, not many at a time, are all that ours leaves out."""
    if theirs is None:
        return False
    mine, other = ([note[0] for note in notes] for notes in (ours, theirs))
    changes = difflib.SequenceMatcher(None, mine, other, autojunk=False).get_opcodes()
    return all(kind == "equal" or kind == "insert" and end - start <= 8 for kind, _, _, start, end in changes)


# What the program says of a pickup that is not played again, of one over the end of a bar, and of a bar that is filled up.
GONE = "the pickup is left out when its part comes again"
OVER = ("over the end of the bar before", "at the end of the bar before as well")
FILLED = "a rest fills it up"
CUT = "what is too much is left out"


def why_filled(text, remarks):
    """What is the matter with the bars that were filled up, by the worst of them."""
    found = [Fraction(int(up), int(down)) for up, down in re.findall(r"has (\d+)/(\d+), a length", remarks)]
    meter = re.search(r"(?m)^M:\s*(\S+)", text)
    meter = {"C": "4/4", "C|": "2/2"}.get(meter[1], meter[1]) if meter else "none"
    if not re.fullmatch(r"\d+/\d+", meter):
        return "a bar without a meter, of no whole number of quarters"
    if any((8 * length).denominator > 1 for length in found):
        return "a bar of no whole number of eighths"
    bar = Fraction(meter)
    return "a bar that is short" if all(length < bar for length in found) else "a bar that has too much"


# Who is right about what differs, and by what. ABC 2.1 is cited by its sections, from memory.
JUDGED = {
    "a bar without a meter": "the others: there is no bar to keep (3.1.6, M:none); a band wants one, and a rest makes it",
    "a bar of no whole": "all by the standard, which asks of no bar that it is full; the file: its notes, often of a "
    "tuplet with a wrong time (4.13), don't make the meter that it names (3.1.6)",
    "a bar that is short": "the others by the letter; the file names a meter (3.1.6) that the bar does not have, and a "
    "neighbour's rest makes up for it",
    "a bar that has too much": "the others by the letter; as above",
    "a rest at the end": "the others by the letter; as above, and a fermata needs no rest",
    "a pickup over": "the others by the letter: a whole bar and a pickup are longer than the meter (3.1.6) allows; a "
    "player takes the pickup out of the bar before",
    "a pickup left out": "the others by the letter; as above, where notes of the bar before would be lost",
    "a repeat that is opened nowhere": "nobody: 4.8 has no rule for it; an engraver's double bar is what it goes back to",
    "and back": "ours: the words are D.C. or D.S. (4.14 has them as decorations), which the others don't play",
    "D.C. or D.S.": "ours, as above",
}


def judged(which):
    return next((f" -- right: {who}" for head, who in JUDGED.items() if which.startswith(head)), "")


def tunes_of(path):
    """The number and the text of each tune of a file."""
    data = path.read_bytes()
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    parts = re.split(r"(?m)^(?=X:)", text.replace("\r\n", "\n").replace("\r", "\n"))
    return [part for part in parts if part.startswith("X:")]


def imported(openchair, texts, folder):
    """The song files of tunes, by their places in the list, with what was said; each tune is given its number for a title."""
    folder.mkdir()
    source = folder / "all.abc"
    with source.open("w", encoding="utf-8") as file:
        for index, text in enumerate(texts):
            head, _, rest = text.partition("\n")
            rest = re.sub(r"(?m)^T:.*\n", "", rest)
            file.write(f"{head}\nT:{index:05}\n{rest.rstrip()}\n\n")
    songs = folder / "songs"
    run = subprocess.run([openchair, "import", source, "-o", songs], capture_output=True, text=True)
    read = {}
    for index in range(len(texts)):
        path = songs / f"{index:05}.toml"
        if path.exists():
            read[index] = path.read_text(encoding="utf-8")
    return read, run.stderr, songs


class Readers:
    """What both readers make of a text; the slower one is asked only if the other differs."""

    def __init__(self, text):
        self.text = text

    def __iter__(self):
        """Notes, and whether their lengths are the text's own."""
        if shutil.which("abc2midi"):
            yield "abc2midi", by_abc2midi(self.text), False
        yield "music21", by_music21(self.text), True

    def agreeing(self, holds):
        """The first reader for which something holds."""
        return next((name for name, notes, lengths in self if notes is not None and holds(notes, lengths)), None)


def class_of(text, ours, remarks):
    """Whether a tune agrees, and its class."""
    found = list(Readers(text))

    def holds(what):
        return next((name for name, notes, lengths in found if notes is not None and what(notes, lengths)), None)

    if holds(lambda notes, lengths: same_and_back(ours, notes, lengths)):
        return "agreed", "and back (D.C.), which the others leave out"
    moved = [word for word in OVER if word in remarks]
    if moved and holds(lambda notes, _: same_pitches(ours, notes)):
        return "told", "a pickup over the end of a bar that is whole"
    if CUT in remarks and FILLED not in remarks and holds(lambda notes, _: same_pitches(ours, notes)):
        return "told", "a rest at the end of a bar that has too much"
    if FILLED in remarks and holds(lambda notes, lengths: same_but_for_time(ours, notes) if lengths else same_pitches(ours, notes)):
        return "told", why_filled(text, remarks)
    if GONE in remarks and holds(lambda notes, _: without_pickups(ours, notes)):
        return "explained", order_of(text, remarks)
    return None, None


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("openchair")
    parser.add_argument("--every", type=int, default=1, help="only every so many tunes")
    parser.add_argument("--from", type=int, default=0, dest="first", help="the first of them, from 0")
    parser.add_argument("--list", help="print the tunes of the classes that begin so")
    parser.add_argument("--collection", action="append")
    asked = parser.parse_args()
    import music21

    corpus = pathlib.Path(music21.__file__).parent / "corpus"
    counts, classes, failures = collections.Counter(), collections.Counter(), []
    for name in asked.collection or COLLECTIONS:
        texts = [text for path in sorted((corpus / name).glob("*.abc")) for text in tunes_of(path)]
        texts = texts[asked.first::asked.every]
        own = collections.Counter(tunes=len(texts))
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            read, said, songs = imported(asked.openchair, texts, folder / "tunes")
            # In one run, songs and the styles that they name.
            checked = subprocess.run([asked.openchair, "check", songs], capture_output=True, text=True)
            wrong = re.findall(r"(?m)^\s*--> .*?(\d{5})\.toml", checked.stdout)
            own["checked"] = len(read) - len(set(wrong))
            if checked.returncode:
                failures.append(f"{name}: {checked.stdout[-300:]}")
            others = []
            for index, text in enumerate(texts):
                if index not in read:
                    has_notes = re.search(r"(?m)^K:.*\n(?:[^\n]*\n)*?[^\n%]*[A-Ga-g][^\n]*\|", text)
                    own["not imported" if has_notes else "no music"] += 1
                    if has_notes:
                        why = [line for line in said.splitlines() if f"{index:05}" in line]
                        failures.append(f"{name} {index}: {why[:1]}")
                    continue
                own["imported"] += 1
                ours, remarks = notes_and_remarks(read[index])
                reader = Readers(text).agreeing(lambda notes, lengths: same(ours, notes, lengths))
                kind, which = ("agreed", f"as {reader}") if reader else class_of(text, ours, remarks)
                if kind is None:
                    others.append((index, text, ours, remarks))
                    continue
                own[kind] += 1
                classes[kind, which] += 1
                shown(asked.list, name, index, which, text, ours)
            # Of the rest: are the notes as written the same, and only their order another?
            again, _, _ = imported(asked.openchair, [as_written(text) for _, text, _, _ in others], folder / "others")
            for place, (index, text, ours, remarks) in enumerate(others):
                kind, which = "unexplained", order_of(text, remarks)
                if place in again:
                    written, said_again = notes_and_remarks(again[place])
                    filled = FILLED in said_again or CUT in said_again or any(word in said_again for word in OVER)

                    def holds(notes, lengths):
                        return same(written, notes, lengths) or filled and same_pitches(written, notes)

                    if Readers(as_written(text)).agreeing(holds):
                        kind = "explained"
                own[kind] += 1
                classes[kind, which] += 1
                shown(asked.list, name, index, f"{kind}: {which}", text, ours)
        print(name, dict(own), flush=True)
        counts.update(own)
    share = lambda kind, of="imported": counts[kind] / max(1, counts[of])
    imports = counts["imported"] / max(1, counts["tunes"] - counts["no music"])
    print(f"imported {imports:.4f}, of those pass check {share('checked'):.4f}")
    print(f"melody as music21 or abc2midi: in time {share('agreed'):.4f}, with bars whose time is told "
          f"{share('agreed') + share('told'):.4f}, explained besides {share('explained'):.4f}, "
          f"unexplained {share('unexplained'):.4f}")
    for kind in ("agreed", "told", "explained", "unexplained"):
        for (of, which), count in sorted(classes.items(), key=lambda item: -item[1]):
            if of == kind:
                print(f"  {count:5} {share_of(count, counts):.4f} {kind}: {which}{judged(which)}")
    for failure in failures[:20]:
        print("FAILED", failure)
    agreed = share("agreed") + share("told")
    too_few = share("agreed") < IN_TIME or agreed < BOUND
    if failures or imports < 0.99 or share("checked") < 0.99 or too_few or share("unexplained") > UNEXPLAINED:
        sys.exit(1)


def share_of(count, counts):
    return count / max(1, counts["imported"])


def notes_and_remarks(text):
    return once_through(tomllib.loads(text)), text.rpartition("\n# From")[2]


def shown(wanted, name, index, which, text, ours):
    """Prints a tune of the class that is asked for, with where the readers differ."""
    if not wanted or not which.startswith(wanted):
        return
    print("----", name, index, which)
    print(text.strip())
    print("ours", len(ours))
    for label, notes, _ in Readers(text):
        if notes is None:
            print(label, None)
            continue
        place = next((i for i, (a, b) in enumerate(zip(ours, notes)) if a[0] != b[0]), min(len(ours), len(notes)))
        print(label, len(notes), "differs from note", place, [
            [(n[0], str(n[1]), str(n[2])) for n in one[max(0, place - 2):place + 6]] for one in (ours, notes)])


# The share of tunes whose notes are those of another reader and begin when they do, of those and the ones whose bars are
# told to be filled up, and of those that nothing explains: what was found when this was written, less a little.
IN_TIME, BOUND, UNEXPLAINED = 0.975, 0.98, 0.01

if __name__ == "__main__":
    main()
