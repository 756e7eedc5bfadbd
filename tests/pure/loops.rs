//! Some bars round and round: what the arranger lays out, and what the band makes of the place where
//! the last bar leads back to the first.

use std::sync::LazyLock;

use proptest::prelude::*;
use proptest::sample::Index;

use openchair::arrange::{Arrangement, Bar, Plan, arrange};
use openchair::chart::{MOST_BARS, Role};
use openchair::perform::{Note, Performance, perform};
use openchair::style::Style;
use openchair::theory::Chord;
use openchair::time::Ticks;

use crate::common::made_up::request;
use crate::common::shipped;

static STYLES: LazyLock<Vec<Style>> = LazyLock::new(shipped::styles);

/// The style with hands that neither stray nor leave anything to chance.
fn exact(style: &Style) -> Style {
    let mut exact = style.clone();
    for (_, part) in &mut exact.parts {
        (part.looseness, part.lean, part.loudness.vary) = (0.0, 0.0, 0);
        part.bars.iter_mut().for_each(|bar| bar.chance = 1.0);
    }
    exact
}

fn chord(song: &Arrangement, id: Option<openchair::arrange::ChordId>) -> Option<Chord> {
    id.map(|id| *song.chord(id).unwrap())
}

/// All that a bar holds, without where it stands.
fn held(song: &Arrangement, bar: &Bar) -> String {
    let at = |ticks: Ticks| (ticks - bar.start).get();
    let spans: Vec<_> = song.spans[bar.spans.clone()]
        .iter()
        .map(|s| (at(s.start.max(bar.start)), at(s.end.min(bar.end())), chord(song, s.chord)))
        .collect();
    let stops: Vec<_> =
        song.stops[bar.stops.clone()].iter().map(|s| (at(s.start), s.stop)).collect();
    format!(
        "{} {} {spans:?} {stops:?} {:?} {:?} {} {:?} {:?}",
        bar.number,
        bar.meter,
        bar.facts,
        bar.resting,
        bar.turn,
        bar.kind,
        song.passes[bar.pass].label
    )
}

/// The same, but for what it knows of its neighbours.
fn held_itself(song: &Arrangement, bar: &Bar) -> String {
    let mut bar = bar.clone();
    (bar.facts.change_next, bar.facts.new_chord) = (false, false);
    held(song, &bar)
}

fn is_sound(song: &Arrangement) {
    let mut at = song.start;
    for bar in &song.bars {
        assert_eq!(bar.start, at);
        at = bar.end();
        let spans = &song.spans[bar.spans.clone()];
        assert!(spans.first().unwrap().start <= bar.start);
        assert!(spans.last().unwrap().end >= bar.end());
        assert!(song.stops[bar.stops.clone()].iter().all(|stop| stop.start >= bar.start));
    }
    assert_eq!(at, song.end);
    assert_eq!(song.spans.first().unwrap().start, song.start);
    assert_eq!(song.spans.last().unwrap().end, song.end);
    for pair in song.spans.windows(2) {
        assert_eq!(pair[0].end, pair[1].start);
        assert_ne!(pair[0].chord, pair[1].chord);
    }
}

fn first_chord(song: &Arrangement, bar: &Bar) -> Option<Chord> {
    chord(song, song.spans[bar.spans.start].chord)
}

fn last_chord(song: &Arrangement, bar: &Bar) -> Option<Chord> {
    chord(song, song.spans[bar.spans.end - 1].chord)
}

proptest! {
    #[test]
    fn any_bars_of_any_song_go_round(
        request in request(),
        from in any::<Index>(),
        to in any::<Index>(),
        rounds in 1..5_usize,
    ) {
        let chart = shipped::song(&request.toml);
        let song = arrange(&chart, &request.plan).unwrap();
        let form = song.bars.iter().filter(|bar| song.is_of_form(bar)).count();
        let before = song.kickoff_bars();
        let (from, to) = (1 + from.index(form), 1 + to.index(form));
        let numbers = from.min(to)..=from.max(to);
        let length = numbers.clone().count();
        let round = song.excerpt(numbers.clone(), rounds).unwrap();
        is_sound(&round);
        prop_assert_eq!((round.start, round.count_in, round.round), (Ticks::ZERO, 0, Some(length)));
        prop_assert_eq!(round.bars.len(), length * rounds);
        for (at, bar) in round.bars.iter().enumerate() {
            let number = from.min(to) + at % length;
            prop_assert_eq!(bar.number, number);
            let of_song = &song.bars[before + number - 1];
            prop_assert_eq!(held_itself(&round, bar), held_itself(&song, of_song));
            prop_assert_eq!(held(&round, bar), held(&round, &round.bars[at % length]));
            // What follows is the bar after it, and after the last the first.
            let next = &round.bars[(at + 1) % round.bars.len()];
            let (ends, comes) = (last_chord(&round, bar), first_chord(&round, next));
            prop_assert_eq!(bar.facts.change_next, comes.is_some() && comes != ends);
            prop_assert_eq!(next.facts.new_chord, comes != ends);
            // A pass at the head of a round and where the song begins one.
            let begins = round.passes.iter().any(|pass| pass.start == bar.start);
            let inside = number > 1 && song.bars[before + number - 2].pass != of_song.pass;
            prop_assert_eq!(begins, at % length == 0 || inside);
        }
        // An excerpt of an excerpt is one of the song.
        let again = round.excerpt(numbers, rounds).unwrap();
        prop_assert_eq!(format!("{again:?}"), format!("{round:?}"));

        let fitting: Vec<&Style> = STYLES.iter().filter(|s| s.fits(request.meter)).collect();
        let style = fitting[request.style.index(fitting.len())];
        let played = perform(&round, style, request.seed).unwrap();
        prop_assert_eq!(played.end, round.end);
        for part in &played.parts {
            for note in &part.notes {
                prop_assert!(note.start >= Ticks::ZERO && note.start < note.end);
                prop_assert!(note.start < round.end + Ticks::QUARTER, "feel is no quarter");
                prop_assert!(note.end <= round.end + round.bars[0].meter.bar());
            }
            for (at, note) in part.notes.iter().enumerate() {
                let later = part.notes[at + 1..].iter().take_while(|n| n.start < note.end);
                prop_assert!(later.into_iter().all(|n| n.pitch != note.pitch), "{note:?}");
            }
        }
    }
}

/// A chart of one section in G and 4/4.
fn chart(chords: &str) -> Arrangement {
    let song = shipped::song(&format!(
        "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
         form = ['verse', 'verse']\n[section.verse]\nchords = '{chords}'\n"
    ));
    arrange(&song, &Plan::default()).unwrap()
}

fn part(role: Role, lines: &str) -> Style {
    let toml =
        format!("about = 'any'\nmeters = ['4/4']\n[{role}]\nlooseness = 0\nlength = 1\n{lines}");
    shipped::style("any", &toml)
}

fn notes(performance: &Performance, role: Role) -> &[Note] {
    &performance.parts.iter().find(|part| part.role == role).unwrap().notes
}

#[test]
fn only_what_there_is_and_nothing_of_the_ending() {
    let song = chart("| G | C | D | G |");
    assert_eq!(song.bars.len(), 9, "with the last hit");
    assert!(song.excerpt(9..=9, 1).is_none());
    assert!(song.excerpt(0..=0, 1).is_none());
    assert!(song.excerpt(1..=4, 0).is_none());
    assert_eq!(song.excerpt(7..=40, 1).unwrap().bars.len(), 2);
    // However many rounds are asked for, there is a bound.
    let many = song.excerpt(1..=7, usize::MAX).unwrap();
    assert_eq!(many.bars.len(), MOST_BARS / 7 * 7);
}

#[test]
fn a_walk_at_the_end_arrives_at_the_first_chord() {
    // Walks lead into the next chord by step; the last note lies a whole tone at most from the root
    // (common practice, no source), round the corner too.
    let walking =
        "[[bass.bar]]\nbar = 'R > > >'\nwhen = 'change next'\n[[bass.bar]]\nbar = 'R . 5 .'\n";
    for chords in ["| G | C |", "| G | D |", "| Am | F | C |", "| D | G / A / |"] {
        let song = chart(chords);
        let round = song.excerpt(1..=chords.matches('|').count() - 1, 2).unwrap();
        let played = perform(&round, &part(Role::Bass, walking), 1).unwrap();
        let bass = notes(&played, Role::Bass);
        let last = bass.last().unwrap();
        assert_eq!(last.start, round.end - Ticks::QUARTER, "{chords}: it walks to the bar line");
        let step = i32::from(last.pitch.get()) - i32::from(bass[0].pitch.get());
        assert!((1..=2).contains(&step.abs()), "{chords}: {step} semitones to the root");
    }
    // A chord that lasts over the corner is none to walk to.
    let round = chart("| G | C | G |").excerpt(1..=3, 3).unwrap();
    let played = perform(&round, &part(Role::Bass, walking), 1).unwrap();
    let heads = |bar: i64| {
        let bar = 3840 * bar..3840 * (bar + 1);
        notes(&played, Role::Bass).iter().filter(|n| bar.contains(&n.start.get())).count()
    };
    assert_eq!([2, 5, 8].map(heads), [2, 2, 2]);
}

#[test]
fn the_last_notes_ring_until_a_hand_stops_them() {
    let strums = "spread = 0\n[[guitar.bar]]\nbar = 'R . . D'\n";
    // G to G: the upper strings ring on to the next strum, on the fourth beat; the bass string's
    // note is taken over by the next one.
    let round = chart("| G | G |").excerpt(1..=2, 1).unwrap();
    let played = perform(&round, &part(Role::Guitar, strums), 1).unwrap();
    let ends = |played: &Performance| -> Vec<i64> {
        let late = notes(played, Role::Guitar).iter().filter(|n| n.end > played.end);
        late.map(|note| (note.end - played.end).get()).collect()
    };
    assert_eq!(ends(&played), [3 * 960; 4]);
    // G to C: what C does not hold is stopped where it comes.
    let round = chart("| C | G |").excerpt(1..=2, 1).unwrap();
    let played = perform(&round, &part(Role::Guitar, strums), 1).unwrap();
    assert!(ends(&played).len() < 4, "{:?}", ends(&played));
    // A song that ends, ends.
    let song = chart("| G | G |");
    let played = perform(&song, &part(Role::Guitar, strums), 1).unwrap();
    assert_eq!(ends(&played), [0; 0]);
}

/// The onsets and pitches of a role in a bar, from its head.
fn in_bar(played: &Performance, role: Role, bar: &Bar) -> Vec<(i64, u8, u8)> {
    let Some(part) = played.parts.iter().find(|part| part.role == role) else { return Vec::new() };
    part.notes
        .iter()
        .filter(|note| (bar.start..bar.end()).contains(&note.start))
        .map(|note| ((note.start - bar.start).get(), note.pitch.get(), note.velocity))
        .collect()
}

#[test]
fn the_band_plays_as_in_the_song() {
    // Where neither chance nor the wandering of hands comes in, a bar whose neighbours are the song's
    // is played as in the song. The mandolin may finger it elsewhere: its hand comes from other bars.
    let mut compared = 0;
    for (path, chart, style) in shipped::pairs() {
        let style = exact(&style);
        let song = arrange(&chart, &Plan::default()).unwrap();
        let whole = perform(&song, &style, 1).unwrap();
        for length in [4, 8, 16] {
            let round = song.excerpt(3..=2 + length, 2).unwrap();
            let played = perform(&round, &style, 1).unwrap();
            for bar in &round.bars[2..length - 1] {
                let of_song = &song.bars[song.kickoff_bars() + bar.number - 1];
                for role in [Role::Bass, Role::Guitar] {
                    assert_eq!(
                        in_bar(&played, role, bar),
                        in_bar(&whole, role, of_song),
                        "{path:?} {} bar {} of {length}",
                        style.name,
                        bar.number
                    );
                }
                let onsets = |played: &Performance, bar: &Bar| -> Vec<i64> {
                    let mut onsets: Vec<i64> =
                        in_bar(played, Role::Chop, bar).iter().map(|note| note.0).collect();
                    onsets.dedup();
                    onsets
                };
                let spread = |onsets: Vec<i64>| onsets.first().copied();
                assert_eq!(spread(onsets(&played, bar)), spread(onsets(&whole, of_song)));
                compared += 1;
            }
        }
    }
    assert!(compared > 500, "{compared}");
}

#[test]
fn rounds_are_alike_where_nothing_is_left_to_chance() {
    for (path, chart, style) in shipped::pairs() {
        let style = exact(&style);
        let song = arrange(&chart, &Plan::default()).unwrap();
        let round = song.excerpt(1..=8, 4).unwrap();
        let played = perform(&round, &style, 1).unwrap();
        for (second, third) in round.bars[8..16].iter().zip(&round.bars[16..24]) {
            for role in [Role::Bass, Role::Guitar] {
                assert_eq!(
                    in_bar(&played, role, second),
                    in_bar(&played, role, third),
                    "{path:?} {} bar {}",
                    style.name,
                    second.number
                );
            }
        }
    }
}

#[test]
fn the_form_several_times() {
    let song = shipped::song(
        "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
         form = ['verse', 'bridge']\n[section.verse]\nchords = '| G | C |'\n\
         [section.bridge]\nchords = '| D |'\n",
    );
    let times = |times: u32| Plan { times: times.try_into().unwrap(), ..Plan::default() };
    let thrice = arrange(&song, &times(3)).unwrap();
    is_sound(&thrice);
    let labels: Vec<&str> = thrice.passes.iter().map(|pass| pass.label.as_str()).collect();
    assert_eq!(labels, ["verse", "bridge", "verse", "bridge", "verse", "bridge", "ending"]);
    assert_eq!(
        thrice.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(),
        (1..=10).collect::<Vec<_>>()
    );
    let most = u32::try_from(MOST_BARS / 3).unwrap();
    assert!(arrange(&song, &times(most)).is_ok());
    let refused = arrange(&song, &times(most + 1)).unwrap_err().to_string();
    assert!(refused.contains("40000 times"), "{refused}");
}
