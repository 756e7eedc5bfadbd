#!/usr/bin/env python3
"""Makes the sound files beside this script: eight invented plucks at uneven times, coded by ffmpeg in every way that
is read, and in some that are not. tests/pure/sound_files.rs makes the same plucks and compares.

    tests/sounds/make.py        needs ffmpeg with lame, vorbis and opus
"""
import math
import pathlib
import subprocess
import tempfile
import wave

RATE, FRAMES = 44_100, 35_280
HERE = pathlib.Path(__file__).parent


def plucks():
    """The plucks as samples from -1 to 1."""
    sound = [0.0] * FRAMES
    for k in range(8):
        start = 2_205 + k * 3_900 + k * k * 31
        for i in range(FRAMES - start):
            sound[start + i] += 0.4 * math.exp(-i / 900) * math.sin(2 * math.pi * (300 + 170 * k) * i / RATE)
    return sound


def main():
    with tempfile.TemporaryDirectory() as folder:
        source = pathlib.Path(folder) / "plucks.wav"
        with wave.open(str(source), "wb") as out:
            out.setparams((1, 2, RATE, 0, "NONE", ""))
            out.writeframes(b"".join(round(x * 32_767).to_bytes(2, "little", signed=True) for x in plucks()))

        def coded(name, *how, inputs=("-i", str(source))):
            subprocess.run(["ffmpeg", "-y", "-loglevel", "error", *inputs, "-map_metadata", "-1", "-fflags", "+bitexact",
                            "-flags:a", "+bitexact", *how, str(HERE / name)], check=True)

        coded("plucks.flac", "-c:a", "flac")
        coded("plucks.mp3", "-c:a", "libmp3lame", "-b:a", "96k")
        coded("plucks-stereo.mp3", "-c:a", "libmp3lame", "-b:a", "96k", "-ac", "2", "-ar", "48000")
        coded("plucks.ogg", "-c:a", "libvorbis", "-q:a", "3", "-page_duration", "100000")
        coded("plucks.m4a", "-c:a", "aac", "-b:a", "96k")
        coded("plucks-stereo.m4a", "-c:a", "aac", "-b:a", "96k", "-ac", "2", "-ar", "48000", "-movflags", "+faststart")
        coded("plucks-alac.m4a", "-c:a", "alac")
        coded("plucks.aac", "-c:a", "aac", "-b:a", "96k")
        coded("plucks.aiff", "-c:a", "pcm_s16be", "-ar", "22050")
        coded("opus.ogg", "-c:a", "libopus", "-b:a", "24k", "-t", "0.2")
        coded("opus.m4a", "-c:a", "libopus", "-b:a", "24k", "-t", "0.2", "-f", "mp4")
        coded("two-tracks.m4a", "-map", "0:a", "-map", "0:a", "-c:a", "aac", "-b:a", "64k", "-t", "0.3")
        coded("silent-film.mp4", "-c:v", "mpeg4", "-t", "0.2", inputs=("-f", "lavfi", "-i", "color=size=16x16:rate=10"))


if __name__ == "__main__":
    main()
