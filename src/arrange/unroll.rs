use std::collections::HashMap;

use super::arrangement::{Arrangement, Bar, BarKind, ChordId, PassStart, Span, StopSpan};
use super::ending::ending_bars;
use super::neighbours::{find_home, look_round};
use super::plan::{Plan, PlanError};
use crate::chart::{self, Lead, Pass, Role, RoleSet, Share, Song, Stop};
use crate::style::BarFacts;
use crate::theory::{Chord, Key, Transposition, choose_capo};
use crate::time::{Meter, Tempo, Ticks};

/// Lays a song out in time, as `plan` asks for it.
///
/// # Errors
/// [`PlanError`] where the plan does not go with the song.
pub fn arrange(song: &Song, plan: &Plan) -> Result<Arrangement, PlanError> {
    let tonic = plan.tonic(song)?;
    let resting = plan.resting(song)?;
    let band = plan.band.unwrap_or(song.band);
    let key = Key { tonic, mode: song.key.mode };
    let start = song.meter.bar() * i64::from(plan.count_in);
    let mut line = Timeline {
        meter: song.meter,
        transposition: Transposition::between(song.key.tonic, tonic),
        chords: Vec::new(),
        ids: HashMap::new(),
        bars: Vec::new(),
        spans: Vec::new(),
        stops: Vec::new(),
        at: start,
        band: song.band,
    };
    let sections: Vec<Vec<NumberedBar<'_>>> = song
        .sections
        .iter()
        .map(|section| section.bars.iter().map(|bar| line.number(bar)).collect())
        .collect();
    plan.fits(song)?;
    let mut passes = Vec::new();
    for pass in (0..plan.times.get()).flat_map(|_| &song.form) {
        let (Some(bars), Some(&resting)) = (sections.get(pass.section), resting.get(pass.section))
        else {
            continue;
        };
        let out = resting.union(pass.sit_out).union(dropped(pass));
        passes.push(PassStart {
            start: line.at,
            label: pass.label.clone(),
            lead: pass.lead,
            is_ending: false,
        });
        line.pass(bars, passes.len() - 1, pass.lead, out);
    }
    let ending = ending_bars(song.ending, song.meter, song.key);
    if !ending.is_empty() {
        passes.push(PassStart {
            start: line.at,
            label: "ending".to_owned(),
            lead: None,
            is_ending: true,
        });
        let numbered: Vec<_> = ending.iter().map(|bar| line.number(bar)).collect();
        line.pass(&numbered, passes.len() - 1, None, plan.resting_throughout());
        if let Some(last) = line.bars.last_mut() {
            last.kind = BarKind::FinalHit;
        }
    }
    look_round(&mut line.bars, &line.spans, false);
    find_home(&mut line.bars, &line.spans, &line.chords, key);
    let at_speed = |speed| Tempo::new(plan.tempo.unwrap_or(song.tempo), song.meter, speed);
    Ok(Arrangement {
        title: song.title.clone(),
        key,
        meter: song.meter,
        tempo: at_speed(plan.speed),
        pace: at_speed(100.0),
        swing: song.swing,
        capo: capo(song, key),
        band,
        chords: line.chords,
        bars: line.bars,
        spans: line.spans,
        stops: line.stops,
        round: None,
        passes,
        count_in: plan.count_in,
        start,
        end: line.at,
    })
}

/// The role whose hands are busy with the lead.
fn dropped(pass: &Pass) -> RoleSet {
    pass.lead.and_then(Lead::drops).into_iter().collect()
}

/// The song's own capo, moved with the key so that the shapes stay; a player's choice where the song
/// says nothing or the moved one would lie too far up the neck.
fn capo(song: &Song, key: Key) -> u8 {
    /// Past the seventh fret the guitar has lost its bass strings' use (common practice, no source).
    const HIGHEST: u8 = 7;
    let moved = song.capo.map(|fret| {
        let up = (12 + key.tonic.pitch_class() - song.key.tonic.pitch_class()) % 12;
        if up == 0 { fret } else { (fret + up) % 12 }
    });
    match moved {
        Some(fret) if fret <= HIGHEST || key.tonic == song.key.tonic => fret,
        _ => choose_capo(key),
    }
}

/// A bar of a section with its chords as numbers: made once, laid out in every pass.
struct NumberedBar<'a> {
    bar: &'a chart::Bar,
    chords: Vec<(Ticks, Option<ChordId>)>,
    sings: bool,
    sung: u8,
    has_stops: bool,
}

/// A bit for each eighth note of a bar, of which the longest meter has eight.
fn sung_eighths(singing: &[Share<bool>]) -> u8 {
    let eighths = singing.iter().flat_map(|share| {
        let count = share.length.get() / Ticks::EIGHTH.get();
        (0..count).map(|_| share.value)
    });
    (0..8).zip(eighths).fold(0, |bits, (at, sung)| bits | u8::from(sung) << at)
}

struct Timeline {
    /// The song's own meter.
    meter: Meter,
    transposition: Transposition,
    chords: Vec<Chord>,
    ids: HashMap<Chord, ChordId>,
    bars: Vec<Bar>,
    spans: Vec<Span>,
    stops: Vec<StopSpan>,
    at: Ticks,
    /// The line-up that the song is written for. What the players hear of each other hangs on it
    /// alone, not on who is left out today: that chair is taken, by the one who practises.
    band: RoleSet,
}

impl Timeline {
    fn number<'a>(&mut self, bar: &'a chart::Bar) -> NumberedBar<'a> {
        let chords = bar
            .chords
            .iter()
            .map(|share| (share.length, share.value.map(|chord| self.id(&chord))))
            .collect();
        let sung: Ticks =
            bar.singing.iter().filter(|share| share.value).map(|share| share.length).sum();
        NumberedBar {
            bar,
            chords,
            sings: sung * 2 > bar.meter.bar(),
            sung: sung_eighths(&bar.singing),
            has_stops: bar.stops.iter().any(|share| share.value != Stop::PlayOn),
        }
    }

    fn id(&mut self, chord: &Chord) -> ChordId {
        let chord = self.transposition.chord(chord);
        *self.ids.entry(chord).or_insert_with(|| {
            self.chords.push(chord);
            ChordId(self.chords.len() as u32 - 1)
        })
    }

    fn pass(&mut self, bars: &[NumberedBar<'_>], pass: usize, lead: Option<Lead>, out: RoleSet) {
        let mut turn = 0;
        for (index, NumberedBar { bar, chords, sings, sung, has_stops }) in bars.iter().enumerate()
        {
            if bar.line_start {
                turn = 0;
            }
            let voice = lead == Some(Lead::Voice);
            let leads = lead.and_then(Lead::drops);
            let nobody = |role| !self.band.contains(role) || leads == Some(role);
            let facts = BarFacts {
                // Known only once the neighbours stand; see `look_round`.
                change_next: false,
                new_chord: false,
                split: chords.len() > 1,
                crooked: bar.meter != self.meter,
                phrase_start: bar.line_start,
                phrase_end: bar.line_end,
                first_bar: index == 0,
                last_bar: index + 1 == bars.len(),
                instrument_leads: lead.is_some() && !voice,
                singer_sings: voice && *sings,
                singer_pauses: voice && !*sings,
                no_bass: nobody(Role::Bass),
                no_chop: nobody(Role::Chop),
                no_guitar: nobody(Role::Guitar),
                // See `find_home`.
                home_chord: false,
            };
            let spans = self.lay_chords(chords);
            let stops = self.stops.len();
            if *has_stops {
                self.lay_stops(&bar.stops);
            }
            self.bars.push(Bar {
                number: self.bars.len() + 1,
                start: self.at,
                meter: bar.meter,
                spans,
                stops: stops..self.stops.len(),
                sung: if voice { *sung } else { 0 },
                facts,
                resting: out,
                turn,
                pass,
                kind: BarKind::Groove,
            });
            self.at += bar.meter.bar();
            turn += 1;
        }
    }

    /// Adds a bar's chords; one that goes on from the bar before only grows.
    fn lay_chords(&mut self, chords: &[(Ticks, Option<ChordId>)]) -> std::ops::Range<usize> {
        let mut at = self.at;
        let mut first = self.spans.len();
        for (index, &(length, chord)) in chords.iter().enumerate() {
            let end = at + length;
            match self.spans.last_mut() {
                Some(last) if last.chord == chord => {
                    last.end = end;
                    if index == 0 {
                        first -= 1;
                    }
                }
                _ => self.spans.push(Span { start: at, end, chord }),
            }
            at = end;
        }
        first..self.spans.len()
    }

    fn lay_stops(&mut self, stops: &[Share<Stop>]) {
        let mut at = self.at;
        for share in stops {
            self.stops.push(StopSpan { start: at, stop: share.value });
            at += share.length;
        }
    }
}
