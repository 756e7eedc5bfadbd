use crate::band::Shuffles;
use crate::chart::{ChartBar, Kickoff, Lead, Role, RoleSet, Song};
use crate::text::list;
use crate::time::{BarMeter, Ticks};

/// How the song starts before its form, and who plays that. The rest of the band waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KickoffPlan {
    /// What is played.
    pub kickoff: Kickoff,
    /// Who plays it. It hangs on the song, and on whether this line-up brings a lead for a pickup that is written out:
    /// whoever of them sits out leaves it to the player.
    pub players: RoleSet,
    /// Who leads the first pass.
    pub lead: Option<Lead>,
    /// How long the song's own pickup is, if it begins with one: its notes are those of the arrangement's tune before
    /// the form. Where a singer sings it, nobody else plays. After a line of the tune its pickup is the line's last
    /// notes, and this is `None`.
    pub written: Option<Ticks>,
}

impl KickoffPlan {
    /// The song's kickoff; `None` if it has none or nobody to play it. A pickup that is written out is one, and goes
    /// before one that is made up.
    ///
    /// A pickup, or the tune's last line, is for whoever leads the first pass: the lead's chair if an instrument leads,
    /// or the banjo that leads without one, which is the player's own where the line-up has none. Else it falls to one of those who
    /// are there and do not lead: the guitar if it may be. Shuffles are the
    /// fiddle's, for which it does not matter if it leads, or the lead's; else chop and guitar strum them, and
    /// without those the bass or the banjo gives the home note (common practice, no source). The turns stand in
    /// the roles' rows.
    ///
    /// `band` is who plays this time. A pickup that is written out is the lead's even if only this band has one: no other
    /// would play it.
    pub(super) fn of(song: &Song, band: RoleSet) -> Option<Self> {
        let lead = song.form.first().and_then(|pass| pass.lead);
        let busy = lead.and_then(Lead::drops);
        let there = || song.band.iter();
        let free = || there().filter(|role| Some(*role) != busy);
        let own = |of: RoleSet| {
            lead.filter(|lead| *lead != Lead::Voice).and_then(|lead| {
                let chair = of.iter().find(|role| role.row().is_leader);
                chair.or((lead == Lead::Banjo).then_some(Role::Banjo))
            })
        };
        let first = song.form.first().and_then(|pass| song.sections.get(pass.section));
        let pickup = first.and_then(|section| section.pickup.as_ref());
        if let Some(pickup) =
            pickup.filter(|_| !matches!(song.kickoff, Kickoff::Shuffles | Kickoff::Line))
        {
            let players = own(song.band.union(band)).filter(|_| !pickup.melody.is_empty());
            let players = players.into_iter().collect();
            let written = Some(pickup.length);
            return Some(Self { kickoff: Kickoff::Pickup, players, lead, written });
        }
        let players: RoleSet = match song.kickoff {
            Kickoff::None => RoleSet::EMPTY,
            Kickoff::Pickup | Kickoff::Line => {
                let own = own(song.band);
                let other = || free().min_by_key(|role| role.row().pickup);
                own.or_else(other).into_iter().collect()
            }
            Kickoff::Shuffles => {
                let alone = least(there(), |shuffles| match shuffles {
                    Shuffles::Alone(turn) => Some(turn),
                    _ => None,
                });
                let together: RoleSet =
                    free().filter(|role| role.row().shuffles == Shuffles::Together).collect();
                let at_last = least(free(), |shuffles| match shuffles {
                    Shuffles::AtLast(turn) => Some(turn),
                    _ => None,
                });
                match alone {
                    Some(alone) => RoleSet::EMPTY.with(alone),
                    None if together.is_empty() => at_last.into_iter().collect(),
                    None => together,
                }
            }
        };
        (!players.is_empty()).then_some(Self {
            kickoff: song.kickoff,
            players,
            lead,
            written: None,
        })
    }

    /// True if whoever kicks off plays on into the tune, its pickup with it: a singer sings theirs.
    pub(super) fn goes_into_the_tune(&self) -> bool {
        self.kickoff == Kickoff::Line && self.lead.is_some_and(|lead| lead != Lead::Voice)
    }

    /// The meters of its bars: the song's, of a line its own.
    pub(super) fn meters(&self, song: &Song) -> Vec<BarMeter> {
        match self.kickoff {
            Kickoff::None => Vec::new(),
            Kickoff::Pickup => vec![song.meter.into()],
            Kickoff::Shuffles => vec![song.meter.into(); 2],
            Kickoff::Line => last_line(song).iter().map(|bar| bar.meter).collect(),
        }
    }

    /// Who is heard to start: `fiddle`, `chop and guitar`.
    pub fn who(&self) -> String {
        let name = |role: Role| match (role.row().is_leader, self.lead) {
            (true, Some(lead)) => lead.as_str(),
            _ => role.as_str(),
        };
        let names: Vec<&str> = self.players.iter().map(name).collect();
        list(&names, "and")
    }
}

/// The last line of the section that the form begins with.
fn last_line(song: &Song) -> &[ChartBar] {
    let section = song.form.first().and_then(|pass| song.sections.get(pass.section));
    let bars = section.map_or(&[][..], |section| &section.bars);
    let from = bars.iter().rposition(|bar| bar.line_start).unwrap_or(0);
    bars.get(from..).unwrap_or_default()
}

/// The one whose turn comes first, of those who have one.
fn least(roles: impl Iterator<Item = Role>, turn: impl Fn(Shuffles) -> Option<u8>) -> Option<Role> {
    let turns = roles.filter_map(|role| Some((turn(role.row().shuffles)?, role)));
    turns.min_by_key(|(turn, _)| *turn).map(|(_, role)| role)
}
