//! A song exported as MIDI comes back: its sections, chords, form, key, meter, tempo, and the tune where it is played.

use openchair::arrange::Plan;
use openchair::chart::{Ending, Kickoff, Lead, Role, Song};
use openchair::interchange::read_midi;
use openchair::style::Style;

use crate::common::shipped;

/// The song as it comes back from the file that is exported of it, with the lead in the band.
fn back(song: &Song, style: &Style) -> Song {
    let band = Some(Role::BAND.into_iter().chain([Role::Lead]).collect());
    let bytes = shipped::export(song, &Plan { band, ..Plan::default() }, style, 1);
    let tunes = read_midi(&bytes, None);
    assert!(tunes.strays.is_empty(), "{}: {:?}", song.title, tunes.strays);
    tunes.tunes[0].song().unwrap().0
}

/// The bars of a form as played: each with its meter and its chords.
fn played(song: &Song) -> Vec<(String, Vec<(i64, String)>)> {
    song.form
        .iter()
        .flat_map(|pass| &song.sections[pass.section].bars)
        .map(|bar| {
            let name = |share: &openchair::chart::Share<Option<openchair::theory::Chord>>| {
                let chord = share.value.map_or("N.C.".to_owned(), |chord| chord.to_string());
                (share.length.get(), chord)
            };
            (bar.meter.to_string(), bar.chords.iter().map(name).collect())
        })
        .collect()
}

#[test]
fn every_song_comes_back() {
    for (path, song, style) in shipped::pairs() {
        let back = back(&song, &style);
        let about = format!("{path:?} {}", style.name);
        assert_eq!(back.title, song.title, "{about}");
        assert_eq!((back.key, back.meter), (song.key, song.meter), "{about}");
        assert!((back.tempo - song.tempo).abs() < 0.001, "{about}: {}", back.tempo);
        assert_eq!(played(&back), played(&song), "{about}");
        let form = |song: &Song| -> Vec<String> {
            song.form.iter().map(|pass| pass.label.clone()).collect()
        };
        assert_eq!(form(&back), form(&song), "{about}");
        // Struck and choked is written as struck.
        let ending = if song.ending == Ending::Cold { Ending::Hit } else { song.ending };
        assert_eq!(back.ending, ending, "{about}");
        let kickoff = if song.kickoff == Kickoff::Line { Kickoff::None } else { song.kickoff };
        assert_eq!(back.kickoff, kickoff, "{about}");
    }
}

/// What a lead plays for a singer is the tune, note by note, swung or straight, at any looseness.
#[test]
fn a_sung_tune_comes_back_note_by_note() {
    let (mut notes, mut same, mut bars) = (0, 0, 0);
    for (path, song, style) in shipped::pairs() {
        for pass in song.form.iter().filter(|pass| pass.lead == Some(Lead::Voice)) {
            let section = &song.sections[pass.section];
            if section.bars.iter().all(|bar| bar.melody.is_empty()) {
                continue;
            }
            let back = back(&song, &style);
            let again = back.sections.iter().find(|it| it.name == section.name).unwrap();
            for (was, is) in section.bars.iter().zip(&again.bars) {
                let begins = |bar: &openchair::chart::ChartBar| -> Vec<(i64, u8)> {
                    let mut at = 0;
                    let mut out = Vec::new();
                    for share in &bar.melody {
                        if let openchair::chart::Tune::Note(note) = share.value {
                            out.push((at, note.get()));
                        }
                        at += share.length.get();
                    }
                    out
                };
                let (was, is) = (begins(was), begins(is));
                notes += was.len();
                same += was.iter().filter(|note| is.contains(note)).count();
                bars += 1;
                assert!(is.len() <= was.len() + 1, "{path:?} {}: {was:?} {is:?}", style.name);
            }
        }
    }
    assert!(bars > 100 && notes > 300, "{bars} {notes}");
    let share = same as f64 / notes as f64;
    assert!(share > 0.98, "{same} of {notes}");
}

#[test]
fn what_is_no_song_is_told() {
    let told = |bytes: &[u8]| read_midi(bytes, None).strays[0].words.clone();
    assert!(told(b"MThd").contains("no MIDI file"));
    assert!(told(b"").contains("no MIDI file"));
    let silent = b"MThd\0\0\0\x06\0\0\0\x01\x03\xc0MTrk\0\0\0\x04\0\xff\x2f\0";
    assert!(told(silent).contains("no chords are written in it"));
}
