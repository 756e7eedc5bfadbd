use crate::arrange::{Arrangement, Bar};
use crate::chart::Dynamic;
use crate::style::Dynamics;
use crate::time::{BeatPart, Meter, Ticks};

/// How loud the band is from moment to moment, as a share of what the style's `loudness` says: by the
/// section's dynamic mark and by who leads.
///
/// It never jumps up: into a louder pass the bar before it swells, and within a pass the first half of
/// a louder bar grows. It drops at the bar line, as a band does when the singer comes in (common
/// practice, no source).
#[derive(Clone, Debug, Default)]
pub(super) struct Levels {
    /// The bars in order. Empty: 1 everywhere.
    bars: Vec<Level>,
}

#[derive(Clone, Copy, Debug)]
struct Level {
    start: Ticks,
    gait: Meter,
    length: Ticks,
    /// What it comes from, which it grows from in its first half.
    from: f64,
    own: f64,
    /// What it swells to by its end.
    to: f64,
}

impl Levels {
    /// Those of an arrangement in a style. Its last bar may be the first of the round again.
    pub(super) fn new(song: &Arrangement, dynamics: &Dynamics) -> Self {
        let own = |bar: &Bar| target(song, bar, dynamics);
        // In a round the bar before the first is the last.
        let last = song.bars.iter().rev().find(|bar| bar.start < song.end && song.round.is_some());
        let mut before = last.map(|bar| (own(bar), bar.pass));
        let mut bars = Vec::with_capacity(song.bars.len());
        for (index, bar) in song.bars.iter().enumerate() {
            let level = own(bar);
            let same_pass = !bar.facts.first_bar
                && before.is_some_and(|(_, pass)| pass == bar.pass || bars.is_empty());
            let from = before.map(|(level, _)| level).filter(|_| same_pass).unwrap_or(level);
            let next = song.bars.get(index + 1).filter(|next| next.facts.first_bar);
            bars.push(Level {
                start: bar.start,
                gait: bar.gait,
                length: bar.meter.bar(),
                from: from.min(level),
                own: level,
                to: next.map_or(level, own).max(level),
            });
            before = Some((level, bar.pass));
        }
        Self { bars }
    }

    /// Each bar's own share in thousandths, without what it grows from and swells to.
    pub(super) fn permille(&self) -> impl Iterator<Item = u16> {
        self.bars.iter().map(|bar| (bar.own * 1000.0).round().clamp(1.0, 4000.0) as u16)
    }

    /// The part of the beat that a place of the even grid belongs to, where the bar is known.
    pub(super) fn beat_part(&self, at: Ticks) -> Option<BeatPart> {
        let bar = self.bar(at)?;
        let step = (at - bar.start).get().div_euclid(BeatPart::grid(bar.gait).get());
        BeatPart::at_step(bar.gait, usize::try_from(step).ok()?)
    }

    fn bar(&self, at: Ticks) -> Option<&Level> {
        let next = self.bars.partition_point(|bar| bar.start <= at);
        self.bars.get(next.saturating_sub(1))
    }

    /// The share at a place of the even grid.
    pub(super) fn at(&self, at: Ticks) -> f64 {
        let Some(bar) = self.bar(at) else { return 1.0 };
        let way = (at - bar.start).get() as f64 / bar.length.get().max(1) as f64;
        if bar.from < bar.own && way < 0.5 {
            bar.from + (bar.own - bar.from) * 2.0 * way.max(0.0)
        } else if bar.from < bar.own {
            bar.own + (bar.to - bar.own) * (2.0 * way.min(1.0) - 1.0)
        } else {
            bar.own + (bar.to - bar.own) * way.clamp(0.0, 1.0)
        }
    }
}

/// What a bar's own level is.
fn target(song: &Arrangement, bar: &Bar, dynamics: &Dynamics) -> f64 {
    let facts = &bar.facts;
    let by_lead = if song.passes.get(bar.pass).is_some_and(|pass| pass.is_ending) {
        dynamics.ending
    } else if facts.instrument_leads {
        dynamics.on_break
    } else if facts.singer_sings {
        dynamics.singer_sings
    } else if facts.singer_pauses {
        dynamics.singer_pauses
    } else {
        1.0
    };
    by_lead * bar.dynamics.share() * shape(bar, dynamics)
}

/// What a bar's place in the song makes of it. What a song marks itself is its own to say.
fn shape(bar: &Bar, dynamics: &Dynamics) -> f64 {
    let facts = &bar.facts;
    if bar.dynamics != Dynamic::default() {
        return 1.0;
    }
    let sung = facts.singer_sings || facts.singer_pauses;
    // A tune whose sections are none of a song's has the arc of its times round alone.
    let is_tune = !(facts.verse || facts.chorus || facts.bridge);
    let part = match (sung, facts.verse, facts.chorus) {
        (true, true, _) => dynamics.verse,
        (true, _, true) => dynamics.chorus,
        _ => 1.0,
    };
    let time = if facts.last_time && (is_tune || (sung && facts.chorus)) {
        dynamics.last_time
    } else if facts.first_time && is_tune {
        dynamics.first_time
    } else {
        1.0
    };
    part * time * if facts.down { dynamics.down } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::arrange::{Plan, arrange};
    use crate::chart::read_song;
    use crate::text::{Problems, Source};

    const DYNAMICS: Dynamics = Dynamics {
        singer_sings: 0.8,
        singer_pauses: 1.0,
        on_break: 1.2,
        ending: 1.5,
        verse: 1.0,
        chorus: 1.0,
        last_time: 1.0,
        first_time: 1.0,
        down: 1.0,
    };

    #[test]
    fn a_song_has_a_shape() {
        let toml = "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
             form = ['verse: voice', 'chorus: voice', 'verse: voice', 'chorus: voice', 'verse: guitar']\n\
             ending = 'none'\n[section.verse]\nchords = '| G |'\nvoice = '| = |'\n\
             [section.chorus]\nchords = '| C |'\nvoice = '| = |'\n";
        let source = Source::new("song.toml", toml).unwrap();
        let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
        let song = arrange(&song, &Plan::default()).unwrap();
        let usual = Dynamics::default();
        let own: Vec<f64> = song.bars.iter().map(|bar| target(&song, bar, &usual)).collect();
        let decibels = |from: usize, to: usize| 40.0 * (own[to] / own[from]).log10();
        assert!(decibels(0, 1) > 2.0, "the chorus lifts: {own:?}");
        assert!(decibels(1, 3) > 1.0, "the last one more: {own:?}");
        assert!(decibels(0, 2) < -1.0, "the verse before it comes down: {own:?}");
        assert!(own[4] > own[1], "a break has no verse's hush: {own:?}");
        assert!(own.iter().all(|own| (0.6..1.3).contains(own)), "{own:?}");
    }

    fn song(form: &str) -> Arrangement {
        let toml = format!(
            "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
             form = {form}\n[section.a]\nchords = '| G | C | D | G |'\nvoice = '| = | - | = | = |'\n\
             [section.b]\ndynamics = 'p'\nchords = '| G | C |'\n"
        );
        let source = Source::new("song.toml", toml).unwrap();
        let mut problems = Problems::new();
        let (song, _) = read_song(&source, &mut problems).unwrap();
        arrange(&song, &Plan::default()).unwrap()
    }

    fn beats(song: &Arrangement, bar: i64) -> Vec<String> {
        let levels = Levels::new(song, &DYNAMICS);
        let at = |beat: i64| levels.at(Ticks::QUARTER * (bar * 4 + beat));
        (0..4).map(|beat| format!("{:.2}", at(beat))).collect()
    }

    #[test]
    fn a_pause_comes_up_and_the_singer_is_made_way_for() {
        let song = song("['a: voice', 'a: guitar']");
        assert_eq!(beats(&song, 0), ["0.80"; 4]);
        assert_eq!(beats(&song, 1), ["0.80", "0.90", "1.00", "1.00"]);
        assert_eq!(beats(&song, 2), ["0.80"; 4], "down at the line");
    }

    #[test]
    fn the_bar_before_a_break_swells_into_it() {
        let song = song("['a: voice', 'a: guitar', 'b']");
        assert_eq!(beats(&song, 3), ["0.80", "0.90", "1.00", "1.10"]);
        assert_eq!(beats(&song, 4), ["1.20"; 4]);
        assert_eq!(beats(&song, 7), ["1.20"; 4], "nothing swells into a softer part");
        assert_eq!(beats(&song, 8), ["0.70"; 4], "the section's own mark");
        assert_eq!(beats(&song, 9), ["0.70", "0.79", "0.87", "0.96"]);
        assert_eq!(beats(&song, 10), ["1.05"; 4], "the ending, as soft as the part before it");
    }

    #[test]
    fn a_round_swells_into_its_own_beginning() {
        let song = song("['a: voice', 'a: guitar']").excerpt(4..=8, 1).unwrap();
        let round = song.led_back().unwrap();
        let levels = Levels::new(&round, &DYNAMICS);
        assert!(levels.at(Ticks::ZERO) < levels.at(Ticks::QUARTER), "into the break");
        let break_first = Ticks::QUARTER * 4;
        assert!((levels.at(break_first) - 1.2).abs() < 1e-9);
        assert!((levels.at(Ticks::QUARTER * 19) - 1.2).abs() < 1e-9, "then down to the singer");
    }
}
