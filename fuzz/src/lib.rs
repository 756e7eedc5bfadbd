//! What a stranger hands to the program, and all that is made of it: a function for each doorway. None may panic, hang
//! or take more memory than a laptop has, whatever comes.

mod band;
mod desk;
mod doorways;
mod kept;
mod sounds;
mod takes;
mod texts;
mod tunes;

pub use band::{band, song};
pub use desk::midi_in;
pub use doorways::{DOORWAYS, Doorway};
pub use kept::{kept, pedals};
pub use sounds::hears;
pub use takes::{reviews, soundfont, take_midi, take_sound};
pub use texts::{lesson, licks, style};
pub use tunes::tunes;

use openchair::text::{Problems, Source, report};

/// The bytes as a text that was read from a file, if they are one.
fn text(name: &str, bytes: &[u8]) -> Option<Source> {
    Source::new(name, std::str::from_utf8(bytes).ok()?).ok()
}

/// Mistakes are shown, with and without colours.
fn shown(source: &Source, problems: &Problems) {
    if !problems.is_empty() {
        assert!(!report(source, problems, false).is_empty());
        assert!(!report(source, problems, true).is_empty());
    }
}

/// A number of the input's own, so that what is wished for goes with it and a crash comes again: FNV-1a.
fn dice(bytes: &[u8]) -> usize {
    let mixed = bytes.iter().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
    });
    (mixed >> 8) as usize
}
