//! How much faster than real time the band is rendered on one core: 32 bars of three roles and of six,
//! by the band's own sound and, where a General MIDI soundfont is installed, by the soundfont.
//!
//! Criterion counts frames as elements: 48,000 elements a second would be real time.
#![allow(missing_docs, clippy::unwrap_used)]

#[path = "../tests/common/sound.rs"]
mod common;

use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

use common::{RATE, band, everyone_live, full_band};
use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use openchair::perform::Message;
use openchair::sink::{SoundFont, write_wav};
use openchair::synth::{LiveRenderer, Renderer, Synth, framed};

/// The bank of Debian's package timgm6mb-soundfont.
const SOUNDFONT: &str = "/usr/share/sounds/sf2/TimGM6mb.sf2";

fn to_the_end(mut renderer: impl Renderer) -> f32 {
    let (mut left, mut right) = ([0.0; 512], [0.0; 512]);
    let mut last = 0.0;
    while !renderer.finished() {
        renderer.render(&mut left, &mut right);
        last = black_box(left[0] + right[511]);
    }
    last
}

/// In pieces as a sound device asks for them, each told of just before.
fn played_live(mut synth: Synth, messages: &[(u64, Message)], frames: usize) -> f32 {
    let (mut left, mut right) = ([0.0; 960], [0.0; 960]);
    let mut waiting = messages.iter().peekable();
    let mut last = 0.0;
    for _ in 0..frames / 960 {
        let until = synth.reckoned_after(960);
        while let Some((at, message)) = waiting.next_if(|(at, _)| *at < until) {
            assert!(synth.take(*at, *message));
        }
        synth.render(&mut left, &mut right);
        last = black_box(left[0] + right[959]);
    }
    last
}

/// Prints and gives how many times faster than real time it is.
fn told(name: &str, seconds: f64, make: impl Fn() -> Box<dyn FnOnce()>) -> f64 {
    let mut times: Vec<f64> = (0..7)
        .map(|_| {
            let run = make();
            let start = Instant::now();
            run();
            start.elapsed().as_secs_f64()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let times_real = seconds / times[3];
    println!("{name}: {times_real:.0} times real time (median of 7)");
    times_real
}

fn render(c: &mut Criterion) {
    let all = band(32);
    let total = Synth::new(&all, RATE).total_frames();
    let (frames, seconds) = (total, total as f64 / f64::from(RATE));
    let bank =
        Path::new(SOUNDFONT).exists().then(|| SoundFont::load(Path::new(SOUNDFONT)).unwrap());
    let own = all.clone();
    let speed = told("own sound", seconds, move || {
        let synth = Synth::new(&own, RATE);
        Box::new(move || _ = to_the_end(synth))
    });
    assert!(speed > 60.0, "a slow laptop must still have time for everything else");
    let (own, all_frames) = (all.clone(), usize::try_from(frames).unwrap());
    let speed = told("own sound, live", seconds, move || {
        let synth = everyone_live(RATE);
        let messages = framed(&own, RATE);
        Box::new(move || _ = played_live(synth, &messages, all_frames))
    });
    assert!(speed > 60.0, "so does a callback");
    let six = full_band(32);
    let speed = told("own sound, every chair taken", seconds, move || {
        let synth = Synth::new(&six, RATE);
        Box::new(move || _ = to_the_end(synth))
    });
    assert!(speed > 30.0, "and when the whole room plays");
    if let Some(bank) = &bank {
        let (bank, all) = (bank.clone(), all.clone());
        told("soundfont", seconds, move || {
            let synth = bank.band(&all, RATE).unwrap();
            Box::new(move || _ = to_the_end(synth))
        });
    } else {
        println!("skipped: {SOUNDFONT} is not installed");
    }
    let mut group = c.benchmark_group("render");
    group.throughput(Throughput::Elements(frames)).sample_size(10);
    let make = || Synth::new(&all, RATE);
    group.bench_function("own", |b| b.iter_batched(make, to_the_end, BatchSize::PerIteration));
    group.bench_function("own to WAV", |b| {
        let out = || std::io::Cursor::new(Vec::with_capacity(1 << 25));
        b.iter_batched(
            || (Synth::new(&all, RATE), out()),
            |(mut synth, out)| write_wav(&mut synth, out).unwrap(),
            BatchSize::PerIteration,
        );
    });
    if let Some(bank) = &bank {
        let make = || bank.band(&all, RATE).unwrap();
        group.bench_function("soundfont", |b| {
            b.iter_batched(make, to_the_end, BatchSize::PerIteration);
        });
    }
    group.finish();
    c.bench_function("prepare live", |b| b.iter(|| black_box(everyone_live(RATE))));
    c.bench_function("prepare", |b| b.iter(|| black_box(Synth::new(&all, RATE))));
}

criterion_group!(benches, render);
criterion_main!(benches);
