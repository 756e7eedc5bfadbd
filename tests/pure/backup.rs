//! The banjo's part for the open chair, in every shipped song and key, at every level and beside several bands:
//! what it picks can be played and belongs, and each level adds one thing.

use std::collections::BTreeSet;
use std::fs;

use openchair::arrange::{Arrangement, Bar, BarKind, Plan, arrange};
use openchair::backup::{Backup, Level, Player, backup, part};
use openchair::chart::{Role, RoleSet, Song};
use openchair::coverage::{Coverage, Job, Singing, coverage};
use openchair::perform::{Ends, Pick, perform};
use openchair::style::Style;
use openchair::theory::fretboard::banjo::{Finger, short_string_rings};
use openchair::theory::{Chord, Key, Mode, Scale, added_sixth};
use openchair::time::Ticks;

use crate::common::banjo_hands::{hold_hands, hold_still, of_bar};
use crate::common::made_up;
use crate::common::shipped;
use crate::common::shipped::{songs, styles};
use proptest::prelude::*;

/// The bands that the banjo joins.
pub const BANDS: [&[Role]; 5] = [
    &[Role::Bass, Role::Chop, Role::Guitar],
    &[Role::Bass, Role::Guitar],
    &[Role::Guitar, Role::Chop],
    &[Role::Guitar],
    &[Role::Bass, Role::Chop, Role::Fiddle, Role::Lead],
];

pub fn arranged(song: &Song, key: Option<Key>, band: &[Role], tempo: Option<f64>) -> Arrangement {
    let band: RoleSet = band.iter().copied().collect();
    arrange(song, &Plan { band: Some(band), key, tempo, ..Plan::default() }).unwrap()
}

pub fn covered(song: &Arrangement, style: &Style) -> Coverage {
    coverage(song, &perform(song, style, 1).unwrap(), RoleSet::EMPTY)
}

/// The part at every level.
fn levels(song: &Arrangement, style: &Style, open: &Coverage) -> [Backup; 4] {
    Level::ALL.map(|level| backup(song, style, open, Player::at(level, 1)))
}

/// Every song in every key, beside the bands by turns, in the styles that fit by turns.
fn each(mut look: impl FnMut(&str, &Arrangement, &Style, &Coverage)) {
    let styles = styles();
    for (number, (path, song)) in songs().into_iter().enumerate() {
        let fitting: Vec<&Style> = styles.iter().filter(|s| s.fits(song.meter)).collect();
        for up in 0..12_u8 {
            let key = (up > 0).then(|| song.key.moved(up.into()));
            let up = usize::from(up);
            let band = BANDS[(number + up) % BANDS.len()];
            let style = fitting[(number + up) % fitting.len()];
            let song = arranged(&song, key, band, None);
            let open = covered(&song, style);
            let name = format!("{} {} {} {band:?}", path.display(), style.name, song.key);
            look(&name, &song, style, &open);
        }
    }
}

pub fn chord_at(song: &Arrangement, at: Ticks) -> &Chord {
    let span = song.spans.iter().rfind(|span| span.start <= at).unwrap();
    song.chord(span.chord.unwrap()).unwrap()
}

/// Tones of the chord, the sixth, the short string where it fits, what leads into a change, what passes in a fill.
fn every_note_belongs(
    name: &str,
    song: &Arrangement,
    open: &Coverage,
    level: Level,
    part: &Backup,
) {
    for (at, pick) in part.picks.iter().enumerate() {
        // A kickoff stands before all chords, and a written tune is the chart's own business: tests/pure/breaks.rs.
        let bar = &song.bars[pick.bar as usize];
        let tune = bar.melody.is_some() && open.bars[pick.bar as usize].job == Job::Lead;
        if bar.kind == BarKind::Kickoff || tune {
            continue;
        }
        let (chord, class) = (chord_at(song, pick.at), pick.pitch.pitch_class());
        if chord.contains(class) {
            continue;
        }
        let what = format!("{name} {level} {chord} {pick:?}");
        assert_ne!(pick.ends, Ends::Vamped, "{what}");
        if pick.string == 5 && short_string_rings(chord, part.capo, song.drone) {
            continue;
        }
        if added_sixth(chord, song.key) == Some(class) && level >= Level::Sixths {
            continue;
        }
        assert!(level >= Level::LeadIns, "{what}");
        // A note of the scale, or one on its way by step: what is slurred to or from, and the semitone before a
        // tone.
        let in_scale = Scale::of(song.key, chord).has(i32::from(class));
        let soon = pick.at + Ticks::QUARTER;
        let mut next = part.picks[at + 1..].iter().take_while(|next| next.at <= soon);
        let step = next.any(|next| matches!(next.pitch.get().abs_diff(pick.pitch.get()), 1 | 2));
        assert!(in_scale || step, "{what}");
    }
}

#[test]
fn all_of_it_can_be_played_and_belongs() {
    let mut picked = [0; 4];
    let (mut kept, mut new) = ([0; 3], [0; 3]);
    each(|name, song, style, open| {
        let parts = levels(song, style, open);
        for ((level, part), count) in Level::ALL.into_iter().zip(&parts).zip(&mut picked) {
            hold_hands(&format!("{name} {level}"), song, part);
            if level < Level::LeadIns {
                hold_still(&format!("{name} {level}"), song, open, part);
            }
            every_note_belongs(name, song, open, level, part);
            *count += part.picks.len();
        }
        one_thing_is_added_at_a_time(name, song, open, &parts, (&mut kept, &mut new));
    });
    assert!(picked.iter().all(|count| *count > 30_000), "{picked:?}");
    let enough = kept.iter().zip([1000, 1000, 200]).all(|(count, least)| *count > least);
    assert!(enough && new.iter().all(|count| *count > 500), "{kept:?} {new:?}");
}

/// Each level keeps what the one before plays, but where its own thing is: the sixth, the change, the job.
fn one_thing_is_added_at_a_time(
    name: &str,
    song: &Arrangement,
    open: &Coverage,
    parts: &[Backup; 4],
    (kept, new): (&mut [usize; 3], &mut [usize; 3]),
) {
    for (index, bar) in song.bars.iter().enumerate() {
        let [plain, sixths, leads, full] = [0, 1, 2, 3].map(|level| of_bar(&parts[level], index));
        let is_sixth = |pick: &Pick| {
            let chord = chord_at(song, pick.at);
            let class = pick.pitch.pitch_class();
            pick.string != 5
                && !chord.contains(class)
                && added_sixth(chord, song.key) == Some(class)
        };
        // The bar before the ending makes room for it, be it of a sixth.
        let ends = song.bars.get(index + 1).is_none_or(|next| next.kind != BarKind::Groove);
        let has_sixth = ends || sixths.iter().any(is_sixth);
        // A lead-in, and where it arrives.
        let changes = |index: usize| {
            song.bars.get(index).is_some_and(|bar| bar.facts.change_next || bar.spans.len() > 1)
        };
        let has_change = changes(index) || index > 0 && changes(index - 1);
        let rings = song.spans[bar.spans.clone()].iter().all(|span| {
            span.chord.is_none_or(|id| {
                short_string_rings(song.chord(id).unwrap(), parts[0].capo, song.drone)
            })
        });
        // Behind a singer it stays as it was learned, but where a fill begins in it or came before it.
        let job = open.bars[index].job;
        let after_fill = index > 0 && open.bars[index - 1].job == Job::Fill;
        let licks =
            parts[3].licks.iter().any(|lick| lick.start < bar.end() && lick.end >= bar.start);
        // Softly where nobody sings, it is the roll of the level below but softer.
        let sung = open.bars[index].singing == Singing::Sings;
        let rolls = bar.kind != BarKind::Groove && !licks
            || (job == Job::Rest || job == Job::RollSoft && sung)
                && rings
                && !after_fill
                && !licks
                && !has_change;
        let steps =
            [(has_sixth, &plain, &sixths), (has_change, &sixths, &leads), (!rolls, &leads, &full)];
        for (step, (adds, before, after)) in steps.into_iter().enumerate() {
            if adds {
                new[step] += usize::from(before != after);
            } else {
                kept[step] += 1;
                assert_eq!(
                    before,
                    after,
                    "{name} bar {} step {step} {job} {:?}",
                    bar.number,
                    parts[3]
                        .licks
                        .iter()
                        .filter(|l| l.end >= bar.start && l.start <= bar.end())
                        .collect::<Vec<_>>()
                );
            }
        }
    }
}

pub const EIGHT_BARS: &str = "title = 'Nine Barrels'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\n\
    style = 'boom-chick'\nform = ['a', 'a']\n[section.a]\nchords = '''\n\
    | G | % | % | % | C | % | D | D |\n| G | % | % | % | % | % | % | % |\n'''\n";

pub fn style(name: &str) -> Style {
    styles().into_iter().find(|style| style.name == name).unwrap()
}

/// In G, in open position, plain rolls are the published ones, fingers and all (reference/rolls.json names its
/// sources).
#[test]
fn plain_rolls_are_the_published_ones() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/rolls.json");
    let rolls: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap();
    let published: Vec<(String, String)> = rolls
        .as_array()
        .unwrap()
        .iter()
        .map(|roll| {
            let strings = roll["strings"].as_array().unwrap();
            let string =
                |value: &serde_json::Value| value.as_u64().map_or("-".into(), |n| n.to_string());
            (strings.iter().map(string).collect(), roll["fingers"].as_str().unwrap().to_owned())
        })
        .collect();
    let line = "| G | % | % | % |\n".repeat(10);
    let chart = format!(
        "title = 'Flat Stone'\nkey = 'G'\nmeter = '4/4'\ntempo = 100\nstyle = 'drive'\nform = ['a']\n\
         [section.a]\nchords = '''\n{line}'''\n"
    );
    let song = arranged(&shipped::song(&chart), None, BANDS[0], None);
    let style = style("drive");
    let part = backup(&song, &style, &covered(&song, &style), Player::at(Level::Plain, 1));
    let mut found = BTreeSet::new();
    // The last bar makes room for the ending.
    let last = song.bars.len() - 2;
    let of_form = |(index, bar): &(usize, &Bar)| bar.kind == BarKind::Groove && *index < last;
    for (index, bar) in song.bars.iter().enumerate().filter(of_form) {
        let picks = of_bar(&part, index);
        let at = |n: i64| picks.iter().find(|pick| pick.at == bar.start + Ticks::EIGHTH * n);
        let strings: String =
            (0..8).map(|n| at(n).map_or("-".into(), |pick| pick.string.to_string())).collect();
        let fingers: String =
            (0..8).map(|n| at(n).and_then(Pick::finger).map_or('-', Finger::letter)).collect();
        assert!(picks.iter().all(|pick| pick.fret == 0));
        let known = published.iter().find(|(own, _)| *own == strings);
        let (_, right) = known.unwrap_or_else(|| panic!("{strings} is not among {published:?}"));
        // Where one bar meets the next fingers give way to their neighbours.
        assert_eq!(fingers[3..], right[3..], "{strings}");
        if fingers == *right {
            found.insert(strings);
        }
    }
    assert!(found.len() >= 5, "{found:?}");
}

/// Two in a bar at 160: as fast as it gets, and nothing goes under.
#[test]
fn it_keeps_up_at_speed() {
    for (path, song) in songs() {
        let style = styles().into_iter().find(|style| style.fits(song.meter)).unwrap();
        for band in [BANDS[0], BANDS[3]] {
            let fast = arranged(&song, None, band, Some(160.0));
            let open = covered(&fast, &style);
            let part = backup(&fast, &style, &open, Player::at(Level::Full, 1));
            hold_hands(&format!("{} at 160", path.display()), &fast, &part);
            // Hardly a bar is left empty by a hand that comes too late.
            let empty = |bar: &usize| of_bar(&part, *bar).is_empty();
            let rests = |bar: &usize| {
                let it = &fast.bars[*bar];
                let chord = fast.spans[it.spans.start].chord;
                it.stops.is_empty() && chord.is_some() && it.kind == BarKind::Groove
            };
            let left_out = (0..fast.bars.len()).filter(rests).filter(empty).count();
            assert!(left_out * 50 <= fast.bars.len(), "{path:?}: {left_out}");
        }
    }
}

/// A part is a part: no pitch overlaps itself, nothing sounds past the end, five strings at most.
#[test]
fn its_notes_are_sound() {
    for (path, song) in songs() {
        for style in styles().iter().filter(|style| style.fits(song.meter)) {
            let song = arranged(&song, None, BANDS[1], None);
            let open = covered(&song, style);
            let played = backup(&song, style, &open, Player::at(Level::Full, 1));
            let part = part(&song, style, &played, 1).unwrap();
            assert_eq!(part.role, Role::Banjo);
            for (at, note) in part.notes.iter().enumerate() {
                assert!(note.start < note.end && note.end <= song.end, "{path:?}");
                let before = &part.notes[..at];
                let sounding: Vec<_> = before.iter().filter(|o| o.end > note.start).collect();
                assert!(sounding.len() < 5, "{path:?} {sounding:?} {note:?}");
                assert!(sounding.iter().all(|o| o.pitch != note.pitch), "{path:?} {note:?}");
            }
        }
    }
}

/// A loop comes round: what is played belongs to its bars.
#[test]
fn a_loop_has_a_part_too() {
    let song = arranged(&shipped::song(EIGHT_BARS), None, BANDS[0], None);
    let round = song.excerpt(5..=8, 1).unwrap();
    let style = style("boom-chick");
    let open = covered(&round, &style);
    for level in Level::ALL {
        let played = backup(&round, &style, &open, Player::at(level, 1));
        let bars: BTreeSet<u32> = played.picks.iter().map(|pick| pick.bar).collect();
        assert_eq!(bars, (0..4).collect(), "{level}");
        assert!(part(&round, &style, &played, 1).unwrap().notes.len() >= bars.len());
    }
}

/// In minor and the modes the sixth is the key's own, and where a chord has none it is left out.
#[test]
fn sixths_are_there_where_they_fit() {
    let chart = |key: &str, chord: &str| {
        format!(
            "title = 'Cold Oven'\nkey = '{key}'\nmeter = '4/4'\ntempo = 100\nstyle = 'drive'\n\
             form = ['a']\n[section.a]\nchords = '''\n| {chord} | % | % | % |\n'''\n"
        )
    };
    for (key, chord, sixth) in
        [("G", "G", Some(4)), ("C", "F", Some(2)), ("Am", "Am", None), ("A dorian", "Am", Some(6))]
    {
        let song = arranged(&shipped::song(&chart(key, chord)), None, BANDS[0], None);
        assert!(Mode::ALL.contains(&song.key.mode));
        let style = style("drive");
        let open = covered(&song, &style);
        let [plain, sixths, ..] = levels(&song, &style, &open);
        let classes = |part: &Backup| -> BTreeSet<u8> {
            part.picks.iter().map(|pick| pick.pitch.pitch_class()).collect()
        };
        let added: Vec<u8> = classes(&sixths).difference(&classes(&plain)).copied().collect();
        assert_eq!(added, Vec::from_iter(sixth), "{chord} in {key}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Whatever the chart, whoever sits out: the hands can do it, and it ends with the song.
    #[test]
    fn any_chart_has_a_part_that_can_be_played(request in made_up::request()) {
        let song = shipped::song(&request.toml);
        let styles = styles();
        let fitting: Vec<&Style> = styles.iter().filter(|style| style.fits(song.meter)).collect();
        let style = fitting[request.style.index(fitting.len())];
        let Ok(song) = arrange(&song, &Plan { tag: style.tag, ..request.plan.clone() }) else {
            return Ok(());
        };
        let open = covered(&song, style);
        for level in Level::ALL {
            let played = backup(&song, style, &open, Player::at(level, request.seed));
            hold_hands(&request.toml, &song, &played);
            if let Some(part) = part(&song, style, &played, request.seed) {
                prop_assert!(part.notes.iter().all(|note| note.start < note.end && note.end <= song.end));
            }
        }
    }
}
