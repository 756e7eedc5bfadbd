use super::choice::Choice;
use super::tag;
use crate::arrange::{Arrangement, Bar, BarKind, ChordId, Span};
use crate::chart::{Role, Stop};
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Pattern, RoleStyle, Slot, Strike};
use crate::time::{Meter, Ticks};

/// Something that a player does at a place on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cue {
    /// The place on the even grid, before swing and feel.
    pub at: Ticks,
    /// True where swing leaves things alone: in 6/8, and in a pattern of triplets.
    pub even: bool,
    /// The bar that it stands in, in the arrangement's bars.
    pub bar: u32,
    /// The chord of the moment, in the arrangement's spans.
    pub span: usize,
    /// The first of a bar before which the G run was due, which comes to rest here.
    pub(super) after_run: bool,
    /// For the root of a bass whose next notes walk: how many steps, and where to.
    pub(super) ahead: Option<(usize, ChordId)>,
    /// What to do.
    pub act: Act,
}

impl Cue {
    /// A plain one on the even grid.
    pub(super) const fn new(at: Ticks, bar: u32, span: usize, act: Act) -> Self {
        Self { at, even: false, bar, span, after_run: false, ahead: None, act }
    }
}

/// What a player does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Stops what sounds.
    Damp,
    /// The chord changes: what sounds and does not belong to it is stopped.
    Change,
    /// Plays a slot of the pattern.
    Strike(Strike),
    /// Plays step `step` of a walk of `of` steps, counted from 0, that arrives at the chord `to`; or of
    /// the G run, if that is the strike's bass note.
    Walk {
        /// What is asked for.
        strike: Strike,
        /// Which step it is, from 0.
        step: usize,
        /// Of how many.
        of: usize,
        /// The chord that the walk arrives at.
        to: ChordId,
    },
    /// Everyone strikes together and chokes.
    Hit,
    /// Everyone strikes together and lets it ring: the end.
    FinalHit,
    /// A round is over. What comes now is the first bar again, which only shows how long the round's
    /// last notes ring.
    Again,
}

/// Tells `player` all that `role` does in the song, in the order of time.
pub(super) fn cues(
    song: &Arrangement,
    style: &RoleStyle,
    role: Role,
    seed: u64,
    player: impl FnMut(Cue),
) {
    cues_beside(song, style, role, seed, None, player);
}

/// The same for the bass, who leaves room for the runs of the guitar and knows its part.
pub(super) fn cues_beside(
    song: &Arrangement,
    style: &RoleStyle,
    role: Role,
    seed: u64,
    guitar: Option<&RoleStyle>,
    player: impl FnMut(Cue),
) {
    let choice = Choice { song, style, role, seed, guitar };
    // Due by the chart, whether or not it was played: who sat out comes in where it comes to rest.
    let after_run = |index| role == Role::Guitar && choice.runs_home_before(index);
    cues_of(song, role, |index| choice.of(index), after_run, player);
}

/// Tells `player` all that a banjo does whose bars are given, one for each of the song's and more for the
/// bars that it is led back to; where there is none, it does nothing but what the chart asks of everybody.
pub fn banjo_cues(song: &Arrangement, bars: &[Pattern], player: impl FnMut(Cue)) {
    cues_of(song, Role::Banjo, |index| bars.get(index), |_| false, player);
}

fn cues_of<'a>(
    song: &Arrangement,
    role: Role,
    pattern: impl Fn(usize) -> Option<&'a Pattern>,
    after_run: impl Fn(usize) -> bool,
    mut player: impl FnMut(Cue),
) {
    let mut moments = Vec::new();
    let mut resting = true;
    let mut heard = None;
    let mut held = false;
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
            (heard, held) = (None, false);
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
        view.play(&moments, &mut heard, &mut held, &mut player);
    }
}

/// A place in a bar where something may happen.
#[derive(Clone, Copy, Debug)]
struct Moment {
    at: Ticks,
    /// The pattern's slot that stands here, if one does, and its number.
    slot: Option<(u32, Slot)>,
}

/// A bar as one role reads it.
pub(super) struct BarView<'a> {
    pub song: &'a Arrangement,
    pub bar: &'a Bar,
    pub index: u32,
    pub next: Option<&'a Bar>,
    pub role: Role,
    pub pattern: &'a Pattern,
    pub after_run: bool,
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

    /// Plays the bar. `heard` is where the role first played a bass note of the chord of the moment, the
    /// banjo any note; `None` while it has not, because the chord is new, or began in a stop or while the
    /// role sat out. `held` is true while a held chord rings.
    fn play(
        &self,
        moments: &[Moment],
        heard: &mut Option<Ticks>,
        held: &mut bool,
        player: &mut impl FnMut(Cue),
    ) {
        let mut span = self.bar.spans.start;
        let mut stop = Stop::PlayOn;
        let triplets = self.in_triplets();
        let in_six = self.bar.meter == Meter::SixEight;
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
                *heard = None;
                player(cue(if here.chord.is_some() { Act::Change } else { Act::Damp }));
            }
            let marked = self.stop_at(at);
            // A held chord lasts as long as its mark.
            if *held && (marked.is_some() || at == self.bar.start) {
                player(cue(Act::Damp));
                *held = false;
            }
            if let Some(now) = marked {
                stop = now;
                match now {
                    Stop::Silence => player(cue(Act::Damp)),
                    Stop::Hit if here.chord.is_some() => {
                        *heard = Some(at);
                        player(cue(Act::Hit));
                    }
                    Stop::Hit | Stop::Hold | Stop::PlayOn => {}
                }
            }
            if stop == Stop::Hold && here.chord.is_some() && (marked.is_some() || new_chord) {
                (*heard, *held) = (Some(at), true);
                player(cue(Act::Change));
                player(cue(Act::FinalHit));
            }
            if stop == Stop::PlayOn && here.chord.is_some() {
                let act = match slot {
                    Some((number, Slot::Strike(strike))) => {
                        let unheard =
                            heard.is_none() && strike.bass.is_some() && self.sounds_roots();
                        if unheard || (new_chord && self.must_sound(at)) {
                            Some(Act::Strike(Strike { bass: ROOT.bass, ..strike }))
                        } else {
                            self.strike(strike, number, span, heard.unwrap_or(at))
                        }
                    }
                    _ if new_chord && self.must_sound(at) => Some(Act::Strike(ROOT)),
                    Some((_, Slot::Rest)) => Some(Act::Damp),
                    Some((_, Slot::Ring)) | None => None,
                };
                let Some(act) = act else { continue };
                if self.sounds_chord(act) {
                    heard.get_or_insert(at);
                }
                let ahead = match act {
                    Act::Strike(Strike { bass, .. })
                        if self.role == Role::Bass && bass == ROOT.bass =>
                    {
                        self.ahead(at, span, heard.unwrap_or(at))
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

    /// True for the roles whose first note of a chord is its root, if it is named by a degree or walks.
    const fn sounds_roots(&self) -> bool {
        matches!(self.role, Role::Bass | Role::Guitar | Role::Banjo)
    }

    /// True if the act lets the role's chord be heard, so that it may go on from there: a bass note, or
    /// any of the banjo's.
    fn sounds_chord(&self, act: Act) -> bool {
        let Act::Strike(strike) = act else { return false };
        strike.bass.is_some() || self.role == Role::Banjo
    }

    /// A new chord is heard from the bass wherever it begins, and from the guitar's bass strings if
    /// that is on a beat, though the pattern has no note there.
    fn must_sound(&self, at: Ticks) -> bool {
        match self.role {
            Role::Bass => true,
            Role::Guitar => (at - self.bar.start).is_multiple_of(self.bar.meter.beat()),
            Role::Chop | Role::Banjo | Role::Fiddle | Role::Lead => false,
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
            if self.role == Role::Banjo {
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

    /// True if the role sounds at the head of the bar.
    pub(super) fn heard(&self, bar: &Bar) -> bool {
        let silent = self.song.stops.get(bar.stops.clone()).unwrap_or_default().first();
        !bar.resting.contains(self.role) && silent.is_none_or(|stop| stop.stop != Stop::Silence)
    }

    pub(super) fn span(&self, index: usize) -> Option<&Span> {
        self.song.spans.get(index)
    }

    /// The stop that holds at a place of the bar.
    pub(super) fn stop_in_force(&self, at: Ticks) -> Stop {
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        stops.iter().rfind(|stop| stop.start <= at).map_or(Stop::PlayOn, |stop| stop.stop)
    }

    pub(super) fn stop_at(&self, at: Ticks) -> Option<Stop> {
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        stops.iter().find(|stop| stop.start == at).map(|stop| stop.stop)
    }
}

/// The plain root, at the plain loudness.
const ROOT: Strike = Strike {
    bass: Some(BassNote::Degree { degree: Degree::Root, octave: 0 }),
    stroke: None,
    strings: BanjoStrings::NONE,
    loud: Loud::Normal,
};
