//! The banjo's own breaks from a written tune: every note of it is there, on its beat, by a strong finger and in front,
//! and hands can play what is rolled around it.

use std::collections::BTreeMap;

use openchair::arrange::{Arrangement, Bar, Plan, arrange};
use openchair::backup::{Backup, Level, Player, backup};
use openchair::chart::{Lead, Role, RoleSet, Song};
use openchair::coverage::{Coverage, Job, coverage};
use openchair::perform::{Pick, perform};
use openchair::style::{Loud, Style};
use openchair::tablature::{tablature, text};
use openchair::theory::MidiNote;
use openchair::time::{Meter, Ticks};

use crate::common::banjo_hands::hold_hands;
use crate::common::shipped;

/// Quarters, halves and rests over the common chords.
pub const REEL: &str = "title = 'Rope Walk'\nkey = 'G'\nmeter = '4/4'\ntempo = 112\nstyle = 'boom-chick'\n\
    ending = 'none'\nform = ['a: banjo']\n[section.a]\nchords = '''\n\
    | G | G | C | G |\n| G | Em | D | G |\n'''\nmelody = '''\n\
    | G / A B | d / B A | c / e c | B / / - |\n| d / d B | e d B G | A A B A | G / - - |\n'''\n";

/// Three to the bar, a tie over the bar line.
pub const WALTZ: &str = "title = 'Lock Gate'\nkey = 'C'\nmeter = '3/4'\ntempo = 110\nstyle = 'waltz'\n\
    ending = 'none'\nform = ['a: banjo']\n[section.a]\nchords = '''\n\
    | C | C | F | C |\n| Am | F | G7 | C |\n'''\nmelody = '''\n\
    | c / d | e / g | a / f | e / / |\n| / / e | f / a | g f d | c / - |\n'''\n";

/// Sixteenths in a bar of two, eighths in one of two halves.
pub const POLKA: &str = "title = 'Wet Boots'\nkey = 'D'\nmeter = '2/4'\ntempo = 100\nstyle = 'fast-grass'\n\
    ending = 'none'\nform = ['a: banjo']\n[section.a]\nchords = '''\n\
    | D | G | A7 | D |\n'''\nmelody = '''\n\
    | d f a f | g / b g | e / c e | d / / - |\n'''\n";
pub const BREAKDOWN: &str = "title = 'Loose Plank'\nkey = 'A'\nmeter = '2/2'\ntempo = 120\nstyle = 'fast-grass'\n\
    ending = 'none'\nform = ['a: banjo']\n[section.a]\nchords = '''\n\
    | A | D | E | A |\n'''\nmelody = '''\n\
    | A B c e / c B A | d / f a / f d / | e / / / g f e d | c / A / A / - - |\n'''\n";

pub fn style_of(song: &Song, styles: &[Style]) -> Style {
    let own = styles.iter().find(|style| style.name == song.style && style.fits(song.meter));
    own.or_else(|| styles.iter().find(|style| style.fits(song.meter))).unwrap().clone()
}

/// Every tune at hand with the banjo in the lead all through, in every key, at every level.
fn each(mut look: impl FnMut(&str, &Arrangement, &Coverage, Level, &Backup)) {
    let styles = shipped::styles();
    let written = shipped::songs().into_iter().map(|(_, song)| song);
    let made = [REEL, WALTZ, POLKA, BREAKDOWN].map(shipped::song);
    for mut song in written.chain(made) {
        if song.sections.iter().all(|section| section.bars.iter().all(|bar| bar.melody.is_empty()))
        {
            continue;
        }
        song.form.iter_mut().for_each(|pass| pass.lead = Some(Lead::Banjo));
        let style = style_of(&song, &styles);
        let band: RoleSet = [Role::Bass, Role::Chop, Role::Guitar].into_iter().collect();
        for up in 0..12 {
            let key = Some(song.key.moved(up));
            let plan = Plan { band: Some(band), key, ..Plan::default() };
            let song = arrange(&song, &plan).unwrap();
            let performance = perform(&song, &style, 1).unwrap();
            let open = coverage(&song, &performance, RoleSet::EMPTY);
            for level in Level::ALL {
                let part = backup(&song, &style, &open, Player::at(level, 1));
                let name = format!("{} in {} {level}", song.title, song.key);
                look(&name, &song, &open, level, &part);
            }
        }
    }
}

/// Where the steps of a bar's grid are so long: eighths, in 2/4 sixteenths.
fn step(song: &Arrangement, bar: &Bar) -> Ticks {
    match (song.meter, bar.gait) {
        (Meter::TwoFour, _) => Ticks::new(Ticks::EIGHTH.get() / 2),
        _ => Ticks::EIGHTH,
    }
}

/// Each note of the tune that is struck, with the step that it begins in.
fn onsets(song: &Arrangement, bar: &Bar) -> Vec<(Ticks, MidiNote)> {
    let notes = &song.melody[bar.melody.clone().unwrap()];
    let struck = notes.iter().filter(|note| !note.tied);
    let length = step(song, bar);
    struck
        .map(|note| {
            let within = (note.start - bar.start).get() / length.get();
            (bar.start + length * within, note.pitch)
        })
        .collect()
}

#[derive(Debug, Default)]
struct Count {
    notes: usize,
    there: usize,
    in_front: usize,
    clean: usize,
    fingers: BTreeMap<String, usize>,
    picks: usize,
    slurs: usize,
    silent: usize,
    steps: usize,
    short: usize,
    bars: usize,
}

#[test]
fn every_note_of_a_tune_is_in_its_break() {
    let mut counts: BTreeMap<(String, Level), Count> = BTreeMap::new();
    let mut missing = Vec::new();
    each(|name, song, open, level, part| {
        hold_hands(name, song, part);
        for (index, pick) in part.picks.iter().enumerate().filter(|(_, pick)| pick.slur().is_some())
        {
            let own = part.picks[..index].iter().rfind(|other| other.string == pick.string);
            let millis = song.pace.nanos(pick.at - own.unwrap().at).seconds() * 1000.0;
            assert!(millis >= 60.0, "{name}: {millis} {pick:?}");
        }
        let count = counts.entry((song.title.clone(), level)).or_default();
        for (bar, covered) in song.bars.iter().zip(&open.bars) {
            if covered.job != Job::Lead || bar.melody.is_none() {
                continue;
            }
            let length = step(song, bar);
            let beat = if bar.gait == Meter::SixEight { length * 3 } else { length * 2 };
            let within = |from: Ticks, to: Ticks| -> Vec<&Pick> {
                part.picks.iter().filter(|pick| pick.at >= from && pick.at < to).collect()
            };
            count.bars += 1;
            let all = within(bar.start, bar.end());
            count.picks += all.len();
            count.short += all.iter().filter(|pick| pick.string == 5).count();
            count.slurs += all.iter().filter(|pick| pick.slur().is_some()).count();
            let tune = onsets(song, bar);
            for number in 0..bar.meter.bar().get() / length.get() {
                let at = bar.start + length * number;
                count.steps += 1;
                count.silent += usize::from(within(at, at + length).is_empty());
            }
            for &(at, pitch) in &tune {
                count.notes += 1;
                let here = within(at, at + length);
                let own = |pick: &&&Pick| pick.pitch.pitch_class() == pitch.pitch_class();
                let Some(note) = here.iter().find(own) else {
                    missing.push(format!("{name} bar {}: {}", bar.number, pitch.get()));
                    continue;
                };
                count.there += 1;
                let by = match (here.iter().find_map(|pick| pick.finger()), note.finger()) {
                    (_, Some(finger)) | (Some(finger), None) => format!("{finger:?}"),
                    (None, None) => "left hand".to_owned(),
                };
                *count.fingers.entry(by).or_default() += 1;
                // Nothing else at once, and of its beat nothing as loud but the tune itself.
                count.clean += usize::from(here.iter().all(|pick| pick.string == note.string));
                let start = bar.start + beat * ((at - bar.start).get() / beat.get());
                let others = within(start, start + beat).into_iter().filter(|pick| {
                    !tune.iter().any(|(at, _)| (*at..*at + length).contains(&pick.at))
                });
                let softer = others.into_iter().all(|pick| pick.loud != Loud::Accent);
                count.in_front += usize::from(note.loud == Loud::Accent && softer);
            }
        }
    });
    for ((title, level), count) in &counts {
        println!("{title} {level}: {count:?}");
    }
    assert!(counts.len() >= 20, "{}", counts.len());
    assert!(missing.is_empty(), "{} {:#?}", missing.len(), &missing[..missing.len().min(20)]);
    for ((title, level), count) in &counts {
        let of = |what: usize, all: usize| what * 100 / all.max(1);
        assert_eq!((count.in_front, count.clean), (count.notes, count.notes), "{title} {level}");
        // The index finger has what the others can't, and what goes by in eighths.
        let strong = count.fingers.iter().filter(|(by, _)| *by != "Index").map(|(_, n)| n).sum();
        assert!(of(strong, count.notes) >= 60, "{title} {level}: {count:?}");
        if *level >= Level::LeadIns {
            assert!(of(count.silent, count.steps) <= 12, "{title} {level}: {count:?}");
        }
        assert_eq!(count.slurs > 0, *level == Level::Full, "{title} {level}: {count:?}");
    }
}

/// Read as a picker reads it: the tune on its beats, pinches where it waits, then rolls, then slurs.
#[test]
fn a_tune_at_three_levels() {
    let song = shipped::song(REEL);
    let style = style_of(&song, &shipped::styles());
    let song = arrange(&song, &Plan::default()).unwrap();
    let performance = perform(&song, &style, 1).unwrap();
    let open = coverage(&song, &performance, RoleSet::EMPTY.with(Role::Banjo));
    let mut all = String::new();
    for level in [Level::Plain, Level::LeadIns, Level::Full] {
        let part = backup(&song, &style, &open, Player::at(level, 1));
        let tab = tablature(&song, performance.swing, &open, &part, level);
        let written = text(&tab, 80);
        let bars = written.split_once("lead\n").map_or(written.as_str(), |(_, bars)| bars);
        all += &format!("{level}\n{bars}\n");
    }
    insta::assert_snapshot!(all);
}

/// A song that the player's banjo leads begins with the player: the band waits, and a lick leads into the tune.
#[test]
fn it_kicks_itself_off() {
    let with = |band: &str| format!("{band}\nkickoff = 'pickup'\n{REEL}");
    let style = style_of(&shipped::song(REEL), &shipped::styles());
    let play = |band: &str, silent: RoleSet| {
        let song = arrange(&shipped::song(&with(band)), &Plan::default()).unwrap();
        let performance = perform(&song, &style, 1).unwrap();
        let open = coverage(&song, &performance, silent);
        let parts = Level::ALL.map(|level| backup(&song, &style, &open, Player::at(level, 1)));
        let early = performance.parts.iter().flat_map(|part| {
            part.notes.iter().filter(|note| note.start < song.form_start()).map(|_| part.role)
        });
        let early: RoleSet = early.collect();
        (song, open, parts, early)
    };
    let (song, open, parts, early) = play("", RoleSet::EMPTY);
    assert_eq!(early, RoleSet::EMPTY, "the band waits");
    assert_eq!(open.bars[0].job, Job::Lead);
    assert_eq!(open.bars[0].rule().say(song.meter), "kick it off");
    for part in &parts {
        hold_hands("kickoff", &song, part);
    }
    let full = &parts[3];
    assert!(full.picks.iter().filter(|pick| pick.at < song.form_start()).count() >= 2);
    let first = full.picks.iter().find(|pick| pick.at == song.form_start()).unwrap();
    assert_eq!(first.pitch.pitch_class(), 7, "and the tune begins on its own note");
    // The band's own lead starts it, and leaves it to the player where it sits out.
    let lead = "band = ['bass', 'chop', 'guitar', 'lead']";
    let (_, open, _, early) = play(lead, RoleSet::EMPTY);
    assert_eq!((early, open.bars[0].job), (RoleSet::EMPTY.with(Role::Lead), Job::Rest));
    let (_, open, ..) = play(lead, RoleSet::EMPTY.with(Role::Lead));
    assert_eq!(open.bars[0].job, Job::Lead);
}
