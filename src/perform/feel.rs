use std::rc::Rc;

use super::drift::{Drift, FURTHEST};
use super::levels::Levels;
use super::swing::Swing;
use crate::arrange::Arrangement;
use crate::arrange::Looseness;
use crate::chart::Role;
use crate::style::{Loud, Loudness, RoleStyle};
use crate::time::{BeatPart, Tempo, Ticks};

/// Places a role's strokes around the grid: swing, lean, wandering; and gives each its loudness.
#[derive(Clone, Debug)]
pub(super) struct Feel {
    swing: Swing,
    /// Where the song begins: what comes before, a count-in, changes nothing of how it is played.
    origin: Ticks,
    lean: i64,
    /// One standard deviation of the player's own timing, in ticks.
    loose: f64,
    /// One of what the whole band drifts, in ticks.
    shared: f64,
    loudness: Loudness,
    levels: Rc<Levels>,
    timing: Drift,
    group: Drift,
    touch: Drift,
    /// The last place on the grid, and where it was struck.
    last: (Ticks, Ticks),
}

/// How much of a style's `looseness` is a player's own in time, and how far the band drifts together, in
/// milliseconds, as one standard deviation. A band that plays to a click strays 5 to 8 ms a player; without one 10
/// to 13, of which the drift that all share is no matter of keeping together (trios without a click: 13 ms about
/// a local line, Cambridge Jazz Trio Database; listeners like less than 19 ms between players: J. New Music Research
/// 46(4) 2017, 329-341).
const fn wandering(looseness: Looseness) -> (f64, f64) {
    match looseness {
        Looseness::Grid => (0.0, 0.0),
        Looseness::Tight => (0.4, 0.8),
        Looseness::Band => (0.97, 2.0),
        Looseness::Loose => (1.3, 8.0),
    }
}

/// The furthest that a stroke of a part may be from where swing and lean put it, in milliseconds.
pub fn furthest_stray(looseness: Looseness, part: &RoleStyle) -> f64 {
    let (own, shared) = wandering(looseness);
    if part.looseness > 0.0 {
        FURTHEST * (precision(BeatPart::Down) * own * part.looseness + shared)
    } else {
        0.0
    }
}

/// How much closer the backbeats are struck than the rest, and how much less close the downbeats: all players are
/// most precise on the backbeats (the same article; the amounts are common practice, no source).
const fn precision(part: BeatPart) -> f64 {
    match part {
        BeatPart::Down => 1.06,
        BeatPart::Back => 0.9,
        BeatPart::And => 1.0,
    }
}

impl Feel {
    /// For one role of one performance.
    pub(super) fn new(
        role: Role,
        style: &RoleStyle,
        swing: Swing,
        song: &Arrangement,
        origin: Ticks,
        seed: u64,
    ) -> Self {
        let stream = role.stream() * 2;
        let on_grid = song.looseness == Looseness::Grid;
        let (own, shared) = wandering(song.looseness);
        let ticks = |millis: f64| exact(song.tempo, millis);
        let vary = if on_grid { 0 } else { style.loudness.vary };
        Self {
            swing,
            origin,
            lean: if on_grid { 0 } else { song.tempo.ticks_in_millis(style.lean).get() },
            loose: own * ticks(style.looseness),
            // Who is not loose at all does not drift either.
            shared: if style.looseness > 0.0 { ticks(shared) } else { 0.0 },
            loudness: Loudness { vary, ..style.loudness },
            levels: Rc::default(),
            timing: Drift::of_time(seed, stream),
            group: Drift::of_group(seed),
            touch: Drift::of_touch(seed, stream + 1),
            last: (Ticks::new(-1), Ticks::new(-1)),
        }
    }

    /// The same, playing as loud from moment to moment as `levels` say.
    pub(super) fn at_levels(mut self, levels: &Rc<Levels>) -> Self {
        self.levels = Rc::clone(levels);
        self
    }

    /// When a stroke written at `at` is struck: later than every stroke written before it, and never
    /// before the song begins. Everything written at one place happens at one time. What is `even` does not swing.
    pub(super) fn place(&mut self, at: Ticks, even: bool) -> Ticks {
        let (last_at, last_placed) = self.last;
        if at == last_at {
            return last_placed;
        }
        let eighth = (at - self.origin).get().div_euclid(Ticks::EIGHTH.get());
        self.timing.advance(eighth);
        self.group.advance(eighth);
        self.touch.advance(eighth);
        let own = self.levels.beat_part(at).map_or(1.0, precision) * self.loose;
        let stray = own * self.timing.value(inside(at)) + self.shared * self.group.value(0);
        let stray = stray.round() as i64;
        let swung = if even { at } else { self.swing.moved(at) };
        let felt = swung + Ticks::new(self.lean + stray);
        let placed = felt.max(self.origin).max(last_placed + Ticks::new(1));
        self.last = (at, placed);
        placed
    }

    /// How hard the stroke at `at` is struck, 1 to 127. `share` is for up-strokes and inner strings.
    pub(super) fn velocity(&self, at: Ticks, loud: Loud, share: f64) -> u8 {
        let base = match loud {
            Loud::Ghost => self.loudness.ghost,
            Loud::Normal => self.loudness.normal,
            Loud::Accent => self.loudness.accent,
        };
        let vary = f64::from(self.loudness.vary) * self.touch.value(inside(at));
        (f64::from(base) * share * self.levels.at(at) + vary).round().clamp(1.0, 127.0) as u8
    }

    /// Whether no two strokes of the hand are alike.
    pub(super) const fn varies(&self) -> bool {
        self.loudness.vary > 0
    }

    /// What is drawn anew at a stroke written at `at`, between 0 and 1 (1 left out); `usage` tells several apart.
    pub(super) fn draw(&self, at: Ticks, usage: u64) -> f64 {
        (self.timing.draw(inside(at), usage) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A velocity moved by what strings differ in one stroke: by no more than a third of the player's `vary`.
    pub(super) fn apart(&self, velocity: u8, at: Ticks, string: usize) -> u8 {
        let most = f64::from(self.loudness.vary) / 3.0;
        let by = most * (2.0 * self.draw(at, 100 + string as u64) - 1.0);
        (f64::from(velocity) + by).round().clamp(1.0, 127.0) as u8
    }

    /// An up-stroke's share of a down-stroke's loudness.
    pub(super) const fn up(&self) -> f64 {
        self.loudness.up
    }
}

/// So many milliseconds in ticks, between whole ones.
fn exact(tempo: Tempo, millis: f64) -> f64 {
    tempo.ticks_in_millis(millis * 1000.0).get() as f64 / 1000.0
}

/// Where inside its eighth note a stroke is written.
fn inside(at: Ticks) -> u64 {
    at.get().rem_euclid(Ticks::EIGHTH.get()).unsigned_abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arrange::{Plan, arrange};
    use crate::chart::read_song;
    use crate::text::{Problems, Source};

    fn song(tempo: f64, looseness: Looseness) -> Arrangement {
        let toml = format!(
            "title = 'Low Water'\nkey = 'G'\nmeter = '4/4'\ntempo = {tempo}\nstyle = 'any'\n\
             form = ['a']\n[section.a]\nchords = '| G | C | D | G |'\n"
        );
        let source = Source::new("song.toml", toml).unwrap();
        let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
        arrange(&song, &Plan { looseness, ..Plan::default() }).unwrap()
    }

    /// How far off strokes are, in milliseconds, beside their lean: those of a role on every beat.
    fn strays(role: Role, looseness: Looseness, bpm: f64) -> Vec<f64> {
        let song = song(bpm, looseness);
        let style = RoleStyle { lean: -4.0, looseness: 7.0, ..RoleStyle::plain(role) };
        let even = Swing::new(None, &Default::default(), song.meter, song.tempo);
        let mut feel = Feel::new(role, &style, even, &song, Ticks::ZERO, 11);
        let lean = if looseness == Looseness::Grid { 0.0 } else { -4.0 };
        (100..6100)
            .map(|beat| {
                let at = Ticks::QUARTER * beat;
                let off = (feel.place(at, false) - at).get();
                let sign = if off < 0 { -1.0 } else { 1.0 };
                sign * song.tempo.nanos(Ticks::new(off.abs())).seconds() * 1000.0 - lean
            })
            .collect()
    }

    fn sd(x: &[f64]) -> f64 {
        (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt()
    }

    #[test]
    fn strokes_stay_within_what_the_style_allows() {
        let style = RoleStyle { looseness: 7.0, ..RoleStyle::plain(Role::Chop) };
        let furthest = furthest_stray(Looseness::Band, &style);
        for bpm in [40.0, 108.0, 133.0, 300.0] {
            for off in strays(Role::Chop, Looseness::Band, bpm) {
                assert!(off.abs() <= furthest + 1.0, "{off} ms at {bpm}");
            }
        }
    }

    #[test]
    fn a_player_strays_as_players_do_and_the_band_keeps_together() {
        for (looseness, own, pair) in [
            (Looseness::Tight, 2.0..4.0, 3.0..5.0),
            (Looseness::Band, 5.0..8.0, 7.0..11.0),
            (Looseness::Loose, 10.0..13.5, 10.0..14.0),
        ] {
            let (chop, guitar) =
                (strays(Role::Chop, looseness, 108.0), strays(Role::Guitar, looseness, 108.0));
            let apart: Vec<f64> = chop.iter().zip(&guitar).map(|(a, b)| a - b).collect();
            assert!(own.contains(&sd(&chop)), "{looseness}: {}", sd(&chop));
            assert!(pair.contains(&sd(&apart)), "{looseness}: {}", sd(&apart));
        }
    }

    #[test]
    fn on_the_grid_nothing_strays() {
        assert!(strays(Role::Chop, Looseness::Grid, 120.0).iter().all(|off| off.abs() < 1e-9));
    }
}
