//! Whether the left hand went along with the chords: which of the song's chords was played in each stretch of one.

use super::Tone;
use super::harmony::Harmony;
use crate::arrange::Arrangement;
use crate::theory::{Chord, MidiNote, added_sixth};
use crate::time::Ticks;

/// A stroke of a bar in which the player backs somebody up.
#[derive(Clone, Copy, Debug)]
pub(super) struct Backing<'a> {
    /// The number of its bar, and that of its pass.
    pub bar: usize,
    pub pass: usize,
    /// The place it was played for.
    pub at: Ticks,
    pub pitches: &'a [MidiNote],
}

/// A chord whose place another one was played in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Missed {
    /// The song's chord there, by its name.
    pub wanted: String,
    /// The one that was played.
    pub played: String,
    /// True if it was mostly the one that came before: the hand stayed where it was.
    pub stays: bool,
    /// The numbers of the bars in which such a stretch begins, in order.
    pub bars: Vec<usize>,
}

/// What became of the chords.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Changes {
    /// The stretches of one chord of which enough was heard.
    pub judged: usize,
    /// The chords that were missed, the one missed most often first.
    pub missed: Vec<Missed>,
}

/// How surely another chord must be heard; the figures are ours.
#[derive(Clone, Copy)]
struct Bounds {
    /// The fewest notes, the open short string left out.
    notes: usize,
    /// The most of them that are of the song's chord.
    own: f64,
    /// The fewest that are of the other.
    other: f64,
    /// True if only the other's own notes tell.
    plainly: bool,
}

/// Where it happens again and again.
const OFTEN: Bounds = Bounds { notes: 4, own: 0.5, other: 0.8, plainly: false };

/// For a single place: a walk, or notes that were misheard, must not pass for a chord.
const ONCE: Bounds = Bounds { notes: 4, own: 0.5, other: 0.9, plainly: true };

/// So many notes of a single place are the other chord's alone, two different ones among them, and none the song's alone.
const PLAINLY: usize = 3;

/// By so much more of the notes must be the other chord's: G and E minor share two of three.
const CLEARLY: f64 = 0.3;

/// A stretch of one chord in which the player backs somebody up.
struct Stretch<'a> {
    chord: &'a Chord,
    bar: usize,
    notes: Vec<u8>,
}

impl Changes {
    /// True if a chord that begins in a bar was missed.
    pub(super) fn has(&self, bar: usize) -> bool {
        self.missed.iter().any(|missed| missed.bars.contains(&bar))
    }

    /// What became of them in some strokes, in order of time.
    ///
    /// `behind` is by how much the hand comes late to every chord: what is late is not missed.
    pub(super) fn of<'a>(
        song: &Arrangement,
        harmony: &Harmony<'_>,
        strokes: impl Iterator<Item = Backing<'a>>,
        behind: Ticks,
    ) -> Self {
        /// From so many on, and this share of all, it is a habit.
        const HABIT: (usize, f64) = (3, 0.1);
        let early =
            |stroke: Backing<'a>| Backing { at: (stroke.at - behind).max(song.start), ..stroke };
        let stretches = stretches(harmony, strokes.map(early));
        let chords = chords(song);
        let judged = stretches.iter().filter(|one| one.notes.len() >= OFTEN.notes).count();
        let often = missed(song, &stretches, &chords, OFTEN);
        let count: usize = often.iter().map(|missed| missed.bars.len()).sum();
        let habit = count >= HABIT.0 && count as f64 > HABIT.1 * judged as f64;
        let missed = if habit { often } else { missed(song, &stretches, &chords, ONCE) };
        Self { judged, missed }
    }
}

/// The stretches, with the notes that tell which chord is meant: not the open short string, which rings over all,
/// nor what leads on to the next.
fn stretches<'a, 'b>(
    harmony: &Harmony<'a>,
    strokes: impl Iterator<Item = Backing<'b>>,
) -> Vec<Stretch<'a>> {
    let mut out: Vec<Stretch<'a>> = Vec::new();
    let mut last = None;
    for Backing { bar, pass, at, pitches } in strokes {
        let Some(chord) = harmony.chord_at(at) else {
            last = None;
            continue;
        };
        let goes_on =
            last == Some(pass) && out.last().is_some_and(|stretch| is_like(stretch.chord, chord));
        if !goes_on {
            out.push(Stretch { chord, bar, notes: Vec::new() });
        }
        last = Some(pass);
        let leads = harmony.leads_on(at).then(|| harmony.at(at)).flatten();
        let tells =
            |class: &u8| leads.is_none_or(|around| harmony.class(around, *class) == Tone::Outside);
        if let Some(stretch) = out.last_mut() {
            let notes = pitches.iter().filter(|pitch| !harmony.is_drone(**pitch));
            stretch.notes.extend(notes.map(|pitch| pitch.pitch_class()).filter(tells));
        }
    }
    out
}

/// The chords of a song, those of one root and third once.
fn chords(song: &Arrangement) -> Vec<&Chord> {
    let mut out: Vec<&Chord> = Vec::new();
    for chord in song.spans.iter().filter_map(|span| song.chord(span.chord?)) {
        if !out.iter().any(|other| is_like(other, chord)) {
            out.push(chord);
        }
    }
    out
}

/// True if two chords are the same to a left hand that learns them: G, G7 and G/B.
pub(super) fn is_like(one: &Chord, other: &Chord) -> bool {
    one.root.pitch_class() == other.root.pitch_class()
        && one.quality.third() == other.quality.third()
}

fn missed(
    song: &Arrangement,
    stretches: &[Stretch<'_>],
    chords: &[&Chord],
    bounds: Bounds,
) -> Vec<Missed> {
    let share = |stretch: &Stretch<'_>, chord: &Chord, sixth: Option<u8>| {
        let of = |class: &&u8| chord.contains(**class) || sixth == Some(**class);
        stretch.notes.iter().filter(of).count() as f64 / stretch.notes.len().max(1) as f64
    };
    let mut out: Vec<(Missed, usize)> = Vec::new();
    // What the hand held before: the song's chord, or what it played instead.
    let mut held: Option<&Chord> = None;
    for stretch in stretches {
        let own = share(stretch, stretch.chord, added_sixth(stretch.chord, song.key));
        let before = held.replace(stretch.chord);
        if stretch.notes.len() < bounds.notes || own > bounds.own {
            continue;
        }
        let is_before = |chord: &Chord| before.is_some_and(|before| is_like(before, chord));
        // Of equals the one that came before.
        let others = chords.iter().filter(|chord| !is_like(chord, stretch.chord));
        let best = others
            .map(|chord| (share(stretch, chord, None), is_before(chord), *chord))
            .max_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let Some((other, before, played)) = best else { continue };
        if other < bounds.other || other - own < CLEARLY {
            continue;
        }
        let alone = |one: &Chord, beside: &Chord| -> Vec<u8> {
            let is = |class: &&u8| one.contains(**class) && !beside.contains(**class);
            stretch.notes.iter().filter(is).copied().collect()
        };
        let others = alone(played, stretch.chord);
        let two = others.iter().any(|class| others.first() != Some(class));
        let plain = others.len() >= PLAINLY && two && alone(stretch.chord, played).is_empty();
        if bounds.plainly && !plain {
            continue;
        }
        held = Some(played);
        let (wanted, played) = (stretch.chord.to_string(), played.to_string());
        let same =
            |(missed, _): &&mut (Missed, usize)| missed.wanted == wanted && missed.played == played;
        if let Some((missed, stays)) = out.iter_mut().find(same) {
            missed.bars.push(stretch.bar);
            *stays += usize::from(before);
        } else {
            let missed = Missed { wanted, played, stays: false, bars: vec![stretch.bar] };
            out.push((missed, usize::from(before)));
        }
    }
    let mut out: Vec<Missed> = out
        .into_iter()
        .map(|(missed, stays)| Missed { stays: stays * 2 >= missed.bars.len(), ..missed })
        .collect();
    out.sort_by_key(|missed| std::cmp::Reverse(missed.bars.len()));
    out
}
