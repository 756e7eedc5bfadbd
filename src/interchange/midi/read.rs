use std::collections::HashSet;

use super::conductor::Conductor;
use super::line::{self, Played};
use crate::chart::{Ending, Kickoff, Lead, MOST_SECTIONS};
use crate::interchange::modes::{flatter, key_of, tonic_of};
use crate::interchange::tune::{Measure, OwnWords, Sounding, TempoMark, TimeSignature, Tune, What};
use crate::interchange::units::{LONGEST, QUARTER, times};
use crate::interchange::{MOST_MEASURES, Remarks, Tunes};
use crate::midi_file::{MidiFile, Timing, read};
use crate::theory::{Chord, Key, Mode};

/// Reads a file that this program exported, or one that others made with chords as texts. `track` is the name of the
/// track that is the tune; without it, it is the lead's wherever it plays for a singer.
///
/// A file that is none, or has no chords, is among the strays, with why.
pub fn read_midi(bytes: &[u8], track: Option<&str>) -> Tunes {
    let mut tunes = Tunes::default();
    tunes.add(Some(tune(bytes, track).map_err(|words| (0, words))));
    tunes
}

/// A pass of the form.
struct Pass {
    from: u64,
    to: u64,
    section: String,
    lead: Option<Lead>,
}

fn tune(bytes: &[u8], track: Option<&str>) -> Result<Tune, String> {
    let file = read(bytes).map_err(|why| format!("it is no MIDI file: {why}"))?;
    let quarter = match file.timing {
        Timing::Quarter(ticks) if ticks > 0 && !file.patterns => u64::from(ticks),
        _ => return Err("its time is no music's: it counts frames, or patterns".to_owned()),
    };
    let said = Conductor::of(&file);
    if !said.chords.iter().any(|(_, chord)| chord.is_some()) {
        return Err(
            "no chords are written in it as texts, as `openchair export` writes them".to_owned()
        );
    }
    let mut remarks = Remarks::default();
    if said.other_words > 0 {
        remarks.add("words that are no chord are left out", 0, None);
    }
    let passes = passes(&said, file.end);
    let melody = melody(&file, track, quarter, &mut remarks)?;
    let swing = line::swing(&melody, quarter);
    let mut parts = Parts {
        file: &said,
        quarter,
        swing,
        melody: &melody,
        of_singer: track.is_none() && !said.markers.is_empty(),
        measures: Vec::new(),
        own: OwnWords::default(),
        written: Vec::new(),
    };
    for pass in &passes {
        parts.pass(pass)?;
    }
    let Parts { measures, mut own, .. } = parts;
    own.kickoff = kickoff(&said, &passes, quarter, &mut remarks);
    own.ending = Some(ending(&said));
    let key = key(&said);
    if said.title.is_none() {
        remarks.add("it has no title", 0, None);
    }
    remarks.add(
        "the style is not in a MIDI file, nor where a singer pauses and the band stops",
        0,
        None,
    );
    Ok(Tune {
        number: 1,
        at: 0,
        title: said.title.clone().unwrap_or_else(|| "Tune 1".to_owned()),
        composer: None,
        notes: Vec::new(),
        rhythm: None,
        key,
        time: passes.first().map_or(TimeSignature::COMMON, |pass| said.time_at(pass.from)),
        tempo: said
            .micros
            .filter(|micros| *micros > 0)
            .map(|micros| TempoMark { beat: QUARTER, per_minute: 60e6 / f64::from(micros) }),
        measures,
        order: Vec::new(),
        sung: passes.iter().any(|pass| pass.lead == Some(Lead::Voice)),
        own: Some(own),
        remarks,
    })
}

/// The passes by their markers; all of a file without any.
fn passes(said: &Conductor, end: u64) -> Vec<Pass> {
    // What comes after the form is no pass.
    let after = |name: &str| name == "last line" || name == "ending";
    let over = said.cues.iter().find(|(_, name)| after(name)).map_or(end, |(at, _)| *at);
    let begun = || said.chords.iter().find(|(_, chord)| chord.is_some()).map_or(0, |(at, _)| *at);
    if said.markers.is_empty() {
        return vec![Pass { from: begun(), to: over, section: String::new(), lead: None }];
    }
    let starts: Vec<u64> = said.markers.iter().map(|(at, _)| *at).chain([over.max(1)]).collect();
    let spans = starts.windows(2).map(|pair| (pair[0], pair[1]));
    let names = said.markers.iter().map(|(_, name)| name);
    spans
        .zip(names)
        .filter(|((from, to), _)| from < to)
        .map(|((from, to), name)| {
            let (section, lead) = name.split_once(':').unwrap_or((name, ""));
            let section = section.trim().to_owned();
            Pass { from, to, section, lead: Lead::parse(lead.trim()) }
        })
        .collect()
}

/// The notes of the track that is the tune.
fn melody(
    file: &MidiFile<'_>,
    wanted: Option<&str>,
    quarter: u64,
    remarks: &mut Remarks,
) -> Result<Vec<Played>, String> {
    use crate::midi_file::Event;

    let name = |track: &[(u64, Event<'_>)]| {
        track.iter().find_map(|(_, event)| match event {
            Event::TrackName(name) => Some(String::from_utf8_lossy(name).trim().to_owned()),
            _ => None,
        })
    };
    let named: Vec<(String, &Vec<_>)> = file
        .tracks
        .iter()
        .filter(|track| track.iter().any(|(_, event)| matches!(event, Event::Channel(..))))
        .map(|track| (name(track).unwrap_or_default(), track))
        .collect();
    let find = |wanted: &str| named.iter().find(|(name, _)| name.eq_ignore_ascii_case(wanted));
    let track = match wanted {
        Some(wanted) => Some(find(wanted).ok_or_else(|| {
            let names: Vec<&str> = named.iter().map(|(name, _)| name.as_str()).collect();
            format!("it has no track {wanted}; it has {}", names.join(", "))
        })?),
        None => find("melody").or_else(|| find("lead")),
    };
    let Some((_, track)) = track else {
        remarks.add("no track is the tune; --voice takes one by name", 0, None);
        return Ok(Vec::new());
    };
    Ok(line::notes(track, quarter))
}

/// The bars of the sections, each as it is first played.
struct Parts<'a> {
    file: &'a Conductor,
    quarter: u64,
    swing: u64,
    melody: &'a [Played],
    /// True where the tune is only what the lead plays for a singer: for others it is not as it is written.
    of_singer: bool,
    measures: Vec<Measure>,
    own: OwnWords,
    /// Each section's name, what tells it from others, and where its bars stand.
    written: Vec<(String, Vec<Shape>, std::ops::Range<usize>)>,
}

/// What makes a bar of a section the same: its time signature and its chords.
type Shape = (TimeSignature, Vec<(i64, Option<Chord>)>);

impl Parts<'_> {
    fn pass(&mut self, pass: &Pass) -> Result<(), String> {
        let bars = self.bars(pass)?;
        let shapes: Vec<Shape> = bars.iter().map(|bar| (bar.time, bar.chords.clone())).collect();
        let plain = if pass.section.is_empty() { "tune" } else { pass.section.as_str() };
        let same = self.written.iter().find(|(name, other, _)| {
            *other == shapes && (name == plain || name.starts_with(&format!("{plain} ")))
        });
        let name = match same {
            Some((name, _, range)) => {
                let (name, range) = (name.clone(), range.clone());
                self.give_tune(&bars, range);
                name
            }
            None if self.written.len() >= MOST_SECTIONS => {
                return Err(format!("it has more than {MOST_SECTIONS} parts"));
            }
            None => self.write(plain, shapes, bars),
        };
        self.own.form.push((name, pass.lead));
        Ok(())
    }

    /// Writes the bars of a section that was not there yet, under a name that none has.
    fn write(&mut self, plain: &str, shapes: Vec<Shape>, mut bars: Vec<Measure>) -> String {
        let taken: HashSet<&str> = self.written.iter().map(|(name, ..)| name.as_str()).collect();
        let free = |name: &String| !taken.contains(name.as_str());
        let more = (2..).map(|number| format!("{plain} {number}"));
        let name = std::iter::once(plain.to_owned()).chain(more).find(free).unwrap_or_default();
        let from = self.measures.len();
        // Where lines end is not in the file: common practice, no source, has four bars to one.
        let pickup = bars.first().is_some_and(|bar| bar.length() < bar.time.length());
        for bar in bars.iter_mut().skip(usize::from(pickup)).skip(3).step_by(4) {
            bar.line_end = true;
        }
        if let Some(first) = bars.first_mut() {
            first.part = Some(name.clone());
            first.opens = true;
        }
        if let Some(last) = bars.last_mut() {
            last.double = true;
        }
        self.measures.extend(bars);
        self.written.push((name.clone(), shapes, from..self.measures.len()));
        self.own.sections.push((name.clone(), name.clone()));
        name
    }

    /// A section whose tune was not heard when it was first played has it from a later pass.
    fn give_tune(&mut self, bars: &[Measure], range: std::ops::Range<usize>) {
        let has = |bars: &[Measure]| {
            bars.iter().flat_map(|bar| &bar.notes).any(|note| note.what != What::Blank)
        };
        let Some(there) = self.measures.get_mut(range) else { return };
        if !has(bars) || has(there) {
            return;
        }
        for (bar, new) in there.iter_mut().zip(bars) {
            bar.notes.clone_from(&new.notes);
        }
    }

    /// The bars of a pass, the song's own pickup before the first of them.
    fn bars(&self, pass: &Pass) -> Result<Vec<Measure>, String> {
        let mut bars = Vec::new();
        let pickup = self.file.cues.iter().find(|(_, name)| name == "pickup");
        if let Some((at, _)) = pickup.filter(|(at, _)| {
            *at < pass.from && self.measures.is_empty() && pass.from - at < self.length(pass.from)
        }) {
            bars.push(self.measure(*at, pass.from, pass));
        }
        let mut at = pass.from;
        while at < pass.to {
            let end = at.saturating_add(self.length(at)).min(pass.to.max(at + 1));
            bars.push(self.measure(at, end, pass));
            if self.measures.len() + bars.len() > MOST_MEASURES {
                return Err(format!("it has more than {MOST_MEASURES} bars"));
            }
            at = end;
        }
        Ok(bars)
    }

    /// A bar's length in ticks.
    fn length(&self, at: u64) -> u64 {
        let time = self.file.time_at(at);
        (self.quarter * 4 * u64::from(time.beats) / u64::from(time.unit.max(1))).max(1)
    }

    fn units(&self, ticks: u64) -> i64 {
        let ticks = i64::try_from(ticks).unwrap_or(LONGEST);
        times(QUARTER, ticks, i64::try_from(self.quarter).unwrap_or(1))
    }

    fn measure(&self, from: u64, to: u64, pass: &Pass) -> Measure {
        let mut bar = Measure::new(0, self.file.time_at(from));
        bar.chords.push((0, self.file.chord_at(from)));
        for (at, chord) in self.file.chords_within(from, to) {
            bar.chords.push((self.units(at - from), *chord));
        }
        let heard = !self.melody.is_empty() && (!self.of_singer || pass.lead == Some(Lead::Voice));
        if heard {
            bar.notes = line::bar(self.melody, from, to, self.quarter, self.swing);
        }
        if bar.notes.is_empty() {
            bar.notes = vec![Sounding { length: self.units(to - from), what: What::Blank }];
        }
        bar
    }
}

/// What is played before the form, by how many bars it has.
fn kickoff(
    said: &Conductor,
    passes: &[Pass],
    quarter: u64,
    remarks: &mut Remarks,
) -> Option<Kickoff> {
    let (at, _) = said.cues.iter().find(|(_, name)| name == "kickoff")?;
    let first = passes.first()?.from;
    let time = said.time_at(*at);
    let bar = quarter * 4 * u64::from(time.beats) / u64::from(time.unit.max(1));
    match first.checked_sub(*at)? / bar.max(1) {
        0 | 1 => Some(Kickoff::Pickup),
        2 => Some(Kickoff::Shuffles),
        _ => {
            remarks.add("the line that kicks it off is left out", 0, None);
            None
        }
    }
}

/// What comes after the form.
fn ending(said: &Conductor) -> Ending {
    let again = said.cues.iter().filter(|(_, name)| name == "last line").count();
    let Some((at, _)) = said.cues.iter().find(|(_, name)| name == "ending") else {
        return Ending::None;
    };
    match again {
        0 if said.chords.iter().filter(|(from, _)| from > at).count() > 0 => Ending::Tag,
        0 => Ending::Hit,
        1 => Ending::LastLine,
        _ => Ending::LastLineTwice,
    }
}

/// The key by its signature; where the song begins and ends on a chord that another mode of that signature has for its
/// home, in that mode.
fn key(said: &Conductor) -> Key {
    let (sharps, minor) = said.signature.unwrap_or((0, false));
    let own = if minor { Mode::Minor } else { Mode::Major };
    let sounding = || said.chords.iter().filter_map(|(_, chord)| *chord);
    let ends = sounding().next().zip(sounding().next_back());
    let home = ends.filter(|(first, last)| first.root == last.root).map(|(first, _)| first.root);
    let modes = [own, Mode::Mixolydian, Mode::Dorian];
    let of = |mode: Mode| tonic_of(i32::from(sharps), flatter(mode));
    let mode = modes
        .into_iter()
        .find(|mode| home.is_some_and(|home| of(*mode).pitch_class() == home.pitch_class()));
    let mode = mode.unwrap_or(own);
    key_of(of(mode), mode)
}
