//! The band through a soundfont.

use std::path::Path;

use crate::common::skip::skipped;
use crate::common::sound::{
    RATE, band, cents_off, frame, level, note, performance, rendered, solo,
};
use crate::common::tiny_soundfont::tiny_soundfont;
use assert_no_alloc::assert_no_alloc;
use openchair::chart::Role;
use openchair::perform::Message;
use openchair::sink::{SoundFont, SoundFontError};
use openchair::synth::{CEILING, LiveRenderer, Renderer, framed};
use proptest::prelude::*;

fn font() -> SoundFont {
    SoundFont::from_bytes(&tiny_soundfont()).unwrap()
}

#[test]
fn notes_are_in_tune_and_on_time() {
    let notes = (0..20).map(|n| note(500 + 2_000 * n, 800, 69 + n as u8, 100)).collect();
    let solo = solo(Role::Guitar, notes);
    let (left, right) = rendered(&mut font().band(&solo, RATE).unwrap(), 1_000);
    let sound: Vec<f32> = left.iter().zip(&right).map(|(left, right)| left + right).collect();
    let mut late = Vec::new();
    for n in 0..20 {
        let start = frame(500 + 2_000 * n);
        let hertz = 440.0 * ((f64::from(69 + n as u8) - 69.0) / 12.0).exp2();
        let off = cents_off(&sound[start + 2_400..start + 28_800], hertz);
        assert!(off.abs() < 1.0, "note {n}: {off} cents");
        let top = sound[start..start + 4_800].iter().fold(0.0_f32, |top, x| top.max(x.abs()));
        let before = sound[start - 480..].iter().position(|x| x.abs() > 0.1 * top).unwrap();
        late.push(before as i64 - 480);
    }
    // A soundfont's envelope has a delay of 2^(-12000/1200) s, 0.98 ms or 47 frames, where it says
    // nothing else, and then rises for as long ("SoundFont Technical Specification" 2.04, generators
    // 33 and 34; from memory). Add 4 frames of grid, and the wave's own zero on the way up.
    let (first, last) = (late.iter().min().unwrap(), late.iter().max().unwrap());
    assert!(*first >= 43 && *last <= 70, "frames late: {late:?}");
}

#[test]
fn it_ends_and_can_be_silenced() {
    let all = band(2);
    let mut whole = font().band(&all, RATE).unwrap();
    let (left, right) = rendered(&mut whole, 1_000);
    assert_eq!(left.len(), frame(all.end.get()) + frame(1_500));
    let last = left.len() - 480;
    assert!(left[last..].iter().chain(&right[last..]).all(|x| x.abs() < 1e-3));
    assert!(left.iter().chain(&right).all(|x| x.abs() <= CEILING));
    let mut cut = font().band(&all, RATE).unwrap();
    let (mut left, mut right) = (vec![0.0; frame(3_000)], vec![0.0; frame(3_000)]);
    cut.render(&mut left, &mut right);
    cut.silence();
    cut.render(&mut left[..frame(31)], &mut right[..frame(31)]);
    assert!(cut.finished());
}

#[test]
fn rendering_allocates_nothing() {
    let mut synth = font().band(&band(4), RATE).unwrap();
    let (mut left, mut right) = (vec![0.0; 441], vec![0.0; 441]);
    assert_no_alloc(|| (0..700).for_each(|_| synth.render(&mut left, &mut right)));
}

#[test]
fn refusals_say_what_is_wrong() {
    let missing = SoundFont::load(Path::new("no such file.sf2")).unwrap_err();
    assert!(matches!(missing, SoundFontError::File { .. }));
    assert!(missing.to_string().contains("check the name after --soundfont"), "{missing}");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.sf2");
    for (contents, cause) in [
        (b"MThd and no more than that".to_vec(), "RIFF"),
        (Vec::new(), "RIFF"),
        (tiny_soundfont()[..3_000].to_vec(), "cut off"),
    ] {
        std::fs::write(&path, contents).unwrap();
        let error = SoundFont::load(&path).unwrap_err();
        assert!(matches!(error, SoundFontError::Broken { .. }));
        assert!(error.to_string().contains(cause), "{error}");
    }
    let error = font().band(&band(1), 8_000).unwrap_err();
    assert!(matches!(error, SoundFontError::Rate { sample_rate: 8_000 }));
}

#[test]
fn a_general_midi_bank_plays_the_band() {
    // The bank of Debian's package timgm6mb-soundfont.
    let path = Path::new("/usr/share/sounds/sf2/TimGM6mb.sf2");
    if !path.exists() {
        let why = format!("{} is not installed", path.display());
        skipped("a_general_midi_bank_plays_the_band", &why);
        return;
    }
    let bank = SoundFont::load(path).unwrap();
    for part in &band(8).parts {
        let alone = solo(part.role, part.notes.clone());
        let (left, _) = rendered(&mut bank.band(&alone, RATE).unwrap(), 1_000);
        let loud = level(&left);
        assert!((-45.0..-10.0).contains(&loud), "{}: {loud:.1} dB", part.role);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_same_notes_are_the_same_samples(
        blocks in prop::collection::vec(1_usize..3_000, 1..20),
        raw in prop::collection::vec((0_usize..3, 0_i64..900, 1_i64..500, 28_u8..90, 1_u8..=127), 1..30),
    ) {
        let mut parts: Vec<_> = Role::ALL.iter().map(|&role| (role, Vec::new())).collect();
        for (role, start, length, pitch, velocity) in raw {
            parts[role].1.push(note(start, length, pitch, velocity));
        }
        let all = performance(parts, vec![note(0, 50, 76, 100)]);
        let font = font();
        let whole = rendered(&mut font.band(&all, RATE).unwrap(), usize::MAX);
        let mut synth = font.band(&all, RATE).unwrap();
        let (mut left, mut right) = (Vec::new(), Vec::new());
        for block in blocks.iter().cycle() {
            let from = left.len();
            let to = (from + block).min(whole.0.len());
            left.resize(to, 0.0);
            right.resize(to, 0.0);
            synth.render(&mut left[from..], &mut right[from..]);
            if to == whole.0.len() { break }
        }
        prop_assert!(left == whole.0 && right == whole.1);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn damaged_files_end_in_an_error_or_in_sound(
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        cut in prop::option::weighted(0.2, any::<prop::sample::Index>()),
    ) {
        let mut bytes = tiny_soundfont();
        // Most of the file is the wave; what can go wrong stands before and after it.
        let heads: Vec<usize> = (0..100).chain(bytes.len() - 420..bytes.len()).collect();
        for (at, byte) in damage {
            bytes[heads[at.index(heads.len())]] = byte;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(font) = SoundFont::from_bytes(&bytes) {
            let short = solo(Role::Bass, vec![note(0, 40, 40, 100), note(20, 40, 60, 100)]);
            let (left, _) = rendered(&mut font.band(&short, 16_000).unwrap(), 640);
            prop_assert!(left.iter().all(|x| x.is_finite() && x.abs() <= CEILING));
        }
    }
}

#[test]
fn played_live_it_is_the_exported_sound_and_allocates_nothing() {
    let all = band(3);
    let (left, right) = rendered(&mut font().band(&all, RATE).unwrap(), 4_096);
    let messages = framed(&all, RATE);
    let mut live = font().live(RATE).unwrap();
    let (mut l, mut r) = (vec![0.0; left.len()], vec![0.0; left.len()]);
    let mut waiting = messages.iter().peekable();
    assert_no_alloc(|| {
        for (l, r) in l.chunks_mut(777).zip(r.chunks_mut(777)) {
            let until = live.reckoned_after(l.len());
            while let Some((at, message)) = waiting.next_if(|(at, _)| *at < until) {
                assert!(live.take(*at, *message));
            }
            live.render(l, r);
        }
    });
    assert!(l == left && r == right);
    let everything_off =
        (0..16).map(|channel| Message::Control { channel, controller: 120, value: 0 });
    let clock = Message::Sync(openchair::perform::Sync::Clock);
    assert_no_alloc(|| {
        let now = live.reckoned();
        everything_off.chain([clock]).for_each(|message| assert!(live.take(now, message)));
        live.render(&mut l[..4_800], &mut r[..4_800]);
    });
}
