//! The craft of backup over every shipped song, twelve keys, the levels and eight line-ups: what a teacher listens
//! for, counted on what is picked. The bounds are common practice, no source.

use std::collections::BTreeSet;
use std::fmt;

use openchair::arrange::{Arrangement, BarKind, Plan, arrange};
use openchair::backup::{
    Backup, LEAP, LEAP_MILLIS, Level, LickBook, PlayedLick, Player, Purpose, backup,
};
use openchair::chart::{Role, RoleSet};
use openchair::coverage::{Coverage, Job, coverage};
use openchair::perform::{Pick, perform};
use openchair::style::Style;
use openchair::theory::Chord;
use openchair::theory::fretboard::banjo::short_string_rings;
use openchair::time::Ticks;

use crate::common::banjo_hands::of_bar;
use crate::common::shipped::{songs, styles};

/// The bands that the banjo joins.
const BANDS: [&[Role]; 8] = [
    &[Role::Bass, Role::Chop, Role::Guitar],
    &[Role::Bass, Role::Guitar],
    &[Role::Chop, Role::Guitar],
    &[Role::Bass, Role::Chop],
    &[Role::Guitar],
    &[Role::Bass],
    &[Role::Bass, Role::Chop, Role::Guitar, Role::Fiddle],
    &[Role::Bass, Role::Chop, Role::Guitar, Role::Lead],
];

/// So many of so many.
#[derive(Clone, Copy, Debug, Default)]
struct Share {
    some: usize,
    all: usize,
}

impl Share {
    fn count(&mut self, is: bool) {
        self.some += usize::from(is);
        self.all += 1;
    }

    fn percent(self) -> f64 {
        100.0 * self.some as f64 / self.all.max(1) as f64
    }
}

impl fmt::Display for Share {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} % ({} of {})", self.percent(), self.some, self.all)
    }
}

#[derive(Debug, Default)]
struct Figures {
    arrive: [Share; 2],
    by_step_or_root: [Share; 2],
    led: Share,
    kept: Share,
    kept_outside_vamps: Share,
    fifth: [Share; 4],
    slurred: Share,
    fill_bars_with_licks: Share,
    twice: usize,
    leaps: usize,
    early_fills: usize,
    fills: usize,
    next_lines: Share,
    same_running: usize,
    fastest_slur: f64,
    names: BTreeSet<String>,
}

fn chord_at(song: &Arrangement, at: Ticks) -> Option<&Chord> {
    let span = song.spans.iter().rfind(|span| span.start <= at)?;
    song.chord(span.chord?)
}

fn millis(song: &Arrangement, ticks: Ticks) -> f64 {
    song.pace.nanos(ticks).seconds() * 1000.0
}

/// Every song in every key: beside all bands in all styles that fit, or beside each and in each by turns.
fn each(all: bool, mut look: impl FnMut(&str, &Arrangement, &Style, &Coverage)) {
    let styles = styles();
    for (number, (path, song)) in songs().into_iter().enumerate() {
        let fitting: Vec<&Style> = styles.iter().filter(|s| s.fits(song.meter)).collect();
        for up in 0..12_usize {
            let key = (up > 0).then(|| song.key.moved(up as u8 as i32));
            for (band, roles) in BANDS.iter().enumerate() {
                for (which, style) in fitting.iter().enumerate() {
                    let turn = number + up;
                    let is_turn = turn % BANDS.len() == band && turn % fitting.len() == which;
                    if !all && !is_turn {
                        continue;
                    }
                    let band: RoleSet = roles.iter().copied().collect();
                    let plan = Plan { band: Some(band), key, tag: style.tag, ..Plan::default() };
                    let song = arrange(&song, &plan).unwrap();
                    let open = coverage(&song, &perform(&song, style, 1).unwrap(), RoleSet::EMPTY);
                    let name = format!("{} {} {} {roles:?}", path.display(), style.name, song.key);
                    look(&name, &song, style, &open);
                }
            }
        }
    }
}

fn at(picks: &[Pick], when: Ticks) -> impl Iterator<Item = &Pick> {
    picks.iter().filter(move |pick| pick.at == when)
}

fn same(a: &[Pick], b: &[Pick], from: Ticks, to: Ticks) -> bool {
    let within = |picks: &[Pick]| -> Vec<(Ticks, u8, u8)> {
        let all = picks.iter().filter(|p| (from..to).contains(&p.at));
        all.map(|p| (p.at, p.string, p.fret)).collect()
    };
    within(a) == within(b)
}

impl Figures {
    fn lead_ins(
        &mut self,
        which: usize,
        song: &Arrangement,
        open: &Coverage,
        sixths: &Backup,
        part: &Backup,
    ) {
        for pair in song.spans.windows(2) {
            let (Some(from), Some(to)) = (pair[0].chord, pair[1].chord) else { continue };
            let (from, to) = (song.chord(from).unwrap(), song.chord(to).unwrap());
            if from.root.pitch_class() == to.root.pitch_class() {
                continue;
            }
            let when = pair[1].start;
            let Some(bar) = song.bars.iter().rposition(|bar| bar.start <= when) else { continue };
            let before = song.bars.iter().rposition(|bar| bar.start < when).unwrap_or(bar);
            if song.bars[bar].kind != BarKind::Groove || !song.bars[bar].stops.is_empty() {
                continue;
            }
            let vamps = |bar: usize| {
                matches!(open.bars[bar].job, Job::Vamp | Job::BoomVamp | Job::Lead | Job::Rest)
            };
            if which == 1 && (vamps(bar) || vamps(before)) {
                continue;
            }
            let room = Ticks::new(song.bars[before].meter.bar().get() / 2);
            let leads = !same(&sixths.picks, &part.picks, when - room, when);
            if which == 0 {
                self.led.count(leads);
            }
            if !leads {
                continue;
            }
            let third = to.quality.third_or_suspended().map(|t| (to.root.pitch_class() + t) % 12);
            let arrivals: Vec<&Pick> = at(&part.picks, when).collect();
            let last: Vec<&Pick> = part
                .picks
                .iter()
                .filter(|p| p.at < when && p.at >= when - Ticks::EIGHTH * 2)
                .collect();
            let is_root = |p: &&&Pick| p.pitch.pitch_class() == to.root.pitch_class();
            let is_third = |p: &&&Pick| Some(p.pitch.pitch_class()) == third;
            let root = arrivals.iter().any(|p| is_root(&p));
            let third = arrivals.iter().any(|p| is_third(&p));
            let step = arrivals.iter().any(|a| {
                to.contains(a.pitch.pitch_class())
                    && last.iter().any(|b| matches!(b.pitch.get().abs_diff(a.pitch.get()), 1 | 2))
            });
            self.arrive[which].count(root || third || step);
            self.by_step_or_root[which].count(root || step);
        }
    }

    fn hands(&mut self, song: &Arrangement, part: &Backup) {
        let picked: Vec<&Pick> = part.picks.iter().filter(|p| p.finger().is_some()).collect();
        for (index, pick) in picked.iter().enumerate() {
            let Some(last) = picked[..index].iter().rev().find(|other| other.at < pick.at) else {
                continue;
            };
            let near = pick.at - last.at <= Ticks::EIGHTH;
            let before = picked[..index]
                .iter()
                .rev()
                .skip_while(|o| o.at >= pick.at)
                .take_while(|o| o.at == last.at);
            self.twice += before.filter(|o| near && o.finger() == pick.finger()).count();
        }
        let stopped: Vec<&Pick> = part.picks.iter().filter(|p| p.fret > 0).collect();
        for pair in stopped.windows(2) {
            let far = pair[0].fret.abs_diff(pair[1].fret) >= LEAP;
            if far && millis(song, pair[1].at - pair[0].at) < LEAP_MILLIS {
                self.leaps += 1;
            }
        }
        for (index, pick) in part.picks.iter().enumerate().filter(|(_, p)| p.slur().is_some()) {
            let before =
                part.picks[..index].iter().rev().find(|o| o.string == pick.string).unwrap();
            self.fastest_slur = self.fastest_slur.min(millis(song, pick.at - before.at));
        }
    }

    fn bars(&mut self, song: &Arrangement, open: &Coverage, plain: &Backup, full: &Backup) {
        let slow = |bar: usize| {
            let grid = if song.bars[bar].meter == openchair::time::Meter::TwoFour { 2 } else { 1 };
            millis(song, Ticks::new(Ticks::EIGHTH.get() / grid)) >= 120.0
        };
        for (index, bar) in song.bars.iter().enumerate() {
            let job = open.bars[index].job;
            if bar.kind != BarKind::Groove || job == Job::Rest || !bar.stops.is_empty() {
                continue;
            }
            let lick = full.licks.iter().any(|l| l.start < bar.end() && l.end > bar.start);
            let (was, is) = (of_bar(plain, index), of_bar(full, index));
            let places: BTreeSet<Ticks> = was.iter().map(|p| p.at).collect();
            let kept = places.iter().filter(|when| {
                let strings = |picks: &[Pick]| -> BTreeSet<u8> {
                    at(picks, **when).filter(|p| p.finger().is_some()).map(|p| p.string).collect()
                };
                strings(&was) == strings(&is)
            });
            let still = kept.count() * 8 >= places.len() * 5;
            self.kept.count(lick || still);
            if !matches!(job, Job::Vamp | Job::BoomVamp | Job::Sparse | Job::Boom) {
                self.kept_outside_vamps.count(lick || still);
                if slow(index) {
                    self.slurred.count(is.iter().any(|p| p.slur().is_some()));
                }
            }
            if job == Job::Fill {
                self.fill_bars_with_licks.count(lick);
                self.next_line(song, open, index, full);
            }
        }
    }

    /// Where a pause is over, the chord's root or third stands on the first beat.
    fn next_line(&mut self, song: &Arrangement, open: &Coverage, index: usize, full: &Backup) {
        let Some(next) = song.bars.get(index + 1).filter(|next| next.kind == BarKind::Groove)
        else {
            return;
        };
        let job = open.bars[index + 1].job;
        let Some(chord) = chord_at(song, next.start).filter(|_| next.stops.is_empty()) else {
            return;
        };
        if !song.bars[index].stops.is_empty() || matches!(job, Job::Fill | Job::Rest) {
            return;
        }
        let third = chord.quality.third_or_suspended();
        let homes = [Some(0), third]
            .into_iter()
            .flatten()
            .map(|above| (chord.root.pitch_class() + above) % 12);
        let homes: Vec<u8> = homes.collect();
        // Struck there, or slurred into from the fret before.
        let lands = |pick: &&Pick| {
            let late = pick.at - next.start;
            late == Ticks::ZERO
                || pick.slur().is_some() && late > Ticks::ZERO && late < Ticks::EIGHTH
        };
        let home =
            full.picks.iter().filter(lands).any(|pick| homes.contains(&pick.pitch.pitch_class()));
        self.next_lines.count(home);
    }

    fn fifth(&mut self, level: usize, song: &Arrangement, open: &Coverage, part: &Backup) {
        let rolls = |p: &&Pick| {
            use Job::{Fill, Lead, Roll, RollSoft, RollWith};
            let job = open.bars[p.bar as usize].job;
            p.finger().is_some()
                && (level < 3 || matches!(job, Fill | Lead | Roll | RollSoft | RollWith))
        };
        for pick in part.picks.iter().filter(rolls) {
            let rings = chord_at(song, pick.at)
                .is_some_and(|c| short_string_rings(c, part.capo, song.drone));
            if rings {
                self.fifth[level].count(pick.string == 5);
            }
        }
    }

    fn fills(&mut self, song: &Arrangement, full: &Backup) {
        let purpose = |name: &str| {
            let lick = LickBook::shipped().licks().find(|lick| lick.name == name);
            lick.map(|lick| lick.purpose)
        };
        // Vamps have names too, and go on.
        let licks: Vec<&PlayedLick> =
            full.licks.iter().filter(|lick| purpose(&lick.name).is_some()).collect();
        for pair in licks.windows(2) {
            self.same_running += usize::from(pair[0].name == pair[1].name);
        }
        for lick in &licks {
            self.names.insert(lick.name.to_string());
        }
        for fill in full.licks.iter().filter(|l| purpose(&l.name) == Some(Purpose::Fill)) {
            self.fills += 1;
            let sung = song.bars.iter().filter(|bar| bar.start < fill.end).flat_map(|bar| {
                let eighths = bar.meter.bar().get() / Ticks::EIGHTH.get();
                (0..eighths).filter_map(|n| {
                    let place = Ticks::EIGHTH * n;
                    bar.is_sung_at(place).then(|| bar.start + place + Ticks::EIGHTH)
                })
            });
            let sixteenth = Ticks::new(Ticks::EIGHTH.get() / 2);
            let last_word = sung.filter(|end| *end < fill.end).max();
            let early = last_word.is_some_and(|end| end + sixteenth > fill.start);
            self.early_fills += usize::from(early);
        }
    }
}

#[test]
fn a_teacher_would_say_yes() {
    teach(false);
}

/// All by all takes minutes: `make craft` runs it.
#[test]
#[ignore = "takes minutes; run by `make craft`"]
fn a_teacher_would_say_yes_to_all_of_it() {
    teach(true);
}

fn teach(all: bool) {
    let mut figures = Figures { fastest_slur: f64::INFINITY, ..Figures::default() };
    each(all, |_, song, style, open| {
        let parts = Level::ALL.map(|level| backup(song, style, open, Player::at(level, 1)));
        figures.lead_ins(0, song, open, &parts[1], &parts[2]);
        figures.lead_ins(1, song, open, &parts[1], &parts[3]);
        figures.bars(song, open, &parts[0], &parts[3]);
        figures.fills(song, &parts[3]);
        for (level, part) in parts.iter().enumerate() {
            figures.hands(song, part);
            figures.fifth(level, song, open, part);
        }
    });
    println!("arrive {} / {}", figures.arrive[0], figures.arrive[1]);
    println!(
        "by step or on the root {} / {}",
        figures.by_step_or_root[0], figures.by_step_or_root[1]
    );
    println!("changes that are led into {}", figures.led);
    println!("roll kept or lick {}, outside vamps {}", figures.kept, figures.kept_outside_vamps);
    println!("fifth {}", figures.fifth.map(|s| s.to_string()).join(", "));
    println!("slurred bars {}; fastest slur {:.0} ms", figures.slurred, figures.fastest_slur);
    println!(
        "fill bars with licks {}; fills {}, early {}",
        figures.fill_bars_with_licks, figures.fills, figures.early_fills
    );
    println!("next lines {}", figures.next_lines);
    println!("twice {} leaps {} same {}", figures.twice, figures.leaps, figures.same_running);
    println!("{} licks heard", figures.names.len());
    for which in [0, 1] {
        assert!(figures.arrive[which].percent() >= 98.0, "{}", figures.arrive[which]);
        assert!(figures.by_step_or_root[which].percent() >= 80.0);
    }
    assert!(figures.led.percent() >= 90.0 && figures.led.all > 5_000, "{}", figures.led);
    assert!(figures.kept.percent() >= 90.0, "{}", figures.kept);
    assert!(figures.kept_outside_vamps.percent() >= 90.0, "{}", figures.kept_outside_vamps);
    assert!(figures.fifth.iter().all(|share| share.percent() >= 15.0), "{:?}", figures.fifth);
    assert!(figures.slurred.percent() >= 25.0, "{}", figures.slurred);
    assert!(figures.fastest_slur >= 60.0, "{}", figures.fastest_slur);
    assert!(figures.fill_bars_with_licks.percent() >= 90.0, "{}", figures.fill_bars_with_licks);
    assert!(figures.fills > 500 && figures.early_fills == 0, "{}", figures.early_fills);
    assert!(figures.next_lines.percent() >= 99.9, "{}", figures.next_lines);
    assert_eq!((figures.twice, figures.leaps, figures.same_running), (0, 0, 0));
    let leading: Vec<&str> = LickBook::shipped()
        .licks()
        .filter(|lick| lick.purpose == Purpose::Fill && lick.to.is_some())
        .map(|lick| lick.name.as_str())
        .collect();
    let heard = leading.iter().any(|name| figures.names.iter().any(|other| **other == **name));
    assert!(heard, "a fill that leads on by itself: {leading:?}");
    assert!(figures.names.len() >= 60, "{}", figures.names.len());
}
