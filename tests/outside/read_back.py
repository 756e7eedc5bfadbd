#!/usr/bin/env python3
"""Reads exported MIDI files with a reader that is not ours (mido) and holds them to what must be so.

    read_back.py OPENCHAIR SONG...

Exports every song whole and with each chair open, and checks: format 1, 960 ticks a quarter; a title,
a tempo, a meter and a key on the conductor's track; one track a role, named by it, on a channel of its
own with a program, a volume and a pan; every note on has its off, no note overlaps itself, nothing
sounds past the end; leaving one out changes no other track; writing what was read gives the same bytes. Of the first song,
that libsndfile reads from its .flac what it reads from its .wav.
"""
import io
import pathlib
import subprocess
import sys

import mido
import soundfile

ROLES = ["bass", "chop", "guitar"]


def export(program, song, *options):
    command = [program, "export", song, "-o", "-", "--format", "mid", *options]
    data = subprocess.run(command, check=True, capture_output=True).stdout
    file = mido.MidiFile(file=io.BytesIO(data))
    return data, file


def check_conductor(track):
    kinds = [message.type for message in track]
    for kind in ("track_name", "set_tempo", "time_signature", "key_signature", "marker", "text"):
        assert kind in kinds, f"no {kind} on the conductor's track"
    assert not [m for m in track if not m.is_meta], "notes on the conductor's track"


def check_notes(track):
    at, sounding, channels, kinds = 0, {}, set(), set()
    for message in track:
        at += message.time
        if message.is_meta:
            continue
        channels.add(message.channel)
        kinds.add((message.type, getattr(message, "control", None)))
        if message.type == "note_on" and message.velocity:
            assert message.note not in sounding, f"{message.note} overlaps itself at {at}"
            sounding[message.note] = at
        elif message.type in ("note_off", "note_on"):
            assert sounding.pop(message.note) < at, f"{message.note} has no length at {at}"
    assert not sounding, f"stuck: {sounding}"
    assert len(channels) == 1, channels
    assert {("program_change", None), ("control_change", 7), ("control_change", 10)} <= kinds
    return at, channels.pop()


def check(program, song):
    data, whole = export(program, song)
    assert whole.type == 1 and whole.ticks_per_beat == 960
    check_conductor(whole.tracks[0])
    names = [track.name for track in whole.tracks[1:]]
    assert names == [role for role in ROLES if role in names] and names, names
    seen = [check_notes(track) for track in whole.tracks[1:]]
    lengths = {at for at, _ in seen} | {sum(message.time for message in whole.tracks[0])}
    assert len(lengths) == 1, f"tracks of different lengths: {lengths}"
    assert len({channel for _, channel in seen}) == len(seen), "two roles on a channel"
    again = io.BytesIO()
    whole.save(file=again)
    assert mido.MidiFile(file=io.BytesIO(again.getvalue())).tracks == whole.tracks
    for role in names:
        _, without = export(program, song, "--sit-out", role)
        left = {track.name: track for track in without.tracks[1:]}
        assert set(left) == set(names) - {role}, set(left)
        for track in whole.tracks[1:]:
            assert track.name == role or left[track.name] == track, f"{role} changes {track.name}"
    return len(names) + 1


def check_sound(program, song):
    def read(kind):
        command = [program, "export", song, "--speed", "150", "-o", "-", "--format", kind]
        return soundfile.read(io.BytesIO(subprocess.run(command, check=True, capture_output=True).stdout), dtype="int16")
    (wav, rate), (flac, other) = read("wav"), read("flac")
    assert rate == other == 48000 and wav.shape == flac.shape and (wav == flac).all(), "the .flac is another sound"


def main():
    program, songs = sys.argv[1], sys.argv[2:]
    files = sum(check(program, song) for song in songs)
    print(f"mido {mido.version_info}: {files} files of {len(songs)} songs read back")
    check_sound(program, songs[0])
    assert songs and pathlib.Path(program).exists()


if __name__ == "__main__":
    main()
