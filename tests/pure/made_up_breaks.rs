//! Breaks that are made up where no tune is written: what an instrument plays from the chords alone, whose it is, and how
//! one comes again.

use openchair::arrange::{Arrangement, Plan, arrange};
use openchair::chart::{Lead, Role, Song};
use openchair::interchange::{Format, Given, read_tunes};
use openchair::perform::{Note, perform};
use openchair::style::Style;
use openchair::theory::Key;
use openchair::time::Ticks;

use super::fiddle_and_lead::{all, exact, part};
use crate::common::shipped;

/// A verse that is sung until the middle of its last bar, in a meter with a style for it.
fn verse(meter: &str, style: &str, form: &str, voice: &str) -> Song {
    shipped::song(&format!(
        "title = 'Rail'\nkey = 'G'\nmeter = '{meter}'\ntempo = 104\nstyle = '{style}'\nending = 'none'\n\
         form = [{form}]\n[section.verse]\nchords = '''\n| G | G | C | G |\n| G | Em | D | D |\n\
         | C | C | G | Em |\n| C | D | G | G |\n'''\nvoice = '''\n\
         | = | = | = | = |\n| = | = | = | = |\n| = | = | = | = |\n| = | = | = | {voice} |\n'''\n"
    ))
}

const METERS: [(&str, &str); 5] = [
    ("4/4", "boom-chick"),
    ("2/2", "breakdown"),
    ("2/4", "polka"),
    ("3/4", "waltz"),
    ("6/8", "jig"),
];

fn style_of(song: &Song) -> Style {
    exact(&shipped::styles().into_iter().find(|style| style.name == song.style).unwrap())
}

/// What the lead's chair plays, with everybody there.
fn led(song: &Song, key: &str, seed: u64) -> (Arrangement, Vec<Note>) {
    let plan = Plan { band: Some(all()), key: Some(Key::parse(key).unwrap()), ..Plan::default() };
    let laid = arrange(song, &plan).unwrap();
    let performance = perform(&laid, &style_of(song), seed).unwrap();
    let notes = part(&performance, Role::Lead).map(|part| part.notes.clone()).unwrap_or_default();
    (laid, notes)
}

/// The passes that an instrument leads are filled, each by itself: what sounds begins there or just before, ends there, and
/// of a fiddle's comes home.
#[test]
fn a_break_fills_its_pass_and_no_other() {
    let mut seen = 0;
    for (meter, style) in METERS {
        for lead in Lead::ALL.into_iter().filter(|lead| *lead != Lead::Voice) {
            let form = format!("'verse: voice', 'verse: {lead}', 'verse: voice'");
            let song = verse(meter, style, &form, "= -");
            for (key, seed) in [("G", 1), ("Bb", 2), ("E", 3)] {
                let (laid, notes) = led(&song, key, seed);
                let (start, end) = (laid.passes[1].start, laid.passes[2].start);
                let before = laid.bars[15].end() - laid.bars[15].meter.bar();
                assert_eq!(before, laid.bars[15].start);
                let name = format!("{lead} in {meter}, {key}");
                let within = notes.iter().filter(|note| note.start >= start - Ticks::new(400));
                let played: Vec<u32> = within.map(|note| note.bar).collect();
                for bar in 16..30 {
                    assert!(played.contains(&bar), "{name}: bar {bar} is empty");
                }
                for note in &notes {
                    // A hand that slides in sets off a little before.
                    assert!(note.start >= start - Ticks::QUARTER - Ticks::new(200), "{name}");
                    assert!(note.start < end, "{name}");
                    assert!(
                        note.end > note.start && note.end <= end + Ticks::new(200),
                        "{name}: {note:?}"
                    );
                }
                if lead == Lead::Fiddle {
                    let last = notes.iter().max_by_key(|note| note.start).unwrap();
                    let home = Key::parse(key).unwrap().tonic.pitch_class();
                    assert_eq!(last.pitch.pitch_class(), home, "{name}");
                }
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 5 * 6 * 3);
}

/// Before the break's first note whoever has a hand free plays one or two that lead there, by steps or small skips, where
/// the singer has finished; a written tune has what pickup it has.
#[test]
fn a_break_is_picked_up_where_the_singer_has_finished() {
    let pickup = |song: &Song, seed: u64| -> (Vec<Note>, Note) {
        let (laid, notes) = led(song, "G", seed);
        let start = laid.passes[1].start;
        // On the grid, but for what the bow takes from string to string: a hand that slides sets off well before a note.
        let place = |note: &&Note| (note.start - laid.bars[15].start).get() / 240;
        let on = |note: &&Note| (note.start - laid.bars[15].start).get() % 240 < 30;
        let before: Vec<&Note> =
            notes.iter().filter(|note| note.start < start).filter(on).collect();
        // Of two strings at once the line is the higher.
        let before = before
            .chunk_by(|one, other| place(one) == place(other))
            .filter_map(|strings| strings.iter().max_by_key(|note| note.pitch).copied());
        let first =
            notes.iter().filter(|note| note.start >= start && note.start < start + Ticks::new(200));
        (before.copied().collect(), *first.max_by_key(|note| note.pitch).unwrap())
    };
    for (meter, style) in METERS {
        let form = "'verse: voice', 'verse: fiddle'";
        let mut counts = [0; 3];
        for seed in 0..12 {
            let (before, first) = pickup(&verse(meter, style, form, "= -"), seed);
            counts[before.len()] += 1;
            let last = before.last().unwrap();
            assert!(
                last.pitch.get().abs_diff(first.pitch.get()) <= 9,
                "{meter}: {before:?} {first:?}"
            );
            assert!(last.end <= first.start, "{meter}");
            // While the singer is at it, nobody picks up.
            assert_eq!(pickup(&verse(meter, style, form, "="), seed).0, [], "{meter}");
        }
        assert!(counts[0] == 0 && counts[1] > 0 && counts[2] > 0, "{meter}: {counts:?}");
    }
    for (lead, most) in
        [("guitar", 0), ("bass", 0), ("mandolin", 1), ("resonator", 2), ("banjo", 2)]
    {
        let song = verse("4/4", "boom-chick", &format!("'verse: voice', 'verse: {lead}'"), "= -");
        let many: Vec<usize> = (0..12).map(|seed| pickup(&song, seed).0.len()).collect();
        assert_eq!(many.iter().max(), Some(&most), "{lead}");
    }
}

/// What picks up sounds as the instrument that comes, not as what is played by nobody.
#[test]
fn a_pickup_has_the_sound_of_the_one_who_comes() {
    let song = verse("4/4", "boom-chick", "'verse: voice', 'verse: mandolin'", "= -");
    let plan = Plan { band: Some(all()), ..Plan::default() };
    let laid = arrange(&song, &plan).unwrap();
    let performance = perform(&laid, &style_of(&song), 3).unwrap();
    let lead = part(&performance, Role::Lead).unwrap();
    assert!(lead.notes[0].start < laid.passes[1].start);
    // General MIDI's nylon guitar stands for the mandolin, from 0.
    assert_eq!(lead.instrument.program, 24);
    assert!(lead.programs.is_empty());
}

/// A player who takes a break on the same section once more is known by it: what stands on the strong beats comes again,
/// and some of what lies between does not (common practice, no source).
#[test]
fn a_break_that_comes_again_is_known_again() {
    for (meter, style) in METERS {
        for lead in ["fiddle", "mandolin", "guitar"] {
            let form = format!("'verse: {lead}', 'verse: voice', 'verse: {lead}'");
            let song = verse(meter, style, &form, "=");
            let (mut strong, mut kept, mut all, mut same) = (0, 0, 0, 0);
            for seed in 0..6 {
                let (laid, notes) = led(&song, "G", seed);
                let of = |pass: usize| -> Vec<(Ticks, u8)> {
                    let own = notes.iter().filter(|note| laid.bars[note.bar as usize].pass == pass);
                    let start = laid.passes[pass].start;
                    // Of two strings at once, struck a hair apart, the line is the higher.
                    let mut line = std::collections::BTreeMap::new();
                    for note in own {
                        let at = (note.start - start).get() / 60;
                        let highest = line.entry(Ticks::new(at * 60)).or_insert(0);
                        *highest = note.pitch.get().max(*highest);
                    }
                    line.into_iter().collect()
                };
                let (first, second) = (of(0), of(2));
                let bar = laid.bars[0].meter.bar();
                all += first.len();
                same += first.iter().filter(|note| second.contains(note)).count();
                // What both have there: a slide may begin a little before.
                for (at, pitch) in first.iter().filter(|(at, _)| at.is_multiple_of(bar)) {
                    if second.iter().any(|(other, _)| other == at) {
                        strong += 1;
                        kept += usize::from(second.contains(&(*at, *pitch)));
                    }
                }
            }
            let name = format!("{lead} in {meter}: {kept} of {strong}, {same} of {all}");
            assert!(strong > 40, "{name}");
            assert!(kept * 100 >= strong * 75, "{name}");
            assert!(same * 100 <= all * 92, "{name}");
        }
    }
}

/// The same number gives the same break, another one another.
#[test]
fn a_break_hangs_on_its_seed() {
    let song = verse("4/4", "boom-chick", "'verse: voice', 'verse: fiddle'", "= -");
    assert_eq!(led(&song, "G", 4).1, led(&song, "G", 4).1);
    assert_ne!(led(&song, "G", 4).1, led(&song, "G", 5).1);
}

#[test]
fn a_fiddle_takes_a_break() {
    let song = verse("4/4", "boom-chick", "'verse: voice', 'verse: fiddle'", "= -");
    let (laid, notes) = led(&song, "G", 1);
    let mut out = String::new();
    for (index, bar) in laid.bars.iter().enumerate().skip(15) {
        let own = notes.iter().filter(|note| note.bar as usize == index);
        let said: Vec<String> = own
            .map(|note| {
                let eighths = (note.start - bar.start).get() as f64 / Ticks::EIGHTH.get() as f64;
                format!("{:.1}:{}", 1.0 + eighths, note.pitch.get())
            })
            .collect();
        out.push_str(&format!("{:2} {}\n", bar.number, said.join(" ")));
    }
    insta::assert_snapshot!(out);
}

/// A sheet that says who takes a break has it played, but for the banjo's, which is the player's own.
#[test]
fn a_sheet_with_a_break_has_it_played() {
    let read = |parts: &str| {
        let text = format!(
            "Lamp\nKey of A, 3/4, 132 bpm\n\nVerse\n| A | D | A | E |\nThere was a lamp\n\n{parts}"
        );
        read_tunes("x", text.as_bytes(), Format::Sheet, Given::default()).unwrap().tunes[0]
            .song()
            .unwrap()
            .0
    };
    let plays = |song: &Song| song.band.contains(Role::Lead);
    assert!(!plays(&read("Verse\n")));
    let banjo_alone = read("Banjo break\n| A | E |\n");
    assert!(!plays(&banjo_alone) && banjo_alone.form.iter().all(|pass| pass.sit_out.is_empty()));
    let both = read("Fiddle break\n| A | E |\n\nBanjo break\n| A | E |\n");
    assert!(plays(&both));
    let out: Vec<bool> = both.form.iter().map(|pass| pass.sit_out.contains(Role::Lead)).collect();
    assert_eq!(out, [false, false, true]);
    let form: Vec<&str> = both.form.iter().map(|pass| pass.label.as_str()).collect();
    // Over the same chords they are one section, and yet two players.
    assert_eq!(form, ["verse: voice", "fiddle break: fiddle", "fiddle break: banjo"]);
    let leads = led(&both, "A", 1);
    let passes: Vec<usize> =
        leads.1.iter().map(|note| leads.0.bars[note.bar as usize].pass).collect();
    assert!(passes.contains(&1) && !passes.contains(&2), "{passes:?}");
    let over_the_verse = read("Reso break\n| A | D | A | E |\n\nVerse\n");
    let form: Vec<&str> = over_the_verse.form.iter().map(|pass| pass.label.as_str()).collect();
    assert_eq!(form, ["verse: voice", "verse: resonator", "verse: voice"]);
}
