//! Chord sheets read.

use std::collections::HashMap;

use super::head::facts;
use super::line::Line;
use super::words::{field, heading, is_barred, is_chords};
use crate::interchange::tune::{Measure, TempoMark, TimeSignature, Tune};
use crate::interchange::units::{WHOLE, times};
use crate::interchange::{MOST_MEASURES, Remarks, Tunes, one_line};
use crate::text::Source;
use crate::theory::{Chord, Key, Mode};

/// Reads a chord sheet. Where chords stand without bar lines `bars_per_chord` says how long each lasts; without it such
/// a sheet is asked back.
///
/// ```
/// use openchair::interchange::read_sheet;
/// use openchair::text::Source;
///
/// let sheet = Source::new("lantern.txt", "Lantern\nKey: G\n\nVerse:\nG        C\nHang it out for the late ones\n\
///     D        G\nHang it out for me\n")?;
/// assert!(read_sheet(&sheet, None).strays[0].words.contains("--bars-per-chord"));
/// let tunes = read_sheet(&sheet, Some(1));
/// assert_eq!(tunes.tunes[0].song()?.0.sections[0].bars.len(), 4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn read_sheet(source: &Source, bars_per_chord: Option<u32>) -> Tunes {
    let mut tunes = Tunes::default();
    tunes.add(Reader::new(bars_per_chord).read(source));
    tunes
}

struct Reader {
    bars_per_chord: Option<u32>,
    title: Option<String>,
    composer: Option<String>,
    rhythm: Option<String>,
    key: Option<Key>,
    time: Option<TimeSignature>,
    tempo: Option<f64>,
    /// The bars of each part by its label, and the labels in the order played.
    parts: HashMap<String, Vec<Measure>>,
    labels: Vec<String>,
    order: Vec<String>,
    now: Option<String>,
    /// True if the part that is now read has chords of its own.
    fresh: bool,
    bars: usize,
    remarks: Remarks,
}

impl Reader {
    fn new(bars_per_chord: Option<u32>) -> Self {
        Self {
            bars_per_chord,
            title: None,
            composer: None,
            rhythm: None,
            key: None,
            time: None,
            tempo: None,
            parts: HashMap::new(),
            labels: Vec::new(),
            order: Vec::new(),
            now: None,
            fresh: false,
            bars: 0,
            remarks: Remarks::default(),
        }
    }

    fn read(mut self, source: &Source) -> Option<Result<Tune, (usize, String)>> {
        let mut at = 0;
        for line in source.text.split_inclusive('\n') {
            let start = at;
            at += line.len();
            let text = line.trim_end();
            if let Err(wrong) = self.line(text, start) {
                return Some(Err(wrong));
            }
            if self.bars > MOST_MEASURES {
                return Some(Err((start, format!("it has more than {MOST_MEASURES} bars"))));
            }
        }
        self.end_part();
        if self.bars == 0 {
            return Some(Err((0, "there are no chords in it".to_owned())));
        }
        Some(Ok(self.tune()))
    }

    fn line(&mut self, text: &str, start: usize) -> Result<(), (usize, String)> {
        let plain = text.trim();
        if plain.is_empty() {
            return Ok(());
        }
        if let Some((name, value)) = field(plain) {
            self.field(name, value, start);
            return Ok(());
        }
        if let Some(name) = heading(plain) {
            self.end_part();
            self.now = Some(name);
            self.fresh = false;
            return Ok(());
        }
        let barred = is_barred(plain);
        if barred || is_chords(plain) {
            return self.chords(text, start, barred);
        }
        if self.bars > 0 || self.now.is_some() {
            // Words that are sung: a chart has none.
            return Ok(());
        }
        if let Some(facts) = facts(plain) {
            for (name, value) in facts {
                self.field(name, &value, start);
            }
            return Ok(());
        }
        match one_line(plain) {
            // Signs that no screen shows say nothing.
            words if words.is_empty() => {}
            words if self.title.is_none() => self.title = Some(words),
            words => self.remarks.add(format!("`{words}` is not kept"), start, None),
        }
        Ok(())
    }

    fn field(&mut self, name: &str, value: &str, start: usize) {
        let words = one_line(value);
        if words.is_empty() {
            return;
        }
        match name {
            "title" => self.title = Some(words),
            "composer" => self.composer = Some(words),
            "rhythm" => self.rhythm = Some(words),
            "key" => match Key::parse(value) {
                Ok(key) => self.key = Some(key),
                Err(why) => {
                    self.remarks.add(format!("the key `{words}` can't be read: {why}"), start, None)
                }
            },
            "capo" => self.remarks.add(
                format!(
                    "with a capo at {words} it sounds higher than its chords say; they are kept as they stand"
                ),
                start,
                None,
            ),
            "tempo" => {
                let digits: String = value
                    .chars()
                    .skip_while(|c| !c.is_ascii_digit())
                    .take_while(char::is_ascii_digit)
                    .collect();
                self.tempo = digits.parse().ok().filter(|tempo: &f64| *tempo > 0.0);
            }
            _ => {
                let numbers = value.split_once('/').and_then(|(beats, unit)| {
                    Some((beats.trim().parse().ok()?, unit.trim().parse().ok()?))
                });
                match numbers {
                    Some((beats @ 1..=64, unit)) if u32::is_power_of_two(unit) && unit <= 16 => {
                        self.time = Some(TimeSignature::new(beats, unit));
                    }
                    _ => {
                        self.remarks.add(format!("the meter `{words}` can't be read"), start, None)
                    }
                }
            }
        }
    }

    fn chords(&mut self, text: &str, start: usize, barred: bool) -> Result<(), (usize, String)> {
        let label = self.now.clone().unwrap_or_else(|| "verse".to_owned());
        if !self.fresh {
            // A part that is headed as one before but has chords of its own is another.
            let taken = |label: &String| self.parts.contains_key(label);
            let more = (2..).map(|number: u32| format!("{label} ({number})"));
            let free = std::iter::once(label.clone()).chain(more).find(|label| !taken(label));
            let label = free.unwrap_or(label);
            self.labels.push(label.clone());
            self.parts.insert(label.clone(), Vec::new());
            self.now = Some(label);
            self.fresh = true;
        }
        let label = self.now.clone().unwrap_or_default();
        let last = self.parts.get(&label).and_then(|bars| bars.last()).cloned();
        let mut line = Line {
            time: self.time.unwrap_or(TimeSignature::COMMON),
            base: start,
            bars_per_chord: self.bars_per_chord,
            remarks: &mut self.remarks,
            before: self.bars,
        };
        let bars = if barred { line.barred(text, last.as_ref())? } else { line.bare(text)? };
        self.bars += bars.len();
        self.parts.entry(label).or_default().extend(bars);
        Ok(())
    }

    /// The part that was read stands in the form; one without chords of its own has those of its first time.
    fn end_part(&mut self) {
        let Some(label) = self.now.take() else { return };
        if self.fresh {
            self.order.push(label);
            self.fresh = false;
            return;
        }
        // `verse 2` is a verse.
        let base = |label: &str| -> String {
            label
                .trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ' || c == '(' || c == ')')
                .to_owned()
        };
        let wanted = base(&label);
        if let Some(known) =
            self.labels.iter().find(|known| **known == label || base(known) == wanted)
        {
            self.order.push(known.clone());
        }
    }

    fn tune(mut self) -> Tune {
        let mut measures = Vec::new();
        for label in &self.labels {
            let mut bars = self.parts.remove(label).unwrap_or_default();
            if let Some(first) = bars.first_mut() {
                first.part = Some(label.clone());
            }
            measures.append(&mut bars);
        }
        if self.title.is_none() {
            self.remarks.add("it has no title", 0, None);
        }
        let time = self.time.unwrap_or(TimeSignature::COMMON);
        if self.time.is_none() {
            self.remarks.add("no meter is given; it is written in 4/4", 0, None);
        }
        let key = self.key.unwrap_or_else(|| {
            let key = guessed(&measures);
            self.remarks.add(
                format!("no key is given; {key} is taken from its last chord"),
                0,
                None,
            );
            key
        });
        let beat = match (time.is_compound(), time.unit) {
            (true, unit) => times(WHOLE, 3, i64::from(unit)),
            (false, unit) => times(WHOLE, 1, i64::from(unit)),
        };
        Tune {
            number: 1,
            at: 0,
            title: self.title.unwrap_or_else(|| "Song 1".to_owned()),
            composer: self.composer,
            notes: Vec::new(),
            rhythm: self.rhythm,
            key,
            time,
            tempo: self.tempo.map(|per_minute| TempoMark { beat, per_minute }),
            measures,
            order: self.order,
            sung: true,
            own: None,
            remarks: self.remarks,
        }
    }
}

/// The key of the last chord, where most songs come home (common practice, no source).
fn guessed(measures: &[Measure]) -> Key {
    let chords = measures.iter().rev().flat_map(|bar| bar.chords.iter().rev());
    let mut chords = chords.filter_map(|(_, chord)| *chord);
    let last: Option<Chord> = chords.next();
    let c = Key {
        tonic: crate::theory::PitchName::new(crate::theory::Letter::C, 0),
        mode: Mode::Major,
    };
    last.map_or(c, |chord| {
        let mode = if chord.quality.is_minor() { Mode::Minor } else { Mode::Major };
        crate::interchange::modes::key_of(chord.root, mode)
    })
}
