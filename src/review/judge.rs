use super::advice::advice;
use super::band::band_spread;
use super::band_alone::{Likeness, likeness};
use super::band_within::without_band;
use super::figures::Sheet;
use super::findings::findings;
use super::fits::{Fits, does_not_fit};
use super::harmony::Harmony;
use super::lay::{self, Laid, lay};
use super::lay_tables::Unit;
use super::nobody::{band_alone, nobody};
use super::own_beat::own_beats;
use super::pace::pace;
use super::picked::picked;
use super::place::place;
use super::song_grid::SongGrid;
use super::{Anchor, Figures, NotReviewed, Review, SwingReview, TimingReference};
use crate::arrange::Arrangement;
use crate::coverage::Coverage;
use crate::perform::Performance;
use crate::take::{Hit, Source, Take};
use crate::theory::MidiNote;
use crate::time::{Meter, Nanos};

/// Fewer strokes than these say nothing about anybody's time.
const FEWEST: usize = 8;

/// What a take shows, held against a song as the band plays it and what that leaves open. All times are told
/// against the grid as the band plays it, its swing and its slowing down included; a player whose own beat
/// goes off from the band's is followed.
///
/// The command of the advice is left empty: only who runs the program knows what to write there.
///
/// # Errors
/// [`NotReviewed`], with what to check.
pub fn review(
    song: &Arrangement,
    played: &Performance,
    coverage: &Coverage,
    take: &Take,
    anchor: Anchor,
) -> Result<Review, NotReviewed> {
    let Some(first) = take.hits.iter().map(|hit| hit.at).min() else {
        return Ok(nobody(song, played, take.source));
    };
    let mut hits: Vec<_> = take.hits.iter().collect();
    hits.sort_by_key(|hit| hit.at);
    let hits = picked(&hits);
    let like = likeness(played, &hits);
    if like.is_some_and(Likeness::is_band_alone) {
        return Ok(band_alone(song, played, take.source));
    }
    let told = of_hits(song, played, coverage, &hits, (take.source, first), anchor)?;
    if take.source == Source::Midi {
        return Ok(told);
    }
    // Who leaves most of their own to others, and plays what the band plays, note for note, is the band.
    let may_be_band = like.is_some_and(Likeness::may_be_band_alone);
    let is_nobody = |told: &Review| {
        let Figures { open, covered, .. } = told.whole;
        may_be_band && open >= FEWEST && covered as f64 <= MOST_BY_CHANCE * open as f64
    };
    if is_nobody(&told) {
        return Ok(band_alone(song, played, take.source));
    }
    if told.against == TimingReference::Own {
        return Ok(told);
    }
    // A microphone may have heard the band beside the player. Where that strikes is known by now.
    let start = played.nanos(song.start).seconds();
    let own = without_band(played, start, &hits, told.begins);
    if own.len() == hits.len() || own.len() < FEWEST {
        return Ok(told);
    }
    match of_hits(song, played, coverage, &own, (take.source, first), anchor) {
        Ok(without) if is_nobody(&without) => Ok(band_alone(song, played, take.source)),
        Ok(mut without) if hits.len() - own.len() >= MORE => {
            let remark = format!(
                "{} soft strokes that fall together with the band's were taken for the band, and left out.",
                hits.len() - own.len()
            );
            without.remarks.push(remark);
            Ok(without)
        }
        Ok(without) => Ok(without),
        Err(_) => Ok(told),
    }
}

/// The share of what is left open that the band itself may seem to cover: strokes that ring or are early.
const MOST_BY_CHANCE: f64 = 0.5;

/// From so many strokes of the band on it is told that it is heard.
const MORE: usize = 8;

/// The same of some strokes in order of time. The first of all, whose they may be, is at `first`.
fn of_hits(
    song: &Arrangement,
    played: &Performance,
    coverage: &Coverage,
    hits: &[&Hit],
    (source, first): (Source, Nanos),
    anchor: Anchor,
) -> Result<Review, NotReviewed> {
    // Everything is reckoned from the first stroke, so that it does not matter when the recording began.
    let since = |at: Nanos| Nanos(at.0.saturating_sub(first.0)).seconds();
    let times: Vec<f64> = hits.iter().map(|hit| since(hit.at)).collect();
    let bar = played.tempo.nanos(song.meter.bar()).seconds();
    let lasts = times.last().copied().unwrap_or(0.0);
    if times.len() < FEWEST || lasts < bar {
        return Err(NotReviewed::too_short(times.len()));
    }
    let grid = SongGrid::new(song, played, coverage);
    let unit = Unit::new(played.swing.pair(), played.swing.share(), played.tempo);
    let swings = song.meter != Meter::SixEight;
    let beats = own_beats(&times, unit.period, swings);
    let known = lay::known(anchor, first);
    let laid = lay(song, &grid, coverage, hits, &beats, unit, known);
    let laid = laid.ok_or(NotReviewed::Elsewhere)?;
    let beat = beats.get(laid.beat).ok_or(NotReviewed::Elsewhere)?;
    let fits = Fits::new(beat, &laid, hits);
    let moved = |by: i32| {
        let hits: Vec<Hit> = hits.iter().map(|hit| moved(hit, by)).collect();
        let hits: Vec<&Hit> = hits.iter().collect();
        lay(song, &grid, coverage, &hits, &beats, unit, known)
    };
    if let Some(why) = does_not_fit(song, &times, unit, fits, moved) {
        return Err(why);
    }
    let begins = known.begins.filter(|_| laid.anchored);
    let harmony = Harmony::new(song);
    let sheet_of = |laid: &Laid| {
        let placing = place(&times, &grid, beat, laid, begins, swings);
        Sheet::new(song, coverage, &grid, &harmony, hits, &times, &placing)
    };
    let mut sheet = sheet_of(&laid);
    if let Some(alike) = not_lost(&laid).map(|laid| sheet_of(&laid))
        && let Some(late) = &alike.late
        && late.in_time_before <= 2
    {
        // Whose chords come late from the first change on has lost no beat.
        let lost = laid.shifts.last().map_or(0.0, |(_, shift)| laid.base - shift);
        let behind = song.tempo.nanos(late.behind).seconds();
        let beat = song.tempo.nanos(song.meter.beat()).seconds();
        if (lost - behind).abs() < 0.8 * beat {
            sheet = alike;
        }
    }
    // Who plays another section's chords for a while may go along with the song's a few beats further by chance.
    if sheet.lost.len() > 1 && sheet.goes_astray(&laid) {
        sheet = sheet_of(&Laid { shifts: vec![(0, laid.base)], ..laid.clone() });
    }
    if sheet.strokes.is_empty() {
        return Err(NotReviewed::Elsewhere);
    }
    let mut out = sheet.review(band_spread(played));
    out.source = source;
    out.sure = fits.sure(begins.is_some());
    out.begins = sheet.begins + first.seconds();
    (out.tempo, out.speed) = pace(song, played);
    out.swing = sheet.swing.map(|later| {
        let pair = played.tempo.nanos(played.swing.pair()).seconds();
        let song = played.swing.share();
        SwingReview { yours: song + later / pair, song }
    });
    if known.begins.is_some() && !laid.anchored {
        let remark =
            "The take does not begin with the count-in that was said: it was laid where it fits.";
        out.remarks.push(remark.to_owned());
    }
    out.findings = findings(&out, &sheet);
    out.advice = advice(&out, &sheet);
    Ok(out)
}

/// The same with all of it where it was laid first, if a beat was lost in it once.
fn not_lost(laid: &Laid) -> Option<Laid> {
    let moves = laid.shifts.iter().any(|(_, shift)| *shift != laid.base);
    (moves && laid.shifts.len() <= 2).then(|| Laid { shifts: vec![(0, laid.base)], ..laid.clone() })
}

/// A stroke so many half steps higher.
fn moved(hit: &Hit, by: i32) -> Hit {
    let higher = |pitch: &MidiNote| MidiNote::clamped(i32::from(pitch.get()) + by);
    Hit { pitches: hit.pitches.iter().map(higher).collect(), ..hit.clone() }
}
