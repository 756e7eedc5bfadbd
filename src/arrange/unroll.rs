use std::collections::HashMap;

use super::KickoffPlan;
use super::arrangement::{
    Arrangement, Bar, BarKind, ChordId, MelodyNote, PassStart, Span, StopSpan,
};
use super::ending::{ending_bars, has_line};
use super::neighbours::{find_home, look_round};
use super::plan::{Plan, PlanError};
use super::shape::{Shape, shapes};
use super::sung::sung_eighths;
use crate::chart::{
    ChartBar, Dynamic, Ending, Lead, Pass, Pickup, Role, RoleSet, SectionPart, Share, Song, Stop,
    Tune,
};
use crate::style::BarFacts;
use crate::theory::{Chord, Key, MidiNote, Transposition, choose_capo};
use crate::time::{BarMeter, Meter, Tempo, Ticks};

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
        melody: Vec::new(),
        at: start,
        band: song.band,
        before_form: 0,
    };
    let sections: Vec<Vec<NumberedBar<'_>>> = song
        .sections
        .iter()
        .map(|section| section.bars.iter().map(|bar| line.number(bar)).collect())
        .collect();
    plan.fits(song)?;
    let dynamics_of = |pass: Option<&Pass>| {
        pass.and_then(|pass| song.sections.get(pass.section))
            .map_or_else(Dynamic::default, |s| s.dynamics)
    };
    let mut passes = Vec::new();
    let kickoff = KickoffPlan::of(song, band);
    if let Some(kickoff) = &kickoff {
        passes.push(PassStart {
            start: line.at,
            label: match kickoff.written {
                Some(_) => "pickup".to_owned(),
                None => format!("kickoff: {}", kickoff.who()),
            },
            lead: None,
            is_kickoff: true,
            is_last_line: false,
            is_ending: false,
        });
        let meters = kickoff.meters(song);
        line.kickoff(&meters, dynamics_of(song.form.first()), plan.resting_throughout());
        let first = song.form.first().and_then(|pass| song.sections.get(pass.section));
        let plays = kickoff.written.is_some() || kickoff.goes_into_the_tune();
        if let Some(pickup) = first.and_then(|s| s.pickup.as_ref()).filter(|_| plays) {
            line.lay_tune(&pickup.melody, line.at - pickup.length);
        }
    }
    let shapes = shapes(song, plan.times.get());
    let form: Vec<&Pass> = (0..plan.times.get()).flat_map(|_| &song.form).collect();
    for (at, &pass) in form.iter().enumerate() {
        let (Some(bars), Some(&resting)) = (sections.get(pass.section), resting.get(pass.section))
        else {
            continue;
        };
        let out = resting.union(pass.sit_out).union(dropped(pass));
        passes.push(PassStart {
            start: line.at,
            label: pass.label.clone(),
            lead: pass.lead,
            is_kickoff: false,
            is_last_line: false,
            is_ending: false,
        });
        let how = How {
            pass: passes.len() - 1,
            lead: pass.lead,
            dynamics: dynamics_of(Some(pass)),
            out,
            shape: shapes.get(at).copied().unwrap_or_default(),
            time: at,
            into_break: pass.lead == Some(Lead::Voice)
                && form.get(at + 1).is_some_and(|next| next.lead.and_then(Lead::drops).is_some()),
        };
        let section = song.sections.get(pass.section);
        if let Some(pickup) = section.and_then(|s| s.pickup.as_ref()).filter(|_| at > 0) {
            line.pickup(pickup, pass.lead);
        }
        line.pass(bars, how);
    }
    if let Some(pass) = song.form.last() {
        let bars = sections.get(pass.section).map_or(&[][..], Vec::as_slice);
        let last = bars.last().map(|bar| bar.bar.line);
        let line_from =
            bars.iter().position(|bar| Some(bar.bar.line) == last).unwrap_or(bars.len());
        let out = resting.get(pass.section).copied().unwrap_or_default();
        for again in 0..song.ending.last_lines() {
            let lead = pass.label.split_once(':').map_or("", |(_, lead)| lead);
            let label = if lead.is_empty() { String::new() } else { format!(":{lead}") };
            passes.push(PassStart {
                start: line.at,
                label: format!("last line{label}"),
                lead: pass.lead,
                is_kickoff: false,
                is_last_line: true,
                is_ending: false,
            });
            let how = How {
                pass: passes.len() - 1,
                lead: pass.lead,
                dynamics: dynamics_of(Some(pass)),
                out: out.union(pass.sit_out).union(dropped(pass)),
                shape: Shape { down: false, ..shapes.last().copied().unwrap_or_default() },
                time: form.len() + again,
                into_break: false,
            };
            line.pass(bars.get(line_from..).unwrap_or_default(), how);
        }
    }
    let ending = ending_bars(song.ending, song.meter, song.key, plan.tag);
    if !ending.is_empty() {
        passes.push(PassStart {
            start: line.at,
            label: "ending".to_owned(),
            lead: None,
            is_kickoff: false,
            is_last_line: false,
            is_ending: true,
        });
        let numbered: Vec<_> = ending.iter().map(|bar| line.number(bar)).collect();
        let how = How {
            pass: passes.len() - 1,
            lead: None,
            // As loud as the song was.
            dynamics: dynamics_of(song.form.last()),
            out: plan.resting_throughout(),
            shape: Shape::default(),
            time: form.len(),
            into_break: false,
        };
        line.pass(&numbered, how);
        let kinds: &[BarKind] = match song.ending {
            Ending::None => &[],
            Ending::Hit | Ending::LastLine | Ending::LastLineTwice => &[BarKind::FinalHit],
            Ending::Cold => &[BarKind::ColdEnd],
            Ending::Tag if has_line(plan.tag, song.meter) => &[BarKind::TagEnd, BarKind::Tag],
            Ending::Tag => &[BarKind::FinalHit],
        };
        for (bar, kind) in line.bars.iter_mut().rev().zip(kinds) {
            bar.kind = *kind;
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
        drone: plan.drone.unwrap_or(song.drone),
        looseness: plan.looseness,
        capo: capo(song, key),
        band,
        chords: line.chords,
        kickoff,
        bars: line.bars,
        spans: line.spans,
        stops: line.stops,
        melody: line.melody,
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
    bar: &'a ChartBar,
    chords: Vec<(Ticks, Option<ChordId>)>,
    sings: bool,
    sung: u16,
    has_stops: bool,
}

/// What is so in all bars of a pass.
struct How {
    /// Its place among the passes.
    pass: usize,
    lead: Option<Lead>,
    dynamics: Dynamic,
    /// Who does not play.
    out: RoleSet,
    shape: Shape,
    /// Its place among the passes of the form.
    time: usize,
    /// A singer's pass, after which an instrument leads.
    into_break: bool,
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
    melody: Vec<MelodyNote>,
    at: Ticks,
    /// The line-up that the song is written for. What the players hear of each other hangs on it
    /// alone, not on who is left out today: that chair is taken, by the one who practises.
    band: RoleSet,
    /// Bars before the form, which have no numbers.
    before_form: usize,
}

impl Timeline {
    fn number<'a>(&mut self, bar: &'a ChartBar) -> NumberedBar<'a> {
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

    /// Bars before the form, in which the band has no chord to play.
    fn kickoff(&mut self, meters: &[BarMeter], dynamics: Dynamic, out: RoleSet) {
        let bars = meters.len();
        for (index, &meter) in meters.iter().enumerate() {
            let spans = self.lay_chords(&[(meter.bar(), None)]);
            let stops = self.stops.len();
            self.bars.push(Bar {
                number: 0,
                start: self.at,
                meter,
                gait: meter.gait(self.meter),
                spans,
                stops: stops..stops,
                melody: None,
                line: 0,
                sung: 0,
                facts: BarFacts {
                    phrase_start: index == 0,
                    phrase_end: index + 1 == bars,
                    first_bar: index == 0,
                    last_bar: index + 1 == bars,
                    ..BarFacts::default()
                },
                resting: out,
                dynamics,
                turn: index,
                pass: 0,
                kind: BarKind::Kickoff,
            });
            self.at += meter.bar();
        }
        self.before_form = bars;
    }

    fn pass(&mut self, bars: &[NumberedBar<'_>], how: How) {
        let How { pass, lead, dynamics, out, shape, time, into_break } = how;
        let last_line = bars.last().map(|bar| bar.bar.line);
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
                verse: shape.part == Some(SectionPart::Verse),
                chorus: shape.part == Some(SectionPart::Chorus),
                bridge: shape.part == Some(SectionPart::Bridge),
                first_time: shape.first_time,
                last_time: shape.last_time,
                // A pass of one line is down to its end.
                down: shape.down && (bar.line == 0 || Some(bar.line) != last_line),
                build: bar.line > 0 && Some(bar.line) == last_line && (shape.down || into_break),
                fills: self.fills(bar, time, leads),
            };
            let spans = self.lay_chords(chords);
            let stops = self.stops.len();
            if *has_stops {
                self.lay_stops(&bar.stops);
            }
            let melody = self.lay_melody(&bar.melody, index == 0);
            self.bars.push(Bar {
                number: self.bars.len() + 1 - self.before_form,
                start: self.at,
                meter: bar.meter,
                gait: bar.meter.gait(self.meter),
                spans,
                stops: stops..self.stops.len(),
                melody,
                sung: if voice { *sung } else { 0 },
                facts,
                resting: out,
                dynamics,
                turn,
                line: bar.line as usize,
                pass,
                kind: BarKind::Groove,
            });
            self.at += bar.meter.bar();
            turn += 1;
        }
    }

    /// Lays the pickup of the pass to come over the end of the bar before.
    fn pickup(&mut self, pickup: &Pickup, lead: Option<Lead>) {
        let from = self.at - pickup.length;
        let Some(bar) = self.bars.last_mut().filter(|bar| bar.start <= from) else { return };
        // Who sang the line before is heard again here: what answers them makes an end.
        if pickup.sings && lead == Some(Lead::Voice) && !bar.facts.instrument_leads {
            let first =
                ((from - bar.start).get() / Ticks::EIGHTH.get()).clamp(0, BarMeter::MOST_EIGHTHS);
            let end =
                (bar.meter.bar().get() / Ticks::EIGHTH.get()).clamp(first, BarMeter::MOST_EIGHTHS);
            bar.sung |= (first..end).fold(0, |bits, at| bits | 1 << at);
        }
        // A tune goes on into the next; where there is none, nobody begins one here.
        let Some(notes) = bar.melody.clone().filter(|_| !pickup.melody.is_empty()) else { return };
        let kept = self.melody.iter().take(notes.end).rposition(|note| note.start < from);
        let kept = kept.map_or(0, |at| at + 1).max(notes.start);
        self.melody.truncate(kept);
        if let Some(last) = self.melody.last_mut().filter(|_| kept > notes.start) {
            last.end = last.end.min(from);
        }
        self.lay_tune(&pickup.melody, from);
        let end = self.melody.len();
        if let Some(bar) = self.bars.last_mut() {
            bar.melody = Some(notes.start..end);
        }
    }

    /// Adds notes from a time on.
    fn lay_tune(&mut self, shares: &[Share<Tune>], from: Ticks) {
        let mut at = from;
        for share in shares {
            let end = at + share.length;
            if let Tune::Note(written) = share.value {
                let pitch = self.sounding(written);
                self.melody.push(MelodyNote { start: at, end, pitch, tied: false });
            }
            at = end;
        }
    }

    /// Whose turn it is to lead into the next line: they take turns, the guitar every other time, and each
    /// line of a section comes to another in the next pass.
    fn fills(&self, bar: &ChartBar, time: usize, leads: Option<Role>) -> Option<Role> {
        const TURNS: [Role; 4] = [Role::Guitar, Role::Bass, Role::Guitar, Role::Chop];
        let there = |role: &Role| self.band.contains(*role) && leads != Some(*role);
        let turns = TURNS.into_iter().cycle().skip((bar.line as usize + time) % TURNS.len());
        turns.take(TURNS.len()).find(there).filter(|_| bar.line_end)
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

    /// Adds a bar's tune, if it has one. Nothing sounds on into the `first` bar of a pass.
    fn lay_melody(
        &mut self,
        shares: &[Share<Tune>],
        first: bool,
    ) -> Option<std::ops::Range<usize>> {
        let begin = self.melody.len();
        let mut at = self.at;
        for share in shares {
            let end = at + share.length;
            let before = self.melody.last().filter(|note| note.end == at && !first);
            let sounding = match share.value {
                Tune::Note(written) => Some((self.sounding(written), false)),
                Tune::Hold => before.map(|note| (note.pitch, true)),
                Tune::Rest => None,
            };
            if let Some((pitch, tied)) = sounding {
                self.melody.push(MelodyNote { start: at, end, pitch, tied });
            }
            at = end;
        }
        (!shares.is_empty()).then_some(begin..self.melody.len())
    }

    /// A note of the song's own key as it sounds: by the shorter way, up where both are as long.
    fn sounding(&self, written: MidiNote) -> MidiNote {
        let up = self.transposition.semitones();
        let by = if up > 6 { up - 12 } else { up };
        MidiNote::clamped(i32::from(written.get()) + by)
    }
}
