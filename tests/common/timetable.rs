//! What an export must hold, worked out from the song and what was asked, apart from the arranger:
//! where each bar, chord and stop falls, and who plays.
#![allow(dead_code)] // Not every test binary looks at everything.

use openchair::arrange::{Looseness, Plan};
use openchair::chart::{Dynamic, Ending, Kickoff, Lead, Role, RoleSet, Share, Song, Stop};
use openchair::style::{Style, Tag};
use openchair::theory::{Chord, Key, Mode, Transposition};
use openchair::time::{BarMeter, Meter};

/// A stretch of the song and what holds in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch<T> {
    pub start: i64,
    pub end: i64,
    pub value: T,
}

#[derive(Clone, Debug)]
pub struct Bar {
    pub start: i64,
    pub end: i64,
    pub meter: BarMeter,
    /// The meter in which its beats are counted.
    pub gait: Meter,
    pub silent: RoleSet,
    pub chords: Vec<Stretch<Option<Chord>>>,
    pub stops: Vec<Stretch<Stop>>,
    /// The voice leads, and sings for more than half of the bar.
    pub sung: bool,
    /// The pass of the form that it belongs to.
    pub pass: usize,
    /// Before the form.
    pub kickoff: bool,
    /// Two bars in which the stock line of a tag is played.
    pub line: bool,
    /// Where in the bar everyone strikes for the last time and lets it ring.
    pub final_hit: Option<i64>,
}

pub struct Timetable {
    pub key: Key,
    pub meter: Meter,
    pub start: i64,
    pub end: i64,
    pub bars: Vec<Bar>,
    pub passes: Vec<(i64, String)>,
    /// Who plays before the form.
    pub kickoff: RoleSet,
    /// The most that dynamics make of a velocity.
    pub loudest: f64,
    /// Where what is no pass of the form begins, and its name.
    pub cues: Vec<(i64, String)>,
    /// The chords in order, each until another begins.
    pub chords: Vec<Stretch<Option<Chord>>>,
    pub micros_per_quarter: f64,
    /// Each tempo, in microseconds a quarter, and where it begins.
    pub tempos: Vec<(i64, u32)>,
    pub swing: f64,
    pub looseness: Looseness,
    pub band: RoleSet,
}

pub fn bar_length(meter: impl Into<BarMeter>) -> i64 {
    let meter = meter.into();
    4 * 960 * i64::from(meter.numerator()) / i64::from(meter.denominator())
}

/// Quarter notes in a beat: the beat is a quarter in x/4, a half in 2/2, a dotted quarter in 6/8.
pub fn quarters_a_beat(meter: Meter) -> f64 {
    match meter {
        Meter::FourFour | Meter::TwoFour | Meter::ThreeFour => 1.0,
        Meter::TwoTwo => 2.0,
        Meter::SixEight => 1.5,
    }
}

/// A bar of a length that no song has is counted as the song is.
fn gait(meter: BarMeter, song: Meter) -> Meter {
    match meter {
        BarMeter::Of(own) => own,
        BarMeter::Crooked(_) => song,
    }
}

fn dropped(lead: Option<Lead>) -> RoleSet {
    match lead {
        Some(Lead::Guitar) => RoleSet::EMPTY.with(Role::Guitar),
        Some(Lead::Mandolin) => RoleSet::EMPTY.with(Role::Chop),
        Some(Lead::Bass) => RoleSet::EMPTY.with(Role::Bass),
        Some(Lead::Banjo) => RoleSet::EMPTY.with(Role::Banjo),
        Some(Lead::Fiddle) => RoleSet::EMPTY.with(Role::Fiddle),
        Some(Lead::Voice | Lead::Resonator) | None => RoleSet::EMPTY,
    }
}

fn laid<T: Copy, U>(at: i64, shares: &[Share<T>], make: impl Fn(T) -> U) -> Vec<Stretch<U>> {
    let mut at = at;
    shares
        .iter()
        .map(|share| {
            let start = at;
            at += share.length.get();
            Stretch { start, end: at, value: make(share.value) }
        })
        .collect()
}

/// A bar of the form as it is written, at a time.
fn of_form(
    bar: &openchair::chart::ChartBar,
    at: i64,
    (song, of): (Meter, &openchair::chart::Pass),
    silent: RoleSet,
    pass: usize,
    moved: &impl Fn(Chord) -> Chord,
) -> Bar {
    let sung: i64 = bar.singing.iter().filter(|s| s.value).map(|s| s.length.get()).sum();
    Bar {
        start: at,
        end: at + bar_length(bar.meter),
        meter: bar.meter,
        gait: gait(bar.meter, song),
        silent,
        chords: laid(at, &bar.chords, |chord| chord.map(moved)),
        stops: laid(at, &bar.stops, |stop| stop),
        sung: of.lead == Some(Lead::Voice) && sung * 2 > bar_length(bar.meter),
        pass,
        kickoff: false,
        line: false,
        final_hit: None,
    }
}

impl Timetable {
    pub fn new(song: &Song, plan: &Plan, style: &Style) -> Self {
        let tonic = plan.key.map_or(song.key.tonic, |key| key.tonic);
        let by = Transposition::between(song.key.tonic, tonic);
        let up = (12 + tonic.pitch_class() - song.key.tonic.pitch_class()) % 12;
        let moved = |chord: Chord| {
            let moved = by.chord(&chord);
            assert_eq!(moved.root.pitch_class(), (chord.root.pitch_class() + up) % 12);
            assert_eq!(moved.bass_class(), (chord.bass_class() + up) % 12);
            assert_eq!(moved.quality, chord.quality);
            moved
        };
        // Counted in the song's meter, though its first bar be a short one.
        let start = i64::from(plan.count_in) * bar_length(song.meter);
        let (mut bars, mut passes, mut at) = (Vec::new(), Vec::new(), start);
        let throughout: RoleSet = Role::ALL
            .into_iter()
            .filter(|&role| plan.sit_out.iter().any(|o| o.role == role && o.section.is_none()))
            .collect();
        let band = plan.band.unwrap_or(song.band);
        let kickoff = kickoff(song);
        let mut cues: Vec<(i64, String)> = Vec::new();
        if !kickoff.0.is_empty() {
            cues.push((at, "kickoff".to_owned()));
        }
        for meter in kickoff.0 {
            let end = at + bar_length(meter);
            bars.push(Bar {
                start: at,
                end,
                meter,
                gait: gait(meter, song.meter),
                silent: throughout,
                chords: vec![Stretch { start: at, end, value: None }],
                stops: Vec::new(),
                sung: false,
                pass: 0,
                kickoff: true,
                line: false,
                final_hit: None,
            });
            at = end;
        }
        let times = song.form.len() * plan.times.get() as usize;
        for pass in song.form.iter().cycle().take(times) {
            let section = &song.sections[pass.section];
            let label = match pass.lead {
                Some(lead) => format!("{}: {}", section.name, lead.as_str()),
                None => section.name.clone(),
            };
            passes.push((at, label));
            let here: RoleSet = plan
                .sit_out
                .iter()
                .filter(|out| out.section.as_ref() == Some(&section.name))
                .map(|out| out.role)
                .collect();
            let silent = here.union(throughout).union(pass.sit_out).union(dropped(pass.lead));
            for bar in &section.bars {
                let end = at + bar_length(bar.meter);
                bars.push(of_form(bar, at, (song.meter, pass), silent, passes.len() - 1, &moved));
                at = end;
            }
        }
        let last = song.form.last().expect("a form");
        let section = &song.sections[last.section].bars;
        let from = section.iter().rposition(|bar| bar.line_start).unwrap_or(0);
        let again = match song.ending {
            Ending::LastLine => 1,
            Ending::LastLineTwice => 2,
            _ => 0,
        };
        for _ in 0..again {
            cues.push((at, "last line".to_owned()));
            let silent = bars.last().map_or(throughout, |bar| bar.silent);
            for bar in &section[from..] {
                bars.push(of_form(bar, at, (song.meter, last), silent, passes.len() - 1, &moved));
                at += bar_length(bar.meter);
            }
        }
        let key = Key { tonic, mode: song.key.mode };
        // Three beats have no middle, and six eighths no such line.
        let line = style.tag == Tag::Line
            && song.ending == Ending::Tag
            && !matches!(song.meter, Meter::ThreeFour | Meter::SixEight);
        let endings =
            if line { line_ending(song.key) } else { ending(song.ending, song.key, song.meter) };
        let ending = (!endings.is_empty()).then_some(at);
        cues.extend(ending.map(|at| (at, "ending".to_owned())));
        let last = endings.len().saturating_sub(1);
        for (index, chords) in endings.into_iter().enumerate() {
            let length = bar_length(song.meter) / chords.len() as i64;
            let chords: Vec<_> = (at..)
                .step_by(length as usize)
                .zip(chords)
                .map(|(start, chord)| (start, Some(moved(chord))))
                .map(|(start, value)| Stretch { start, end: start + length, value })
                .collect();
            let end = at + bar_length(song.meter);
            bars.push(Bar {
                start: at,
                end,
                meter: song.meter.into(),
                gait: song.meter,
                silent: throughout,
                chords,
                stops: Vec::new(),
                sung: false,
                pass: passes.len() - 1,
                kickoff: false,
                line,
                final_hit: (index == last).then_some(if line { (at + end) / 2 } else { at }),
            });
            at = end;
        }
        let mut chords: Vec<Stretch<Option<Chord>>> = Vec::new();
        for stretch in bars.iter().flat_map(|bar| &bar.chords) {
            match chords.last_mut() {
                Some(before) if before.value == stretch.value => before.end = stretch.end,
                _ => chords.push(stretch.clone()),
            }
        }
        let beats = plan.tempo.unwrap_or(song.tempo) * plan.speed / 100.0;
        let micros = (60e6 / (beats * quarters_a_beat(song.meter))).round();
        let micros_per_quarter = micros.clamp(1.0, f64::from(0xFF_FFFF_u32));
        let tempos = tempos(&bars, ending, micros_per_quarter, style.ending_slow);
        let pairs = if song.meter == Meter::TwoFour { 2.0 } else { 1.0 };
        let pairs_per_minute = pairs * 60e6 / micros_per_quarter;
        Self {
            key,
            meter: song.meter,
            start,
            end: at,
            bars,
            passes,
            kickoff: kickoff.1,
            loudest: loudest(song, style),
            cues,
            chords,
            micros_per_quarter,
            tempos,
            swing: song.swing.unwrap_or_else(|| style.feel.swing_at(pairs_per_minute)),
            looseness: plan.looseness,
            band,
        }
    }

    /// Milliseconds in ticks.
    pub fn ticks(&self, millis: f64) -> f64 {
        millis * 1000.0 * 960.0 / self.micros_per_quarter
    }

    /// Where swing puts a place on the grid. A bar of 6/8 does not swing, nor does a song in it; in 2/4
    /// the sixteenths do.
    pub fn swung(&self, at: i64) -> f64 {
        let in_six = self.bar_at(at).is_some_and(|bar| bar.gait == Meter::SixEight);
        if in_six || self.meter == Meter::SixEight {
            return at as f64;
        }
        let pair = if self.meter == Meter::TwoFour { 480 } else { 960 };
        let (whole, inside) = (at.div_euclid(pair) * pair, at.rem_euclid(pair) as f64);
        let (pair, half) = (pair as f64, pair as f64 / 2.0);
        let first = pair * self.swing;
        let felt = if inside < half {
            inside / half * first
        } else {
            first + (inside - half) / half * (pair - first)
        };
        whole as f64 + felt
    }

    pub fn bar_at(&self, at: i64) -> Option<&Bar> {
        let next = self.bars.partition_point(|bar| bar.start <= at);
        self.bars.get(next.checked_sub(1)?).filter(|bar| at < bar.end)
    }

    pub fn chord_at(&self, at: i64) -> Option<Chord> {
        let next = self.chords.partition_point(|chord| chord.start <= at);
        self.chords.get(next.checked_sub(1)?).filter(|chord| at < chord.end)?.value
    }

    /// The stop at a place, if the band does not just play on, and whether it begins there.
    fn stop_at(&self, at: i64) -> Option<(Stop, bool)> {
        let stops = &self.bar_at(at)?.stops;
        let stop = stops.iter().find(|stop| (stop.start..stop.end).contains(&at))?;
        (stop.value != Stop::PlayOn).then_some((stop.value, stop.start == at))
    }

    /// True if what a role's part has at this place is heard.
    pub fn heard(&self, role: Role, at: i64) -> bool {
        let Some(bar) = self.bar_at(at).filter(|bar| !bar.silent.contains(role)) else {
            return false;
        };
        if bar.kickoff {
            return self.band.contains(role) && self.kickoff.contains(role);
        }
        // A held chord is struck, and so is a new one under its mark.
        let new_chord = bar.chords.iter().any(|chord| chord.start == at);
        self.band.contains(role)
            && self.chord_at(at).is_some()
            && match self.stop_at(at) {
                None | Some((Stop::Hit | Stop::Hold, true)) => true,
                Some((Stop::Hold, false)) => new_chord,
                Some(_) => false,
            }
    }

    /// Where a role must be silent, joined where they touch: it sits out, there is no chord, the
    /// band stops.
    pub fn silences(&self, role: Role) -> Vec<(i64, i64)> {
        let mut all: Vec<(i64, i64)> = Vec::new();
        for bar in &self.bars {
            if bar.silent.contains(role) {
                all.push((bar.start, bar.end));
                continue;
            }
            if bar.kickoff && self.kickoff.contains(role) {
                continue;
            }
            let no_chord = bar.chords.iter().filter(|chord| chord.value.is_none());
            all.extend(no_chord.map(|chord| (chord.start, chord.end)));
            let stops = bar.stops.iter().filter(|stop| stop.value == Stop::Silence);
            all.extend(stops.map(|stop| (stop.start, stop.end)));
        }
        all.sort_unstable();
        let mut joined: Vec<(i64, i64)> = Vec::new();
        for (start, end) in all {
            match joined.last_mut() {
                Some((_, last)) if *last >= start => *last = (*last).max(end),
                _ => joined.push((start, end)),
            }
        }
        joined
    }

    /// True where the line of a tag rests: at the head of its last bar, on the chord that leads home, of
    /// which it plays but the note that does.
    pub fn rests_at(&self, at: i64) -> bool {
        self.bars.iter().any(|bar| bar.line && bar.final_hit.is_some() && bar.start == at)
    }

    /// Every chord that is held.
    pub fn holds(&self) -> impl Iterator<Item = &Stretch<Stop>> {
        let stops = self.bars.iter().flat_map(|bar| &bar.stops);
        stops.filter(|stop| stop.value == Stop::Hold)
    }

    /// Every place where the band hits together and chokes.
    pub fn hits(&self) -> impl Iterator<Item = &Stretch<Stop>> {
        let stops = self.bars.iter().flat_map(|bar| &bar.stops);
        stops.filter(|stop| stop.value == Stop::Hit)
    }
}

/// How many bars of kickoff there are and who plays them (common practice, no source): a pickup is the lead's
/// where an instrument leads the first pass, the banjo's where that leads, else the guitar's unless it leads;
/// shuffles are the fiddle's. The tune's last line is played by who would pick up, in bars of its own meters.
fn kickoff(song: &Song) -> (Vec<BarMeter>, RoleSet) {
    let busy = dropped(song.form[0].lead);
    let free = |role: &Role| song.band.contains(*role) && !busy.contains(*role);
    let one =
        |roles: &[Role]| -> RoleSet { roles.iter().copied().find(free).into_iter().collect() };
    use Role::{Banjo, Bass, Chop, Fiddle, Guitar, Lead};
    let (bars, who) = match song.kickoff {
        Kickoff::None => (Vec::new(), RoleSet::EMPTY),
        Kickoff::Pickup | Kickoff::Line => {
            let leads = song.form[0].lead;
            let who = match leads {
                Some(lead) if lead != openchair::chart::Lead::Voice && song.band.contains(Lead) => {
                    RoleSet::EMPTY.with(Lead)
                }
                Some(openchair::chart::Lead::Banjo) => RoleSet::EMPTY.with(Banjo),
                _ => one(&[Guitar, Lead, Bass, Banjo, Fiddle, Chop]),
            };
            let section = &song.sections[song.form[0].section].bars;
            let line = section.iter().rposition(|bar| bar.line_start).unwrap();
            let of_line = || section[line..].iter().map(|bar| bar.meter).collect();
            let bars =
                if song.kickoff == Kickoff::Line { of_line() } else { vec![song.meter.into()] };
            (bars, who)
        }
        Kickoff::Shuffles => {
            let bow = [Fiddle, Lead].into_iter().find(|&role| song.band.contains(role));
            let strum: RoleSet = [Chop, Guitar].into_iter().filter(free).collect();
            let who = match bow {
                Some(bow) => RoleSet::EMPTY.with(bow),
                None if strum.is_empty() => one(&[Bass, Banjo]),
                None => strum,
            };
            (vec![song.meter.into(); 2], who)
        }
    };
    if who.is_empty() { (Vec::new(), who) } else { (bars, who) }
}

/// What the loudest mark makes of a velocity in the loudest place of the style.
fn loudest(song: &Song, style: &Style) -> f64 {
    let by_style = &style.dynamics;
    let lead =
        [by_style.singer_sings, by_style.singer_pauses, by_style.on_break, by_style.ending, 1.0];
    // The last time through a chorus, or through a section of a tune.
    let shape = by_style.chorus.max(1.0) * by_style.last_time.max(1.0);
    let marks = song.sections.iter().map(|section| match section.dynamics {
        Dynamic::Piano => 0.7,
        Dynamic::MezzoPiano => 0.85,
        Dynamic::MezzoForte => 1.0,
        Dynamic::Forte => 1.15,
    });
    lead.into_iter().fold(0.0, f64::max) * marks.fold(0.0, f64::max) * shape
}

/// The song's tempo, and beat by beat where it slows down to a share of it: through the bar before the
/// last chord like a runner who comes to a stop, so that the square of the speed falls evenly (Friberg
/// & Sundberg 1999, J. Acoust. Soc. Am. 105, from memory).
fn tempos(bars: &[Bar], ending: Option<i64>, micros: f64, share: f64) -> Vec<(i64, u32)> {
    let mut tempos = vec![(0, micros as u32)];
    let [.., before, last] = bars else { return tempos };
    let (Some(_), Some(chord), true) = (ending, last.final_hit, share < 1.0) else { return tempos };
    for bar in [before, last] {
        let beat = (quarters_a_beat(bar.gait) * 960.0) as i64;
        for at in (bar.start..bar.end).step_by(beat as usize).filter(|&at| at <= chord) {
            let middle = (at + beat / 2 - before.start) as f64 / (chord - before.start) as f64;
            let square =
                if at == chord { share * share } else { 1.0 - (1.0 - share * share) * middle };
            let permille = (1000.0 / square.max(share * share).sqrt()).round();
            tempos.push((at, ((micros * permille / 1000.0).round() as u32).min(0xFF_FFFF)));
        }
    }
    tempos
}

/// The bars of a tag with the stock line: home, then what leads home and home again.
fn line_ending(key: Key) -> Vec<Vec<Chord>> {
    let [lead_in, last] = &ending(Ending::Tag, key, Meter::FourFour)[..] else {
        panic!("two bars")
    };
    vec![vec![last[0]], vec![lead_in[1], last[0]]]
}

/// The bars of the ending, each with its chords: `hit` is the home chord; `tag` goes home and to the
/// fifth degree's chord before it, or to that alone where the bar has no half.
fn ending(ending: Ending, key: Key, meter: Meter) -> Vec<Vec<Chord>> {
    let minor = matches!(key.mode, Mode::Minor | Mode::Dorian);
    let home = Chord::parse(&format!("{}{}", key.tonic, if minor { "m" } else { "" }));
    let home = home.expect("a tonic names a chord");
    // Common practice, no source: a tag comes home from the 5, in modal tunes from the flat 7.
    let degree = if matches!(key.mode, Mode::Mixolydian | Mode::Dorian) { 6 } else { 4 };
    let fifth = Chord {
        root: key.scale()[degree],
        quality: Chord::parse("C").unwrap().quality,
        bass: None,
    };
    match (ending, meter) {
        (Ending::None, _) => vec![],
        (Ending::Hit | Ending::Cold | Ending::LastLine | Ending::LastLineTwice, _) => {
            vec![vec![home]]
        }
        (Ending::Tag, Meter::ThreeFour) => vec![vec![fifth], vec![home]],
        (Ending::Tag, _) => vec![vec![home, fifth], vec![home]],
    }
}
