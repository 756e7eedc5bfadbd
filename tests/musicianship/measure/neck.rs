//! Fretted instruments as they are built and published, and whether one hand can hold some notes on
//! them: found from the notes alone.

use serde_json::Value;

/// An instrument.
pub struct Neck {
    /// The open strings, lowest first.
    open: Vec<u8>,
    /// The last fret.
    frets: u8,
    /// From nut to bridge, in millimetres.
    scale: f64,
    /// The widest that a hand spreads over it, from the lowest fret stopped to the highest, in
    /// millimetres.
    widest: f64,
    /// True if no string may ring open.
    closed: bool,
}

/// A way to hold some notes.
#[derive(Clone, Debug, PartialEq)]
pub struct Grip {
    /// Each note's string, 0 the lowest, and fret from the nut.
    pub frets: Vec<(usize, u8)>,
    /// The lowest fret that a finger stops; none if all strings ring open.
    pub position: Option<u8>,
    /// From there to the highest, in millimetres.
    pub stretch: f64,
}

/// One finger may lie across several strings, and there are four.
const FINGERS: usize = 4;

impl Neck {
    /// A guitar: 25.4 in from nut to bridge (from memory), its strings and frets those of
    /// reference/instruments.json. A hand spreads as wide as for the widest of the 787 published shapes
    /// of reference/guitar_shapes.jsonl: 97 mm, from the first fret to the fourth.
    pub fn guitar() -> Self {
        let mut neck = Self::of("guitar", 25.4 * 25.4, false);
        let shapes = include_str!("../../reference/guitar_shapes.jsonl").lines();
        let stretches = shapes.map(|line| {
            let row: Value = serde_json::from_str(line).unwrap();
            let frets = row["frets_low_to_high"].as_array().unwrap().iter();
            let stopped: Vec<u8> = frets
                .filter_map(|fret| u8::try_from(fret.as_i64()?).ok())
                .filter(|&f| f > 0)
                .collect();
            neck.stretch(&stopped)
        });
        neck.widest = stretches.fold(0.0, f64::max);
        neck
    }

    /// A mandolin: about 14 in from nut to bridge (Reverb, "Basics of Mandolin Construction"). A hand
    /// spreads as for the published chop in G, frets 7 5 2 3 ("The Bluegrass G chop chord", 2016): 80 mm.
    /// In a chop no string rings open (Wikipedia "Chop chord").
    pub fn mandolin() -> Self {
        let mut neck = Self::of("mandolin", 14.0 * 25.4, true);
        neck.widest = neck.stretch(&[7, 5, 2, 3]);
        neck
    }

    fn of(name: &str, scale: f64, closed: bool) -> Self {
        let facts: Value =
            serde_json::from_str(include_str!("../../reference/instruments.json")).unwrap();
        let strings = facts[name]["strings"].as_object().unwrap();
        let mut open: Vec<u8> =
            strings.values().map(|note| u8::try_from(note.as_u64().unwrap()).unwrap()).collect();
        open.sort_unstable();
        let frets = u8::try_from(facts[name]["frets"].as_u64().unwrap()).unwrap();
        Self { open, frets, scale, widest: 0.0, closed }
    }

    /// From the lowest of these frets to the highest, in millimetres: fret n lies at scale·(1 − 2^(−n/12))
    /// from the nut (equal temperament).
    fn stretch(&self, frets: &[u8]) -> f64 {
        let (Some(&low), Some(&high)) = (frets.iter().min(), frets.iter().max()) else {
            return 0.0;
        };
        let to_bridge = |fret: u8| self.scale * (-f64::from(fret) / 12.0).exp2();
        to_bridge(low) - to_bridge(high)
    }

    /// How one hand can hold all these notes at once, each on a string of its own, with a capo at a fret
    /// (0 for none): of all ways the one that spreads the hand least. `None` if it cannot.
    pub fn hold(&self, notes: &[u8], capo: u8) -> Option<Grip> {
        let mut best = None;
        self.place(notes, capo, &mut Vec::new(), &mut best);
        best
    }

    fn place(&self, notes: &[u8], capo: u8, frets: &mut Vec<(usize, u8)>, best: &mut Option<Grip>) {
        let Some((&note, rest)) = notes.split_first() else {
            let grip = self.grip(frets, capo);
            let better = |grip: &Grip| best.as_ref().is_none_or(|best| grip.stretch < best.stretch);
            if let Some(grip) = grip.filter(better) {
                *best = Some(grip);
            }
            return;
        };
        for (string, &open) in self.open.iter().enumerate() {
            let lowest = open + capo + u8::from(self.closed);
            let free = frets.iter().all(|&(taken, _)| taken != string);
            if free && (lowest..=open + self.frets).contains(&note) {
                frets.push((string, note - open));
                self.place(rest, capo, frets, best);
                frets.pop();
            }
        }
    }

    /// The grip, if one hand can hold it.
    fn grip(&self, frets: &[(usize, u8)], capo: u8) -> Option<Grip> {
        let stopped: Vec<u8> = frets.iter().map(|&(_, fret)| fret).filter(|&f| f > capo).collect();
        let stretch = self.stretch(&stopped);
        let possible = stretch <= self.widest + 0.01 && fingers(frets, capo) <= FINGERS;
        let position = stopped.iter().min().copied();
        possible.then(|| Grip { frets: frets.to_vec(), position, stretch })
    }
}

/// How many fingers it takes. One may lie across neighbouring strings at one fret, as in the published C9
/// of frets 3 3 2 3 3 3; at the lowest fret across all that are stopped there, if none between them rings
/// open.
fn fingers(frets: &[(usize, u8)], capo: u8) -> usize {
    let mut stopped: Vec<(u8, usize)> = frets
        .iter()
        .filter(|&&(_, fret)| fret > capo)
        .map(|&(string, fret)| (fret, string))
        .collect();
    stopped.sort_unstable();
    let Some(&(lowest, first)) = stopped.first() else { return 0 };
    let last = stopped.iter().rfind(|&&(fret, _)| fret == lowest).map_or(first, |&(_, last)| last);
    let open = |&(string, fret): &(usize, u8)| fret <= capo && (first..last).contains(&string);
    let across = !frets.iter().any(open);
    let goes_on = |&(fret, string): &(u8, usize), &(next_fret, next): &(u8, usize)| {
        next_fret == fret && (next == string + 1 || (fret == lowest && across))
    };
    stopped.chunk_by(goes_on).count()
}
