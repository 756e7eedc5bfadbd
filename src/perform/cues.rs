use crate::arrange::{Arrangement, Bar, BarKind, ChordId, Span};
use crate::chart::{Role, Stop};
use crate::style::{BanjoStrings, BassNote, Degree, Loud, Pattern, RoleStyle, Slot, Strike};
use crate::time::{Meter, Ticks};

/// Something that a player does at a place on the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cue {
    /// The place on the even grid, before swing and feel.
    pub at: Ticks,
    /// True where swing leaves things alone: in 6/8, and in a pattern of triplets.
    pub even: bool,
    /// The bar that it stands in, in the arrangement's bars.
    pub bar: u32,
    /// The chord of the moment, in the arrangement's spans.
    pub span: usize,
    /// What to do.
    pub act: Act,
}

/// What a player does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Act {
    /// Stops what sounds.
    Damp,
    /// The chord changes: what sounds and does not belong to it is stopped.
    Change,
    /// Plays a slot of the pattern.
    Strike(Strike),
    /// Plays step `step` of a walk of `of` steps, counted from 0, that arrives at the chord `to`.
    Walk { strike: Strike, step: usize, of: usize, to: ChordId },
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
    mut player: impl FnMut(Cue),
) {
    let mut moments = Vec::new();
    let mut resting = true;
    let mut heard = None;
    for (index, bar) in song.bars.iter().enumerate() {
        let number = index as u32;
        let cue = |at, span, act| Cue { at, even: false, bar: number, span, act };
        if bar.start == song.end {
            player(cue(bar.start, bar.spans.start, Act::Again));
        }
        if bar.resting.contains(role) {
            if !resting {
                player(cue(bar.start, bar.spans.start, Act::Damp));
            }
            resting = true;
            heard = None;
            continue;
        }
        resting = false;
        if bar.kind == BarKind::FinalHit {
            player(cue(bar.start, bar.spans.start, Act::Change));
            player(cue(bar.start, bar.spans.start, Act::FinalHit));
            continue;
        }
        let roll = chance(seed, role, index);
        let Some(pattern) = pattern(song, style, bar, roll) else { continue };
        let view =
            BarView { song, bar, index: number, next: song.bars.get(index + 1), role, pattern };
        view.moments(&mut moments);
        view.play(&moments, &mut heard, &mut player);
    }
}

/// The pattern for a bar: of its own meter; where the style has none (a short bar in a crooked tune),
/// of a meter of the same length, or else the song's own meter's, cut short. A bar longer than the
/// song's is the song's own meter's begun again, so that the band keeps its gait.
fn pattern<'a>(
    song: &Arrangement,
    style: &'a RoleStyle,
    bar: &Bar,
    roll: f64,
) -> Option<&'a Pattern> {
    let pick = |meter| style.pick(meter, &bar.facts, bar.turn, roll);
    if bar.meter.bar() > song.meter.bar() {
        return pick(song.meter);
    }
    // 3/4 and 6/8 are of one length, but their beats are not.
    let in_six = |meter| meter == Meter::SixEight;
    let same_length = Meter::ALL
        .into_iter()
        .filter(|&meter| meter.bar() == bar.meter.bar() && in_six(meter) == in_six(bar.meter));
    std::iter::once(bar.meter).chain(same_length).chain([song.meter]).find_map(pick)
}

/// A number from 0 to 1 for one bar of one role. It hangs on nothing else, so a bar is the same
/// whoever else plays (the mixing is SplitMix64's finaliser, Steele, Lea & Flood 2014).
fn chance(seed: u64, role: Role, bar: usize) -> f64 {
    let mut z = seed
        .wrapping_add((bar as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15))
        .wrapping_add((role as u64 + 1) << 56);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

/// A place in a bar where something may happen.
#[derive(Clone, Copy, Debug)]
struct Moment {
    at: Ticks,
    /// The pattern's slot that stands here, if one does.
    slot: Option<Slot>,
}

struct BarView<'a> {
    song: &'a Arrangement,
    bar: &'a Bar,
    index: u32,
    next: Option<&'a Bar>,
    role: Role,
    pattern: &'a Pattern,
}

impl BarView<'_> {
    /// Every place of the bar: the pattern's slots, the chords' beginnings, the stops'.
    fn moments(&self, out: &mut Vec<Moment>) {
        out.clear();
        let end = self.bar.end();
        let mut at = self.bar.start;
        for &slot in self.pattern.slots.iter().cycle() {
            if at >= end || self.pattern.slot <= Ticks::ZERO {
                break;
            }
            out.push(Moment { at, slot: Some(slot) });
            at += self.pattern.slot;
        }
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

    /// Plays the bar. `heard` is where the role first played a bass note of the chord of the moment;
    /// `None` while it has not, because the chord is new, or began in a stop or while the role sat out.
    fn play(&self, moments: &[Moment], heard: &mut Option<Ticks>, player: &mut impl FnMut(Cue)) {
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
            let cue = |act| Cue { at, even, bar: self.index, span, act };
            if new_chord {
                *heard = None;
                player(cue(if here.chord.is_some() { Act::Change } else { Act::Damp }));
            }
            if let Some(now) = self.stop_at(at) {
                stop = now;
                match now {
                    Stop::Silence => player(cue(Act::Damp)),
                    Stop::Hit if here.chord.is_some() => {
                        *heard = Some(at);
                        player(cue(Act::Hit));
                    }
                    Stop::Hit | Stop::PlayOn => {}
                }
            }
            if stop == Stop::PlayOn && here.chord.is_some() {
                let act = match slot {
                    Some(Slot::Strike(strike)) => {
                        let unheard =
                            heard.is_none() && strike.bass.is_some() && self.sounds_roots();
                        if unheard || (new_chord && self.must_sound(at)) {
                            Some(Act::Strike(Strike { bass: ROOT.bass, ..strike }))
                        } else {
                            Some(self.strike(strike, at, span, heard.unwrap_or(at)))
                        }
                    }
                    _ if new_chord && self.must_sound(at) => Some(Act::Strike(ROOT)),
                    Some(Slot::Rest) => Some(Act::Damp),
                    Some(Slot::Ring) | None => None,
                };
                let Some(act) = act else { continue };
                if self.sounds_chord(act) {
                    heard.get_or_insert(at);
                }
                player(cue(act));
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

    /// What the pattern asks for in a chord that was heard from `from` on.
    fn strike(&self, strike: Strike, at: Ticks, span: usize, from: Ticks) -> Act {
        if strike.bass != Some(BassNote::Walk) {
            return Act::Strike(strike);
        }
        let (step, of, to) = self.walk(at, span, from);
        match to {
            Some(to) => Act::Walk { strike, step, of, to },
            // Nowhere to walk to: fifth and root in turn, as if no walk were written.
            None => {
                let degree = if step % 2 == 0 { Degree::Fifth } else { Degree::Root };
                Act::Strike(Strike { bass: Some(BassNote::Degree { degree, octave: 0 }), ..strike })
            }
        }
    }

    /// Which step of a walk stands at `at`, of how many, and where the walk arrives: at the next
    /// chord, if that begins in this bar or with the next, and is played. Only the steps after `from`
    /// count, and none that a stop takes away.
    fn walk(&self, at: Ticks, span: usize, from: Ticks) -> (usize, usize, Option<ChordId>) {
        let until = self.span(span).map_or(self.bar.end(), |here| here.end).min(self.bar.end());
        let slots = self.pattern.slots.iter().cycle();
        let times = std::iter::successors(Some(self.bar.start), |&t| Some(t + self.pattern.slot));
        let (mut step, mut of) = (0, 0);
        for (slot, t) in slots.zip(times.take_while(|&t| t < until)) {
            let walks = matches!(slot, Slot::Strike(Strike { bass: Some(BassNote::Walk), .. }));
            if walks && t > from && self.stop_in_force(t) == Stop::PlayOn {
                step += usize::from(t < at);
                of += 1;
            }
        }
        let target = self.span(span + 1).filter(|next| next.start == until);
        let arrives = if until < self.bar.end() {
            self.stop_in_force(until) == Stop::PlayOn || self.stop_at(until) == Some(Stop::Hit)
        } else {
            self.next.is_some_and(|next| self.heard(next))
        };
        (step, of, target.filter(|_| arrives).and_then(|next| next.chord))
    }

    /// True if the role sounds at the head of the bar.
    fn heard(&self, bar: &Bar) -> bool {
        let silent = self.song.stops.get(bar.stops.clone()).unwrap_or_default().first();
        !bar.resting.contains(self.role) && silent.is_none_or(|stop| stop.stop != Stop::Silence)
    }

    fn span(&self, index: usize) -> Option<&Span> {
        self.song.spans.get(index)
    }

    /// The stop that holds at a place of the bar.
    fn stop_in_force(&self, at: Ticks) -> Stop {
        let stops = self.song.stops.get(self.bar.stops.clone()).unwrap_or_default();
        stops.iter().rfind(|stop| stop.start <= at).map_or(Stop::PlayOn, |stop| stop.stop)
    }

    fn stop_at(&self, at: Ticks) -> Option<Stop> {
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
