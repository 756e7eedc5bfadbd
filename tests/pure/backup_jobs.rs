//! What the banjo does in the open chair for each job: vamps, booms, rolls, fills; and how softly.

use std::collections::BTreeSet;

use openchair::arrange::{Arrangement, BarKind};
use openchair::backup::{Backup, Level, PlayedLick, Player, backup};
use openchair::chart::Role;
use openchair::coverage::{Coverage, Job, Singing};
use openchair::perform::{Ends, Pick};
use openchair::style::{Loud, Style};
use openchair::theory::fretboard::banjo::Finger;
use openchair::theory::{Chord, Key};
use openchair::time::{Meter, Ticks};

use crate::backup::{BANDS, EIGHT_BARS, arranged, chord_at, covered, style};
use crate::common::banjo_hands::{hold_hands, of_bar};
use crate::common::shipped;
use crate::common::shipped::{songs, styles};

/// What the whole of a song is covered as, whatever it is.
fn all_for(job: Job, song: &Arrangement, style: &Style) -> Coverage {
    let mut open = covered(song, style);
    for bar in &mut open.bars {
        (bar.job, bar.singing) = (job, Singing::Nobody);
    }
    open
}

/// The bars of the form with what is played in each.
fn for_job(job: Job, chart: &str, look: impl Fn(&Arrangement, usize, &[Pick], &Chord)) {
    let song = arranged(&shipped::song(chart), None, BANDS[0], None);
    let style = style("boom-chick");
    let part = backup(&song, &style, &all_for(job, &song, &style), Player::at(Level::Full, 1));
    for (index, bar) in song.bars.iter().enumerate().filter(|(_, b)| b.kind == BarKind::Groove) {
        look(&song, index, &of_bar(&part, index), chord_at(&song, bar.start));
    }
}

#[test]
fn each_job_is_played_as_such() {
    let beat =
        |song: &Arrangement, index: usize, n: i64| song.bars[index].start + Ticks::QUARTER * n;
    // The backbeats, closed and up the neck.
    for_job(Job::Vamp, EIGHT_BARS, |song, index, picks, _| {
        let struck: BTreeSet<Ticks> = picks.iter().map(|pick| pick.at).collect();
        assert!(struck.contains(&beat(song, index, 1)) && struck.contains(&beat(song, index, 3)));
        // A bump or a pickup beside them is soft, and one string.
        let (vamped, others): (Vec<&Pick>, Vec<&Pick>) =
            picks.iter().partition(|pick| pick.ends == Ends::Vamped);
        assert!(vamped.len() >= 4 && others.len() <= 1, "{picks:?}");
        assert!(others.iter().all(|pick| pick.loud == Loud::Ghost), "{others:?}");
        assert!(vamped.iter().all(|pick| (3..=15).contains(&pick.fret)));
    });
    // The downbeats with the thumb, on the root and the fifth; the backbeats in the same place.
    for job in [Job::Boom, Job::BoomVamp] {
        for_job(job, EIGHT_BARS, |song, index, picks, chord| {
            let root = chord.root.pitch_class();
            // What leads into a change may take the place of the fifth.
            let fifth = (!song.bars[index].facts.change_next).then_some((2, 7));
            for (n, above) in [Some((0, 0)), fifth].into_iter().flatten() {
                let boom = picks.iter().find(|pick| pick.at == beat(song, index, n)).unwrap();
                assert_eq!(boom.finger(), Some(Finger::Thumb), "{job} {boom:?}");
                assert!(boom.string >= 2, "{boom:?}");
                if job == Job::Boom {
                    assert_eq!(boom.pitch.pitch_class(), (root + above) % 12, "{chord} {boom:?}");
                } else {
                    assert!(chord.contains(boom.pitch.pitch_class()), "{chord} {boom:?}");
                }
            }
            let vamped = picks.iter().filter(|pick| pick.ends == Ends::Vamped).count();
            assert_eq!(vamped > 0, job == Job::BoomVamp);
        });
    }
    // A boom is low: nowhere is the root a second chick.
    for_job(Job::BoomVamp, EIGHT_BARS, |song, index, picks, chord| {
        let boom = picks.iter().find(|pick| pick.at == beat(song, index, 0)).unwrap();
        assert!(boom.pitch.get() <= 62, "{chord} {boom:?}");
    });
    // Next to nothing.
    for_job(Job::Sparse, EIGHT_BARS, |song, index, picks, _| {
        let lead_in = usize::from(song.bars[index].facts.change_next) * 3;
        assert!((1..=5 + lead_in).contains(&picks.len()), "{picks:?}");
        let soft = picks.iter().filter(|pick| pick.loud == Loud::Ghost).count();
        assert!(soft + 1 + lead_in >= picks.len(), "{picks:?}");
    });
    for_job(Job::Lead, EIGHT_BARS, |_, _, picks, _| {
        assert!(picks.iter().filter(|pick| pick.loud == Loud::Accent).count() >= 2);
        assert!(picks.len() >= 6, "{picks:?}");
    });
}

/// The same, sung: the singer pauses in the last bar of each line.
fn sung() -> String {
    EIGHT_BARS.replace("['a', 'a']", "['a: voice', 'a: voice']")
}

/// A fill begins after the last word and leads to the root or the third where the next line begins.
#[test]
fn fills_come_to_rest() {
    let song = arranged(&shipped::song(&sung()), None, BANDS[0], None);
    let style = style("boom-chick");
    let mut open = all_for(Job::Sparse, &song, &style);
    let fills = [7, 15, 23];
    for bar in fills {
        open.bars[bar].job = Job::Fill;
    }
    let mut heard = BTreeSet::new();
    for seed in 1..=8 {
        let part = backup(&song, &style, &open, Player::at(Level::Full, seed));
        for bar in fills {
            let fill: Vec<u8> = of_bar(&part, bar).iter().map(|pick| pick.pitch.get()).collect();
            assert!(fill.len() >= 5, "{fill:?}");
            let landing = of_bar(&part, bar + 1);
            let first = landing.iter().find(|pick| pick.at == song.bars[bar + 1].start).unwrap();
            let chord = chord_at(&song, first.at);
            let homes = [Some(0), chord.quality.third()].into_iter().flatten();
            let mut homes = homes.map(|above| (chord.root.pitch_class() + above) % 12);
            assert!(homes.any(|home| home == first.pitch.pitch_class()), "{first:?}");
            let named = |lick: &&PlayedLick| {
                lick.start >= song.bars[bar].start && lick.start < song.bars[bar].end()
            };
            assert!(part.licks.iter().any(|lick| named(&lick)), "bar {bar}: {:?}", part.licks);
            heard.insert(fill);
        }
    }
    assert!(heard.len() > 8, "{heard:?}");
}

/// Between vamps a fill stays where the hand is.
#[test]
fn a_fill_between_vamps_is_up_the_neck() {
    let song = arranged(&shipped::song(&sung()), None, BANDS[0], None);
    let style = style("boom-chick");
    let mut open = all_for(Job::Vamp, &song, &style);
    for bar in [7, 15] {
        open.bars[bar].job = Job::Fill;
    }
    let part = backup(&song, &style, &open, Player::at(Level::Full, 1));
    hold_hands("between vamps", &song, &part);
    for bar in [7, 15] {
        let stopped: Vec<u8> =
            of_bar(&part, bar).iter().map(|pick| pick.fret).filter(|fret| *fret > 0).collect();
        assert!(stopped.len() >= 4 && stopped.iter().all(|fret| *fret >= 4), "{bar}: {stopped:?}");
    }
}

/// What is vamped in a bar.
fn vamped(part: &Backup, bar: usize) -> impl Iterator<Item = Pick> {
    of_bar(part, bar).into_iter().filter(|pick| pick.ends == Ends::Vamped)
}

/// A long vamp goes to another inversion and back, two bars on each.
#[test]
fn a_long_vamp_moves() {
    let song = arranged(&shipped::song(EIGHT_BARS), None, BANDS[0], None);
    let style = style("boom-chick");
    let part =
        backup(&song, &style, &all_for(Job::Vamp, &song, &style), Player::at(Level::Full, 1));
    let places: Vec<u8> =
        (8..16).map(|bar| vamped(&part, bar).map(|pick| pick.fret).min().unwrap()).collect();
    assert!(places.chunks(2).all(|pair| pair[0] == pair[1]), "{places:?}");
    let different: BTreeSet<u8> = places.iter().copied().collect();
    assert_eq!(different.len(), 2, "{places:?}");
    // A short one stays.
    let first: BTreeSet<u8> =
        vamped(&part, 4).chain(vamped(&part, 5)).map(|pick| pick.fret).collect();
    assert!(first.len() <= 3, "{first:?}");
}

/// Behind a singer a roll is felt more than heard.
#[test]
fn rolls_are_softer_behind_a_singer() {
    let (_, song) = songs()
        .into_iter()
        .find(|(path, _)| path.ends_with("lantern-on-the-landing.toml"))
        .unwrap();
    let (song, style) = (arranged(&song, None, BANDS[0], None), style("boom-chick"));
    let open = covered(&song, &style);
    let part = backup(&song, &style, &open, Player::at(Level::Plain, 1));
    let mut bars = [0, 0];
    let groove = |index: &usize| {
        song.bars[*index].kind == BarKind::Groove && song.bars[*index].stops.is_empty()
    };
    for index in (0..song.bars.len()).filter(groove) {
        let bar = &song.bars[index];
        let picks = of_bar(&part, index);
        let behind = |pick: &&Pick| bar.is_sung_at(pick.at - bar.start);
        let loudest = |loud| picks.iter().filter(behind).filter(|pick| pick.loud == loud).count();
        let all = picks.iter().filter(behind).count();
        assert!(loudest(Loud::Accent) == 0 && loudest(Loud::Ghost) * 2 >= all, "{picks:?}");
        bars[usize::from(all > 0)] += 1;
    }
    assert!(bars.iter().all(|count| *count > 10), "{bars:?}");
}

/// Also where it is locked to a guitar that subdivides.
#[test]
fn a_roll_with_the_guitar_is_softer_behind_a_singer_too() {
    let (_, song) = songs()
        .into_iter()
        .find(|(path, _)| path.ends_with("lantern-on-the-landing.toml"))
        .unwrap();
    let (song, style) = (arranged(&song, None, BANDS[0], None), style("drive"));
    let open = covered(&song, &style);
    let part = backup(&song, &style, &open, Player::at(Level::Full, 1));
    let mut bars = 0;
    for (index, bar) in open.bars.iter().enumerate() {
        if bar.job == Job::RollWith && bar.singing == Singing::Sings {
            let picks = of_bar(&part, index);
            assert!(picks.iter().all(|pick| pick.loud != Loud::Accent), "bar {index}: {picks:?}");
            bars += 1;
        }
    }
    assert!(bars > 10, "{bars}");
}

/// In every key and meter whoever kicks off has something to play, and it sounds where the form begins.
#[test]
fn a_kickoff_is_played_in_every_key_and_meter() {
    for meter in Meter::ALL {
        for mode in ["", " minor", " dorian", " mixolydian"] {
            for home in ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"] {
                let Ok(key) = Key::parse(&format!("{home}{mode}")) else { continue };
                let minor = if matches!(mode, " minor" | " dorian") { "m" } else { "" };
                let chart = format!(
                    "title = 'Nine Barrels'\nkey = '{key}'\nmeter = '{meter}'\ntempo = 100\n\
                     style = 'any'\nkickoff = 'pickup'\nform = ['a']\n[section.a]\nchords = '''\n\
                     | {home}{minor} | % | % | % |\n'''\n"
                );
                let song = arranged(&shipped::song(&chart), None, &[Role::Bass], None);
                let style = styles().into_iter().find(|style| style.fits(meter)).unwrap();
                let open = covered(&song, &style);
                let part = backup(&song, &style, &open, Player::at(Level::Full, 1));
                let last = song.bars.iter().rposition(|bar| bar.kind == BarKind::Kickoff).unwrap();
                assert_eq!(open.bars[last].job, Job::Lead, "{key} {meter}");
                let picks = of_bar(&part, last);
                assert!(picks.len() >= 3, "{key} {meter}: {picks:?}");
                hold_hands(&format!("{key} {meter}"), &song, &part);
            }
        }
    }
}

/// Where the band strikes together, what comes before makes room for the root.
#[test]
fn a_hit_has_its_root() {
    let (mut hits, mut rootless) = (0, Vec::new());
    for (number, (path, song)) in songs().into_iter().enumerate() {
        let styles = styles();
        let fitting = styles.iter().filter(|style| style.fits(song.meter));
        for (turn, style) in fitting.enumerate() {
            let band = BANDS[(number + turn) % BANDS.len()];
            let song = arranged(&song, None, band, None);
            let open = covered(&song, style);
            for level in Level::ALL {
                let part = backup(&song, style, &open, Player::at(level, 1));
                let last = |pick: &&Pick| matches!(pick.ends, Ends::Choked | Ends::Last);
                let struck: Vec<&Pick> = part.picks.iter().filter(last).collect();
                for hit in struck.chunk_by(|a, b| a.at == b.at) {
                    let root = chord_at(&song, hit[0].at).root.pitch_class();
                    hits += 1;
                    if hit.iter().all(|pick| pick.pitch.pitch_class() != root) {
                        rootless.push(format!("{path:?} {} {band:?} {level} {hit:?}", style.name));
                    }
                }
            }
        }
    }
    assert!(hits > 1000 && rootless.is_empty(), "{} of {hits}: {:#?}", rootless.len(), rootless);
}

/// A boom behind a singer keeps the time and no more: its thumb is plain, what rolls around it is felt.
#[test]
fn a_boom_is_softer_behind_a_singer() {
    let style = style("boom-chick");
    let count = |chart: &str| {
        let song = arranged(&shipped::song(chart), None, BANDS[0], None);
        let open = all_for(Job::Boom, &song, &style);
        let part = backup(&song, &style, &open, Player::at(Level::Full, 1));
        let of = |loud| part.picks.iter().filter(|pick| pick.bar < 6 && pick.loud == loud).count();
        [of(Loud::Accent), of(Loud::Normal), of(Loud::Ghost)]
    };
    let ([accents, ..], [none, thumbs, rolled]) = (count(EIGHT_BARS), count(&sung()));
    assert!(accents >= 8 && none == 0, "{accents} {none}");
    assert!(thumbs >= 8 && rolled > thumbs, "{thumbs} {rolled}");
}
