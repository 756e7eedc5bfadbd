use openchair::interchange::Format;

use crate::{
    band, hears, kept, lesson, licks, midi_in, pedals, reviews, song, soundfont, style, take_midi,
    take_sound, tunes,
};

/// A doorway: what the fuzzer calls it, and what is handed to it.
pub type Doorway = (&'static str, fn(&[u8]));

/// Every one of them.
pub const DOORWAYS: [Doorway; 18] = [
    ("song", song),
    ("style", style),
    ("licks", licks),
    ("lesson", lesson),
    ("pedals", pedals),
    ("kept", kept),
    ("take_midi", take_midi),
    ("take_sound", take_sound),
    ("soundfont", soundfont),
    ("tune_abc", |bytes| tunes(Format::Abc, bytes)),
    ("tune_musicxml", |bytes| tunes(Format::MusicXml, bytes)),
    ("tune_mxl", |bytes| tunes(Format::Mxl, bytes)),
    ("tune_sheet", |bytes| tunes(Format::Sheet, bytes)),
    ("tune_midi", |bytes| tunes(Format::Midi, bytes)),
    ("midi_in", midi_in),
    ("band", band),
    ("review", reviews),
    ("hear", hears),
];
