//! The styles that come with the program: read without a problem, and within what is published of
//! timing and common in the trade.

use std::fs;
use std::path::Path;

use openchair::chart::Role;
use openchair::style::{
    BarFacts, BassNote, Degree, Pattern, Slot, Strike, Stroke, Style, read_style,
};
use openchair::text::{Problems, Source, report};
use openchair::time::Meter;

/// Each style, with the meters that it is for.
const STYLES: [(&str, &[Meter]); 13] = [
    ("boom-chick", &[Meter::FourFour, Meter::TwoTwo, Meter::TwoFour]),
    ("boom-chicka", &[Meter::FourFour, Meter::TwoTwo, Meter::TwoFour]),
    ("drive", &[Meter::FourFour, Meter::TwoTwo, Meter::TwoFour]),
    ("waltz", &[Meter::ThreeFour]),
    ("jig", &[Meter::SixEight]),
    ("breakdown", &[Meter::TwoTwo, Meter::FourFour]),
    ("lope", &[Meter::FourFour, Meter::TwoTwo]),
    ("slow", &[Meter::FourFour, Meter::ThreeFour]),
    ("shuffle", &[Meter::FourFour]),
    ("old-time", &[Meter::FourFour, Meter::TwoTwo]),
    ("train", &[Meter::FourFour, Meter::TwoFour]),
    ("polka", &[Meter::TwoFour]),
    ("strut", &[Meter::FourFour, Meter::TwoTwo]),
];

fn styles() -> Vec<Style> {
    STYLES.iter().map(|(name, _)| shipped(name)).collect()
}

fn shipped(name: &str) -> Style {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("backing-styles/{name}.toml"));
    let source = Source::new(path.to_string_lossy(), fs::read_to_string(&path).unwrap()).unwrap();
    let mut problems = Problems::new();
    let style = read_style(name, &source, &mut problems);
    assert!(problems.is_empty(), "{}", report(&source, &problems, false));
    style.unwrap()
}

/// Every set of facts that a chart can bring about, walks and splits, singers and breaks.
fn all_facts() -> impl Iterator<Item = BarFacts> {
    let shapes = [
        BarFacts::default(),
        BarFacts { verse: true, first_time: true, ..BarFacts::default() },
        BarFacts { chorus: true, last_time: true, ..BarFacts::default() },
        BarFacts { verse: true, down: true, ..BarFacts::default() },
        BarFacts { verse: true, build: true, ..BarFacts::default() },
        BarFacts { fills: Some(Role::Bass), ..BarFacts::default() },
        BarFacts { fills: Some(Role::Chop), ..BarFacts::default() },
        BarFacts { fills: Some(Role::Guitar), ..BarFacts::default() },
    ];
    shapes.into_iter().flat_map(facts_of)
}

fn facts_of(shape: BarFacts) -> impl Iterator<Item = BarFacts> {
    (0..4096_u32).flat_map(move |bits| {
        let bit = |at: u32| bits >> at & 1 == 1;
        // Nobody, an instrument, a singer singing, a singer pausing.
        [(false, false, false), (true, false, false), (false, true, false), (false, false, true)]
            .map(move |(instrument_leads, singer_sings, singer_pauses)| BarFacts {
                change_next: bit(0),
                new_chord: bit(1),
                split: bit(2),
                crooked: bit(3),
                phrase_start: bit(4),
                phrase_end: bit(5),
                first_bar: bit(6),
                last_bar: bit(7),
                instrument_leads,
                singer_sings,
                singer_pauses,
                no_bass: bit(8),
                no_chop: bit(10),
                no_guitar: bit(11),
                home_chord: bit(9),
                ..shape
            })
    })
}

fn strikes(slots: &[Slot]) -> impl Iterator<Item = (usize, &Strike)> {
    slots.iter().enumerate().filter_map(|(at, slot)| match slot {
        Slot::Strike(strike) => Some((at, strike)),
        Slot::Ring | Slot::Rest => None,
    })
}

#[test]
fn each_is_for_its_meters_and_has_every_role() {
    for (name, meters) in STYLES {
        let style = shipped(name);
        assert_eq!(style.name, name);
        assert_eq!(style.meters, meters, "{name}");
        for role in Role::ALL {
            let part = style.part(role).unwrap();
            for &meter in meters {
                assert!(style.fits(meter));
                let plain = part
                    .bars
                    .iter()
                    .any(|bar| bar.meter == meter && bar.when.is_always() && bar.chance >= 1.0);
                assert!(plain, "{name} {role} {meter}");
                for bar in part.bars.iter().filter(|bar| bar.meter == meter) {
                    let slots = i64::try_from(bar.slots.len()).unwrap();
                    assert_eq!(bar.slot * slots, meter.bar());
                }
            }
        }
    }
}

#[test]
fn every_bar_of_any_song_finds_something_to_play() {
    for style in styles() {
        for (role, part) in &style.parts {
            for &meter in &style.meters {
                for facts in all_facts() {
                    for turn in 0..3 {
                        for roll in [0.0, 0.5, 0.999_999] {
                            let bar = part.pick(meter, &facts, turn, roll);
                            assert!(
                                bar.is_some_and(|bar| bar.when.holds(&facts)),
                                "{role} {facts:?}"
                            );
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn every_bar_written_is_played_in_some_song() {
    for style in styles() {
        for (role, part) in &style.parts {
            for bar in &part.bars {
                let heard = all_facts().any(|facts| {
                    (0..4).any(|turn| {
                        [0.0, 0.2, 0.3, 0.45, 0.55, 0.9].into_iter().any(|roll| {
                            let pick = part.pick(bar.meter, &facts, turn, roll);
                            pick.is_some_and(|pick| std::ptr::eq(pick, bar))
                        })
                    })
                });
                assert!(heard, "{} {role} {:?}", style.name, bar);
            }
        }
    }
}

/// Listeners preferred asynchronies below 19 ms to larger ones ("The Tight-interlocked Rhythm
/// Section", J. New Music Res. 46(4) 2017, 329-341): 95 of 100 places are struck closer together, by what the two
/// players' loosenesses and leans say.
#[test]
fn two_roles_are_seldom_19_ms_apart() {
    for style in styles() {
        for (a, one) in &style.parts {
            for (b, other) in &style.parts {
                if a != b {
                    let spread = one.looseness.hypot(other.looseness);
                    let apart = (one.lean - other.lean).hypot(1.96 * spread);
                    assert!(apart < 19.0, "{}: {a} and {b} {apart} ms", style.name);
                }
            }
        }
    }
}

/// A swung short note lasts about 100 ms at least, at medium and fast tempi (Friberg & Sundström
/// 2002, Music Perception 19(3) 333-349).
#[test]
fn a_swung_eighth_is_never_shorter_than_100_ms() {
    for style in styles() {
        for quarters in 40..=300 {
            let share = style.feel.swing_at(f64::from(quarters));
            let short = (1.0 - share) * 60_000.0 / f64::from(quarters);
            assert!(short >= 100.0, "{} at {quarters}: {short:.0} ms", style.name);
        }
    }
}

/// Bass on 1 and 3 in 4/4, 1 and 2 in 2/4, the downbeat in 3/4; mostly root and fifth (Wikipedia,
/// "Double bass", bluegrass section). On the two beats of 6/8: common practice, no source.
#[test]
fn the_plain_bass_is_root_and_fifth_on_the_downbeats() {
    for style in styles() {
        let bars = &style.part(Role::Bass).unwrap().bars;
        for bar in bars.iter().filter(|bar| bar.when.is_always()) {
            let downbeats: Vec<i64> = match bar.meter {
                Meter::FourFour | Meter::TwoTwo => vec![0, 1920],
                Meter::TwoFour => vec![0, 960],
                Meter::ThreeFour => vec![0],
                Meter::SixEight => vec![0, 1440],
            };
            let mut at = Vec::new();
            for (slot, strike) in strikes(&bar.slots) {
                at.push((bar.slot * i64::try_from(slot).unwrap()).get());
                assert!(matches!(
                    strike.bass,
                    Some(BassNote::Degree { degree: Degree::Root | Degree::Fifth, .. })
                ));
            }
            assert_eq!(at, downbeats, "{} {}", style.name, bar.meter);
        }
    }
}

/// The chop is a clipped backbeat: 2 and 4 against the bass's 1 and 3 (Wikipedia, "Chop chord";
/// randysstudio.com). 2 and 3 of a waltz and the last of each three of a jig: common practice, no
/// source.
#[test]
fn the_plain_chop_is_clipped_off_the_downbeats() {
    for style in styles() {
        let part = style.part(Role::Chop).unwrap();
        assert!(part.clip.is_some_and(|clip| clip <= 150.0));
        for bar in part.bars.iter().filter(|bar| bar.when.is_always()) {
            let offbeats: Vec<i64> = match bar.meter {
                Meter::FourFour | Meter::TwoTwo => vec![960, 2880],
                Meter::TwoFour => vec![480, 1440],
                Meter::ThreeFour => vec![960, 1920],
                Meter::SixEight => vec![960, 2400],
            };
            let at: Vec<i64> = strikes(&bar.slots)
                .inspect(|(_, strike)| assert_eq!(strike.stroke, Some(Stroke::Chop)))
                .map(|(slot, _)| (bar.slot * i64::try_from(slot).unwrap()).get())
                .collect();
            assert_eq!(at, offbeats, "{} {}", style.name, bar.meter);
        }
    }
}

/// Boom-chick: root on 1, strum on 2, fifth on 3, strum on 4, all down-strokes; a waltz is
/// boom-chuck-chuck ("Boom chick with alternating bass" handout; guitar-chord.org "Boom-chuck").
#[test]
fn the_plain_guitar_is_bass_note_and_down_stroke() {
    for (name, booms, chicks) in
        [("boom-chick", &[0, 1920][..], &[960, 2880][..]), ("waltz", &[0], &[960, 1920])]
    {
        let style = shipped(name);
        let bars = &style.part(Role::Guitar).unwrap().bars;
        let meter = style.meters[0];
        for bar in bars.iter().filter(|bar| bar.when.is_always() && bar.meter == meter) {
            let places = |want: fn(&Strike) -> bool| -> Vec<i64> {
                strikes(&bar.slots)
                    .filter(|(_, strike)| want(strike))
                    .map(|(slot, _)| (bar.slot * i64::try_from(slot).unwrap()).get())
                    .collect()
            };
            assert_eq!(places(|strike| strike.bass.is_some()), booms, "{name}");
            assert_eq!(places(|strike| strike.stroke == Some(Stroke::Down)), chicks, "{name}");
            assert_eq!(places(|_| true).len(), booms.len() + chicks.len(), "{name}");
        }
    }
}

/// The guitar's bars of a style.
fn guitar_bars(name: &str) -> Vec<Pattern> {
    shipped(name).part(Role::Guitar).unwrap().bars.clone()
}

/// True for a bar of a verse in which the band comes down.
fn is_down(bar: &Pattern) -> bool {
    let holds = |down| bar.when.holds(&BarFacts { down, split: true, ..BarFacts::default() });
    holds(true) && !holds(false)
}

/// Eighths without a gap, behind a singer and in a run too, but where the band comes down.
#[test]
fn drive_strikes_in_every_slot() {
    for bar in guitar_bars("drive").into_iter().filter(|bar| !is_down(bar)) {
        assert_eq!(strikes(&bar.slots).count(), bar.slots.len(), "{bar:?}");
    }
}

/// An up-stroke after each chick, and none after a bass note, but where the band comes down.
#[test]
fn boom_chicka_goes_up_after_the_chick_alone() {
    let mut chicks = 0;
    for bar in guitar_bars("boom-chicka").into_iter().filter(|bar| !is_down(bar)) {
        let up = |slot: &Slot| matches!(slot, Slot::Strike(it) if it.stroke == Some(Stroke::Up));
        let down =
            |slot: &Slot| matches!(slot, Slot::Strike(it) if it.stroke == Some(Stroke::Down));
        for pair in bar.slots.windows(2) {
            assert_eq!(up(&pair[1]), down(&pair[0]) && pair[1] != Slot::Ring, "{bar:?}");
            chicks += usize::from(up(&pair[1]));
        }
    }
    assert!(chicks > 20, "{chicks}");
}

/// General MIDI Level 1 sound set, counted from 1: 26 acoustic guitar (steel), 33 acoustic bass, 106
/// banjo, 111 fiddle.
#[test]
fn the_sounds_are_general_midis() {
    for style in styles() {
        for (role, part) in &style.parts {
            let sound = match role {
                Role::Bass => 33,
                Role::Chop | Role::Guitar => 26,
                Role::Banjo => 106,
                Role::Fiddle | Role::Lead => 111,
                _ => role.row().defaults.program + 1,
            };
            assert_eq!(part.instrument.program + 1, sound, "{} {role}", style.name);
        }
    }
}
