//! The songs that come with the program: together they hold what a player of backup meets, and their
//! table says of each what the file says. All is read from the charts, nothing from titles.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use crate::common::shipped;
use openchair::chart::{ChartBar, Lead, Section, Song, Stop};
use openchair::theory::{Chord, Key, Mode};
use openchair::time::Meter;

fn songs() -> Vec<Song> {
    shipped::songs().into_iter().map(|(_, song)| song).collect()
}

/// True if some song that comes with the program is such a one.
fn one_is(such: impl Fn(&Song) -> bool) -> bool {
    songs().iter().any(such)
}

/// Semitones from the home note up to the chord's root.
fn above_home(key: Key, chord: Chord) -> u8 {
    (12 + chord.root.pitch_class() - key.tonic.pitch_class()) % 12
}

/// The song's number for a chord, without the note under it: semitones above home, and its quality.
fn number(song: &Song, chord: Chord) -> (u8, &'static str) {
    (above_home(song.key, chord), chord.quality.name())
}

/// The chords of a section in order, without silences and without the same one twice in a row.
fn changes(section: &Section) -> Vec<Chord> {
    let shares = section.bars.iter().flat_map(|bar| &bar.chords);
    let mut chords: Vec<Chord> =
        shares.filter_map(|share| share.value).map(|c| Chord::new(c.root, c.quality)).collect();
    chords.dedup();
    chords
}

fn has_chord(song: &Song, such: impl Fn(u8, Chord) -> bool) -> bool {
    let chords = song.sections.iter().flat_map(changes);
    chords.into_iter().any(|chord| such(above_home(song.key, chord), chord))
}

fn is_major(chord: Chord) -> bool {
    chord.quality.third() == Some(4)
}

fn is_dominant(chord: Chord) -> bool {
    is_major(chord) && chord.quality.seventh() == Some(10)
}

/// The section of each pass that `lead` features.
fn led_by(song: &Song, lead: Lead) -> impl Iterator<Item = &Section> {
    let passes = song.form.iter().filter(move |pass| pass.lead == Some(lead));
    passes.map(move |pass| &song.sections[pass.section])
}

/// The 1, the 4 and the 5 are the fifths around home: 0, 5 and 7 half steps above it (tests/reference/
/// numbers.jsonl has them in nine keys). Which keys pickers meet most is common practice, no source.
#[test]
fn one_four_and_five_alone_in_g_c_d_a_and_b_flat() {
    for key in ["G", "C", "D", "A", "Bb"] {
        let key = Key::parse(key).unwrap();
        let found = one_is(|song| {
            let others = has_chord(song, |at, chord| ![0, 5, 7].contains(&at) || !is_major(chord));
            let all_three = [0, 5, 7].iter().all(|&want| has_chord(song, |at, _| at == want));
            song.key == key && all_three && !others
        });
        assert!(found, "{key}");
    }
}

/// A mixolydian or dorian tune has no note a half step under home: its flat seven takes that place
/// (the modes' intervals, as any theory book has them; from memory).
#[test]
fn a_modal_tune() {
    assert!(one_is(|song| {
        let modal = matches!(song.key.mode, Mode::Mixolydian | Mode::Dorian);
        let leading = (song.key.tonic.pitch_class() + 11) % 12;
        let flat_seven = has_chord(song, |at, chord| at == 10 && is_major(chord));
        modal && flat_seven && !has_chord(song, |_, chord| chord.contains(leading))
    }));
}

/// Home is minor, and the five is major all the same: the harmonic minor (from memory).
#[test]
fn a_minor_tune() {
    assert!(one_is(|song| {
        let home = has_chord(song, |at, chord| at == 0 && chord.quality.is_minor());
        let five = has_chord(song, |at, chord| at == 7 && is_major(chord));
        song.key.mode == Mode::Minor && home && five
    }));
}

/// Three lines of four bars: the first on the 1, the second two bars on the 4 and back, the third
/// from the 5 (the standard twelve-bar form; from memory).
#[test]
fn a_twelve_bar_blues() {
    assert!(one_is(|song| {
        song.sections.iter().any(|section| {
            let first = |at: usize| {
                let chord = section.bars[at].chords[0].value;
                chord.map(|chord| above_home(song.key, chord))
            };
            let lines: Vec<u32> = section.bars.iter().map(|bar| bar.line).collect();
            lines == [0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]
                && [(0, 0), (4, 5), (5, 5), (6, 0), (7, 0), (8, 7)]
                    .iter()
                    .all(|&(bar, degree)| first(bar) == Some(degree))
                && changes(section).into_iter().all(is_dominant)
        })
    }));
}

/// True if the chords go 6, 2, 5, 1 somewhere, the first three as dominant sevenths.
fn goes_round_the_circle(song: &Song) -> bool {
    song.sections.iter().any(|section| {
        changes(section).windows(4).any(|four| {
            let at: Vec<u8> = four.iter().map(|&chord| above_home(song.key, chord)).collect();
            at == [9, 2, 7, 0] && four[..3].iter().all(|&chord| is_dominant(chord))
        })
    })
}

/// Each root a fifth above the next (common practice, no source).
#[test]
fn a_ragtime_circle() {
    assert!(one_is(goes_round_the_circle));
}

/// Chords in a major key that are not of it, and the one that banjo players forget, the 3 minor
/// (common practice, no source).
#[test]
fn off_chords() {
    let has = |at: u8, third: u8| {
        move |song: &Song| {
            song.key.mode == Mode::Major
                && has_chord(song, |a, chord| a == at && chord.quality.third() == Some(third))
        }
    };
    assert!(one_is(|song| has(2, 4)(song) && !goes_round_the_circle(song)), "2 major on its own");
    // In a part that has gone to the key of the 4 the same chord is that key's own 4: what makes it a
    // flat 7 is that home comes next.
    let comes_home = |song: &Song, section: &Section| {
        changes(section).windows(2).any(|two| {
            is_major(two[0]) && [10, 0] == [two[0], two[1]].map(|chord| above_home(song.key, chord))
        })
    };
    let flat_seven = |song: &Song| song.sections.iter().any(|section| comes_home(song, section));
    assert!(one_is(|song| song.key.mode == Mode::Major && flat_seven(song)), "flat 7");
    assert!(one_is(has(4, 4)), "3 major");
    assert!(one_is(has(4, 3)), "3 minor");
}

/// Below 90 quarters a minute one counts three to the bar, above 140 one (common practice, no
/// source).
#[test]
fn a_slow_waltz_and_a_fast_one() {
    assert!(one_is(|song| song.meter == Meter::ThreeFour && song.tempo < 90.0), "slow");
    assert!(one_is(|song| song.meter == Meter::ThreeFour && song.tempo > 140.0), "fast");
}

/// Crooked tunes exist in old-time music (Rockwell 2011, Ethnomusicology 55(1)).
#[test]
fn crooked_ones_sung_and_fiddled() {
    let crooked = |song: &Song, lead: Lead| {
        led_by(song, lead).any(|section| section.bars.iter().any(|bar| bar.meter != song.meter))
    };
    assert!(one_is(|song| crooked(song, Lead::Voice)), "sung");
    assert!(one_is(|song| song.meter == Meter::TwoTwo && crooked(song, Lead::Fiddle)), "fiddled");
}

/// A dance tune is 64 beats: A, A, B, B of eight bars each (Wikipedia, "Contra dance choreography").
#[test]
fn a_fiddle_tune_of_a_a_b_b() {
    let twice_eight = |section: &Section| {
        let chords = |bars: &[ChartBar]| bars.iter().map(|b| b.chords.clone()).collect::<Vec<_>>();
        // The last two bars may be a first and a second ending.
        section.bars.len() == 16 && chords(&section.bars[..6]) == chords(&section.bars[8..14])
    };
    assert!(one_is(|song| {
        let [first, second, ..] = song.form.as_slice() else { return false };
        let fiddled = [first, second].iter().all(|pass| pass.lead == Some(Lead::Fiddle));
        let parts = [&song.sections[first.section], &song.sections[second.section]];
        let bars: usize = parts.iter().map(|part| part.bars.len()).sum();
        // In 2/2 two beats to the bar.
        let beats = if song.meter == Meter::TwoTwo { bars * 2 } else { 0 };
        fiddled
            && first.section != second.section
            && parts.into_iter().all(twice_eight)
            && beats == 64
    }));
}

/// One hit and silence, bar after bar, while the singer goes on, and once the singer breaks off as
/// well, so that somebody has to fill alone (common practice, no source).
#[test]
fn a_stop_time_song() {
    let hit_and_silence = |bar: &ChartBar| {
        let stops: Vec<Stop> = bar.stops.iter().map(|share| share.value).collect();
        stops == [Stop::Hit, Stop::Silence]
    };
    let sung = |bar: &ChartBar| bar.singing.last().unwrap().value;
    assert!(one_is(|song| {
        led_by(song, Lead::Voice).any(|section| {
            section.bars.windows(4).any(|four| {
                four.iter().all(hit_and_silence) && four[..3].iter().all(sung) && !sung(&four[3])
            })
        })
    }));
}

/// Slow, sung, and each sung part comes home from the 4, the cadence of an amen (Wikipedia,
/// "Cadence", on the plagal; from memory). What is slow: common practice, no source.
#[test]
fn a_slow_song_like_a_hymn() {
    assert!(one_is(|song| {
        let amens = led_by(song, Lead::Voice).filter(|section| {
            let [.., four, home] = changes(section)[..] else { return false };
            above_home(song.key, four) == 5 && above_home(song.key, home) == 0
        });
        let sung = led_by(song, Lead::Voice).count();
        song.tempo < 76.0 && sung > 0 && amens.count() == sung
    }));
}

#[test]
fn every_meter() {
    for meter in [Meter::FourFour, Meter::TwoTwo, Meter::TwoFour, Meter::ThreeFour, Meter::SixEight]
    {
        assert!(one_is(|song| song.meter == meter), "{meter}");
    }
}

#[test]
fn every_style_and_every_lead() {
    let used: BTreeSet<String> = songs().into_iter().map(|song| song.style).collect();
    let styles: BTreeSet<String> = shipped::styles().into_iter().map(|style| style.name).collect();
    assert_eq!(used, styles, "the styles that a song is in");
    for lead in Lead::ALL {
        assert!(one_is(|song| led_by(song, lead).next().is_some()), "{lead}");
    }
}

#[test]
fn long_ones_and_ones_with_a_row_of_breaks() {
    let bars = |song: &Song| song.sections.iter().map(|part| part.bars.len()).sum::<usize>();
    assert!(one_is(|song| bars(song) > 32), "more than 32 bars a time through");
    let leads = |song: &Song| song.form.iter().filter_map(|pass| pass.lead).collect::<Vec<_>>();
    let breaks = |song: &Song| {
        leads(song).windows(2).any(|two| !two.contains(&Lead::Voice) && two[0] != two[1])
    };
    let sung = |song: &Song| leads(song).contains(&Lead::Voice);
    assert!(one_is(|song| sung(song) && breaks(song)), "breaks passed from one to the next");
}

/// What a bar is, wherever the song lives: how long each chord lasts and its number.
fn progression(song: &Song, section: &Section) -> Vec<Vec<(i64, (u8, &'static str))>> {
    let bar = |bar: &ChartBar| {
        let shares = bar.chords.iter();
        shares
            .map(|share| {
                (share.length.get(), share.value.map_or((12, "N.C."), |c| number(song, c)))
            })
            .collect()
    };
    section.bars.iter().map(bar).collect()
}

#[test]
fn no_two_songs_have_a_part_in_common() {
    let songs = songs();
    let mut parts = Vec::new();
    for song in &songs {
        for section in &song.sections {
            parts.push((song.title.as_str(), &section.name, progression(song, section)));
        }
    }
    for (at, (title, name, bars)) in parts.iter().enumerate() {
        for (other, section, others) in &parts[..at] {
            assert!(title == other || bars != others, "{title} {name}, {other} {section}");
        }
    }
}

/// What a song's notes say it trains.
fn trains(song: &Song) -> String {
    let notes = song.notes.as_deref().unwrap();
    let (_, trains) = notes.split_once("Trains: ").unwrap();
    trains.split_whitespace().collect::<Vec<_>>().join(" ").trim_end_matches('.').to_owned()
}

/// `songs/README.md` has a line for each song, and in it what the file says.
#[test]
fn the_table_of_songs_is_right() {
    let mut table = "| song | key | meter | style | tempo | what it trains |\n\
                     | --- | --- | --- | --- | --- | --- |\n"
        .to_owned();
    for (path, song) in shipped::songs() {
        let file = path.file_name().unwrap().to_str().unwrap();
        table += &format!(
            "| [{}]({file}) | {} | {} | `{}` | {} | {} |\n",
            song.title,
            song.key,
            song.meter,
            song.style,
            song.tempo,
            trains(&song)
        );
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("songs/README.md");
    let readme = fs::read_to_string(path).unwrap();
    let lines: String = readme.split_inclusive('\n').filter(|line| line.starts_with('|')).collect();
    assert!(lines == table, "the table in songs/README.md should be\n{table}");
}
