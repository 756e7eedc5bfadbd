"""Parts as people play them, put together from single notes, with the truth of what was played.

Strings are held as strings: one note sounds on each, and ends when the string is plucked again, damped or stopped.
A slur goes on with what sounds: a slide bends it, a hammer-on or pull-off passes to another note's middle.
"""
import dataclasses

import numpy as np
import scipy.signal

# What is struck within this many seconds is one stroke: a pinch, a brush.
ONE = 0.036
# Slurs are not written nearer to a stroke than this: nobody would hear them apart.
CLEAR = 0.045

TUNINGS = {
    "banjo": [67, 50, 55, 59, 62],
    "guitar": [40, 45, 50, 55, 59, 64],
    "mandolin": [55, 62, 69, 76],
    "ukulele": [67, 60, 64, 69],
}
QUALITIES = [(0, 4, 7), (0, 4, 7), (0, 3, 7), (0, 4, 7, 10)]
ROLLS = [[2, 3, 0, 4, 2, 3, 0, 4], [4, 3, 0, 4, 3, 0, 4, 3], [2, 0, 3, 4, 2, 0, 3, 4], [2, 3, 4, 0, 4, 3, 2, 0],
         [4, 3, 2, 0, 4, 3, 2, 0], [1, 2, 4, 0, 4, 2, 1, 0]]


@dataclasses.dataclass
class Truth:
    """Seconds and what sounds: strokes with all their notes, slurs with the one they lead to and their kind."""
    strokes: list
    slurs: list


@dataclasses.dataclass
class Note:
    start: float
    pitch: float
    gain: float
    hard: bool
    slurs: list


def amplitude(decibels):
    return 10 ** (decibels / 20)


class Player:
    """Plays on one voice. Everything is drawn from `chance`."""

    def __init__(self, voice, chance, seconds, gently=0.0):
        """`gently`: the share of players whose slurs are hardly louder than what rings: to learn from, harder than what is
        judged by."""
        self.voice, self.chance, self.rate = voice, chance, voice.rate
        self.sound = np.zeros(int((seconds + 3.5) * self.rate), "float32")
        self.seconds = seconds
        self.tuning = [pitch for pitch in TUNINGS[self.fitting()]]
        capo = int(chance.integers(0, 5))
        self.open = [pitch + capo for pitch in self.tuning]
        self.ringing = [None] * len(self.open)
        self.plucks, self.slurs = [], []
        self.detune = chance.normal(0, 0.04, len(self.open)) + chance.normal(0, 0.1)
        self.string_gain = amplitude(chance.normal(0, 1.5, len(self.open)))
        self.ring = 99.0 if chance.random() < 0.35 else 10 ** chance.uniform(-0.4, 0.5)
        self.beats = chance.random() < 0.5
        self.wavers = chance.random() < 0.4
        self.level = 1.0
        self.thud = amplitude(chance.uniform(-40, -12))
        self.contact = chance.uniform(0.0, 0.025)
        self.snap = chance.uniform(0.03, 0.3)
        # Semitones by which its body is smaller than the voice's, or larger: its notes are read from other notes.
        self.smaller = 0
        self.gentle = bool(gently) and chance.random() < gently
        if self.gentle:
            self.snap = 10 ** chance.uniform(-2.5, -0.8)
        self.chord()

    def fitting(self):
        low = self.voice.pitches[0]
        if low >= 55:
            return self.chance.choice(["mandolin", "ukulele"])
        if low >= 48 or "banjo" in self.voice.name:
            return "banjo"
        return self.chance.choice(["banjo", "guitar", "guitar"])

    # What the left hand holds.

    def chord(self):
        root, tones = self.chance.integers(0, 12), QUALITIES[self.chance.integers(0, len(QUALITIES))]
        classes = {(root + tone) % 12 for tone in tones}
        place = self.chance.choice([0, 0, 2, 5, 7])
        self.held = []
        for string in self.open:
            frets = [fret for fret in range(place, place + 5) if (string + fret) % 12 in classes]
            self.held.append(string + (frets[0] if frets else place))

    # The strings.

    def pluck(self, string, at, pitch=None, gain=None, ring=None):
        at = max(at, 0.02)
        pitch = self.held[string] if pitch is None else pitch
        gain = self.accent() if gain is None else gain
        self.end(string, at - self.chance.uniform(0, self.contact), self.chance.uniform(0.001, 0.006))
        self.ringing[string] = Note(at, pitch, gain * self.string_gain[string] * self.level, gain > 0.75, [])
        self.plucks.append((at, pitch))

    def accent(self):
        if self.chance.random() < 0.08:
            return amplitude(self.chance.uniform(-14, -6))
        return amplitude(self.chance.normal(-2, 2.2))

    def slur(self, string, at, pitch, kind):
        note = self.ringing[string]
        if note is None or at - note.start < 0.055 or at > self.seconds:
            return False
        note.slurs.append((at, pitch, kind))
        return True

    def end(self, string, at, fade):
        note, self.ringing[string] = self.ringing[string], None
        if note is not None:
            self.lay(note, max(at, note.start + 0.01), fade, self.detune[string])

    def damp(self, at, fade=None, thud=None):
        fade = self.chance.uniform(0.004, 0.04) if fade is None else fade
        if any(self.ringing):
            for string in range(len(self.open)):
                self.end(string, at + self.chance.uniform(0, 0.012), fade)
            self.bump(at, (self.thud if thud is None else thud) * self.level)

    def bump(self, at, gain, middle=None):
        """A hand that falls on strings or head: low noise, over in a moment."""
        chance = self.chance
        lasts = chance.uniform(0.008, 0.06)
        time = np.arange(int(lasts * 6 * self.rate)) / self.rate
        middle = chance.uniform(80, 700) if middle is None else middle
        noise = chance.normal(0, 1, len(time))
        pole = np.exp(-2 * np.pi * middle / self.rate)
        noise = scipy.signal.lfilter([1 - pole], [1, -pole], noise)
        noise /= np.abs(noise).max() + 1e-9
        noise *= np.exp(-time / lasts) * (1 - np.exp(-time / chance.uniform(0.001, 0.008)))
        self.add(at, (0.5 * gain * noise).astype("float32"))

    def add(self, at, sound):
        start = int(round(at * self.rate))
        if start < 0:
            sound, start = sound[-start:], 0
        stop = min(start + len(sound), len(self.sound))
        if stop > start:
            self.sound[start:stop] += sound[:stop - start]

    # The sound of a note.

    def lay(self, note, end, fade, detune):
        chance, rate = self.chance, self.rate
        tail = min(fade * 7, 0.4)
        length = int(min(end + tail - note.start, 2.55) * rate)
        if length < 10:
            return
        time = np.arange(length) / rate
        bend = np.full(length, detune, "float32")
        pieces, current, begun = [], note.pitch, 0.0
        for at, pitch, kind in note.slurs:
            since = at - note.start
            if since * rate >= length - 10:
                break
            if kind == "slide":
                lasts = chance.uniform(0.025, 0.12)
                steps = abs(int(round(pitch - current)))
                way = np.clip((time - (since - 0.6 * lasts)) / lasts, 0, 1)
                if chance.random() < 0.6 and steps:
                    # From fret to fret.
                    way = (np.floor(way * steps) + np.clip((way * steps % 1) * 3, 0, 1)) / steps
                    way = np.clip(way, 0, 1)
                bend += ((pitch - current) * way).astype("float32")
                if chance.random() < 0.5:
                    self.squeak(at - 0.6 * lasts, lasts, note.gain * amplitude(chance.uniform(-40, -20)))
            else:
                pieces.append((since, pitch, kind))
            current = pitch
            # One that the string no longer rings for is none.
            if at < end - 0.03:
                self.slurs.append((at, pitch, kind))
        sound = self.read(note.pitch, note.hard, bend, 0)
        for since, pitch, kind in pieces:
            place = int(since * rate)
            skip = int(chance.uniform(0.012, 0.06) * rate)
            rest = length - place
            # Bends after it belong to the note that it leads to; before it, to the one that it leaves.
            new = self.read(pitch, note.hard, np.full(rest, detune, "float32"), skip)
            look = int(0.02 * rate)
            before = np.sqrt(np.mean(sound[max(0, place - look):place] ** 2) + 1e-12)
            after = np.sqrt(np.mean(new[:look] ** 2) + 1e-9)
            gain = before / after * amplitude(chance.uniform(-9, 2) if self.gentle else chance.uniform(-5, 4))
            attack = self.read(pitch, kind == "pull", np.full(rest, detune, "float32"), 0)
            snap = self.snap * chance.uniform(0.4, 1.3)
            new = new * min(gain, 2.0) + attack * snap * amplitude(-chance.uniform(0, 6))
            width = max(2, int((chance.uniform(0.002, 0.02) if self.gentle else chance.uniform(0.0008, 0.006)) * rate))
            cross = np.clip((np.arange(rest) - width // 2) / width, 0, 1).astype("float32")
            sound[place:] = sound[place:] * (1 - cross) + new * cross
        # It rings on as long as this instrument lets it, wavers, and stops.
        level = np.exp(-time / self.ring) if self.ring < 2.5 else np.ones(length)
        if self.wavers:
            knots = np.arange(0, time[-1] + 0.3, 0.1)
            level = level * amplitude(np.interp(time, knots, np.cumsum(chance.normal(0, 0.5, len(knots)))))
        off = end - note.start
        level = level * np.where(time > off, np.exp(-np.maximum(time - off, 0) / max(fade, 1e-4)), 1.0)
        last = min(length, int(0.01 * rate))
        level[-last:] *= np.linspace(1, 0, last)
        sound = note.gain * sound * level.astype("float32")
        self.add(note.start - self.voice.before / rate, sound)

    def read(self, pitch, hard, bend, skip):
        """A note's clip, from its beginning (with what goes before it, unless samples are skipped), bent by semitones."""
        clip, off = self.voice.clip(pitch + self.smaller, hard)
        ratio = 2.0 ** ((bend.astype("float64") + off - self.smaller) / 12)
        places = np.cumsum(ratio) - ratio[0]
        # What goes before its beginning lasts as long however it is read.
        places += skip + self.voice.before if skip else self.voice.before * (1 - 2.0 ** (-self.smaller / 12))
        sound = np.interp(places, np.arange(len(clip)), clip, left=0.0 if self.smaller else None, right=0.0)
        if self.beats:
            share = self.chance.uniform(0, 0.7)
            other = np.interp(places * (1 + self.chance.uniform(-0.004, 0.004)), np.arange(len(clip)), clip, right=0.0)
            sound = (sound + share * other) / (1 + share)
        return sound.astype("float32")

    def squeak(self, at, lasts, gain):
        chance = self.chance
        time = np.arange(int(lasts * self.rate)) / self.rate
        hertz = np.linspace(chance.uniform(800, 4000), chance.uniform(800, 4000), len(time))
        tone = np.sin(2 * np.pi * np.cumsum(hertz + chance.normal(0, 300, len(time))) / self.rate)
        self.add(at, (gain * tone * np.sin(np.pi * time / max(lasts, 1e-3)) ** 2).astype("float32"))

    # What is played: each from `at` for about `lasts` seconds, `rate` strokes a second; returns where it ended.

    def jitter(self):
        return self.chance.normal(0, self.loose)

    def roll(self, at, lasts, rate):
        chance, count, stop = self.chance, 0, at + lasts
        pattern = self.pattern()
        slurred = chance.random() < 0.4
        pinched = chance.uniform(0, 0.2)
        while at < stop:
            if count % 8 == 0 and chance.random() < 0.5:
                self.chord()
                pattern = self.pattern()
            strings = [pattern[count % 8]]
            if chance.random() < pinched:
                strings.append(int(chance.integers(0, len(self.open))))
            if chance.random() > 0.06:
                begins = at + self.jitter()
                self.several(strings, begins, chance.uniform(0, 0.015))
                if slurred and rate < 9 and chance.random() < 0.25:
                    string = strings[0]
                    after = begins + (0.5 if rate > 4 else chance.uniform(0.3, 0.7)) / rate
                    self.slur(string, after, *self.whereto(self.ringing[string].pitch, string))
            at += 1 / rate
            count += 1
        return at

    def pattern(self):
        if len(self.open) == 5 and self.chance.random() < 0.6:
            return ROLLS[self.chance.integers(0, len(ROLLS))]
        pattern, last = [], None
        for _ in range(8):
            last = self.chance.choice([n for n in range(len(self.open)) if n != last])
            pattern.append(int(last))
        return pattern

    def several(self, strings, at, spread, gain=None):
        strings = list(dict.fromkeys(strings))
        for n, string in enumerate(strings):
            self.pluck(string, at + spread * n / max(len(strings) - 1, 1), gain=gain)

    def whereto(self, pitch, string):
        kind = self.chance.choice(["slide", "hammer", "pull"])
        step = int(self.chance.choice([1, 2, 2, 3, 4]))
        if kind == "hammer" or (kind == "slide" and self.chance.random() < 0.75):
            return pitch + step, kind
        if pitch - step < self.open[string]:
            return pitch + step, "hammer" if kind == "pull" else kind
        return pitch - step, kind

    def vamp(self, at, lasts, rate):
        chance, stop = self.chance, at + lasts
        length = chance.uniform(0.05, 0.22)
        bump = chance.random() < 0.35
        spread = chance.uniform(0, 0.03)
        step = 1 / min(rate, 4.5)
        count = 0
        while at < stop:
            if count % 4 == 0:
                self.chord()
                first = int(chance.integers(0, max(1, len(self.open) - 2)))
            begins = at + self.jitter()
            if bump and count % 2 == 0:
                self.pluck(int(np.argmin(self.held)), begins, gain=amplitude(chance.uniform(-8, 0)))
                if chance.random() < 0.5:
                    self.damp(begins + 0.7 * step)
            elif chance.random() > 0.05:
                strings = list(range(first, min(first + 3, len(self.open))))
                if chance.random() < 0.3:
                    strings.reverse()
                self.several(strings, begins, spread * chance.uniform(0.5, 1))
                between = chance.choice([0.5, 0.667, 0.75]) * step if chance.random() < 0.15 and step > 0.22 else None
                rings = min(length * chance.uniform(0.7, 1.3), 0.75 * step)
                self.damp(begins + min(spread + rings, 0.9 * between if between else 1.0))
                if between:
                    # A pick-up between.
                    again = begins + between
                    self.several(strings, again, spread, gain=amplitude(chance.uniform(-10, -3)))
                    self.damp(again + spread + min(0.06, 0.2 * step))
            at += step
            count += 1
        return at

    def fill(self, at, lasts, rate, slurs=0.35):
        """A line with slurs in it."""
        chance, stop = self.chance, at + lasts
        string, pitch = int(chance.integers(0, len(self.open))), None
        scale = {(chance.integers(0, 12) + tone) % 12 for tone in (0, 2, 4, 5, 7, 9, 10)}
        begins = at
        while at < stop:
            begins = max(at + self.jitter(), begins + 0.02)
            note = self.ringing[string]
            slurred = False
            if note is not None and len(note.slurs) < 3 and chance.random() < slurs:
                last = note.slurs[-1] if note.slurs else (note.start, note.pitch)
                if 0.055 < begins - last[0] < 0.6:
                    slurred = self.slur(string, begins, *self.whereto(last[1], string))
            if not slurred:
                if chance.random() < 0.4:
                    string = int(np.clip(string + chance.integers(-1, 2), 0, len(self.open) - 1))
                near = self.open[string] + chance.integers(0, 13)
                pitch = min((p for p in range(near - 2, near + 3) if p % 12 in scale), default=near,
                            key=lambda p: abs(p - near))
                if chance.random() < 0.1:
                    self.several([string, int(chance.integers(0, len(self.open)))], begins, 0.01)
                else:
                    self.pluck(string, begins, max(pitch, self.open[string]))
            at += 1 / rate * (chance.choice([1, 1, 1, 1, 2, 0.5]) if rate < 7 else 1)
        return at

    def line(self, at, lasts, rate):
        return self.fill(at, lasts, rate, slurs=0.0)

    def tremolo(self, at, lasts, rate):
        stop, string = at + lasts, int(self.chance.integers(0, len(self.open)))
        count = 0
        while at < stop:
            if count % 8 == 0 and self.chance.random() < 0.5:
                string = int(self.chance.integers(0, len(self.open)))
                self.chord()
            self.pluck(string, at + self.jitter(), gain=self.accent() * (1 if count % 2 else 0.8))
            at += 1 / rate
            count += 1
        return at

    def strum(self, at, lasts, rate):
        chance, stop, rate = self.chance, at + lasts, min(rate, 7)
        spread, choked = chance.uniform(0.006, 0.034), chance.random() < 0.4
        count = 0
        while at < stop:
            if count % 8 == 0:
                self.chord()
            begins = at + self.jitter()
            low = int(chance.integers(0, max(1, len(self.open) - 3)))
            strings = list(range(low, len(self.open)))
            if count % 2:
                strings.reverse()
            if count % 4 == 0 and chance.random() < 0.5:
                strings = [int(np.argmin(self.held))]
            if chance.random() > 0.12:
                self.several(strings, begins, spread * chance.uniform(0.6, 1), gain=self.accent() * 0.7)
                if choked and chance.random() < 0.5:
                    self.damp(begins + spread + chance.uniform(0.02, 0.12))
            at += 1 / rate
            count += 1
        return at

    def sparse(self, at, lasts, rate):
        """A few notes that ring long and beat, with a slur here and there."""
        chance, stop = self.chance, at + lasts
        while at < stop:
            string = int(chance.integers(0, len(self.open)))
            strings = [string] if chance.random() < 0.7 else [string, int(chance.integers(0, len(self.open)))]
            self.several(strings, at, chance.uniform(0, 0.03))
            wait = chance.uniform(0.25, 1.2) if chance.random() < 0.8 else chance.uniform(1.2, 3.0)
            if chance.random() < 0.35:
                place = at + wait * chance.uniform(0.3, 0.7)
                if self.slur(string, place, *self.whereto(self.ringing[string].pitch, string)) and chance.random() < 0.4:
                    last = self.ringing[string].slurs[-1][1]
                    self.slur(string, place + chance.uniform(0.08, 0.2), *self.whereto(last, string))
            at += wait
            if chance.random() < 0.15:
                at += chance.uniform(0.5, 2)
            if chance.random() < 0.2:
                self.damp(at - chance.uniform(0.03, 0.2))
        return at

    KINDS = ("roll", "vamp", "fill", "line", "tremolo", "strum", "sparse")
    SHARES = (0.28, 0.17, 0.22, 0.06, 0.05, 0.08, 0.14)

    def play(self, kind=None, rate=None):
        """Plays for the whole time, `kind` or several after each other."""
        chance = self.chance
        at = chance.uniform(0.1, 0.8)
        self.loose = chance.uniform(0.001, 0.014)
        while at < self.seconds:
            what = kind or chance.choice(self.KINDS, p=self.SHARES)
            speed = rate or np.exp(chance.uniform(np.log(2), np.log(14)))
            self.loose = min(self.loose, 0.12 / speed)
            self.level = amplitude(chance.uniform(-9, 0)) if kind is None else 1.0
            lasts = chance.uniform(1.5, 7) if kind is None else self.seconds - at
            at = getattr(self, what)(at, min(lasts, self.seconds - at), speed)
            if chance.random() < 0.4:
                self.damp(at - chance.uniform(0, 0.3) / speed if chance.random() < 0.5 else at)
                at += chance.exponential(0.5)
        for string in range(len(self.open)):
            self.end(string, self.seconds + 0.5, 0.05)
        self.sound = self.sound[:int(self.seconds * self.rate)]
        return self.sound, self.truth()

    def mishaps(self):
        """Taps of the foot, knocks, squeaks, cloth, while playing."""
        chance = self.chance
        level = np.percentile(np.abs(self.sound), 99) + 1e-6
        for _ in range(chance.poisson(0.5 * self.seconds)):
            at, gain = chance.uniform(0, self.seconds), level * amplitude(chance.uniform(-34, -10))
            what = chance.random()
            if what < 0.4:
                self.bump(at, 2 * gain)
            elif what < 0.7:
                self.squeak(at, chance.uniform(0.03, 0.25), gain * 0.5)
            else:
                self.bump(at, gain, middle=chance.uniform(500, 4000))

    def truth(self):
        strokes = []
        for at, pitch in sorted(self.plucks):
            if at > self.seconds - 0.03:
                continue
            if strokes and at - strokes[-1][0] <= ONE:
                strokes[-1][1].add(int(pitch))
            else:
                strokes.append((at, {int(pitch)}))
        times = np.array([at for at, _ in strokes])
        slurs = [(at, int(pitch), kind) for at, pitch, kind in sorted(self.slurs)
                 if at < self.seconds - 0.03 and (not len(times) or np.abs(times - at).min() > CLEAR)]
        return Truth(strokes, slurs)
