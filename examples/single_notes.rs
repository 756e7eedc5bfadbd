//! Single notes of the band's own sound, a sound file each, to be measured from outside.
//!
//! `single_notes FOLDER bass:100:0.8:1.2:28,33,40 ...` writes `FOLDER/bass_28_100.wav` and so on: the instrument, how
//! hard it is struck (1 to 127), after how many seconds it is let go, how many seconds there are in all, and the notes as
//! MIDI counts them. They are dry, at 48,000 frames a second.

use std::error::Error;
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};
use openchair::chart::Role;
use openchair::perform::{Instrument, Message};
use openchair::synth::{LiveRenderer, Renderer, Room, Synth};
use openchair::theory::MidiNote;

const RATE: u32 = 48_000;

/// So softly that nothing is limited.
const GAIN: f32 = 0.5;

/// The programs of General MIDI, from 0, by which a lead takes up its instruments.
const PROGRAMS: [(&str, u8); 7] = [
    ("bass", 32),
    ("mandolin", 24),
    ("guitar", 25),
    ("banjo", 105),
    ("resonator", 26),
    ("fiddle", 110),
    ("hum", 53),
];

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let folder = words.next().ok_or("a folder to write to, and notes")?;
    for asked in words {
        let fields: Vec<&str> = asked.split(':').collect();
        let &[name, velocity, held, seconds, pitches] = fields.as_slice() else {
            return Err(format!("{asked}: write INSTRUMENT:VELOCITY:HELD:SECONDS:NOTE,NOTE").into());
        };
        let (_, program) = PROGRAMS
            .into_iter()
            .find(|(known, _)| *known == name)
            .ok_or_else(|| format!("no instrument {name}"))?;
        let velocity: u8 = velocity.parse()?;
        let frames =
            |seconds: &str| Ok::<_, Box<dyn Error>>(seconds.parse::<f64>()? * f64::from(RATE));
        let (held, length) = (frames(held)? as u64, frames(seconds)? as usize);
        for pitch in pitches.split(',') {
            let path = Path::new(&folder).join(format!("{name}_{pitch}_{velocity}.wav"));
            let pitch = MidiNote::new(pitch.parse()?).ok_or("notes go from 0 to 127")?;
            let instrument = Instrument { program, volume: 100, pan: 64 };
            let synth = Synth::live(&[(Role::Lead, instrument)], RATE);
            let mut synth = synth.in_room(Room::Dry).at_gain(GAIN);
            let channel = Role::Lead.channel();
            synth.take(0, Message::NoteOn { channel, pitch, velocity });
            synth.take(held, Message::NoteOff { channel, pitch });
            let (mut left, mut right) = (vec![0.0; length], vec![0.0; length]);
            synth.render(&mut left, &mut right);
            let sample_format = SampleFormat::Float;
            let spec =
                WavSpec { channels: 1, sample_rate: RATE, bits_per_sample: 32, sample_format };
            let mut file = WavWriter::create(path, spec)?;
            for (left, right) in left.iter().zip(&right) {
                file.write_sample((left + right) / 2.0)?;
            }
            file.finalize()?;
        }
    }
    Ok(())
}
