//! What an exported file costs: from a song as read to the bytes, per note event and per bar, beside
//! a bare writing of the very same events.
#![allow(missing_docs)] // Criterion's macros make undocumented functions.
#![allow(clippy::unwrap_used)] // A benchmark stops where it cannot go on.

use std::fs;
use std::hint::black_box;
use std::path::Path;

use criterion::{BatchSize, BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use midly::{MidiMessage, Smf, TrackEventKind};

use openchair::arrange::{Plan, arrange};
use openchair::chart::{Song, read_song};
use openchair::perform::perform;
use openchair::sink::smf;
use openchair::style::{Style, read_style};
use openchair::text::{Problems, Source};

fn text(path: &str) -> Source {
    let whole = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    Source::new(path, fs::read_to_string(whole).unwrap()).unwrap()
}

fn song() -> Song {
    read_song(&text("songs/lantern-on-the-landing.toml"), &mut Problems::new()).unwrap().0
}

fn style() -> Style {
    let source = text("backing-styles/boom-chick.toml");
    read_style("boom-chick", &source, &mut Problems::new()).unwrap()
}

/// The song with its form gone round until it has about so many bars, and how many it has.
fn of_length(bars: usize) -> (Song, usize) {
    let mut song = song();
    let length = |pass: &openchair::chart::Pass| song.sections[pass.section].bars.len();
    let mut total = 0;
    let round = song.form.iter().cycle();
    let form: Vec<_> = round
        .take_while(|pass| {
            total += length(pass);
            total <= bars
        })
        .cloned()
        .collect();
    let played = form.iter().map(length).sum();
    song.form = form;
    (song, played)
}

fn export(song: &Song, style: &Style) -> Vec<u8> {
    let arrangement = arrange(song, &Plan::default()).unwrap();
    smf::to_bytes(&perform(&arrangement, style, 1).unwrap()).unwrap()
}

fn note_events(file: &Smf<'_>) -> u64 {
    let is_note = |kind: &TrackEventKind<'_>| {
        matches!(
            kind,
            TrackEventKind::Midi {
                message: MidiMessage::NoteOn { .. } | MidiMessage::NoteOff { .. },
                ..
            }
        )
    };
    file.tracks.iter().flatten().filter(|event| is_note(&event.kind)).count() as u64
}

fn note_event(c: &mut Criterion) {
    let mut group = c.benchmark_group("note event");
    let style = style();
    for bars in [112, 10_000] {
        let (song, bars) = of_length(bars);
        let bytes = export(&song, &style);
        let file = Smf::parse(&bytes).unwrap();
        group.throughput(Throughput::Elements(note_events(&file)));
        group.bench_function(BenchmarkId::new("from song to bytes", bars), |b| {
            b.iter(|| export(black_box(&song), &style));
        });
        let arrangement = arrange(&song, &Plan::default()).unwrap();
        group.bench_function(BenchmarkId::new("arrange", bars), |b| {
            b.iter(|| arrange(black_box(&song), &Plan::default()).unwrap());
        });
        group.bench_function(BenchmarkId::new("perform", bars), |b| {
            b.iter(|| perform(black_box(&arrangement), &style, 1).unwrap());
        });
        let performance = perform(&arrangement, &style, 1).unwrap();
        group.bench_function(BenchmarkId::new("write", bars), |b| {
            b.iter(|| smf::to_bytes(black_box(&performance)).unwrap());
        });
        // The same events, ready in tracks, copied into new ones and written: the floor.
        group.bench_function(BenchmarkId::new("midly alone", bars), |b| {
            b.iter(|| {
                let mut smf = Smf::new(file.header);
                for track in black_box(&file.tracks) {
                    let mut copy = Vec::with_capacity(track.len());
                    copy.extend(track.iter().copied());
                    smf.tracks.push(copy);
                }
                let mut out = Vec::new();
                smf.write_std(&mut out).unwrap();
                out
            });
        });
    }
    group.finish();
}

fn bar(c: &mut Criterion) {
    let mut group = c.benchmark_group("bar");
    group.sample_size(10);
    let style = style();
    for bars in [100, 1_000, 10_000, 100_000] {
        let (song, bars) = of_length(bars);
        group.throughput(Throughput::Elements(bars as u64));
        group.bench_function(BenchmarkId::new("from song to bytes", bars), |b| {
            b.iter_batched(|| (), |()| export(&song, &style), BatchSize::PerIteration);
        });
    }
    group.finish();
}

fn reading(c: &mut Criterion) {
    let source = text("songs/lantern-on-the-landing.toml");
    let style = text("backing-styles/boom-chick.toml");
    c.bench_function("read a song", |b| {
        b.iter(|| read_song(black_box(&source), &mut Problems::new()).unwrap());
    });
    c.bench_function("read a style", |b| {
        b.iter(|| read_style("boom-chick", black_box(&style), &mut Problems::new()).unwrap());
    });
}

criterion_group!(benches, note_event, bar, reading);
criterion_main!(benches);
