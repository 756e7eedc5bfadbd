#!/usr/bin/env python3
"""Holds what is heard of a player to others' measures, on sounds whose every stroke is known.

    onsets.py OPENCHAIR SONG

Takes: rolls by the built-in banjo, exported as .mid and .wav; and rolls played by a stranger, fluidsynth with
the TimGM6mb sound set, on its banjo and its steel guitar (General MIDI programs 106 and 26, counted from 1).
Each clean, with white noise 20 dB softer, and with the band that plays SONG 20 dB softer. What `openchair
hear` finds is scored by mir_eval's onset F-measure (50 ms window), beside librosa's onset detector on the
same files.

The true beginning: the built-in banjo sounds with the note's own time, which is looked at below. A stranger's
instrument takes a while to speak, so each of its notes is played alone in silence first, and begins where it
reaches a twentieth of its peak.

The timing figures stand beside what listeners notice of one tone out of place in an even row: 6 ms where
tones come less than 240 ms apart, 2.5 percent of the distance where they come more slowly (Friberg and
Sundberg, "Time discrimination in a monotonic, isochronous sequence", J. Acoust. Soc. Am. 98, 1995).
"""
import json
import pathlib
import subprocess
import sys
import tempfile

import librosa
import mido
import mir_eval
import numpy as np
import soundfile

SOUND_SET = "/usr/share/sounds/sf2/TimGM6mb.sf2"
RATE = 44_100
WINDOW = 0.05
# F at least, at 8 notes a second.
BOUNDS = {"clean": 0.97, "noise": 0.93, "band": 0.90}
SECONDS = 20
STRINGS = [[67, 50, 55, 59, 62], [67, 52, 55, 60, 64], [69, 50, 57, 62, 66]]
ROLLS = [[2, 3, 0, 4, 2, 3, 0, 4], [4, 3, 0, 4, 3, 0, 4, 3], [2, 0, 3, 4, 2, 0, 3, 4]]
SONG = """title = "Rolls"
key = "G"
meter = "4/4"
tempo = {tempo}
style = "rolls-without-a-rest.toml"
band = ["banjo"]
form = ["verse: voice"]

[section.verse]
chords = \"\"\"
{lines}
\"\"\"
"""
# Eighths without a rest: a banjo that fills a band's gaps rests now and then, and would be the easier to hear.
STYLE = """about  = "Rolls without a rest, and now and then a pinch"
meters = ["4/4"]
tempo  = [30, 400]

[banjo]
program   = 106
volume    = 100
pan       = 64
lean      = 0
looseness = 4
spread    = 5
loudness  = { ghost = 46, normal = 80, accent = 96, vary = 8 }

[[banjo.bar]]
when = "change next"
bar  = "3! 2 5 1 4 2 5 1"

[[banjo.bar]]
bar = "3! 2 1 5 2 1 5 1"

[[banjo.bar]]
bar = "2 3 1 5 2 3 5+1 3"
"""


def run(*command):
    return subprocess.run([str(word) for word in command], check=True, capture_output=True).stdout


def strokes_of(notes):
    """Notes as (seconds, pitch); what begins within 25 ms of a stroke's first note belongs to it."""
    strokes = []
    for at, pitch in sorted(notes):
        if strokes and at - strokes[-1][0] <= 0.025:
            strokes[-1][1].add(pitch)
        else:
            strokes.append((at, {pitch}))
    return strokes


def notes_in(path):
    """The notes of a MIDI file in seconds: mido goes by its tempos."""
    at = 0.0
    for message in mido.MidiFile(path):
        at += message.time
        if message.type == "note_on" and message.velocity:
            yield at, message.note


def own_banjo(program, folder, rate):
    bars = int(SECONDS * rate / 8)
    lines = "\n".join("| G | C | D | G |" for _ in range((bars + 3) // 4))
    song = folder / f"rolls-{rate}.toml"
    (folder / "rolls-without-a-rest.toml").write_text(STYLE)
    song.write_text(SONG.format(tempo=rate * 30, lines=lines))
    mid, wav = song.with_suffix(".mid"), song.with_suffix(".wav")
    run(program, "export", song, "-o", mid)
    run(program, "export", song, "-o", wav)
    sound, at_rate = soundfile.read(wav, dtype="float32")
    sound = sound.mean(axis=1)
    strokes = strokes_of(notes_in(mid))
    # It begins with its note: silent before, and within a millisecond at a twentieth of its peak.
    first = strokes[0][0]
    begins = beginning(sound, at_rate, first)
    assert abs(begins - first) < 0.001, f"the built-in banjo speaks {1000 * (begins - first):.2f} ms late"
    return sound, at_rate, strokes


def beginning(sound, rate, near):
    """When a note alone in silence reaches a twentieth of its peak, in seconds."""
    from_, to = max(0, int((near - 0.01) * rate)), int((near + 0.04) * rate)
    piece = np.abs(sound[from_:to])
    return (from_ + int(np.argmax(piece > 0.05 * piece.max()))) / rate


def write_notes(path, notes, program):
    """Notes as (milliseconds, pitch, velocity, milliseconds); a tick is a millisecond."""
    file = mido.MidiFile(ticks_per_beat=1000)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    track.append(mido.Message("program_change", program=program))
    events = []
    for at, pitch, velocity, length in notes:
        events += [(at, 1, pitch, velocity), (at + length - 1, 0, pitch, 0)]
    last = 0
    for at, on, pitch, velocity in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, note=pitch, velocity=velocity, time=at - last))
        last = at
    file.save(path)


def played(folder, name, notes, program):
    """Notes by the stranger, without its reverb and chorus, in blocks of its least size."""
    mid, wav = folder / f"{name}.mid", folder / f"{name}.wav"
    write_notes(mid, notes, program)
    run("fluidsynth", "-ni", "-q", "-R", 0, "-C", 0, "-z", 64, "-r", RATE, "-g", 0.7, "-O", "float",
        "-T", "wav", "-F", wav, SOUND_SET, mid)
    sound, rate = soundfile.read(wav, dtype="float32")
    assert rate == RATE
    return sound.mean(axis=1)


def speaks_after(folder, program):
    """Seconds from each note's message to its sound."""
    pitches = sorted({pitch for strings in STRINGS for pitch in strings})
    late = {pitch: [] for pitch in pitches}
    for velocity in (70, 90, 110):
        # Apart by more than a whole number of the stranger's blocks.
        notes = [(500 + 1003 * n, pitch, velocity, 500) for n, pitch in enumerate(pitches)]
        sound = played(folder, "alone", notes, program)
        for at, pitch, _, _ in notes:
            late[pitch].append(beginning(sound, RATE, at / 1000) - at / 1000)
    return {pitch: float(np.mean(all_)) for pitch, all_ in late.items()}


def strangers_roll(rate, seed):
    chance = np.random.default_rng(seed)
    struck, time, count = [], 500.0, 0
    while time < SECONDS * 1000:
        if count % 8 == 0:
            strings, roll = STRINGS[chance.integers(3)], ROLLS[chance.integers(3)]
        at = round(time + chance.normal(0, 5))
        kind = chance.random()
        if kind < 0.08:
            pitches = [strings[3], strings[0]]
        elif kind < 0.16 and struck:
            pitches = [struck[-1][1]]
        else:
            pitches = [strings[roll[count % 8]]]
        if chance.random() > 0.06:
            for n, pitch in enumerate(pitches):
                struck.append((at + 3 * n, pitch, int(np.clip(chance.normal(88, 12), 50, 120))))
        time += 1000 / rate + (1500 if chance.random() < 0.01 else 0)
        count += 1
    notes, ends = [], {}
    for at, pitch, velocity in sorted(struck, reverse=True):
        end = min(at + 1200, ends.get(pitch, at + 1200))
        if end > at + 1:
            notes.append((at, pitch, velocity, end - at))
        ends[pitch] = at
    return notes[::-1]


def with_behind(sound, other):
    other = np.resize(other, len(sound))
    level = np.sqrt(np.mean(sound**2)) / np.sqrt(np.mean(other**2))
    return sound + 0.1 * level * other


def librosas(sound, rate, hop):
    return librosa.onset.onset_detect(y=sound, sr=rate, hop_length=hop, units="time")


def scored(truth, found):
    f, precision, recall = mir_eval.onset.f_measure(truth, found, window=WINDOW)
    pairs = mir_eval.util.match_events(truth, found, WINDOW)
    late = np.array([found[b] - truth[a] for a, b in pairs]) * 1000
    return f, precision, recall, late, pairs


def main():
    program, song = pathlib.Path(sys.argv[1]).absolute(), sys.argv[2]
    folder = pathlib.Path(tempfile.mkdtemp())
    run(program, "export", song, "--band", "bass,chop,guitar", "-o", folder / "band.wav")
    band, band_rate = soundfile.read(folder / "band.wav", dtype="float32")
    band = band.mean(axis=1)
    takes = [("built-in banjo", rate, *own_banjo(program, folder, rate)) for rate in (4, 8, 12)]
    for voice, number in (("sampled banjo", 105), ("sampled guitar", 25)):
        after = speaks_after(folder, number)
        late = [1000 * late for late in after.values()]
        print(f"{voice}: speaks {min(late):.1f} to {max(late):.1f} ms after its message")
        for rate in (4, 8, 12):
            notes = strangers_roll(rate, 10 * rate + number)
            sound = played(folder, f"{number}-{rate}", notes, number)
            begun = [(at / 1000 + after[pitch], pitch) for at, pitch, _, _ in notes]
            takes.append((voice, rate, sound, RATE, strokes_of(begun)))
    print("                                  ------------ openchair ------------------------------ -- librosa --")
    print("voice            a second  with   F     prec. recall bias  |err|   p95  <JND told  right  F     |err|")
    ours, theirs, pooled = {}, {}, {}
    for voice, rate, sound, at_rate, strokes in takes:
        truth = np.array([at for at, _ in strokes])
        noise = np.random.default_rng(rate).normal(0, 1, len(sound)).astype("float32")
        behind = librosa.resample(band, orig_sr=band_rate, target_sr=at_rate)
        versions = {"clean": sound, "noise": with_behind(sound, noise), "band": with_behind(sound, behind)}
        for condition, version in versions.items():
            path = folder / "take.wav"
            soundfile.write(path, version / np.abs(version).max() * 0.7, at_rate, subtype="PCM_16")
            heard = json.loads(run(program, "hear", path, "--json"))["strokes"]
            found = np.array([stroke["at"] for stroke in heard])
            f, precision, recall, late, pairs = scored(truth, found)
            told = right = 0
            for a, b in pairs:
                classes = {pitch % 12 for pitch in heard[b]["pitches"]}
                told += bool(classes)
                right += bool(classes) and classes <= {pitch % 12 for pitch in strokes[a][1]}
            # The detector as it comes, and with finer frames: the better of the two.
            best = max((scored(truth, librosas(version, at_rate, hop)) for hop in (512, 128)),
                       key=lambda score: score[0])
            their_error = float(np.median(np.abs(best[3])))
            error, p95 = float(np.median(np.abs(late))), float(np.percentile(np.abs(late), 95))
            noticed = 6.0 if rate > 1000 / 240 else 0.025 * 1000 / rate
            within = float(np.mean(np.abs(late) < noticed))
            print(f"{voice:15} {rate:8}   {condition:6} {f:.3f} {precision:.3f} {recall:.3f} "
                  f"{np.median(late):+5.2f} {error:6.2f} {p95:5.2f}  {within:4.0%} "
                  f"{told / len(pairs):4.0%}  {right / max(told, 1):4.0%}  {best[0]:.3f} {their_error:5.1f}")
            ours.setdefault(condition, []).append(f)
            theirs.setdefault(condition, []).append(best[0])
            assert error < their_error, "librosa's timing is finer"
            if rate == 8:
                assert f >= BOUNDS[condition], f"F below {BOUNDS[condition]}"
                pooled.setdefault(condition, []).append(late)
            if condition == "clean" and rate <= 8:
                assert told >= 0.65 * len(pairs), "too few notes made out"
                assert right >= 0.85 * told, "wrong notes"
    for condition, bound in BOUNDS.items():
        mean, their_mean = np.mean(ours[condition]), np.mean(theirs[condition])
        late = np.abs(np.concatenate(pooled[condition]))
        print(f"{condition}: mean F {mean:.3f}, librosa {their_mean:.3f}; at 8 a second (bound {bound}) "
              f"|err| median {np.median(late):.2f} ms, p95 {np.percentile(late, 95):.2f} ms")
        assert mean > their_mean, "librosa hears more"
        assert np.median(late) < 2 and np.percentile(late, 95) < 8, "timing"
    print(f"mir_eval {mir_eval.__version__}, librosa {librosa.__version__}: all bounds hold")


if __name__ == "__main__":
    main()
