"""Chords that are found for tunes: the numbers behind them counted, and held against charts.

    chords.py OPENCHAIR            checks what is found
    chords.py OPENCHAIR --write    counts anew, and writes src/interchange/find/numbers.toml
    chords.py OPENCHAIR --show     prints what is found for each tune that was held out

`charts.txt` has the chords of tunes in music21's collections. They are imported, and it is counted which notes stand over
which chords, how often a chord changes at each place of a phrase, and which follows which. Numbers that were counted
without a tune are tried on it (each tune is held out once); they must find more than a template of each chord does, and
than music21 makes of the notes of each place. What this script finds by the numbers must be what the program finds.
"""

import argparse
import collections
import fractions
import math
import pathlib
import re
import subprocess
import sys
import tempfile
import tomllib
import warnings

from tunes import BARS, TUPLET, cells, signature, tunes_of, unrolled

warnings.simplefilter("ignore")

Fraction = fractions.Fraction
HERE = pathlib.Path(__file__).parent
NUMBERS = HERE.parent.parent / "src" / "interchange" / "find" / "numbers.toml"
CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

# The chords of each mode, at home on C. They are those that players of this repertoire use (common practice).
CHORDS = {
    "major": ["C", "Dm", "Em", "F", "G", "Am", "D", "Bb"],
    "minor": ["Cm", "Eb", "Fm", "G", "Gm", "Ab", "Bb"],
    "mixolydian": ["C", "Dm", "F", "Gm", "G", "Bb"],
    "dorian": ["Cm", "Eb", "F", "Gm", "Bb"],
}
STEP = {"major": 0, "dorian": 2, "mixolydian": 7, "minor": 9}
SORTS = ["major", "minor", "dominant"]
STRUCK = ["head", "beat", "off"]
PLACES = ["within", "second", "third", "head", "fourth"]

# What is taken for granted before anything is counted, as if so much had been seen: chord tones over chords, a change at
# most bar lines, home at both ends.
EXPECTED = {
    "major": [1, .05, .3, .05, 1, .2, .05, 1, .05, .35, .2, .1],
    "minor": [1, .05, .3, 1, .05, .3, .05, 1, .1, .1, .4, .05],
    "dominant": [1, .05, .4, .05, 1, .15, .05, 1, .05, .3, .6, .05],
}

# As in src/interchange/find/places.rs.
WEIGHTS = [0, 39, 63, 83, 102, 119, 135, 151, 166, 180, 194, 207, 220]
MOVES, FEWEST, ENDING = 350, 4, 2

# Within a bar other chords follow each other than over a bar line: a cadence has its subdominant and its dominant in one.
# As if so many changes from each chord had been seen as they are anywhere, before those of each place are counted: forty
# charts are too few to count each alone.
ANYWHERE = 25

# Tonic, subdominant and dominant by the root's distance from home (as textbooks of harmony sort the degrees).
FUNCTION = dict(enumerate("TSSTTSDDSTDD"))


def root_of(chord):
    return (CLASSES[chord[0]] + chord.count("#") - (chord[1:2] == "b")) % 12


def is_minor(chord):
    return "m" in chord


def sort_of(chord):
    return "minor" if is_minor(chord) else "dominant" if root_of(chord) == 7 else "major"


# The meter at the head of a bar; the meters of bars that are cut in halves.
HEAD = re.compile(r"\((pickup |bar )?(\d+)/(\d+)\)")
HALVED = ("4/4", "2/2", "2/4", "6/8", "6/4")


def length_of(meter):
    """A bar's length in quarters."""
    above, below = meter.split("/")
    return Fraction(4 * int(above), int(below))


def leads_in(head, meter):
    """Whether what stands first, less than a bar, is a pickup: unless it is a meter of songs or says that it is a bar."""
    if not head or head[1]:
        return bool(head) and head[1] == "pickup "
    own = f"{head[2]}/{head[3]}"
    return own not in BARS and length_of(own) < BARS[meter]


class Part:
    """A part of a song as it is played the first time: its places, and which written bar each belongs to."""

    def __init__(self, song, section):
        rows, chart = section["melody"], section["chords"]
        heads, place = set(), 0
        for line in chart.strip().splitlines():
            heads.add(place)
            place += sum(cell is not None for _, cell in cells(line))
        raised = signature(song["key"])
        chords = [cell for _, cell in cells(chart) if cell is not None]
        tune = [cell for _, cell in cells(rows) if cell is not None]
        self.bars, sounds = [], None
        for place in unrolled(chart):
            head = HEAD.match(chords[place])
            if place == 0 and leads_in(head, song["meter"]):
                continue
            meter = f"{head[2]}/{head[3]}" if head else song["meter"]
            words, ratio, left, laid = tune[place].split(), Fraction(1), 0, []
            for word in words:
                if word.startswith("("):
                    count, _, time = word[1:].partition(":")
                    ratio, left = Fraction(int(time) if time else TUPLET[int(count)], int(count)), int(count)
                    continue
                laid.append((word, ratio if left else Fraction(1)))
                left -= left > 0
            length = length_of(meter)
            share = length / sum(weight for _, weight in laid)
            own, at, notes = dict(raised), Fraction(0), []
            for word, weight in laid:
                lasts = share * weight
                if word == "-":
                    sounds = None
                elif word == "/":
                    if notes and sounds is not None and notes[-1][2] == at:
                        notes[-1][2] += lasts
                    elif sounds is not None:
                        notes.append([Fraction(-1), at, at + lasts, sounds])
                else:
                    marks, letter, octave = re.fullmatch(r"([\^_=]*)([A-Ga-g])([',]*)", word).groups()
                    if marks:
                        own[letter.upper()] = marks.count("^") - marks.count("_")
                    sounds = (CLASSES[letter.upper()] + own[letter.upper()]) % 12
                    notes.append([at, at, at + lasts, sounds])
                at += lasts
            self.bars.append((place, meter, notes, place in heads or not self.bars, tune[place]))
        half = len(self.bars) // 2
        same = 0
        while same < half and self.bars[same][1:3] == self.bars[half + same][1:3]:
            same += 1
        # A part that comes again is found once.
        if len(self.bars) % 2 == 0 and half >= FEWEST and same + ENDING >= half:
            self.bars = self.bars[:half]
        self.places = []
        in_line = 0
        for index, (place, meter, notes, starts, _) in enumerate(self.bars):
            in_line = 0 if starts else in_line + 1
            count = 2 if meter in HALVED else 1
            beat = Fraction(1, 2) if meter == "2/4" or meter.endswith("/8") else Fraction(1)
            length = length_of(meter) / count
            for part in range(count):
                start, until = length * part, length * (part + 1)
                here = []
                for began, since, to, pitch in notes:
                    if since < until and to > start:
                        lasts = min(to, until) - max(since, start)
                        twelfths = min(12, max(1, int((24 * lasts + length) // (2 * length))))
                        struck = 0 if began <= start else 1 if (began - start) % beat == 0 else 2
                        here.append((pitch, struck, WEIGHTS[twelfths], float(lasts / length)))
                at = "within" if part else ["head", "second", "third", "fourth"][in_line % 4]
                self.places.append((index, part, count, at, here))


def imported(openchair, texts, ways):
    """The song files of tunes, by their number: imported in each of some ways."""
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        source = folder / "all.abc"
        with source.open("w", encoding="utf-8") as file:
            for index, text in enumerate(texts):
                head, _, rest = text.partition("\n")
                rest = re.sub(r"(?m)^T:.*\n", "", rest)
                file.write(f"{head}\nT:{index:05}\n{rest.rstrip()}\n\n")
        out = []
        for extra in ways:
            songs = folder / f"songs{len(extra)}"
            subprocess.run([openchair, "import", source, "-o", songs, *extra], capture_output=True, check=True)
            read = []
            for index in range(len(texts)):
                text = (songs / f"{index:05}.toml").read_text(encoding="utf-8")
                read.append(tomllib.loads(text))
            out.append(read)
        return list(zip(*out))


def without_chords(text):
    return re.sub(r'"[^"\n]*"', "", text)


def charts():
    """The file, the title, the home and the chords of each chart."""
    lines = [line.strip() for line in (HERE / "charts.txt").read_text(encoding="utf-8").splitlines()]
    lines = [line for line in lines if line and not line.startswith("#")]
    for head, row in zip(lines[::2], lines[1::2]):
        file, _, title = head.partition(" ")
        title, _, home = title.partition(" = ")
        yield file, title, home, [cell.split() for cell in row.strip("|").split("|")]


class Example:
    """A part with the chords of its chart."""

    def __init__(self, title, key, part, chords):
        self.title, self.key, self.part = title, key, part
        home, self.mode = key
        self.chords = []
        for index, half, count, _, _ in part.places:
            cell = chords[part.bars[index][0]]
            chord = cell[min(len(cell) - 1, half * len(cell) // count)]
            self.chords.append(((root_of(chord) - home) % 12, is_minor(chord)))


def key_of(text):
    match = re.fullmatch(r"([A-G][#b]*)(m?)(?: (\w+))?", text)
    return root_of(match[1]), "minor" if match[2] else match[3] or "major"


def written_places(section, meter):
    """Which bars of the chart each written bar is: all, and all but second endings, which share those of the first."""
    all_bars, first, ending, seen = [], [], False, []
    count = -1
    for sign, cell in cells(section["chords"]):
        if sign.endswith("2"):
            ending = True
            again = iter(seen)
        elif ending and sign != "|":
            ending = False
        if sign.endswith("1"):
            seen = []
            keep = True
        elif sign.endswith("2"):
            keep = False
        if cell is None:
            continue
        if not all_bars and leads_in(HEAD.match(cell), meter):
            all_bars.append(None)
            first.append(None)
            continue
        all_bars.append(len(all_bars) - all_bars.count(None))
        if ending:
            first.append(next(again, count))
        else:
            count += 1
            first.append(count)
            seen.append(count)
    return all_bars, first


def examples(openchair, found):
    """The parts of all charts; with what the program finds for them, if that is asked for."""
    import music21

    corpus = pathlib.Path(music21.__file__).parent / "corpus"
    texts, wanted = [], list(charts())
    for file, title, _, _ in wanted:
        own = [text for text in tunes_of(corpus / f"{file}.abc") if re.search(rf'(?m)^T:\s*"?{re.escape(title)}', text)]
        texts.append(without_chords(own[0]))
    out = []
    ways = [[], ["--chords", "find"]] if found else [[]]
    for (file, title, home, chords), songs in zip(wanted, imported(openchair, texts, ways)):
        song = songs[0]
        key = key_of(home or song["key"])
        names = list(dict.fromkeys(entry.partition(": ")[0] for entry in song["form"]))
        for column in (0, 1):
            counts = [max(p for p in written_places(song["section"][n], song["meter"])[column] if p is not None) + 1 for n in names]
            if sum(counts) == len(chords):
                break
        else:
            raise ValueError(f"{title}: {len(chords)} bars in the chart, and in the song {counts}")
        start = 0
        for name, count in zip(names, counts):
            section = song["section"][name]
            places = written_places(section, song["meter"])[column]
            of_place = {place: chords[start + bar] for place, bar in enumerate(places) if bar is not None}
            start += count
            example = Example(title, key, Part(song, section), of_place)
            example.stated = key_of(song["key"])
            example.found = songs[-1]["section"][name]
            out.append(example)
    return out


def cost(share):
    return round(-100 * math.log(share))


def counted(parts):
    """The numbers, by the parts."""
    tones = {}
    for sort in SORTS:
        for struck in STRUCK:
            total = sum(EXPECTED[sort])
            tones[sort, struck] = [2 + 40 * share / total for share in EXPECTED[sort]]
    changes = {(at, home): [1, 4] if at == "within" else [3, 2] for at in PLACES for home in (False, True)}
    first, last, to, at_place = {}, {}, {}, {}
    for mode, chords in CHORDS.items():
        likely = [.5 if i == 0 else .25 if root_of(c) in (5, 7, 10) else .08 for i, c in enumerate(chords)]
        likely = [share / sum(likely) for share in likely]
        first[mode] = [5 * share for share in likely]
        last[mode] = [2 * share + 5 * (i == 0) for i, share in enumerate(likely)]
        to[mode] = [[4 * share for share in likely] for _ in chords]
        at_place[mode] = {place: [[0] * len(chords) for _ in chords] for place in ("to", "within")}
    for part in parts:
        known = [(root_of(chord), is_minor(chord)) for chord in CHORDS[part.mode]]
        states = [known.index(chord) if chord in known else None for chord in part.chords]
        for (root, minor), (_, _, _, _, notes) in zip(part.chords, part.part.places):
            sort = "minor" if minor else "dominant" if root == 7 else "major"
            for pitch, struck, _, lasts in notes:
                tones[sort, STRUCK[struck]][(pitch - part.key[0] - root) % 12] += 4 * lasts
        if states[0] is not None:
            first[part.mode][states[0]] += 1
        if states[-1] is not None:
            last[part.mode][states[-1]] += 1
        for before, after, place in zip(states, states[1:], part.part.places[1:]):
            if before is not None and after is not None:
                changes[place[3], before == 0][before == after] += 1
                if before != after:
                    to[part.mode][before][after] += 1
                    at_place[part.mode]["within" if place[3] == "within" else "to"][before][after] += 1
    numbers = {"tones": {}, "changes": {}}
    for (sort, struck), row in tones.items():
        numbers["tones"].setdefault(sort, {})[struck] = [cost(share / sum(row)) for share in row]
    for at in PLACES:
        rows = [changes[at, home] for home in (False, True)]
        numbers["changes"][at] = [[cost(n / sum(row)) for n in row] for row in rows]
    for mode, chords in CHORDS.items():
        rows = {"to": [], "within": []}
        for state, row in enumerate(to[mode]):
            others = sum(row) - row[state]
            for place, out in rows.items():
                seen = [n + ANYWHERE * share / others for n, share in zip(at_place[mode][place][state], row)]
                total = sum(seen) - seen[state]
                out.append([0 if other == state else cost(n / total) for other, n in enumerate(seen)])
        numbers[mode] = {
            "chords": chords,
            "first": [cost(n / sum(first[mode])) for n in first[mode]],
            "last": [cost(n / sum(last[mode])) for n in last[mode]],
            **rows,
        }
    return numbers


def own_costs(numbers, key, places):
    home, mode = key
    rows = []
    for _, _, _, _, notes in places:
        row = []
        for chord in CHORDS[mode]:
            tones = numbers["tones"][sort_of(chord)]
            row.append(sum(weight * tones[STRUCK[struck]][(pitch - home - root_of(chord)) % 12] // 100
                           for pitch, struck, weight, _ in notes))
        rows.append(row)
    return rows


def ways(numbers, key, places):
    """For each place the least sum through each chord."""
    mode = numbers[key[1]]
    own = own_costs(numbers, key, places)
    own[0] = [a + b for a, b in zip(own[0], mode["first"])]
    own[-1] = [a + b for a, b in zip(own[-1], mode["last"])]
    states = range(len(mode["chords"]))

    def step(at, before, after):
        change, stay = numbers["changes"][at][before == 0]
        return stay if before == after else change + mode["within" if at == "within" else "to"][before][after]

    up = [own[0]]
    for row, place in zip(own[1:], places[1:]):
        up.append([min(up[-1][b] + step(place[3], b, a) for b in states) + row[a] for a in states])
    left = [[0] * len(own[0])]
    for row, place in zip(own[:0:-1], places[:0:-1]):
        left.append([min(left[-1][a] + row[a] + step(place[3], b, a) for a in states) for b in states])
    return [[a + b for a, b in zip(*pair)] for pair in zip(up, left[::-1])]


def choices(numbers, key, places):
    """The chord of each place, as root and minor, and by how much it is ahead."""
    chords = CHORDS[key[1]]
    out = []
    for sums in ways(numbers, key, places):
        best = min(range(len(sums)), key=sums.__getitem__)
        second = min(s for i, s in enumerate(sums) if i != best)
        out.append(((root_of(chords[best]), is_minor(chords[best])), second - sums[best]))
    return out


def home_of(numbers, key, parts):
    """The home note and mode: as the file says, or another mode's of the same notes that is cheaper by enough."""
    def whole(key):
        return sum(min(ways(numbers, key, part.places)[0]) for part in parts)

    major = key[0] - STEP[key[1]]
    others = [((major + STEP[mode]) % 12, mode) for mode in CHORDS if mode != key[1]]
    best = min(others, key=whole)
    return best if whole(key) - whole(best) > MOVES * len(parts) else key


def template(part):
    """At each place the chord that has most of its notes, as long as they sound."""
    home, mode = part.key
    out = []
    for _, _, _, _, notes in part.part.places:
        def fits(chord):
            tones = {root_of(chord), root_of(chord) + (3 if is_minor(chord) else 4), root_of(chord) + 7}
            return sum(lasts for pitch, _, _, lasts in notes if (pitch - home) % 12 in {t % 12 for t in tones})
        best = max(CHORDS[mode], key=fits)
        out.append((root_of(best), is_minor(best)))
    return out


def by_music21(part):
    """What music21 calls the root of all notes of each place; the place before, where none sound."""
    from music21 import chord

    out, before = [], (0, False)
    for _, _, _, _, notes in part.part.places:
        pitches = sorted({60 + pitch for pitch, *_ in notes})
        if pitches:
            read = chord.Chord(pitches)
            before = ((read.root().pitchClass - part.key[0]) % 12, read.quality == "minor")
        out.append(before)
    return out


class Score:
    """Of the time of all bars, in how much the root and the function are right."""

    def __init__(self):
        self.time = self.root = self.function = 0.0

    def add(self, part, found):
        for (root, _), (true, _), place in zip(found, part.chords, part.part.places):
            lasts = 1 / place[2]
            self.time += lasts
            self.root += lasts * (root == true)
            self.function += lasts * (FUNCTION[root] == FUNCTION[true])

    def __str__(self):
        return f"root {self.root / self.time:.3f}, function {self.function / self.time:.3f}"


def steps(pairs):
    """Of a hundred chords that were so far ahead, how many were right: steps that only rise."""
    pairs = sorted(pairs)
    size = max(1, len(pairs) // 8)
    groups = [pairs[at:at + size] for at in range(0, len(pairs), size)]
    groups = [[group[0][0], sum(right for _, right in group), len(group)] for group in groups]
    merged = []
    for group in groups:
        merged.append(list(group))
        while len(merged) > 1 and (merged[-1][1] / merged[-1][2] <= merged[-2][1] / merged[-2][2]
                                   or merged[-1][0] == merged[-2][0]):
            _, right, count = merged.pop()
            merged[-1][1] += right
            merged[-1][2] += count
    merged[0][0] = 0
    return [[lead, round(100 * right / count)] for lead, right, count in merged]


def name_of(chord, home):
    root, minor = chord
    return ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"][(root + home) % 12] + "m" * minor


def held_out(parts, show):
    ours, simple, theirs, pairs = Score(), Score(), Score(), []
    for title in dict.fromkeys(part.title for part in parts):
        numbers = counted([part for part in parts if part.title != title])
        for part in parts:
            if part.title != title:
                continue
            found = choices(numbers, part.key, part.part.places)
            chords = [chord for chord, _ in found]
            ours.add(part, chords)
            simple.add(part, template(part))
            theirs.add(part, by_music21(part))
            pairs += [(lead, chord[0] == true[0]) for (chord, lead), true in zip(found, part.chords)]
            if show:
                home = part.key[0]
                words = [("| " if place[1] == 0 else "") + name_of(chord, home)
                         + ("" if chord[0] == true[0] else f"({name_of(true, home)})")
                         for chord, true, place in zip(chords, part.chords, part.part.places)]
                print(title, *words)
    return ours, simple, theirs, pairs


def row(numbers):
    return "[" + ", ".join(str(n) for n in numbers) + "]"


def written(numbers, sure, parts, ours):
    tunes = len({part.title for part in parts})
    bars = sum(len(part.part.bars) for part in parts)
    lines = [
        "# What notes over chords cost, and changes between chords: in hundredths of a natural logarithm, -100 ln p.",
        "#",
        f"# Counted by `tests/outside/chords.py --write` from {bars} bars of {tunes} tunes of music21's collections, with the",
        "# chords of `tests/outside/charts.txt` (common practice), upon what that script takes for granted. With each tune",
        f"# held out of the count once, its chords are found by the time of bars: {ours}.",
        "",
        "# Of 100 chords that were ahead of any other by so much, so many are right: each step from its first number on,",
        "# counted on tunes that were held out.",
        f"sure = [{', '.join(row(step) for step in sure)}]",
    ]
    for sort in SORTS:
        lines += ["", f"# Notes over a {sort} chord, by half steps from its root; struck at the head of a place, on a beat, off it."]
        lines += [f"[tones.{sort}]"]
        lines += [f"{struck} = {row(numbers['tones'][sort][struck])}" for struck in STRUCK]
    lines += ["", "# To change and to stay: from any chord, and from the home chord.", "[changes]"]
    for at in PLACES:
        rows = ", ".join(row(pair) for pair in numbers["changes"][at])
        lines.append(f"{at} = [{rows}]")
    for mode in CHORDS:
        own = numbers[mode]
        lines += ["", f"# At home on C.", f"[{mode}]", "chords = [" + ", ".join(f'"{c}"' for c in own["chords"]) + "]"]
        lines += [f"first = {row(own['first'])}", f"last = {row(own['last'])}"]
        for place in ("to", "within"):
            lines += [f"{place} = ["] + [f"    {row(line)}," for line in own[place]] + ["]"]
    return "\n".join(lines) + "\n"


def found_by_program(part):
    """The chords of the song file that the program wrote, place for place."""
    out, last = [], None
    all_cells = [cell for _, cell in cells(part.found["chords"]) if cell is not None]
    bars = {}
    for index, (place, meter, *_) in enumerate(part.part.bars):
        words = re.sub(r"^\([^)]*\)\s*", "", all_cells[place]).split()
        if words == ["%"]:
            words = bars[index - 1]
        bars[index] = words
    for index, half, count, _, _ in part.part.places:
        words = bars[index]
        at = half * len(words) // count
        while words[at] == "/":
            at -= 1
        out.append(((root_of(words[at]) - part.key[0]) % 12, is_minor(words[at])))
    return out


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("openchair")
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--show", action="store_true")
    asked = parser.parse_args()
    parts = examples(asked.openchair, not (asked.write or asked.show))
    ours, simple, theirs, pairs = held_out(parts, asked.show)
    print(f"found {ours}")
    print(f"by templates {simple}")
    print(f"by music21 {theirs}")
    numbers, sure = counted(parts), steps(pairs)
    text = written(numbers, sure, parts, ours)
    if asked.write:
        NUMBERS.write_text(text, encoding="utf-8")
    if asked.write or asked.show:
        return
    failures = []
    if text != NUMBERS.read_text(encoding="utf-8"):
        failures.append("numbers.toml is not what is counted: run with --write")
    shipped = tomllib.loads(NUMBERS.read_text(encoding="utf-8"))
    homes = {}
    for part in parts:
        # The program goes by the key of the file, and where it finds the tune at home.
        if part.title not in homes:
            own = [other.part for other in parts if other.title == part.title]
            homes[part.title] = home_of(shipped, part.stated, own)
        home = homes[part.title]
        part.key = home
        here = [chord for chord, _ in choices(shipped, home, part.part.places)]
        if here != found_by_program(part):
            failures.append(f"{part.title}: the program finds other chords\n  {here}\n  {found_by_program(part)}")
    if not (ours.root / ours.time >= 0.65 and ours.function / ours.time >= 0.80):
        failures.append("fewer chords are found than should be")
    for name, other in (("templates", simple), ("music21", theirs)):
        if other.root >= ours.root or other.function >= ours.function:
            failures.append(f"{name} find as much")
    for failure in failures:
        print("FAILED", failure)
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
