use std::collections::BTreeMap;

use super::facts::Facts;
use super::moment::{moment, player_leads};
use super::rules::{Rule, RuleId, Rules};
use super::stroke::{RoleStroke, StrokeKind, slot_of, strokes};
use super::{BeatPart, Job, Shares, Singing, SlotCoverage};
use crate::arrange::{Arrangement, Bar};
use crate::chart::{Dynamic, Lead, Role, RoleSet};
use crate::perform::{Performance, Usual};

/// A bar and what is left open in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarCoverage {
    /// Its places, in order.
    pub slots: Vec<SlotCoverage>,
    /// How much of each part of the beat is covered.
    pub shares: Shares,
    /// What the singer does.
    pub singing: Singing,
    /// Who rests in it though the band has the role: the open chairs, and who leads.
    pub open: RoleSet,
    /// What is left for the player to do.
    pub job: Job,
    /// The rule that says so.
    pub(super) rule: RuleId,
    /// Who plays rhythm in the bars about it.
    pub(super) rhythm: RoleSet,
    /// True if the ands are somebody's in the bars about it, however softly they are struck.
    pub(super) ands_struck: bool,
}

impl BarCoverage {
    /// The rule that says what is left to do: its words and its reason.
    pub fn rule(&self) -> &'static Rule {
        Rules::shipped().rule(self.rule)
    }
}

/// What the band covers, bar for bar: one for each of [`Arrangement::bars`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// The bars.
    pub bars: Vec<BarCoverage>,
}

/// What a performance covers, leaving out the roles that are silenced.
///
/// A place is covered by what is struck there, not by what rings on, as loudly as it is struck beside the
/// player whose job the place is. Jobs go by the whole pass as far as the same chairs are open in it: a
/// single bar with a run in it is no call for a vamp.
pub fn coverage(song: &Arrangement, played: &Performance, silenced: RoleSet) -> Coverage {
    let rules = Rules::shipped();
    let mut bars: Vec<BarCoverage> =
        song.bars.iter().map(|bar| empty(song, bar, silenced)).collect();
    let mut heard = vec![Heard::default(); bars.len()];
    let mut lead_sounds = vec![false; song.passes.len()];
    for part in played.parts.iter().filter(|part| !silenced.contains(part.role)) {
        if part.role.row().is_leader {
            for note in &part.notes {
                let pass = song.bars.get(note.bar as usize).map(|bar| bar.pass);
                if let Some(sounds) = pass.and_then(|pass| lead_sounds.get_mut(pass)) {
                    *sounds = true;
                }
            }
            continue;
        }
        let weigh = Weigher::new(played, part.role, part.instrument.volume);
        // Of several strokes at one place the loudest counts: (bar, slot) and its level.
        let mut loudest: BTreeMap<(usize, usize), u16> = BTreeMap::new();
        for stroke in strokes(part, played, song.meter) {
            let Some(bar) = song.bars.get(stroke.bar) else { continue };
            let slot = slot_of(bar, stroke.start);
            let place = BeatPart::at_step(bar.gait, slot);
            if let Some(heard) = heard.get_mut(stroke.bar) {
                heard.roles = heard.roles.with(part.role);
                // A guitar's chick is the other half of its own boom, choked or not.
                let chops = stroke.kind == StrokeKind::Chop && !part.role.row().covers.booms();
                let chops = chops && place == Some(BeatPart::Back);
                heard.chops += usize::from(chops);
                heard.vamps += usize::from(chops && rules.is_job_of(BeatPart::And, part.role));
            }
            let Some(place) = place else { continue };
            let level = weigh.level(rules, &stroke, place);
            let most = loudest.entry((stroke.bar, slot)).or_default();
            *most = level.max(*most);
        }
        for ((bar, slot), level) in loudest {
            let slot = bars.get_mut(bar).and_then(|bar| bar.slots.get_mut(slot));
            if let Some(slot) = slot.filter(|_| level > 0) {
                slot.level = slot.level.saturating_add(level).min(FULL);
                slot.by = slot.by.with(part.role);
            }
        }
    }
    for bar in &mut bars {
        bar.shares = Shares::mean(&bar.slots);
    }
    let groups = groups(song, &bars, &heard);
    for (index, bar) in song.bars.iter().enumerate() {
        let Some(covered) = bars.get_mut(index) else { continue };
        let group = groups.get(&key(song, bar));
        let leads = lead_sounds.get(bar.pass).is_some_and(|sounds| *sounds);
        let facts = facts(song, bar, covered, group, leads, silenced);
        covered.rule = rules.first(&facts);
        covered.job = rules.rule(covered.rule).job;
        covered.rhythm = group.map_or(RoleSet::EMPTY, |group| group.rhythm);
        covered.ands_struck = facts.guitar_subdivides || facts.banjo_rolls;
    }
    Coverage { bars }
}

/// What is heard in a bar besides its places.
#[derive(Clone, Copy, Default)]
struct Heard {
    /// Who plays rhythm.
    roles: RoleSet,
    /// How many chops there are on its backbeats.
    chops: usize,
    /// How many of them are another banjo's vamps.
    vamps: usize,
}

/// As loud as a player of the job would have it.
const FULL: u16 = 1000;

/// How loud one role's strokes are beside the players whose jobs the places are.
struct Weigher<'a> {
    played: &'a Performance,
    role: Role,
    volume: u8,
}

impl<'a> Weigher<'a> {
    const fn new(played: &'a Performance, role: Role, volume: u8) -> Self {
        Self { played, role, volume }
    }

    /// How much of a place a stroke covers, in thousandths.
    ///
    /// Velocity and channel volume each make 40·log10 of their share in decibels (General MIDI Level 1
    /// developer guidelines, from memory), so the amplitude goes with their squares. It is held against a
    /// plain strike of the style's own player of the job: bass, chop or a banjo's roll. That is what a
    /// listener expects there in this groove; when the whole band comes down behind a singer, so does it.
    fn level(&self, rules: &Rules, stroke: &RoleStroke, place: BeatPart) -> u16 {
        let Some(whose) = rules.whose(place) else { return 0 };
        let Usual { velocity, volume, .. } = self.played.touch.usual(whose);
        let quiet = f64::from(self.played.touch.level(stroke.bar).max(1)) / 1000.0;
        // What is open follows what a hand means, not how each stroke comes out.
        let meant = self.played.touch.usual(self.role).meant(f64::from(stroke.velocity) / quiet);
        let struck = meant / f64::from(velocity.max(1));
        let turned = f64::from(self.volume) / f64::from(volume.max(1));
        let loud = struck * struck * turned * turned;
        let work = stroke.kind.work(self.role).of(place);
        (f64::from(work) * loud).round().min(f64::from(FULL)) as u16
    }
}

fn empty(song: &Arrangement, bar: &Bar, silenced: RoleSet) -> BarCoverage {
    let slots = BeatPart::slots(bar.gait, bar.meter.bar())
        .map(|(at, place)| SlotCoverage { at: bar.start + at, place, level: 0, by: RoleSet::EMPTY })
        .collect();
    let singing = match (bar.facts.singer_sings, bar.facts.singer_pauses) {
        (true, _) => Singing::Sings,
        (false, true) => Singing::Pauses,
        (false, false) => Singing::Nobody,
    };
    let open = song
        .band
        .iter()
        .filter(|&role| bar.resting.contains(role) || silenced.contains(role))
        .collect();
    BarCoverage {
        slots,
        shares: Shares::default(),
        singing,
        open,
        job: Job::Rest,
        rule: RuleId::default(),
        rhythm: RoleSet::EMPTY,
        ands_struck: false,
    }
}

/// The bars of a pass in which the same chairs are open: its number, and the roles by their numbers.
type GroupKey = (usize, Vec<Role>);

fn key(song: &Arrangement, bar: &Bar) -> GroupKey {
    (bar.pass, song.band.iter().filter(|role| bar.resting.contains(*role)).collect())
}

/// What such bars have in common.
#[derive(Default)]
struct Group {
    shares: Shares,
    /// Who plays rhythm.
    rhythm: RoleSet,
    /// Of the ands, how many the guitar strikes, in thousandths.
    by_guitar: u16,
    /// Of the backbeats, how many are chopped, in thousandths.
    chopped: u16,
    /// How many another banjo vamps.
    vamped: u16,
}

impl Group {
    fn new(slots: &[SlotCoverage], heard: Heard) -> Self {
        let of = |place| slots.iter().filter(move |slot| slot.place == place);
        let share = |count: usize, place| {
            u16::try_from(count * 1000 / of(place).count().max(1)).unwrap_or(u16::MAX)
        };
        let guitar = of(BeatPart::And).filter(|slot| slot.by.contains(Role::Guitar)).count();
        Self {
            shares: Shares::mean(slots),
            rhythm: heard.roles,
            by_guitar: share(guitar, BeatPart::And),
            chopped: share(heard.chops, BeatPart::Back),
            vamped: share(heard.vamps, BeatPart::Back),
        }
    }
}

fn groups(song: &Arrangement, bars: &[BarCoverage], heard: &[Heard]) -> BTreeMap<GroupKey, Group> {
    let mut all: BTreeMap<GroupKey, (Vec<SlotCoverage>, Heard)> = BTreeMap::new();
    for ((bar, covered), heard) in song.bars.iter().zip(bars).zip(heard) {
        let (slots, sum) = all.entry(key(song, bar)).or_default();
        sum.roles = sum.roles.union(heard.roles);
        if moment(song, bar, RoleSet::EMPTY).is_groove() {
            slots.extend(&covered.slots);
            sum.chops += heard.chops;
            sum.vamps += heard.vamps;
        }
    }
    all.into_iter().map(|(key, (slots, sum))| (key, Group::new(&slots, sum))).collect()
}

fn facts(
    song: &Arrangement,
    bar: &Bar,
    covered: &BarCoverage,
    group: Option<&Group>,
    lead_sounds: bool,
    silenced: RoleSet,
) -> Facts {
    let rules = Rules::shipped();
    let nobody = Group::default();
    let Group { shares, rhythm, by_guitar, chopped, vamped } = group.unwrap_or(&nobody);
    let lead = song.passes.get(bar.pass).and_then(|pass| pass.lead);
    let plays = |place| rhythm.iter().any(|role| rules.is_job_of(place, role));
    Facts {
        moment: moment(song, bar, silenced),
        downbeats_missing: shares.down < rules.missing,
        backbeats_missing: shares.back < rules.missing,
        guitar_subdivides: *by_guitar >= rules.subdivided,
        banjo_rolls: plays(BeatPart::And) && *vamped < rules.chopped,
        ands_taken: shares.and >= rules.empty,
        soft_pass: bar.dynamics == Dynamic::Piano || bar.facts.down,
        singing: covered.singing,
        lead: lead.filter(|lead| *lead != Lead::Voice),
        player_leads: player_leads(song, bar, lead, lead_sounds, silenced),
        no_bass: !plays(BeatPart::Down),
        no_chop: !plays(BeatPart::Back) && *chopped < rules.chopped,
        no_guitar: !rhythm.contains(Role::Guitar),
    }
}

#[cfg(test)]
#[path = "coverage_tests.rs"]
mod tests;
