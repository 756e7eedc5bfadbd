//! From where on something is worth a word.

/// The least displacement of a stroke in an even row that listeners notice, in milliseconds: 6 ms where the
/// strokes are less than 240 ms apart, and 2.5 percent of the distance above (Friberg & Sundberg 1995, "Time
/// discrimination in a monotonic, isochronous sequence", J. Acoust. Soc. Am. 98).
pub(super) fn noticed(apart_millis: f64) -> f64 {
    (apart_millis * 0.025).max(6.0)
}

/// From what standard deviation on strokes are called uneven, in milliseconds, where they are `apart_millis`
/// from each other: a typical one is then twice as far off as is just heard. Slower than that much it is never
/// more than [`UNEVEN_MOST`].
pub(super) fn uneven(apart_millis: f64) -> f64 {
    (noticed(apart_millis) * 2.0).min(UNEVEN_MOST)
}

/// Practised players tap to within some 2 percent of a beat (Repp 2005, Psychon. Bull. Rev. 12, from memory):
/// 14 ms of a beat at 84 a minute.
const UNEVEN_MOST: f64 = 14.0;

/// By how much a player's strokes are early as a whole before they are heard apart from the band's, in
/// milliseconds ("JND thresholds of asynchrony and non-isochrony in a multi-instrumental groove-based
/// context", preprint, osf.io/jsg94).
pub(super) const EARLY: f64 = 23.0;

/// The same for late ones (the same source).
pub(super) const LATE: f64 = 28.0;

/// From how many percent on a beat that goes faster or slower than the band's is worth a word: a line of four
/// bars of four then ends an eighth of a beat off. Common practice, no source.
pub(super) const RUSHING: f64 = 0.8;
