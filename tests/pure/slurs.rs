//! What the left hand makes sound, through notes, files, what is played live, and the band's own sound.

use assert_no_alloc::assert_no_alloc;
use openchair::chart::{Role, RoleSet};
use openchair::live::{Command, Score};
use openchair::perform::{
    Message, Note, PORTAMENTO_CONTROL, Part, Pick, SlurKind, note_messages, perform,
};
use openchair::synth::{LiveRenderer, Renderer, Synth, framed};
use openchair::theory::MidiNote;
use openchair::time::Tempo;

use crate::common::slurred::{FILL, played, played_for, style};
use crate::common::sound::{
    RATE, cents_off, everyone_live, frame, level, mono, note, rendered, solo,
};
use crate::playing::probe::Tape;
use crate::playing::show::{DIRECT, Do, QUEUED, SECOND, show};

/// Tempos from slow to as fast as anybody plays, and keys with and without a capo.
const HOW: [(u32, &str); 4] = [(60, "G"), (108, "A"), (140, "G"), (200, "Bb")];

fn millis(part: &Part, ticks: i64, tempo: u32) -> f64 {
    assert!(!part.notes.is_empty());
    ticks as f64 / 960.0 * 60_000.0 / f64::from(tempo)
}

#[test]
fn the_left_hand_makes_what_was_asked_for() {
    for (tempo, key) in HOW {
        let (_, picks, part) = played(tempo, key);
        let slurs: Vec<_> = picks.iter().filter_map(Pick::slur).map(|slur| slur.kind).collect();
        use SlurKind::{Hammer, Pull, Slide};
        assert_eq!(slurs, [Slide, Hammer, Pull, Slide, Pull, Slide], "one hangs on nothing");
        // A choked chord is three picks; one slur is left out.
        assert_eq!(picks.len(), FILL.len() + 2 - 1);
        // Every pick is a note, and a slide has those that it goes over besides: one, one, three.
        assert_eq!(part.notes.len(), picks.len() + 1 + 1 + 3, "{key} {tempo}");
    }
}

/// The string behind a slurred note, by the note before that it goes on from.
fn before<'a>(part: &'a Part, note: &Note) -> &'a Note {
    let from = note.slurred.unwrap();
    let ends = |other: &&Note| other.pitch == from && other.end == note.start;
    part.notes.iter().find(ends).unwrap_or_else(|| panic!("nothing sounds before {note:?}"))
}

#[test]
fn every_slurred_note_begins_while_its_string_sounds() {
    for (tempo, key) in HOW {
        let (_, picks, part) = played(tempo, key);
        for note in part.notes.iter().filter(|note| note.slurred.is_some()) {
            let before = before(&part, note);
            assert!(before.start < note.start && before.pitch != note.pitch, "{note:?}");
            assert!(note.velocity < before.velocity || before.slurred.is_some(), "{note:?}");
        }
        for slide in picks
            .iter()
            .filter(|pick| matches!(pick.slur(), Some(slur) if slur.kind == SlurKind::Slide))
        {
            let arrives = part.notes.iter().find(|note| {
                note.slurred.is_some()
                    && note.pitch == slide.pitch
                    && (note.start - slide.at).get().abs() < 100
            });
            let mut at = arrives.unwrap();
            // Fret by fret, each no longer than a hand takes, and not before the half of the note before.
            let end = at.start;
            while let Some(from) = at.slurred {
                assert_eq!(from.get().abs_diff(at.pitch.get()), 1, "{key} {tempo}: {at:?}");
                at = before(&part, at);
            }
            let passing = millis(&part, (end - at.end).get(), tempo);
            let frets = f64::from(slide.fret.abs_diff(slide.slur().unwrap().from)) - 1.0;
            assert!(passing <= 30.5 * frets, "{passing} ms over {frets} frets");
            assert!((end - at.end).get() * 2 <= (end - at.start).get() + 1);
        }
    }
}

/// In the order of the messages alone: each note ends before its pitch begins again; controller 84 names a key that
/// sounds, right before a note-on at the same time; the key ends right after that.
#[test]
fn messages_say_what_goes_on() {
    for (tempo, key) in HOW {
        let (_, _, part) = played(tempo, key);
        let messages: Vec<_> = note_messages(5, &part.notes).collect();
        let mut sounding: Vec<u8> = Vec::new();
        let mut named: Option<(u8, i64)> = None;
        let mut count = 0;
        for timed in &messages {
            let ([status, first, second], _) = timed.message.bytes();
            let at = timed.at.get();
            match status {
                0xB5 => {
                    assert_eq!((first, named), (PORTAMENTO_CONTROL, None));
                    assert!(sounding.contains(&second), "{second} does not sound");
                    named = Some((second, at));
                    count += 1;
                }
                0x95 => {
                    assert!(!sounding.contains(&first), "{first} begins while it sounds");
                    if let Some((from, then)) = named.take() {
                        assert!(then == at && sounding.contains(&from));
                    }
                    sounding.push(first);
                    assert!(sounding.len() <= 5 + 1, "five strings, and one that goes on");
                }
                0x85 => {
                    let place = sounding.iter().position(|key| *key == first);
                    sounding.remove(place.unwrap());
                    assert_eq!(named, None);
                }
                other => panic!("{other:X}"),
            }
        }
        assert!(sounding.is_empty());
        let slurred = part.notes.iter().filter(|note| note.slurred.is_some()).count();
        assert_eq!(count, slurred, "{key} {tempo}");
    }
}

/// A note and one that goes on from it a tenth and a half of a second later, at 600 ms.
fn two(from: u8, to: u8) -> Vec<Note> {
    let second = Note { slurred: MidiNote::new(from), ..note(600, 800, to, 80) };
    vec![note(450, 150, from, 90), second]
}

#[test]
fn a_string_goes_on_at_another_pitch_without_a_pluck() {
    for (role, from, to) in [
        (Role::Banjo, 57, 59),
        (Role::Banjo, 62, 59),
        (Role::Guitar, 45, 47),
        (Role::Guitar, 52, 50),
        (Role::Fiddle, 69, 71),
    ] {
        let sound = mono(&solo(role, two(from, to)));
        let mut apart = two(from, to);
        apart[1].slurred = None;
        let plucked = mono(&solo(role, apart));
        let hertz = 440.0 * ((f64::from(to) - 69.0) / 12.0).exp2();
        let cents = cents_off(&sound[frame(650)..frame(1_100)], hertz);
        let most = if role == Role::Fiddle { 3.0 } else { 1.5 };
        println!("measured: {role} {from} to {to}: off by {cents:.2} cents");
        assert!(cents.abs() < most, "{role} {from} to {to}: {cents} cents");
        // It keeps most of its energy, and gets no stroke: of the steps from frame to frame a pluck's are larger.
        let at = |sound: &[f32], millis: i64| level(&sound[frame(millis)..frame(millis + 40)]);
        let (kept, struck) =
            (at(&sound, 610) - at(&sound, 555), at(&plucked, 610) - at(&plucked, 555));
        // What the string loses in that time where no hand does anything: a banjo's head takes a good part of it.
        let left = mono(&solo(role, vec![note(450, 950, from, 90)]));
        let alone = at(&left, 610) - at(&left, 555);
        println!(
            "measured: {role} {from} to {to}: {kept:+.1} dB as it goes on, {struck:+.1} dB struck, \
             {alone:+.1} dB left alone"
        );
        let lost = kept - alone;
        assert!((-5.0..6.0).contains(&lost), "{role} {from} to {to}: {lost:.1} dB by the hand");
        let edge = |sound: &[f32]| {
            let heard = &sound[frame(598)..frame(612)];
            let steps: Vec<f32> = heard.windows(2).map(|pair| pair[1] - pair[0]).collect();
            level(&steps)
        };
        if role != Role::Fiddle {
            let soft = edge(&plucked) - edge(&sound);
            println!("measured: {role} {from} to {to}: the edge {soft:.1} dB below a pluck's");
            assert!(soft > 3.0, "{role} {from} to {to}: {soft:.1} dB");
        }
        // A guitar rings so long that a stroke as soft as this is no louder.
        let louder = if role == Role::Banjo { 3.0 } else { -1.0 };
        assert!(struck > kept + louder, "{role}: {struck:.1} against {kept:.1} dB");
        // Its end is an end.
        let tail = level(&sound[frame(1_700)..frame(1_900)]);
        assert!(tail < -60.0, "{role}: {tail:.1} dB after the end");
    }
}

#[test]
fn what_goes_on_live_is_the_exported_sound_and_asks_for_no_memory() {
    let (_, _, part) = played(108, "G");
    let mut all = solo(Role::Banjo, part.notes.clone());
    all.parts[0].instrument.pan = 64;
    let (left, _) = rendered(&mut Synth::new(&all, RATE), 512);
    let mut synth = everyone_live(RATE);
    for (at, message) in framed(&all, RATE) {
        assert!(synth.take(at, message));
    }
    let (mut live, mut right) = (vec![0.0; left.len()], vec![0.0; left.len()]);
    assert_no_alloc(|| synth.render(&mut live, &mut right));
    assert!(left.iter().any(|x| x.abs() > 0.01));
    let off = left.iter().zip(&live).map(|(a, b)| (a - b).abs()).fold(0.0_f32, f32::max);
    assert!(off < 1e-6, "{off}");
}

/// What a receiver hears, message by message: controller 84 stands right before a note-on of its channel and time and
/// names a key that sounds.
fn holds_to_the_specification(tape: &Tape) -> usize {
    let all = tape.all();
    let mut sounding: Vec<(u8, u8)> = Vec::new();
    let mut count = 0;
    for (at, heard) in all.iter().enumerate() {
        match heard.message {
            Message::Control { channel, controller: PORTAMENTO_CONTROL, value } => {
                assert!(sounding.contains(&(channel, value)), "{heard:?} does not sound");
                let next = all.get(at + 1).map(|next| (next.at, next.message));
                let begins = |(when, message)| {
                    when == heard.at
                        && matches!(message, Message::NoteOn { channel: own, .. } if own == channel)
                };
                assert!(next.is_some_and(begins), "{heard:?} before {next:?}");
                count += 1;
            }
            Message::NoteOn { channel, pitch, .. } => sounding.push((channel, pitch.get())),
            Message::NoteOff { channel, pitch } => {
                sounding.retain(|other| *other != (channel, pitch.get()));
            }
            _ => {}
        }
    }
    tape.pairs();
    count
}

#[test]
fn whatever_a_player_presses_no_slur_is_left_behind() {
    let (song, _, part) = played_for(200, "G", 16);
    let banjo: RoleSet = [Role::Banjo].into_iter().collect();
    let mut all = perform(&song, &style(), 1).unwrap();
    all.parts.push(part);
    // Moments from one slur to the next and within slides: what comes then falls into each part of one.
    let mut count = 0;
    for step in 0..24 {
        let at = |eighths: i64| eighths * SECOND * 3 / 20 + step * 13_000_001;
        let script: Vec<(i64, Do)> = vec![
            (0, Command::Go.into()),
            (at(5), Command::Mute(banjo).into()),
            (at(12), Command::Mute(RoleSet::EMPTY).into()),
            (at(20), Command::Jump(5).into()),
            (at(33), Command::Tempo(Tempo::from_micros(250_000)).into()),
            (at(41), Do::Stall(150_000_000)),
            (at(50), Command::Pause.into()),
            (at(54), Command::Go.into()),
            (at(62), Command::Silence.into()),
            (at(64), Command::Go.into()),
            (at(80), Command::End.into()),
        ];
        let score = Score::new(0, &song, &all);
        let show = show(score, song.tempo, false, &[DIRECT, QUEUED], script);
        for tape in &show.tapes {
            count += holds_to_the_specification(tape);
        }
    }
    assert!(count > 1_000, "{count}");
}
