use super::reach::{self, Reach};
use super::{Frets, Tuning, class_bits, has_unison, heard_bits};
use crate::theory::{Capo, Chord, MidiNote};

/// The guitar, E2 A2 D3 G3 B3 E4. Twenty frets is from memory.
pub const GUITAR: Tuning<6> = Tuning {
    open: [40, 45, 50, 55, 59, 64],
    frets: 20,
    reach: Reach { anywhere: 3, higher: 4, higher_from: 6 },
};

/// The highest fret searched, counted from the capo: every root lies on each of the three lowest
/// strings below it.
const HIGHEST: u8 = 12;

/// The low strings, which bass notes are played on: every shape begins on one of them.
pub(super) const BASS_STRINGS: usize = 3;

/// A guitar chord as a hand holds it, its frets counted from the capo.
///
/// The strings from the lowest struck to the highest struck all sound; the lowest has the root or the
/// slash bass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct GuitarShape {
    /// For each string, the low E first, its fret above the capo: 0 open, `None` not struck.
    pub frets: Frets<6>,
    /// Where the capo is, 0 for none.
    pub capo: u8,
}

impl GuitarShape {
    /// What each string sounds, the low E first.
    pub fn notes(&self) -> [Option<MidiNote>; 6] {
        GUITAR.notes(&self.frets, self.capo)
    }

    /// The index of the lowest string struck, 0 the low E.
    pub fn lowest_string(&self) -> usize {
        self.frets.iter().position(Option::is_some).unwrap_or(0)
    }
}

/// The shape that a backup guitarist would hold for the chord as it sounds, with a capo at the given
/// fret (held to 0..=12): the open chords where there are any, else what lies low and is easy to hold.
///
/// Every string sounds a tone of the chord and no two the same pitch. If a hand cannot hold all tones,
/// they are left out in this order: a perfect fifth; the ninth of an eleventh or thirteenth; then, last
/// first, those of [`crate::theory::Quality::essential`], never the third. The root is left out only
/// above a slash bass. At least four strings sound, unless the chord can be had on three alone.
pub fn guitar_shape(chord: &Chord, capo: u8) -> GuitarShape {
    let capo = Capo::clamped(capo);
    let essential = chord.quality.essential();
    let fewer = (1..=essential.len()).rev().filter_map(|count| essential.get(..count));
    // A bare fifth is two notes, and more than three strings of it lie under no hand.
    let strings = if chord.quality.intervals().len() > 2 { [4, 3] } else { [3, 3] };
    let mut tries = fewer.flat_map(|required| strings.map(|strings| (required, strings)));
    let frets = tries
        .find_map(|(required, strings)| Search::new(chord, capo, required, strings).run())
        .unwrap_or_else(|| bass_alone(chord, capo));
    GuitarShape { frets, capo: capo.fret() }
}

/// The chord's lowest note on the low E string.
fn bass_alone(chord: &Chord, capo: Capo) -> Frets<6> {
    let mut frets = [None; 6];
    if let (Some(string), Some(open)) = (frets.first_mut(), GUITAR.open.first()) {
        *string = Some((capo.shape(chord.bass_class()) + 12 - open % 12) % 12);
    }
    frets
}

/// What a shape costs. Common practice, no source: weights chosen so that the chords every guitarist
/// learns first come out for the chords they are learned as. One is a string stopped one fret higher.
mod weight {
    /// Each finger.
    pub const FINGER: u32 = 1;
    /// A finger across several strings.
    pub const BARRE: u32 = 3;
    /// A low string not struck.
    pub const LOW_STRING: u32 = 4;
    /// A high string not struck, which an arm that strums has to steer clear of.
    pub const HIGH_STRING: u32 = 8;
    /// A perfect fifth, or a colour, left out.
    pub const MISSING: u32 = 5;
    /// The root left out above a slash bass.
    pub const MISSING_ROOT: u32 = 8;
    /// A string left to ring open while the hand is away from the nut: it stands out of the chord, and
    /// fingers must arch around it.
    pub const OPEN_AWAY: u32 = 10;
    /// Where the hand is away from the nut.
    pub const AWAY: u8 = 4;
    /// Each fret that the whole hand lies above the first, which moves no finger against another.
    pub const POSITION: u32 = 2;
    /// A spread of three frets or more.
    pub const STRETCH: u32 = 7;
    /// Two fingers at the lowest fret with an open string between them, others stretching past.
    pub const SPLIT: u32 = 10;
}

/// A search through all that a hand can hold, for the shape that costs least.
struct Search {
    /// Pitch classes as bits, C = bit 0, as the shape would sound without its capo.
    tones: u16,
    required: u16,
    root: u16,
    bass: u16,
    strings: usize,
    highest: u8,
    best: Option<(u32, Frets<6>)>,
}

impl Search {
    fn new(chord: &Chord, capo: Capo, required: &[u8], strings: usize) -> Self {
        let root = capo.shape(chord.root.pitch_class());
        let bits = |intervals: &[u8]| class_bits(root, intervals);
        Self {
            tones: bits(chord.quality.intervals()),
            required: bits(required),
            root: bits(&[0]),
            bass: class_bits(capo.shape(chord.bass_class()), &[0]),
            strings,
            highest: HIGHEST.min(GUITAR.frets - capo.fret()),
            best: None,
        }
    }

    fn run(mut self) -> Option<Frets<6>> {
        for lowest in 0..BASS_STRINGS {
            let mut frets = [None; 6];
            self.place(&mut frets, (lowest, lowest), None, self.bass);
        }
        self.best.map(|(_, frets)| frets)
    }

    /// Puts the notes of `allowed` on a string in every way, and goes on to the next. `stopped` is
    /// the lowest and highest fret stopped so far.
    fn place(
        &mut self,
        frets: &mut Frets<6>,
        (lowest, string): (usize, usize),
        stopped: Option<(u8, u8)>,
        allowed: u16,
    ) {
        if string - lowest >= self.strings {
            self.consider(frets, lowest, string);
        }
        let Some(open) = GUITAR.open.get(string) else { return };
        for fret in (0..=self.highest).filter(|fret| allowed & (1 << ((open + fret) % 12)) != 0) {
            if let Some(place) = frets.get_mut(string) {
                *place = Some(fret);
            }
            let stopped = match (fret, stopped) {
                (0, _) => stopped,
                (_, None) => Some((fret, fret)),
                (_, Some((low, high))) => Some((low.min(fret), high.max(fret))),
            };
            let held = stopped.is_none_or(|(low, high)| GUITAR.reach.spans(low, high));
            if held && self.may_improve(frets, lowest, stopped) {
                self.place(frets, (lowest, string + 1), stopped, self.tones);
            }
        }
        if let Some(place) = frets.get_mut(string) {
            *place = None;
        }
    }

    /// False if no shape that begins so can cost less than the best so far.
    fn may_improve(&self, frets: &Frets<6>, skipped: usize, stopped: Option<(u8, u8)>) -> bool {
        let Some((best, _)) = self.best else { return true };
        let Some((low, high)) = stopped else { return true };
        // Strings still to come may bring the hand down, as far as it then spans to the highest.
        let furthest_down = (1..=low).find(|&to| GUITAR.reach.spans(to, high)).unwrap_or(low);
        let at = |lowest: u8| {
            let stopped = frets.iter().flatten().filter(|&&fret| fret > 0);
            let spread: u32 = stopped.map(|fret| u32::from(fret - lowest + 1)).sum();
            spread + weight::POSITION * u32::from(lowest - 1)
        };
        // Linear in between, so one of the ends is the least.
        weight::LOW_STRING * skipped as u32 + at(low).min(at(furthest_down)) < best
    }

    /// Keeps a shape, that begins after `skipped` strings and ends before string `end`, if it is the best so far.
    fn consider(&mut self, frets: &Frets<6>, skipped: usize, end: usize) {
        let notes = GUITAR.notes(frets, 0);
        let heard = heard_bits(&notes);
        // An open string may sound below one that is stopped high on the string under it.
        let lowest_note = notes.iter().flatten().min();
        if heard & self.required != self.required
            || lowest_note != notes.iter().flatten().next()
            || !GUITAR.reach.holds(frets)
            || has_unison(&notes)
        {
            return;
        }
        let (lowest, highest) = reach::stopped_range(frets).unwrap_or((1, 1));
        let stopped = frets.iter().flatten().filter(|&&fret| fret > 0);
        let at_lowest = stopped.clone().filter(|&&fret| fret == lowest).count();
        let spread: u32 = stopped.map(|fret| u32::from(fret - lowest + 1)).sum();
        let missing = self.tones & !heard;
        let open_away = highest >= weight::AWAY && frets.contains(&Some(0));
        let barre = reach::barre(frets).is_some();
        let cost = weight::LOW_STRING * skipped as u32
            + spread
            + weight::POSITION * u32::from(lowest - 1)
            + weight::STRETCH * u32::from(highest - lowest >= 3)
            + weight::SPLIT * u32::from(at_lowest > 1 && !barre && highest > lowest)
            + weight::FINGER * reach::fingers(frets) as u32
            + weight::BARRE * u32::from(barre)
            + weight::HIGH_STRING * (frets.len() - end) as u32
            + weight::MISSING * (missing & !self.root).count_ones()
            + weight::MISSING_ROOT * u32::from(missing & self.root != 0)
            + weight::OPEN_AWAY * u32::from(open_away);
        // Of equals the one found first, which is the one on more strings or lower frets.
        if self.best.is_none_or(|(least, _)| cost < least) {
            self.best = Some((cost, *frets));
        }
    }
}
