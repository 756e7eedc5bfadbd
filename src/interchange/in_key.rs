//! A song written in another key.

use crate::chart::{Share, Song, Tune};
use crate::theory::{Key, MidiNote, Transposition};

/// The song with its chords and its tune moved to another tonic, by the nearer way; the mode stays.
#[must_use]
pub fn in_key(song: &Song, key: Key) -> Song {
    let move_by = Transposition::between(song.key.tonic, key.tonic);
    let up = move_by.semitones();
    // A tune goes up by a tritone at most, and else down.
    let by = if up > 6 { up - 12 } else { up };
    let mut song = song.clone();
    song.key = Key { tonic: key.tonic, mode: song.key.mode };
    let moved = |share: &mut Share<Tune>| {
        if let Tune::Note(note) = share.value {
            share.value = Tune::Note(MidiNote::clamped(i32::from(note.get()) + by));
        }
    };
    for pickup in song.sections.iter_mut().filter_map(|section| section.pickup.as_mut()) {
        pickup.chord = pickup.chord.map(|chord| move_by.chord(&chord));
        pickup.melody.iter_mut().for_each(moved);
    }
    for bar in song.sections.iter_mut().flat_map(|section| &mut section.bars) {
        for share in &mut bar.chords {
            share.value = share.value.map(|chord| move_by.chord(&chord));
        }
        bar.melody.iter_mut().for_each(moved);
    }
    song
}
