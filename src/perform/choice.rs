use super::lines::draw;
use super::run::shortest;
use crate::arrange::{Arrangement, Bar, BarKind};
use crate::band::Right;
use crate::chart::{Role, Stop};
use crate::hash::split_mix;
use crate::style::{BassNote, Degree, Pattern, RoleStyle, Slot, Strike};
use crate::time::Meter;

/// A role's chair in a performance: what it plays from, and so which of its style's bars.
///
/// Two runs into one change get in each other's way, so in no bar do both bass and guitar run: where the
/// style has the guitar run, who has the right of way, the bass plays one of its bars that does not walk, and
/// under the G run one of roots and fifths alone if it has any. What the guitar would play hangs on the chart,
/// the style and the seed, so it makes no difference whether it is there today.
#[derive(Clone, Copy)]
pub(super) struct Seat<'a> {
    pub song: &'a Arrangement,
    /// Its part of the style.
    pub part: &'a RoleStyle,
    pub role: Role,
    pub seed: u64,
    /// For one who gives way, the part of whoever has the right of way.
    pub runs: Option<&'a RoleStyle>,
}

impl<'a> Seat<'a> {
    /// The bar to play in the arrangement's bar `index`.
    pub(super) fn of(&self, index: usize) -> Option<&'a Pattern> {
        let bar = self.song.bars.get(index)?;
        let pick = |free: &dyn Fn(&Pattern) -> bool| self.pick(self.part, self.role, index, free);
        match self.role.row().playing.right {
            Right::GivesWay => match self.guitars_run(index) {
                Some(GuitarsRun::Home) => {
                    pick(&is_plain).or_else(|| pick(&|pattern| !pattern.walks()))
                }
                Some(GuitarsRun::Walk) => pick(&|pattern| !pattern.walks()),
                None => pick(&|_| true),
            },
            // A guitar that the song has no chair for leaves the runs to the bass, which doesn't reckon
            // with one.
            Right::OfWay if bar.facts.no_guitar => {
                pick(&|pattern| !pattern.walks() && !pattern.runs_home())
            }
            Right::OfWay | Right::Own => pick(&|_| true),
        }
    }

    /// True if the bar before holds the G run. The first bar of a round comes after its last.
    pub(super) fn runs_home_before(&self, index: usize) -> bool {
        let round = || self.song.bars.iter().position(|bar| bar.end() == self.song.end);
        let before = match index.checked_sub(1) {
            None => self.song.round.and_then(|_| round()),
            before => before,
        };
        let groove = |&before: &usize| {
            self.song.bars.get(before).is_some_and(|bar| bar.kind == BarKind::Groove)
        };
        before.filter(groove).and_then(|before| self.of(before)).is_some_and(Pattern::runs_home)
    }

    /// The run in the guitar's bar, if it has one.
    fn guitars_run(&self, index: usize) -> Option<GuitarsRun> {
        let there = self.song.bars.get(index).is_some_and(|bar| !bar.facts.no_guitar);
        let first = Role::with_right_of_way()?;
        let played = self.pick(self.runs.filter(|_| there)?, first, index, |_| true)?;
        if played.runs_home() {
            Some(GuitarsRun::Home)
        } else {
            played.walks().then_some(GuitarsRun::Walk)
        }
    }

    /// The bar of `style` whose turn it is, of those that are `free` and can be played to the end.
    ///
    /// Of its own meter; where the style has none (a short bar in a crooked tune), of a meter of the same
    /// length, or else the song's own meter's, cut short. A bar longer than the song's is the song's own
    /// meter's begun again, so that the band keeps its gait; so it does in a bar of a length that no song has.
    fn pick<'s>(
        &self,
        style: &'s RoleStyle,
        role: Role,
        index: usize,
        free: impl Fn(&Pattern) -> bool,
    ) -> Option<&'s Pattern> {
        let bar = self.song.bars.get(index)?;
        // What comes before the form changes nothing of how that is played.
        let number = index.saturating_sub(self.song.kickoff_bars());
        let roll = chance(self.seed, role, draw(role, bar, number));
        let may = |pattern: &Pattern| {
            free(pattern) && (!pattern.runs_home() || self.may_run_home(role, index, pattern))
        };
        let pick = |meter| style.pick_of(meter, &bar.facts, bar.turn, roll, may);
        if bar.meter.bar() > self.song.meter.bar() {
            return pick(self.song.meter);
        }
        // 3/4 and 6/8 are of one length, but their beats are not.
        let in_six = |meter| meter == Meter::SixEight;
        let same_length = Meter::ALL
            .into_iter()
            .filter(|&meter| meter.bar() == bar.meter.bar() && in_six(meter) == in_six(bar.gait));
        std::iter::once(bar.gait).chain(same_length).chain([self.song.meter]).find_map(pick)
    }

    /// True if the G run fits: the bar is home from end to end, the next one begins there and lets the run
    /// come to rest, and no hand is asked for more than it can play.
    ///
    /// Whether the guitar sits out the next bar makes no difference, so that the bass does not hang on it.
    fn may_run_home(&self, role: Role, index: usize, pattern: &Pattern) -> bool {
        let (Some(bar), Some(next)) = (self.song.bars.get(index), self.song.bars.get(index + 1))
        else {
            return false;
        };
        let span = self.song.spans.get(bar.spans.start);
        let goes_on = span.is_some_and(|span| span.end > bar.end());
        let stops = |bar: &Bar| self.song.stops.get(bar.stops.clone()).unwrap_or_default();
        let silent = stops(next).first().is_some_and(|stop| stop.stop == Stop::Silence);
        bar.facts.home_chord
            && goes_on
            && !silent
            && !next.facts.no_guitar
            && stops(bar).is_empty()
            && pattern.meter.bar() == bar.meter.bar()
            && pattern.slot >= shortest(role, self.song.pace)
    }
}

/// A run of the guitar's.
enum GuitarsRun {
    /// Into the next chord.
    Walk,
    /// The G run.
    Home,
}

/// True if every bass note is the root, the fifth or the octave.
fn is_plain(pattern: &Pattern) -> bool {
    pattern.slots.iter().all(|slot| match slot {
        Slot::Strike(Strike { bass: Some(BassNote::Degree { degree, .. }), .. }) => {
            matches!(degree, Degree::Root | Degree::Fifth | Degree::Octave)
        }
        Slot::Strike(Strike { bass: Some(BassNote::Walk | BassNote::GRun), .. }) => false,
        Slot::Strike(Strike { bass: None, .. }) | Slot::Ring | Slot::Rest => true,
    })
}

/// A number from 0 to 1 for one bar of one role. It hangs on nothing else, so a bar is the same
/// whoever else plays.
pub(super) fn chance(seed: u64, role: Role, bar: u64) -> f64 {
    let mixed = split_mix(seed.wrapping_add((role.stream() + 1) << 56), bar.wrapping_add(1));
    (mixed >> 11) as f64 / (1_u64 << 53) as f64
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;
    use crate::arrange::{Plan, arrange};
    use crate::chart::read_song;
    use crate::style::{Style, read_style};
    use crate::text::{Problems, Source};

    fn shipped(folder: &str) -> Vec<(String, Source)> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let toml = paths.filter(|path| path.extension().is_some_and(|end| end == "toml"));
        let read = |path: std::path::PathBuf| {
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            (name.clone(), Source::new(name, fs::read_to_string(&path).unwrap()).unwrap())
        };
        toml.map(read).collect()
    }

    fn style(name: &str, source: &Source) -> Style {
        read_style(name, source, &mut Problems::new()).unwrap()
    }

    /// Everybody runs wherever they may.
    fn restless(meter: Meter) -> Style {
        let (walk, run, plain) = match meter {
            Meter::ThreeFour => ("R > >", "R G G", "R . ."),
            Meter::SixEight => ("R . . > > >", "R . . G G G", "R . . R . ."),
            _ => ("R . > >", "R . G G", "R . R ."),
        };
        let bars = |role: &str, at_home: &str| {
            format!(
                "[[{role}.bar]]\nwhen = 'change next'\nbar = '{walk}'\n\
                 [[{role}.bar]]\nwhen = 'home chord'\nbar = '{at_home}'\nchance = 0.7\n\
                 [[{role}.bar]]\nbar = '{plain}'\n"
            )
        };
        let (bass, guitar) = (bars("bass", walk), bars("guitar", run));
        let toml = format!("about = 'a'\nmeters = ['{meter}']\n{bass}{guitar}");
        style("restless", &Source::new("restless", toml).unwrap())
    }

    #[test]
    fn bass_and_guitar_never_run_at_once() {
        let styles: Vec<Style> =
            shipped("backing-styles").iter().map(|(name, source)| style(name, source)).collect();
        let mut runs = [0_u32; 2];
        for (_, source) in shipped("songs") {
            let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
            let song = arrange(&song, &Plan::default()).unwrap();
            let restless = restless(song.meter);
            for style in styles.iter().chain([&restless]).filter(|style| style.fits(song.meter)) {
                for seed in 1..=5 {
                    let seat = |role, runs| {
                        let part = style.part(role).unwrap();
                        Seat { song: &song, part, role, seed, runs }
                    };
                    let bass = seat(Role::Bass, style.part(Role::Guitar));
                    let guitar = seat(Role::Guitar, None);
                    for (index, bar) in song.bars.iter().enumerate() {
                        let bass_runs = bass.of(index).unwrap().walks();
                        let played = guitar.of(index).unwrap();
                        let guitar_runs = played.walks() || played.runs_home();
                        let both = bass_runs && guitar_runs && !bar.resting.contains(Role::Guitar);
                        assert!(!both, "{} {} bar {}", song.title, style.name, bar.number);
                        if played.runs_home() {
                            assert!(is_plain(bass.of(index).unwrap()), "{}", style.name);
                        }
                        runs[0] += u32::from(bass_runs);
                        runs[1] += u32::from(guitar_runs);
                    }
                }
            }
        }
        assert!(runs.iter().all(|&count| count > 1000), "{runs:?}");
    }
}
