//! Breaks: what each lead makes of one chart, with its tune and without.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::sync::OnceLock;

use openchair::arrange::Plan;
use openchair::chart::{Ending, Kickoff, Lead, Pass, Role, RoleSet, Song};
use openchair::perform::Note;
use openchair::style::Style;
use openchair::theory::Scale;
use openchair::time::Meter;

use super::row::{Bound, Row, pooled, share};
use super::stroke::{Stroke, spoken};
use super::take::Take;
use crate::shipped;

/// Those who break.
const LEADS: [Lead; 6] =
    [Lead::Fiddle, Lead::Mandolin, Lead::Guitar, Lead::Banjo, Lead::Resonator, Lead::Bass];

/// Every shipped song's first section in its own style, broken by each lead before a singer comes: with its tune where
/// that is written, and without. Made once.
pub fn lead_takes() -> &'static [Take] {
    static TAKES: OnceLock<Vec<Take>> = OnceLock::new();
    TAKES.get_or_init(|| {
        let styles = shipped::styles();
        let mut takes = Vec::new();
        for (path, song) in shipped::songs() {
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            let style = styles.iter().find(|style| style.name == song.style).unwrap();
            let tuned = song.sections[0].bars.iter().any(|bar| !bar.melody.is_empty());
            for written in [false, true].into_iter().filter(|written| tuned || !written) {
                let song = without_tune(&song, written);
                let name = if written { format!("{name} (tune)") } else { name.clone() };
                takes.extend(LEADS.map(|lead| take(&name, &song, style, lead)));
            }
        }
        takes
    })
}

fn without_tune(song: &Song, written: bool) -> Song {
    let mut song = song.clone();
    for bar in song.sections.iter_mut().flat_map(|section| &mut section.bars) {
        if !written {
            bar.melody.clear();
        }
    }
    song
}

/// The first section of a song, led by one and then by the voice.
pub fn take(name: &str, song: &Song, style: &Style, lead: Lead) -> Take {
    let pass = |lead: Lead| Pass {
        section: 0,
        lead: Some(lead),
        sit_out: RoleSet::EMPTY,
        label: format!("a: {}", lead.as_str()),
    };
    let (ending, kickoff) = (Ending::None, Kickoff::None);
    let form = vec![pass(lead), pass(Lead::Voice)];
    let mut song = Song { form, ending, kickoff, ..song.clone() };
    // What comes before the first pass would be one itself.
    song.sections.iter_mut().for_each(|section| section.pickup = None);
    let band = Some(Role::BAND.into_iter().chain([Role::Lead]).collect());
    Take::new(name, &song, style, &Plan { band, ..Plan::default() }, 1)
}

fn leader(take: &Take) -> Lead {
    take.sheet.passes[0].lead.unwrap()
}

/// The strokes of the break: of its pass alone. What a hand strikes within 25 ms is one, on however many strings; what a
/// slide goes over, and what it sets off from, is none.
fn strokes(take: &Take) -> Vec<Stroke> {
    let part = take.part(Role::Lead);
    let all = part.map_or(&[][..], |part| &part.strokes);
    let (near, grace) = (take.ticks(25.0), take.ticks(90.0));
    let mut out: Vec<Stroke> = Vec::new();
    for stroke in all.iter().filter(|stroke| take.sheet.bars[stroke.bar].pass == 0) {
        match out.last_mut() {
            Some(last) if ((stroke.start() - last.start()) as f64) <= near => {
                last.notes.extend(&stroke.notes);
                last.at = stroke.at;
            }
            _ => out.push(stroke.clone()),
        }
    }
    let slid = |notes: &[Note]| notes.iter().any(|note| note.slurred.is_some());
    let sets_off: Vec<bool> = (0..out.len())
        .map(|at| {
            let next = out.get(at + 1).filter(|next| slid(&next.notes));
            next.is_some_and(|next| ((next.start() - out[at].start()) as f64) <= grace)
        })
        .collect();
    let mut sets_off = sets_off.into_iter();
    out.retain(|_| !sets_off.next().unwrap_or(false));
    out
}

/// The places of a bar that are struck.
fn rhythm(take: &Take, bar: usize) -> BTreeSet<i64> {
    strokes(take).iter().filter(|stroke| stroke.bar == bar).map(|stroke| stroke.at).collect()
}

/// No two leads go in the same rhythm: bars in which two of them strike at the same places are few.
pub fn same_rhythm(takes: &[Take]) -> Row {
    let name = "breaks: bars in which two leads differ in rhythm";
    share(name, Bound::AtLeast(75.0), 1000, takes, |take, tally| {
        let others = takes.iter().filter(|other| {
            other.song == take.song && leader(other).as_str() > leader(take).as_str()
        });
        for other in others {
            for (index, bar) in take.sheet.bars.iter().enumerate().filter(|(_, b)| b.pass == 0) {
                let (one, two) = (rhythm(take, index), rhythm(other, index));
                if one.is_empty() && two.is_empty() {
                    continue;
                }
                let who = (leader(take), leader(other));
                tally.see(one != two, || (bar.number, format!("{who:?} at {one:?}")));
            }
        }
    })
}

/// How far the strong beats of a meter are apart, in ticks.
fn strong(meter: Meter) -> i64 {
    match meter {
        Meter::FourFour | Meter::TwoTwo => 1920,
        Meter::ThreeFour => 2880,
        Meter::TwoFour => 960,
        Meter::SixEight => 1440,
    }
}

/// The line's notes on strong beats of made-up breaks: what sounds highest there, and whether the chord has it. Banjo and
/// bass are apart: a roll has the chord around its line, a walk is under it.
fn on_strong_beats(take: &Take) -> impl Iterator<Item = (Stroke, u8, bool)> {
    let lines = !matches!(leader(take), Lead::Banjo | Lead::Bass);
    let made = !take.song.ends_with("(tune)") && lines;
    strokes(take).into_iter().filter(move |_| made).filter_map(|stroke| {
        let bar = &take.sheet.bars[stroke.bar];
        let on_strong = (stroke.at - bar.start.get()) % strong(bar.gait) == 0;
        let note = stroke.notes.iter().map(|note| note.pitch.get()).max()?;
        let chord = take.chord_at(stroke.at).filter(|_| on_strong)?;
        let own = chord.contains(note % 12);
        Some((stroke, note, own))
    })
}

/// A line that never leans on a note beside the chord has nothing to resolve; one that does it all the time has lost
/// the chord (common practice, no source).
pub fn chord_tones(takes: &[Take]) -> [Row; 2] {
    let row = |name, bound| {
        share(name, bound, 500, takes, |take, tally| {
            for (stroke, note, own) in on_strong_beats(take) {
                tally.see(own, || {
                    let chord = take.chord_at(stroke.at).unwrap();
                    (take.bar_number(stroke.at), format!("{} over {chord}", spoken(note)))
                });
            }
        })
    };
    [
        row("breaks: strong beats with a tone of the chord", Bound::AtLeast(80.0)),
        row("breaks: the same, since a line leans now and then", Bound::AtMost(98.0)),
    ]
}

/// What leans on a strong beat goes by step to a tone of the chord.
pub fn resolved(takes: &[Take]) -> Row {
    let name = "breaks: notes beside the chord on strong beats that go to it by step";
    share(name, Bound::AtLeast(95.0), 20, takes, |take, tally| {
        let all = strokes(take);
        for (stroke, note, _) in on_strong_beats(take).filter(|(.., own)| !own) {
            let later = all.iter().filter(|s| s.at > stroke.at && s.at <= stroke.at + 960);
            let goes = later.flat_map(|s| s.notes.iter().map(|n| (s.at, n.pitch.get()))).any(
                |(at, next)| {
                    let chord = take.chord_at(at);
                    next.abs_diff(note) <= 2
                        && next != note
                        && chord.is_some_and(|chord| chord.contains(next % 12))
                },
            );
            tally.see(goes, || (take.bar_number(stroke.at), spoken(note)));
        }
    })
}

/// Who sings has the last beat of the bar before: no single note of a break begins there.
pub fn leaves_room(takes: &[Take]) -> Row {
    let name = "breaks: the last beat left to the singer who comes";
    share(name, Bound::AtLeast(100.0), 50, takes, |take, tally| {
        if take.song.ends_with("(tune)") {
            return;
        }
        let last = take.sheet.bars.iter().rfind(|bar| bar.pass == 0).unwrap();
        let from = last.end().get() - if last.meter == Meter::TwoFour { 480 } else { 960 };
        let sung = strokes(take).into_iter().find(|s| s.at >= from && s.notes.len() < 3);
        tally.see(sung.is_none(), || (last.number, format!("{:?} goes on", leader(take))));
    })
}

/// The highest notes of what a made-up break strikes, one after another, but for those of banjo and bass.
fn line(take: &Take) -> Vec<(Stroke, u8)> {
    let lines = !matches!(leader(take), Lead::Banjo | Lead::Bass);
    let made = !take.song.ends_with("(tune)") && lines;
    let top = |stroke: Stroke| {
        let note = stroke.notes.iter().map(|note| note.pitch.get()).max()?;
        Some((stroke, note))
    };
    strokes(take).into_iter().filter(|_| made).filter_map(top).collect()
}

/// True where the home chord has a flat seventh: the minor pentatonic is at home there.
fn is_blues(take: &Take) -> bool {
    let home = take.sheet.key.tonic.pitch_class();
    let chord = take.chord_at(take.sheet.bars[0].start.get());
    chord.is_some_and(|chord| {
        chord.root.pitch_class() == home && chord.quality.seventh() == Some(10)
    })
}

/// A flat third or a flat seventh over a major chord goes through: where the note before it comes again after it, the
/// line rocks (common practice, no source).
pub fn blue_notes(takes: &[Take]) -> Row {
    let name = "breaks: flat thirds and sevenths that do not rock";
    share(name, Bound::AtLeast(97.0), 30, takes, |take, tally| {
        for three in line(take).windows(3) {
            let [(_, before), (stroke, note), (_, after)] = three else { continue };
            let Some(chord) = take.chord_at(stroke.at) else { continue };
            let above = (note + 12 - chord.root.pitch_class()) % 12;
            let major = chord.quality.third() == Some(4);
            let own = Scale::of(take.sheet.key, chord).has(i32::from(*note));
            if major && [3, 10].contains(&above) && !own && !is_blues(take) {
                tally.see(before != after, || {
                    let what =
                        format!("{:?}: {} {} again", leader(take), spoken(*before), spoken(*note));
                    (take.bar_number(stroke.at), what)
                });
            }
        }
    })
}

/// The first bar of a break says what key it is in: all notes are the key's, or the chord's (common practice, no source).
pub fn first_bars(takes: &[Take]) -> Row {
    let name = "breaks: notes of the first bar that are the key's or the chord's";
    share(name, Bound::AtLeast(100.0), 100, takes, |take, tally| {
        let all = line(take);
        for (index, (stroke, note)) in all.iter().enumerate() {
            let bar = &take.sheet.bars[stroke.bar];
            // Where a slide sets off from is nobody's note.
            let next = all.get(index + 1).map(|(next, _)| next.start() - stroke.start());
            if next.is_some_and(|far| far as f64 <= take.ticks(150.0)) {
                continue;
            }
            let first = bar.number == 1 && !is_blues(take);
            let chord = take.chord_at(stroke.at).filter(|_| first);
            let Some(chord) = chord else { continue };
            let own = Scale::of(take.sheet.key, chord).has(i32::from(*note));
            let what = || (1, format!("{:?}: {} over {chord}", leader(take), spoken(*note)));
            tally.see(own || chord.contains(note % 12), what);
        }
    })
}

/// Bars of a made-up break that were played before in it, note for note: of any lead at most a fifth. What comes back is
/// told again, not copied (common practice, no source).
pub fn bars_again(takes: &[Take]) -> Row {
    let mut of: Vec<(String, f64, usize)> = Vec::new();
    for lead in LEADS {
        let (mut seen, mut again) = (0, 0);
        for take in
            takes.iter().filter(|take| leader(take) == lead && !take.song.ends_with("(tune)"))
        {
            let mut bars: BTreeMap<usize, Vec<(i64, Vec<u8>)>> = BTreeMap::new();
            for stroke in strokes(take) {
                let at = stroke.at - take.sheet.bars[stroke.bar].start.get();
                bars.entry(stroke.bar).or_default().push((at, stroke.pitches()));
            }
            // A long note, and a chord that waits, are nobody's idea.
            let bars: Vec<_> = bars.into_values().filter(|bar| bar.len() > 2).collect();
            seen += bars.len();
            again += (0..bars.len()).filter(|&at| bars[..at].contains(&bars[at])).count();
        }
        of.push((lead.as_str().to_owned(), 100.0 * again as f64 / seen.max(1) as f64, seen));
    }
    pooled("breaks: bars that were played before in them", " %", Bound::AtMost(20.0), 500, &of)
}

/// Every measure of the leads.
pub fn rows(takes: &[Take]) -> Vec<Row> {
    let [least, most] = chord_tones(takes);
    vec![
        same_rhythm(takes),
        least,
        most,
        resolved(takes),
        leaves_room(takes),
        blue_notes(takes),
        first_bars(takes),
        bars_again(takes),
    ]
}

/// What tells the leads apart, over all songs.
pub fn table(takes: &[Take]) -> String {
    let mut out = String::from(
        "\n| lead | strokes a bar | notes a bar | lowest, mean, highest | on two strings or more | \
         slurred or slid | struck again on the same note | mean length, eighths | velocities |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for lead in LEADS {
        let own = || takes.iter().filter(|take| leader(take) == lead);
        let all: Vec<Stroke> = own().flat_map(strokes).collect();
        let notes: Vec<_> = all.iter().flat_map(|stroke| &stroke.notes).collect();
        let bars: usize =
            own().map(|take| take.sheet.bars.iter().filter(|b| b.pass == 0).count()).sum();
        let per = |count: usize, of: usize| count as f64 / of.max(1) as f64;
        let pitches = || notes.iter().map(|note| note.pitch.get());
        let mean = pitches().map(f64::from).sum::<f64>() / notes.len().max(1) as f64;
        let double = all.iter().filter(|stroke| stroke.notes.len() > 1).count();
        let slurred = notes.iter().filter(|note| note.slurred.is_some()).count();
        let again = all
            .windows(2)
            .filter(|pair| pair[0].bar == pair[1].bar && pair[0].pitches() == pair[1].pitches());
        let length: f64 = notes.iter().map(|n| (n.end - n.start).get() as f64 / 480.0).sum();
        let loud = || notes.iter().map(|note| note.velocity);
        let _ = writeln!(
            out,
            "| {} | {:.1} | {:.1} | {}, {mean:.0}, {} | {:.0} % | {:.0} % | {:.0} % | {:.1} | {}-{} |",
            lead.as_str(),
            per(all.len(), bars),
            per(notes.len(), bars),
            pitches().min().unwrap_or(0),
            pitches().max().unwrap_or(0),
            100.0 * per(double, all.len()),
            100.0 * per(slurred, notes.len()),
            100.0 * per(again.count(), all.len()),
            length / notes.len().max(1) as f64,
            loud().min().unwrap_or(0),
            loud().max().unwrap_or(0),
        );
    }
    out
}
