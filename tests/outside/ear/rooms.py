"""What comes between a player and the file: a room, a microphone, its compressor and gate, noise, a band, coding."""
import subprocess
import tempfile

import numpy as np
import scipy.signal

from parts import amplitude


def rms(sound):
    return float(np.sqrt(np.mean(np.square(sound, dtype="float64")) + 1e-20))


def loud(sound, rate):
    """The 90th of a hundred of its blocks of 23 ms by loudness."""
    block = int(0.023 * rate)
    blocks = sound[:len(sound) // block * block].reshape(-1, block)
    levels = np.sort(np.sqrt(np.mean(blocks.astype("float64") ** 2, axis=1)))
    return float(levels[len(levels) * 90 // 100]) + 1e-9


def room(sound, rate, chance, rt60=None, direct=None):
    """A room's answer: early reflections, then noise that dies away, the highs sooner. `direct`: decibels of the direct
    sound over all that comes after it."""
    rt60 = chance.uniform(0.15, 0.9) if rt60 is None else rt60
    direct = chance.uniform(-4, 14) if direct is None else direct
    time = np.arange(int(rt60 * 1.1 * rate)) / rate
    late = chance.normal(0, 1, len(time)) * np.exp(-6.9 * time / rt60)
    pole = np.exp(-2 * np.pi * chance.uniform(1500, 6000) / rate)
    dark = scipy.signal.lfilter([1 - pole], [1, -pole], late)
    mix = np.clip(time / rt60 * 2, 0, 1)
    late = late * (1 - mix) + dark * mix * 1.5
    start = int(chance.uniform(0.002, 0.02) * rate)
    late[:start] = 0
    for _ in range(chance.integers(4, 12)):
        place = int(chance.uniform(0.0012, 0.035) * rate)
        if place < len(late):
            late[place] += chance.choice([-1, 1]) * chance.uniform(1, 6) * np.exp(-6.9 * place / rate / rt60)
    late[0] = 0
    late *= amplitude(-direct) / (np.sqrt(np.sum(late ** 2)) + 1e-9)
    late[0] = 1
    return scipy.signal.fftconvolve(sound, late)[:len(sound)].astype("float32")


def colour(sound, rate, chance):
    """A tilt and a few broad bumps, as microphones and places have."""
    spectrum = np.fft.rfft(sound)
    hertz = np.fft.rfftfreq(len(sound), 1 / rate) + 20
    gain = chance.normal(0, 1.8) * np.log2(hertz / 1000)
    for _ in range(3):
        gain += chance.normal(0, 4) * np.exp(-0.5 * ((np.log2(hertz / np.exp(chance.uniform(5, 8.8)))) / chance.uniform(0.2, 1)) ** 2)
    return np.fft.irfft(spectrum * amplitude(np.clip(gain, -30, 18)), len(sound)).astype("float32")


def swirl(sound, rate, chance):
    """Strings that beat: every band of the sound swells and fades by itself, slowly."""
    spectrum = np.fft.rfft(sound)
    hertz = np.fft.rfftfreq(len(sound), 1 / rate) + 1
    edges = np.concatenate([[1], np.sort(np.exp(chance.uniform(np.log(90), np.log(5000), chance.integers(3, 12)))), [rate]])
    depth, speed = chance.uniform(1, 5), chance.uniform(0.08, 0.4)
    whole = np.zeros(len(sound))
    for low, high in zip(edges, edges[1:]):
        # The sides overlap by a tenth, and add up to 1.
        share = np.clip((np.log(hertz) - np.log(low)) / 0.1 + 0.5, 0, 1) - np.clip((np.log(hertz) - np.log(high)) / 0.1 + 0.5, 0, 1)
        band = np.fft.irfft(spectrum * share, len(sound))
        knots = np.arange(0, len(sound) / rate + 2 * speed, speed)
        gains = np.interp(np.arange(len(sound)) / rate, knots, np.convolve(chance.normal(0, depth, len(knots) + 2), [0.5, 1, 0.5], "valid")[:len(knots)])
        whole += band * amplitude(np.clip(gains, -18, 9))
    return whole.astype("float32")


def passed(sound, rate, low=None, high=None):
    if low:
        sound = scipy.signal.sosfilt(scipy.signal.butter(2, low, "high", fs=rate, output="sos"), sound)
    if high and high < 0.48 * rate:
        sound = scipy.signal.sosfilt(scipy.signal.butter(4, high, fs=rate, output="sos"), sound)
    return sound.astype("float32")


def follow(sound, rate, rises, falls):
    """The level, quick to rise and slow to fall."""
    def smooth(x, seconds):
        pole = np.exp(-1 / (seconds * rate))
        return scipy.signal.lfilter([1 - pole], [1, -pole], x)
    fast = smooth(np.abs(sound), rises)
    slow = smooth(fast, falls)
    return np.maximum(fast, slow) + 1e-6


def compressor(sound, rate, chance):
    level = follow(sound, rate, chance.uniform(0.002, 0.02), chance.uniform(0.08, 0.5))
    over = level / (loud(sound, rate) * amplitude(chance.uniform(-15, 0)))
    share = chance.uniform(0.3, 0.85)
    return (sound * np.where(over > 1, over ** -share, 1)).astype("float32")


def gate(sound, rate, chance):
    level = follow(sound, rate, 0.003, chance.uniform(0.02, 0.15))
    threshold = loud(sound, rate) * amplitude(chance.uniform(-36, -16))
    opens = np.clip((level / threshold) ** 2, amplitude(chance.uniform(-40, -10)), 1)
    return (sound * opens).astype("float32")


def noise(length, rate, chance):
    white = chance.normal(0, 1, length)
    what = chance.random()
    if what < 0.35:
        made = white
    elif what < 0.75:
        spectrum = np.fft.rfft(white)
        hertz = np.fft.rfftfreq(length, 1 / rate) + 30
        made = np.fft.irfft(spectrum * hertz ** -chance.uniform(0.3, 1.2), length)
    else:
        time = np.arange(length) / rate
        hum = chance.choice([50, 60])
        made = sum(np.sin(2 * np.pi * hum * n * time + chance.uniform(0, 6)) * amplitude(chance.uniform(-30, 0))
                   for n in range(1, 12)) + 0.1 * white
    return (made / rms(made)).astype("float32")


def coded(sound, rate, codec, kilobits):
    """Through MP3 or AAC and back, in time with what went in."""
    kinds = {"mp3": ("libmp3lame", "mp3"), "aac": ("aac", "m4a")}
    encoder, ending = kinds[codec]
    peak = np.abs(sound).max() + 1e-9
    with tempfile.NamedTemporaryFile(suffix="." + ending) as file:
        raw = (sound / peak * 0.9).astype("<f4").tobytes()
        plain = ["-f", "f32le", "-ar", str(rate), "-ac", "1"]
        subprocess.run(["ffmpeg", "-v", "error", "-y", *plain, "-i", "-", "-c:a", encoder, "-b:a", f"{kilobits}k",
                        file.name], input=raw, check=True)
        back = subprocess.run(["ffmpeg", "-v", "error", "-i", file.name, *plain, "-"], check=True, capture_output=True)
    back = np.frombuffer(back.stdout, "<f4")
    return np.pad(back, (0, max(0, len(sound) - len(back))))[:len(sound)] * (peak / 0.9)


def behind(sound, other, softer):
    """With something in the background, so many decibels softer."""
    return (sound + other * (rms(sound) / rms(other) * amplitude(-softer))).astype("float32")


def clipped(sound, chance):
    level = np.percentile(np.abs(sound), 99.9) * amplitude(chance.uniform(-9, 0))
    return np.clip(sound, -level, level).astype("float32")


class Band:
    """What plays behind the player: bass, chops, strums, fiddle, voices, drums, by a beat of its own."""

    def __init__(self, voices, chance):
        self.voices, self.chance = voices, chance

    def play(self, seconds, beat):
        chance = self.chance
        rate = next(iter(self.voices.values())).rate
        self.sound, self.rate = np.zeros(int((seconds + 3) * rate), "float32"), rate
        roles = [name for name in self.voices if chance.random() < 0.5] or [chance.choice(list(self.voices))]
        root = int(chance.integers(0, 12))
        start = chance.uniform(0, beat)
        for name in roles:
            voice = self.voices[name]
            gain = amplitude(chance.uniform(-12, 0))
            at, count, chord = start, 0, root
            while at < seconds:
                if count % 8 == 0:
                    chord = (root + chance.choice([0, 0, 5, 7])) % 12
                tones = [tone for tone in voice.pitches if (tone - chord) % 12 in (0, 4, 7)] or voice.pitches
                if "bass" in name:
                    if count % 2 == 0:
                        self.note(voice, at, chance.choice(tones[:4]), gain, 1.4 * beat)
                elif "drums" in name:
                    self.note(voice, at, chance.choice(voice.pitches), gain * chance.uniform(0.1, 1), 0.3)
                elif any(word in name for word in ("fiddle", "oohs", "voice", "harmonica", "accordion")):
                    if chance.random() < 0.4:
                        self.note(voice, at, chance.choice(tones), gain * 0.8, beat * chance.choice([0.5, 1, 2, 3]), 0.03)
                else:
                    low = int(chance.integers(0, max(1, len(tones) - 4)))
                    if count % 2 == 0 and chance.random() < 0.6:
                        self.note(voice, at, tones[low], gain, beat)
                    elif count % 2:
                        for n, pitch in enumerate(tones[low:low + 4]):
                            self.note(voice, at + 0.007 * n, pitch, gain * 0.6, chance.choice([0.1, 0.3, 1]) * beat, 0.02)
                at += beat / 2 * (1 + chance.normal(0, 0.015))
                count += 1
        return self.sound[:int(seconds * rate)]

    def note(self, voice, at, pitch, gain, lasts, fade=0.01):
        if self.chance.random() < 0.1:
            return
        clip, off = voice.clip(int(pitch), True)
        length = min(len(clip), int((lasts + 0.3) * self.rate))
        time = np.arange(length) / self.rate
        level = np.where(time > lasts, np.exp(-np.maximum(time - lasts, 0) / max(fade, 0.02)), 1)
        start = int(at * self.rate)
        stop = min(start + length, len(self.sound))
        if stop > start:
            self.sound[start:stop] += (gain * clip[:length] * level)[:stop - start]


def any_way(sound, rate, chance, band, beat):
    """As anything may happen to a recording: for training."""
    # From true silence to a quiet room's: who learns from noise alone misses soft strokes where there is none.
    quiet = 10.0 ** chance.uniform(-7.0, -3.5)
    sound = sound + quiet * chance.normal(0, 1, len(sound)).astype("float32")
    which = chance.random()
    if which < 0.25:
        return sound.astype("float32")
    if which < 0.41:
        # A band that is nearly as loud, or louder than what a quiet player does.
        if chance.random() < 0.5:
            sound = colour(sound, rate, chance)
        sound = behind(sound, band.play(len(sound) / rate, beat), chance.uniform(6, 14))
        return room(sound, rate, chance) if chance.random() < 0.2 else sound.astype("float32")
    if which < 0.54:
        # All that a phone does.
        sound = room(colour(sound, rate, chance), rate, chance)
        sound = behind(sound, noise(len(sound), rate, chance), chance.uniform(25, 45))
        sound = passed(sound, rate, low=chance.uniform(100, 300), high=chance.uniform(5_000, 7_500))
        sound = gate(compressor(sound, rate, chance), rate, chance)
        return coded(sound, rate, "aac", 48) if chance.random() < 0.2 else sound.astype("float32")
    if which < 0.65:
        # A room and nothing else.
        return room(colour(sound, rate, chance) if chance.random() < 0.5 else sound, rate, chance)
    if chance.random() < 0.7:
        sound = colour(sound, rate, chance)
    if chance.random() < 0.35:
        sound = swirl(sound, rate, chance)
    if band is not None and chance.random() < 0.4:
        sound = behind(sound, band.play(len(sound) / rate, beat), chance.uniform(8, 30))
    if chance.random() < 0.55:
        sound = room(sound, rate, chance)
    if chance.random() < 0.4:
        sound = behind(sound, noise(len(sound), rate, chance), chance.uniform(8, 45))
    if chance.random() < 0.3:
        sound = compressor(sound, rate, chance)
    if chance.random() < 0.2:
        sound = gate(sound, rate, chance)
    if chance.random() < 0.3:
        sound = passed(sound, rate, low=chance.uniform(60, 350))
    if chance.random() < 0.25:
        sound = passed(sound, rate, high=chance.uniform(3_300, 7_500))
    if chance.random() < 0.12:
        sound = clipped(sound, chance)
    if chance.random() < 0.12:
        codec = chance.choice(["mp3", "aac"])
        sound = coded(sound, rate, codec, int(chance.choice([24, 32, 48, 64])))
    return sound.astype("float32")


CONDITIONS = ("clean", "room", "phone", "mp3", "noise", "band")


def under(condition, sound, rate, chance, band, beat):
    """Under one named condition: for scores."""
    if condition == "room":
        return room(sound, rate, chance, rt60=chance.uniform(0.2, 0.8), direct=chance.uniform(0, 8))
    if condition == "phone":
        sound = room(sound, rate, chance, rt60=chance.uniform(0.2, 0.6), direct=chance.uniform(3, 10))
        sound = behind(sound, noise(len(sound), rate, chance), 35)
        sound = gate(compressor(passed(sound, rate, low=200, high=7_000), rate, chance), rate, chance)
        return coded(sound, rate, "aac", 64)
    if condition == "mp3":
        return coded(sound, rate, "mp3", int(chance.choice([32, 48, 64, 96])) if rate > 16_000 else 32)
    if condition == "noise":
        return behind(sound, noise(len(sound), rate, chance), 20)
    if condition == "band":
        return behind(sound, band.play(len(sound) / rate, beat), 10)
    return sound
