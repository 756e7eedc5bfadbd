use super::advice::advice;
use super::band::band_spread;
use super::figures::Sheet;
use super::findings::findings;
use super::fits::{Fits, does_not_fit};
use super::harmony::Harmony;
use super::lay::{self, Unit, lay};
use super::own_beat::own_beat;
use super::place::place;
use super::song_grid::SongGrid;
use super::{Anchor, NotReviewed, Review};
use crate::arrange::Arrangement;
use crate::coverage::Coverage;
use crate::perform::Performance;
use crate::take::{Hit, Take};
use crate::theory::MidiNote;
use crate::time::Nanos;

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
    let first = take.hits.iter().map(|hit| hit.at).min().ok_or(NotReviewed::Silent)?;
    let mut hits: Vec<_> = take.hits.iter().collect();
    hits.sort_by_key(|hit| hit.at);
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
    let beats = own_beat(&times, unit.period);
    let begins = lay::known(anchor, first);
    let laid = lay(song, &grid, coverage, &hits, &beats, unit, begins);
    let laid = laid.ok_or(NotReviewed::Elsewhere)?;
    let beat = beats.get(laid.beat).ok_or(NotReviewed::Elsewhere)?;
    let fits = Fits::new(beat, &laid, &hits);
    let moved = |by: i32| {
        let hits: Vec<Hit> = hits.iter().map(|hit| moved(hit, by)).collect();
        let hits: Vec<&Hit> = hits.iter().collect();
        lay(song, &grid, coverage, &hits, &beats, unit, begins)
    };
    if let Some(why) = does_not_fit(song, &times, unit, fits, moved) {
        return Err(why);
    }
    let placing = place(&times, &grid, beat, &laid, begins);
    let harmony = Harmony::new(song);
    let sheet = Sheet::new(song, coverage, &grid, &harmony, &hits, &times, &placing);
    if sheet.strokes.is_empty() {
        return Err(NotReviewed::Elsewhere);
    }
    let mut out = sheet.review(band_spread(played));
    out.source = take.source;
    out.sure = fits.sure(begins.is_some());
    out.begins = placing.begins + first.seconds();
    out.tempo = played.tempo.beats_per_minute(song.meter);
    out.speed = f64::from(song.pace.micros_per_quarter())
        / f64::from(song.tempo.micros_per_quarter())
        * 100.0;
    out.findings = findings(&out, &sheet);
    out.advice = advice(&out, &sheet);
    Ok(out)
}

/// A stroke so many half steps higher.
fn moved(hit: &Hit, by: i32) -> Hit {
    let higher = |pitch: &MidiNote| MidiNote::clamped(i32::from(pitch.get()) + by);
    Hit { pitches: hit.pitches.iter().map(higher).collect(), ..hit.clone() }
}
