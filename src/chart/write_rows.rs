use super::bar_head;
use super::melody_row::{Tuplet, melody_share, signature};
use super::split::share_length;
use super::{ChartBar, Pickup, Share, Stop, Tune};
use crate::theory::{Chord, Key, Letter, MidiNote, PitchName};
use crate::time::{BarMeter, Meter, Ticks};

impl ChartBar {
    /// True if the singer sings and pauses as in a section without a `voice` row.
    pub(super) fn sings_as_written_without(&self) -> bool {
        matches!(self.singing.as_slice(), [all] if all.value != self.line_end)
    }
}

/// The chords of a bar, with its meter if that is not the song's; `%` if it is the bar `before` again.
/// `leads` is true for a bar that nothing stands before, no pickup either.
pub(super) fn chords(
    bars: &[ChartBar],
    at: usize,
    before: Option<usize>,
    song: Meter,
    leads: bool,
) -> String {
    let Some(bar) = bars.get(at) else { return String::new() };
    let before = before.and_then(|before| bars.get(before));
    if before.is_some_and(|before| {
        bar.meter == song && before.meter == song && bar.chords == before.chords
    }) {
        return "%".to_owned();
    }
    // What is shorter than a bar and stands first would be a pickup.
    let leads = leads && bar.meter.of_song().is_none() && bar.meter.bar() < song.bar();
    let head = match bar.meter == song {
        true => String::new(),
        false => bar_head::written(bar.meter, leads) + " ",
    };
    let name = |chord: Option<Chord>| chord.map_or("N.C.".to_owned(), |chord| chord.to_string());
    let count = fewest(bar.meter, &bar.chords, share_length);
    head + &spread(
        bar.meter,
        &bar.chords,
        count,
        |share, first| {
            if first { name(share) } else { "/".to_owned() }
        },
    )
    .join(" ")
}

/// The head of a pickup and its chord.
pub(super) fn pickup_chord(pickup: &Pickup) -> String {
    let eighths = pickup.length.get() / Ticks::EIGHTH.get();
    let length =
        if eighths % 2 == 0 { format!("{}/4", eighths / 2) } else { format!("{eighths}/8") };
    // A length that is a meter too must say what it is.
    let word = if Meter::parse(&length).is_some() { "pickup " } else { "" };
    let chord = pickup.chord.map_or_else(|| "N.C.".to_owned(), |chord| chord.to_string());
    format!("({word}{length}) {chord}")
}

/// The tune in a pickup.
pub(super) fn pickup_melody(pickup: &Pickup, key: Key) -> String {
    let mut letters = signature(Some(key));
    let Some(groups) = pickup_groups(pickup) else { return "-".to_owned() };
    let mut word = |tune: Tune, first: bool| match tune {
        Tune::Note(note) if first => spelled(note, key, &mut letters),
        Tune::Note(_) | Tune::Hold => "/".to_owned(),
        Tune::Rest => "-".to_owned(),
    };
    in_groups(&pickup.melody, groups, &mut word).unwrap_or_else(|| "-".to_owned())
}

/// The cut of a pickup that takes the fewest words.
pub(super) fn pickup_groups(pickup: &Pickup) -> Option<Vec<Group>> {
    /// A sixteenth, the shortest share of a tune.
    const SHORTEST: i64 = 240;
    if pickup.melody.is_empty() {
        return None;
    }
    let sixteenths = pickup.length.get() / SHORTEST;
    let counts = (1..=sixteenths).filter(|count| sixteenths % count == 0);
    let cuts =
        counts.filter_map(|count| groups(&pickup.melody, Ticks::new(pickup.length.get() / count)));
    cuts.min_by_key(|groups| words_of(groups))
}

/// True if a pickup with this tune can be written.
pub(crate) fn pickup_fits(pickup: &Pickup) -> bool {
    pickup_groups(pickup).is_some()
}

fn words_of(groups: &[Group]) -> usize {
    groups.iter().map(|group| usize::from(group.notes) + usize::from(group.notes > 1)).sum()
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Where the singer sings, a mark a beat or finer.
pub(super) fn voice(bar: &ChartBar) -> String {
    let usual = match bar.meter.of_song() {
        Some(Meter::FourFour | Meter::TwoTwo) => 4,
        Some(Meter::ThreeFour) => 3,
        Some(Meter::TwoFour | Meter::SixEight) => 2,
        None => usize::from(bar.meter.numerator()),
    };
    let fewest = fewest(bar.meter, &bar.singing, share_length);
    let count = at_least(fewest, usual, bar.meter, share_length);
    spread(bar.meter, &bar.singing, count, |sings, _| if sings { "=" } else { "-" }.to_owned())
        .concat()
}

/// Where the band stops.
pub(super) fn stops(bar: &ChartBar) -> String {
    // A hit is one mark, however long.
    let hit = bar.stops.iter().find(|share| share.value == Stop::Hit).map(|share| share.length);
    let by_hit =
        hit.and_then(|hit| (1..=MOST).find(|&count| share_length(bar.meter, count) == Some(hit)));
    let count = by_hit.unwrap_or_else(|| fewest(bar.meter, &bar.stops, share_length));
    let mark = |stop, _| match stop {
        Stop::PlayOn => ".",
        Stop::Hit => "x",
        Stop::Hold => "o",
        Stop::Silence => "-",
    };
    spread(bar.meter, &bar.stops, count, mark).concat()
}

/// The tune in a bar, as the key spells it.
pub(super) fn melody(bar: &ChartBar, key: Key) -> String {
    let usual = usual_count(bar.meter);
    match bar.melody.as_slice() {
        [Share { value: Tune::Rest, .. }] => return "-".to_owned(),
        [Share { value: Tune::Hold, .. }] => return "/".to_owned(),
        _ => {}
    }
    let mut letters = signature(Some(key));
    let mut word = |tune: Tune, first: bool| match tune {
        Tune::Note(note) if first => spelled(note, key, &mut letters),
        Tune::Note(_) | Tune::Hold => "/".to_owned(),
        Tune::Rest => "-".to_owned(),
    };
    let fits = |&count: &usize| {
        melody_share(bar.meter, count)
            .is_some_and(|one| bar.melody.iter().all(|share| share.length.is_multiple_of(one)))
    };
    if let Some(fewest) = (1..=MOST).find(fits) {
        let count = at_least(fewest, usual, bar.meter, melody_share);
        return spread(bar.meter, &bar.melody, count, word).join(" ");
    }
    grouped(bar, &mut word).unwrap_or_else(|| "-".to_owned())
}

/// A bar some of whose notes lie between sixteenths: those that do stand in groups, in as few words as may be.
fn grouped(bar: &ChartBar, word: &mut dyn FnMut(Tune, bool) -> String) -> Option<String> {
    in_groups(&bar.melody, best_groups(bar.meter, &bar.melody)?, word)
}

fn in_groups(
    melody: &[Share<Tune>],
    best: Vec<Group>,
    word: &mut dyn FnMut(Tune, bool) -> String,
) -> Option<String> {
    let mut words = Vec::new();
    let mut shares = melody.iter();
    let mut share = shares.next();
    let mut left = share.map(|share| share.length).unwrap_or_default();
    let mut first = true;
    for group in best {
        if group.notes > 1 {
            words.push(Tuplet::written(group.notes, group.time));
        }
        for _ in 0..group.notes {
            while left <= Ticks::ZERO {
                share = shares.next();
                left = share?.length;
                first = true;
            }
            words.push(word(share?.value, first));
            first = false;
            left -= group.length;
        }
    }
    Some(words.join(" "))
}

/// The cut of a bar into shares and groups that takes the fewest words, on the usual grid of its meter or a finer one.
pub(super) fn best_groups(meter: BarMeter, shares: &[Share<Tune>]) -> Option<Vec<Group>> {
    let usual = usual_count(meter);
    let cut = |count: usize| melody_share(meter, count).and_then(|one| groups(shares, one));
    let on_usual = (1..=MOST)
        .filter(|count| count.is_multiple_of(usual))
        .filter_map(cut)
        .min_by_key(|groups| words_of(groups));
    on_usual.or_else(|| (1..=MOST).find_map(cut))
}

/// How many shares a bar of melody usually has.
const fn usual_count(meter: BarMeter) -> usize {
    match meter.of_song() {
        Some(Meter::FourFour | Meter::TwoTwo | Meter::TwoFour) => 4,
        Some(Meter::ThreeFour) => 3,
        Some(Meter::SixEight) => 6,
        None => meter.numerator() as usize,
    }
}

/// True if a bar with this tune can be written: in sixteenths, or in groups.
pub(crate) fn melody_fits(meter: BarMeter, shares: &[Share<Tune>]) -> bool {
    let cut = |count| melody_share(meter, count).and_then(|one| groups(shares, one));
    (1..=MOST).any(|count| cut(count).is_some())
}

/// So many notes in the time of so many shares, each `length` long.
pub(super) struct Group {
    pub notes: u8,
    pub time: u8,
    /// How long each sounds.
    pub length: Ticks,
    /// How long each is written.
    pub one: Ticks,
}

/// Cuts a bar into shares of `one`, and groups where notes begin between them; `None` if a group would have too
/// many notes.
fn groups(shares: &[Share<Tune>], one: Ticks) -> Option<Vec<Group>> {
    let mut ends = Vec::with_capacity(shares.len());
    let mut end = Ticks::ZERO;
    for share in shares {
        end += share.length;
        ends.push(end.get());
    }
    let (one, whole) = (one.get(), end.get());
    let mut out = Vec::new();
    let mut at = 0;
    while at < whole {
        let next = ends.iter().copied().find(|&end| end > at)?;
        if next % one == 0 || next - at >= one {
            // A long note is held to the last share before it ends.
            let one = Ticks::new(one);
            out.push(Group { notes: 1, time: 1, length: one, one });
            at += one.get();
            continue;
        }
        let until = ends.iter().copied().find(|&end| end > at && end % one == 0)?;
        let within = ends.iter().copied().filter(|&end| end > at && end < until);
        let part = within.map(|end| end - at).fold(until - at, gcd);
        if part < Tuplet::SHORTEST.get() {
            return None;
        }
        let notes =
            u8::try_from((until - at) / part).ok().filter(|&notes| notes <= Tuplet::MOST)?;
        let time = u8::try_from((until - at) / one).ok()?;
        out.push(Group { notes, time, length: Ticks::new(part), one: Ticks::new(one) });
        at = until;
    }
    Some(out)
}

/// Sixteenths in the longest bar.
const MOST: usize = 2 * BarMeter::MOST_EIGHTHS as usize;

/// Into how many equal shares a bar may be cut, and how long each is.
type Cut = fn(BarMeter, usize) -> Option<Ticks>;

/// The fewest equal shares in which all of `shares` can be written.
fn fewest<T>(meter: BarMeter, shares: &[Share<T>], cut: Cut) -> usize {
    let fits = |count: &usize| {
        cut(meter, *count).is_some_and(|one| shares.iter().all(|s| s.length.is_multiple_of(one)))
    };
    (1..=MOST).find(fits).unwrap_or(1)
}

/// The fewest shares that `fewest` and `usual` both go into; `fewest` if a bar has no such.
fn at_least(fewest: usize, usual: usize, meter: BarMeter, cut: Cut) -> usize {
    let both = |count: &usize| count.is_multiple_of(fewest) && count.is_multiple_of(usual);
    (1..=MOST).filter(both).find(|&count| cut(meter, count).is_some()).unwrap_or(fewest)
}

/// A word for each of `count` shares of a bar; `word` is told whether it is the first of its value.
fn spread<T: Copy, W>(
    meter: BarMeter,
    shares: &[Share<T>],
    count: usize,
    mut word: impl FnMut(T, bool) -> W,
) -> Vec<W> {
    let one = meter.bar().get() / i64::try_from(count).unwrap_or(1).max(1);
    let mut words = Vec::with_capacity(count);
    for share in shares {
        for at in 0..(share.length.get() / one.max(1)).max(1) {
            words.push(word(share.value, at == 0));
        }
    }
    words
}

/// Writes notes as ABC has them, bar by bar.
pub(crate) struct Speller {
    key: Key,
    letters: [i32; 7],
}

impl Speller {
    /// At the head of a bar.
    pub(crate) fn new(key: Key) -> Self {
        Self { key, letters: signature(Some(key)) }
    }

    /// The next note of the bar.
    pub(crate) fn word(&mut self, note: MidiNote) -> String {
        spelled(note, self.key, &mut self.letters)
    }
}

/// A note as ABC has it, where `letters` holds what each letter is raised by at this place of the bar.
/// A note of the key is the key's own letter; another is the one that players call it by: a flat third,
/// sixth or seventh, else a sharp. Common practice, no source.
fn spelled(note: MidiNote, key: Key, letters: &mut [i32; 7]) -> String {
    let name = name_in(note.pitch_class(), key);
    let raised = i32::from(name.accidental);
    let place = letters.get_mut(name.letter as usize);
    let mark = match raised {
        _ if place.as_deref() == Some(&raised) => "",
        0 => "=",
        1 => "^",
        2 => "^^",
        -1 => "_",
        _ => "__",
    };
    if let Some(place) = place {
        *place = raised;
    }
    // Middle C is 60 (MIDI 1.0), and so written `C`.
    let octave = (i32::from(note.get()) - 60 - name.letter.semitones() - raised).div_euclid(12);
    let letter = name.letter.as_char();
    let times = |mark: &str, count: i32| mark.repeat(usize::try_from(count).unwrap_or_default());
    if octave > 0 {
        format!("{mark}{}{}", letter.to_ascii_lowercase(), times("'", octave - 1))
    } else {
        format!("{mark}{letter}{}", times(",", -octave))
    }
}

/// A pitch class as it is spelled in a key: by the key's own letter, else by the one that players call it by.
pub(crate) fn name_in(class: u8, key: Key) -> PitchName {
    /// The letter for each half step above the home note, counted from its own.
    const STEPS: [i32; 12] = [0, 0, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
    let own = key.scale().into_iter().find(|name| name.pitch_class() == class);
    own.unwrap_or_else(|| {
        let above = usize::from((class + 12 - key.tonic.pitch_class()) % 12);
        // The flat second of a minor tune is nearer than its raised home note.
        let step = match STEPS.get(above) {
            _ if above == 1 && key.mode.has_minor_third() => 1,
            step => step.copied().unwrap_or_default(),
        };
        let name = PitchName::spelled(key.tonic.letter.step(step), i32::from(class));
        if name.accidental.abs() <= 2 { name } else { plain(class) }
    })
}

/// A pitch class on a letter of its own, or sharp.
fn plain(class: u8) -> PitchName {
    let class = i32::from(class);
    let named = Letter::ALL.map(|letter| PitchName::spelled(letter, class));
    named
        .into_iter()
        .find(|name| (0..=1).contains(&name.accidental))
        .unwrap_or(PitchName::new(Letter::C, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_between_sixteenths_stand_in_groups() {
        let written = |meter: Meter, shares: &[(i64, i32)]| {
            let value = |pitch| match pitch {
                0 => Tune::Rest,
                pitch => Tune::Note(MidiNote::clamped(pitch)),
            };
            let melody = shares.iter().map(|&(l, p)| Share::new(Ticks::new(l), value(p))).collect();
            let bar = ChartBar {
                meter: meter.into(),
                chords: Vec::new(),
                singing: Vec::new(),
                stops: Vec::new(),
                melody,
                line: 0,
                line_start: true,
                line_end: true,
            };
            melody_words(&bar)
        };
        let third = 320;
        assert_eq!(
            written(Meter::TwoFour, &[(960, 67), (third, 69), (third, 71), (third, 72)]),
            "G / (3 A B c"
        );
        assert_eq!(
            written(Meter::TwoFour, &[(1120, 67), (160, 69), (160, 71), (480, 72)]),
            "G / (3:1 / A B c"
        );
        assert_eq!(
            written(Meter::ThreeFour, &[(960, 67), (600, 69), (120, 0), (240, 71), (960, 72)]),
            "G / A (4:1 / - B / c /"
        );
    }

    fn melody_words(bar: &ChartBar) -> String {
        melody(bar, Key::parse("C").unwrap())
    }

    #[test]
    fn notes_outside_the_key_are_spelled_as_players_call_them() {
        let written = |key: &str| {
            let key = Key::parse(key).unwrap();
            let note = |number| {
                let note = MidiNote::new(number).unwrap();
                spelled(note, key, &mut signature(Some(key)))
            };
            (60..72).map(note).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(written("G"), "C ^C D _E E =F F G ^G A _B B");
        assert_eq!(written("F"), "C _D D _E E F ^F G _A A B =B");
        assert_eq!(written("Am"), "C ^C D ^D E F ^F G ^G A _B B");
    }

    #[test]
    fn every_note_of_every_key_is_spelled_within_two_marks() {
        for letter in "CDEFGAB".chars() {
            for mark in ["", "#", "b"] {
                for mode in ["", "m", " mixolydian", " dorian"] {
                    let Ok(key) = Key::parse(&format!("{letter}{mark}{mode}")) else { continue };
                    for number in 0..=127 {
                        let note = MidiNote::new(number).unwrap();
                        let word = spelled(note, key, &mut signature(Some(key)));
                        let marks = word.trim_end_matches([',', '\'']).len() - 1;
                        assert!(marks <= 2, "{word} in {key}");
                    }
                }
            }
        }
    }
}
