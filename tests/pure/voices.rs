//! What the banjo, the fiddle and the lead's instruments sound like, measured.

use crate::common::sound::{
    RATE, cents_off, everyone_live, frame, level, mono, mono_in, note, performance, solo,
};
use openchair::chart::Role;
use openchair::perform::{Message, Performance};
use openchair::synth::{LiveRenderer, Renderer, Room};
use openchair::theory::MidiNote;

/// The programs of a lead, from 0: guitar, mandolin, bass, resonator, banjo, fiddle, a hummed tone.
const LEADS: [u8; 7] = [25, 24, 32, 26, 105, 110, 53];

/// A lead with the instrument of that program.
fn led(program: u8, pitch: u8, length: i64, velocity: u8) -> Performance {
    let mut one = solo(Role::Lead, vec![note(100, length, pitch, velocity)]);
    one.parts[0].instrument.program = program;
    one
}

/// The share of a sound's strength that lies at whole multiples of `hertz` (0 to 1): what is left is
/// noise, or of another note.
fn tonal(sound: &[f32], hertz: f64) -> f64 {
    let shares = (1..=24).map(|number| partial(sound, hertz * f64::from(number)));
    shares.filter(|share| share.is_finite()).sum()
}

/// The share that lies at a frequency alone.
fn partial(sound: &[f32], hertz: f64) -> f64 {
    let (mut re, mut im, mut all) = (0.0, 0.0, 0.0);
    for (n, x) in sound.iter().enumerate() {
        let turn = std::f64::consts::TAU * n as f64;
        let weight = 1.0 - (turn / sound.len() as f64).cos();
        let (sin, cos) = (turn * hertz / f64::from(RATE)).sin_cos();
        re += f64::from(*x) * weight * cos;
        im += f64::from(*x) * weight * sin;
        all += (f64::from(*x) * weight).powi(2);
    }
    // A tone alone gives 1, through that window.
    (re * re + im * im) / all / sound.len() as f64 * 3.0
}

/// The largest step from a frame to the next, beside the largest frame.
fn steepest(sound: &[f32]) -> f32 {
    sound.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max)
}

#[test]
fn a_banjo_is_loud_at_once_and_soon_gone() {
    // Common practice, no source: a banjo's note has lost most of its strength within half a second, and
    // rings much shorter than a guitar's of the same pitch.
    let fall = |role| {
        let sound = mono(&solo(role, vec![note(100, 2_000, 62, 90)]));
        let at = |millis| level(&sound[frame(millis)..frame(millis + 50)]);
        (at(110) - at(600), at(110))
    };
    let (banjo, guitar) = (fall(Role::Banjo), fall(Role::Guitar));
    println!(
        "measured: banjo falls by {:.1} dB in half a second, guitar by {:.1}",
        banjo.0, guitar.0
    );
    assert!(banjo.0 > 14.0 && banjo.0 > guitar.0 + 6.0, "{banjo:?} {guitar:?}");
    // Recorded notes (bank FluidR3): of a banjo's B3 and D4 the octave about 250 Hz, where the note itself lies, is 12
    // dB below the strongest, of a guitar's G3 to E4 it is the strongest; a banjo sings from 500 to 1,400 Hz.
    let hollow = |role| {
        let sound = mono(&solo(role, vec![note(100, 400, 60, 90)]));
        let heard = &sound[frame(100)..frame(300)];
        let hertz = MidiNote::new(60).unwrap().hertz();
        let own = partial(heard, hertz);
        (2..=5).map(|n| partial(heard, hertz * f64::from(n))).sum::<f64>() / own
    };
    let [banjo, guitar] = [Role::Banjo, Role::Guitar].map(|role| 10.0 * hollow(role).log10());
    println!(
        "measured: upper partials beside the note itself: banjo {banjo:.1} dB, guitar {guitar:.1}"
    );
    assert!(banjo > 6.0 && banjo > guitar + 6.0, "{banjo:.1} {guitar:.1}");
}

#[test]
fn a_bowed_note_grows_and_holds() {
    for velocity in [45, 80, 115] {
        let sound = mono(&solo(Role::Fiddle, vec![note(100, 3_000, 67, velocity)]));
        let at = |from: i64, to: i64| level(&sound[frame(100 + from)..frame(100 + to)]);
        let held = at(300, 800);
        // A plucked string is by far at its loudest then.
        assert!(at(0, 10) < held + 2.0, "it bites no harder than it sings at {velocity}");
        assert!(at(70, 120) > held - 4.0, "it is there by then at {velocity}");
        let late = at(2_400, 2_900);
        assert!((late - held).abs() < 2.0, "it holds at {velocity}: {held:.1} {late:.1}");
        let after = at(3_230, 3_280);
        assert!(held - after > 35.0, "and ends at {velocity}: {after:.1}");
    }
}

#[test]
fn a_finger_rocks_on_long_notes_alone() {
    let sound = mono(&solo(Role::Fiddle, vec![note(100, 4_000, 69, 80)]));
    // In pieces of a twelfth of a second, about half a rocking.
    let off = |from: i64, to: i64| {
        let at = (from..to).step_by(40);
        let cents =
            |at: i64| cents_off(&sound[frame(100 + at)..frame(100 + at) + 4_000 + 800], 440.0);
        at.map(cents).collect::<Vec<f64>>()
    };
    let spread = |off: &[f64]| {
        off.iter().copied().fold(f64::MIN, f64::max) - off.iter().copied().fold(f64::MAX, f64::min)
    };
    let (early, late) = (off(60, 300), off(1_200, 3_600));
    let mean = late.iter().sum::<f64>() / late.len() as f64;
    println!("measured: early {:.1} cents wide, late {:.1}", spread(&early), spread(&late));
    assert!(spread(&early) < 6.0, "{early:.1?}");
    assert!((8.0..30.0).contains(&spread(&late)), "{late:.1?}");
    assert!(mean.abs() < 3.0, "around the note: {mean:.1}");
}

#[test]
fn a_short_bow_stroke_is_a_scratch() {
    // Without a room, which rings longer than that.
    let heard =
        |length: i64| mono_in(Room::Dry, &solo(Role::Fiddle, vec![note(100, length, 62, 90)]));
    let (chop, long) = (heard(70), heard(1_000));
    let hertz = MidiNote::new(62).unwrap().hertz();
    // The chop's own sound, and the long note's once it has settled.
    let scratch = tonal(&chop[frame(100)..frame(170)], hertz);
    let tone = tonal(&long[frame(300)..frame(500)], hertz);
    println!("measured: of a chop {scratch:.2} is tone, of a long note {tone:.2}");
    assert!(scratch < 0.8 * tone, "{scratch:.2} {tone:.2}");
    assert!(tone > 0.9, "{tone:.2}");
    // It is short: half a beat later nothing is left.
    let top = level(&chop[frame(100)..frame(170)]);
    let rest = level(&chop[frame(300)..frame(350)]);
    assert!(top - rest > 35.0, "{top:.1} {rest:.1}");
    assert!(top > level(&long[frame(300)..frame(500)]) - 9.0, "and not much softer: {top:.1}");
}

#[test]
fn no_note_ends_with_a_click() {
    for (role, pitch) in [(Role::Banjo, 62), (Role::Fiddle, 67), (Role::Fiddle, 88)] {
        for length in [60, 333, 1_001] {
            let sound = mono(&solo(role, vec![note(100, length, pitch, 100)]));
            let end = frame(100 + length);
            let before = steepest(&sound[end - 960..end]);
            let after = steepest(&sound[end..end + 960]);
            assert!(after <= 1.1 * before, "{role} after {length} ms: {before} {after}");
            // And where the voice is given back.
            let last = sound.iter().rposition(|x| x.abs() > 1e-4).unwrap();
            assert!(steepest(&sound[last..]) < 2e-4, "{role} after {length} ms");
        }
    }
}

#[test]
fn harder_is_louder_from_step_to_step() {
    for program in LEADS {
        let loud = |velocity: u8| {
            let sound = mono(&led(program, 64, 400, velocity));
            level(&sound[frame(100)..frame(500)])
        };
        let levels: Vec<f64> = (1..=8).map(|step| loud(step * 15 + 7)).collect();
        assert!(levels.windows(2).all(|pair| pair[0] + 0.3 < pair[1]), "{program}: {levels:.1?}");
    }
}

#[test]
fn leads_are_told_apart_and_in_tune() {
    let mut heard: Vec<Vec<f32>> = Vec::new();
    for program in LEADS {
        let sound = mono(&led(program, 64, 800, 90));
        let hertz = MidiNote::new(64).unwrap().hertz();
        let off = cents_off(&sound[frame(160)..frame(500)], hertz);
        assert!(off.abs() < 3.0, "{program}: {off:.2}");
        assert!(heard.iter().all(|other| *other != sound), "{program} sounds like another");
        heard.push(sound);
    }
    let of = |role| mono(&solo(role, vec![note(100, 800, 64, 90)]));
    let level_of = |sound: &[f32]| level(&sound[frame(100)..frame(900)]);
    for (program, role) in [(25, Role::Guitar), (24, Role::Chop), (105, Role::Banjo)] {
        let number = LEADS.iter().position(|&other| other == program).unwrap();
        // The seed of the noise is the role's; the instrument is the same.
        let (lead, own) = (level_of(&heard[number]), level_of(&of(role)));
        assert!((lead - own).abs() < 3.5, "{program}: {lead:.1} {own:.1}");
    }
}

#[test]
fn what_sounds_rings_on_when_another_instrument_is_taken_up() {
    let lead = Role::Lead.channel();
    let pitch = MidiNote::new(55).unwrap();
    let program = |program| Message::Program { channel: lead, program };
    let played = |then: Option<Message>| {
        let mut synth = everyone_live(RATE);
        let on = Message::NoteOn { channel: lead, pitch, velocity: 90 };
        assert!([program(25), on].into_iter().all(|message| synth.take(0, message)));
        if let Some(message) = then {
            assert!(synth.take(9_600, message));
        }
        let (mut left, mut right) = (vec![0.0; 48_000], vec![0.0; 48_000]);
        synth.render(&mut left, &mut right);
        left
    };
    assert!(played(None) == played(Some(program(110))), "the guitar rings on");
    // The next note is the fiddle's; the guitar's note-off still finds its own.
    let mut synth = everyone_live(RATE);
    let on = |pitch| Message::NoteOn { channel: lead, pitch, velocity: 90 };
    let other = MidiNote::new(67).unwrap();
    let begun = [program(25), on(pitch), program(110), on(other)];
    let ended = [pitch, other].map(|pitch| Message::NoteOff { channel: lead, pitch });
    assert!(begun.into_iter().all(|message| synth.take(0, message)));
    assert!(ended.into_iter().all(|message| synth.take(24_000, message)));
    let (mut left, mut right) = (vec![0.0; 96_000], vec![0.0; 96_000]);
    synth.render(&mut left, &mut right);
    assert!(level(&left[9_600..24_000]) > -40.0);
    assert!(level(&left[72_000..]) < -100.0, "{}", level(&left[72_000..]));
}

#[test]
fn another_program_changes_no_other_role() {
    let played = |told: bool| {
        let mut synth = everyone_live(RATE);
        for role in [Role::Bass, Role::Chop, Role::Guitar, Role::Banjo, Role::Fiddle] {
            let channel = role.channel();
            if told {
                assert!(synth.take(0, Message::Program { channel, program: 53 }));
            }
            let pitch = MidiNote::new(60).unwrap();
            assert!(synth.take(0, Message::NoteOn { channel, pitch, velocity: 90 }));
        }
        let (mut left, mut right) = (vec![0.0; 24_000], vec![0.0; 24_000]);
        synth.render(&mut left, &mut right);
        (left, right)
    };
    assert!(played(false) == played(true));
}

#[test]
fn what_has_rung_out_slows_nothing() {
    // Numbers too small for a processor's fast way (subnormal ones) must not linger in what is heard.
    let roles = [Role::Bass, Role::Chop, Role::Guitar, Role::Banjo, Role::Fiddle, Role::Lead];
    let parts = roles.map(|role| (role, vec![note(0, 300, 60, 100)]));
    let mut all = performance(parts.into(), Vec::new());
    all.end = openchair::time::Ticks::new(12_000);
    let sound = mono(&all);
    assert!(sound.iter().all(|x| *x == 0.0 || x.is_normal()));
    assert!(level(&sound[frame(11_000)..]) < -140.0, "{}", level(&sound[frame(11_000)..]));
}
