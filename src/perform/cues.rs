use super::bar_view::BarView;
use super::choice::Seat;
use super::cue::{Act, Cue};
use super::tag;
use crate::arrange::{Arrangement, BarKind};
use crate::band::{NewChord, Notation};
use crate::chart::{Role, Stop};
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Pattern, Slot, Strike};
use crate::time::{Meter, Ticks};

/// Tells `player` all that a role does in the song, in the order of time.
pub(super) fn cues(seat: &Seat<'_>, player: impl FnMut(Cue)) {
    // Due by the chart, whether or not it was played: who sat out comes in where it comes to rest.
    let after_run = |index| {
        seat.role.row().notation == Notation::NotesAndStrokes && seat.runs_home_before(index)
    };
    cues_of(seat.song, seat.role, |index| seat.of(index), after_run, player);
}

/// The same for a role whose bars come from anywhere: `pattern` gives that of a bar, `after_run` is true where
/// the G run comes to rest.
pub(super) fn cues_of<'a>(
    song: &Arrangement,
    role: Role,
    pattern: impl Fn(usize) -> Option<&'a Pattern>,
    after_run: impl Fn(usize) -> bool,
    mut player: impl FnMut(Cue),
) {
    let mut moments = Vec::new();
    let mut resting = true;
    let mut now = Now::default();
    for (index, bar) in song.bars.iter().enumerate() {
        let number = index as u32;
        if bar.kind == BarKind::Kickoff {
            continue;
        }
        let cue = |at, span, act| Cue::new(at, number, span, act);
        if bar.start == song.end {
            player(cue(bar.start, bar.spans.start, Act::Again));
        }
        if bar.resting.contains(role) {
            if !resting {
                player(cue(bar.start, bar.spans.start, Act::Damp));
            }
            resting = true;
            now = Now::default();
            continue;
        }
        resting = false;
        match bar.kind {
            BarKind::Kickoff => continue,
            BarKind::Groove => {}
            BarKind::Tag => {
                tag::first_bar(song, bar, number, role, &mut player);
                continue;
            }
            BarKind::TagEnd => {
                tag::last_bar(song, bar, number, role, &mut player);
                continue;
            }
            BarKind::ColdEnd => {
                player(cue(bar.start, bar.spans.start, Act::Change));
                player(cue(bar.start, bar.spans.start, Act::Hit));
                continue;
            }
            BarKind::FinalHit => {
                player(cue(bar.start, bar.spans.start, Act::Change));
                player(cue(bar.start, bar.spans.start, Act::FinalHit));
                continue;
            }
        }
        let Some(pattern) = pattern(index) else { continue };
        let next = song.bars.get(index + 1);
        let after_run = after_run(index);
        let view = BarView { song, bar, index: number, next, role, pattern, after_run };
        view.moments(&mut moments);
        view.play(&moments, &mut now, &mut player);
    }
}

/// A place in a bar where something may happen.
#[derive(Clone, Copy, Debug)]
struct Moment {
    at: Ticks,
    /// The pattern's slot that stands here, if one does, and its number.
    slot: Option<(u32, Slot)>,
}

/// What is so at a moment.
#[derive(Clone, Copy, Debug, Default)]
struct Now {
    /// Where the role first played a bass note of the chord of the moment, the banjo any note; `None` while it has
    /// not, because the chord is new, or began in a stop or while the role sat out.
    heard: Option<Ticks>,
    /// A held chord rings.
    held: bool,
    /// Where the role last caught a push.
    pushed: Option<Ticks>,
}

impl BarView<'_> {
    /// Every place of the bar: the pattern's slots, the chords' beginnings, the stops'.
    fn moments(&self, out: &mut Vec<Moment>) {
        out.clear();
        out.extend(
            self.slots().map(|(number, at, slot)| Moment { at, slot: Some((number, slot)) }),
        );
        let spans = self.song.spans.get(self.bar.spans.clone()).unwrap_or_default();
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        let starts = spans.iter().map(|s| s.start).chain(stops.iter().map(|s| s.start));
        for at in starts.filter(|&at| at >= self.bar.start) {
            let place = out.partition_point(|moment| moment.at < at);
            if out.get(place).is_none_or(|moment| moment.at != at) {
                out.insert(place, Moment { at, slot: None });
            }
        }
    }

    /// Plays the bar, from what is so at its beginning, and leaves what is so at its end.
    fn play(&self, moments: &[Moment], now: &mut Now, player: &mut impl FnMut(Cue)) {
        let mut span = self.bar.spans.start;
        let mut stop = Stop::PlayOn;
        let triplets = self.in_triplets();
        let in_six = self.bar.gait == Meter::SixEight;
        for &Moment { at, slot } in moments {
            while self.span(span + 1).is_some_and(|next| next.start <= at)
                && span + 1 < self.bar.spans.end
            {
                span += 1;
            }
            let Some(here) = self.span(span) else { return };
            let new_chord = here.start == at;
            let even = in_six || (slot.is_some() && triplets);
            let cue = |act| {
                let after_run = self.after_run && at == self.bar.start;
                Cue { at, even, bar: self.index, span, after_run, ahead: None, act }
            };
            if new_chord {
                now.heard = None;
                player(cue(if here.chord.is_some() { Act::Change } else { Act::Damp }));
            }
            let marked = self.stop_at(at);
            // A held chord lasts as long as its mark.
            if now.held && (marked.is_some() || at == self.bar.start) {
                player(cue(Act::Damp));
                now.held = false;
            }
            if let Some(mark) = marked {
                stop = mark;
                match mark {
                    Stop::Silence => player(cue(Act::Damp)),
                    Stop::Hit if here.chord.is_some() => {
                        now.heard = Some(at);
                        player(cue(Act::Hit));
                    }
                    Stop::Hit | Stop::Hold | Stop::PlayOn => {}
                }
            }
            if stop == Stop::Hold && here.chord.is_some() && (marked.is_some() || new_chord) {
                (now.heard, now.held) = (Some(at), true);
                player(cue(Act::Change));
                player(cue(Act::FinalHit));
            }
            if stop == Stop::PlayOn && here.chord.is_some() {
                let pushed = self.pushed_beat(here).filter(|_| self.push().is_some());
                // Who was silent where the others pushed comes in on the beat.
                let caught =
                    now.pushed == Some(here.start) && pushed.is_some_and(|beat| beat == at);
                if new_chord && pushed.is_some() {
                    now.pushed = Some(at);
                }
                let act = match slot {
                    _ if caught => None,
                    _ if new_chord && pushed.is_some() => self.push().map(Act::Strike),
                    Some((number, Slot::Strike(strike))) => {
                        let unheard = now.heard.is_none()
                            && strike.bass.is_some()
                            && self.playing().begins_on_roots;
                        if unheard || (new_chord && self.must_sound(at)) {
                            Some(Act::Strike(Strike { bass: ROOT.bass, ..strike }))
                        } else {
                            self.strike(strike, number, span, now.heard.unwrap_or(at))
                        }
                    }
                    _ if new_chord && self.must_sound(at) => Some(Act::Strike(ROOT)),
                    Some((_, Slot::Rest)) => Some(Act::Damp),
                    Some((_, Slot::Ring)) | None => None,
                };
                let Some(act) = act else { continue };
                if self.sounds_chord(act) {
                    now.heard.get_or_insert(at);
                }
                let ahead = match act {
                    Act::Strike(Strike { bass, .. })
                        if self.playing().looks_ahead && bass == ROOT.bass =>
                    {
                        self.ahead(at, span, now.heard.unwrap_or(at))
                    }
                    _ => None,
                };
                player(Cue { ahead, ..cue(act) });
            }
        }
    }

    /// True if the pattern divides the quarter by three.
    fn in_triplets(&self) -> bool {
        let slots = self.pattern.slot.get();
        let per_quarter = Ticks::QUARTER.get().checked_div(slots).unwrap_or(0);
        Ticks::QUARTER.get() == per_quarter * slots && per_quarter % 3 == 0
    }

    /// True if the act lets the role's chord be heard, so that it may go on from there: a bass note, or
    /// any of a roll.
    fn sounds_chord(&self, act: Act) -> bool {
        let Act::Strike(strike) = act else { return false };
        strike.bass.is_some() || self.playing().rolls
    }

    /// True if the role plays a new chord there, though the pattern has no note.
    fn must_sound(&self, at: Ticks) -> bool {
        match self.playing().new_chord {
            NewChord::Always => true,
            NewChord::OnBeats => (at - self.bar.start).is_multiple_of(self.bar.beat()),
            NewChord::AsWritten => false,
        }
    }

    /// What the pattern asks for in slot `slot`, in a chord that was heard from `from` on; `None` if it
    /// stands in a run that goes without it.
    fn strike(&self, strike: Strike, slot: u32, span: usize, from: Ticks) -> Option<Act> {
        let Some(kind @ (BassNote::Walk | BassNote::GRun)) = strike.bass else {
            return Some(Act::Strike(strike));
        };
        let run = self.run(kind, span, from);
        let Some(step) = run.step(slot) else {
            if self.playing().rolls {
                // A roll has no holes.
                return Some(Act::Strike(Strike { bass: ROOT.bass, ..strike }));
            }
            let alone = Strike { bass: None, ..strike };
            return strike.stroke.map(|_| Act::Strike(alone));
        };
        Some(match run.to {
            Some(to) => Act::Walk { strike, step, of: run.of(), to },
            // Nowhere to walk to: fifth and root in turn, as if no walk were written.
            None => {
                let degree = if step % 2 == 0 { Degree::Fifth } else { Degree::Root };
                Act::Strike(Strike { bass: Some(BassNote::Degree { degree, octave: 0 }), ..strike })
            }
        })
    }
}

/// The plain root, at the plain loudness.
const ROOT: Strike = Strike {
    bass: Some(BassNote::Degree { degree: Degree::Root, octave: 0 }),
    stroke: None,
    strings: BanjoStrings::NONE,
    loud: Loud::Normal,
};
