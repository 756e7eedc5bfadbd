use crate::chart::{Kickoff, Lead, Role, RoleSet, Song};

/// How the song starts before its form, and who plays that. The rest of the band waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KickoffPlan {
    /// What is played.
    pub kickoff: Kickoff,
    /// Who plays it. It hangs on the song alone: whoever of them sits out leaves it to the player.
    pub players: RoleSet,
    /// Who leads the first pass.
    pub lead: Option<Lead>,
}

impl KickoffPlan {
    /// The song's kickoff; `None` if it has none or nobody in its line-up to play it.
    ///
    /// A pickup is the guitar's. If that leads or there is none, it falls to the first of the lead, the
    /// bass, the banjo, the fiddle and the mandolin that is there and does not lead. Shuffles are the
    /// fiddle's, for which it does not matter if it leads, or the lead's; else chop and guitar strum
    /// them, and without those the bass or the banjo gives the home note (common practice, no source).
    pub(super) fn of(song: &Song) -> Option<Self> {
        let lead = song.form.first().and_then(|pass| pass.lead);
        let busy = lead.and_then(Lead::drops);
        let free = |role: &Role| song.band.contains(*role) && Some(*role) != busy;
        let first =
            |roles: &[Role]| -> RoleSet { roles.iter().copied().find(free).into_iter().collect() };
        let players = match song.kickoff {
            Kickoff::None => RoleSet::EMPTY,
            Kickoff::Pickup => first(&[
                Role::Guitar,
                Role::Lead,
                Role::Bass,
                Role::Banjo,
                Role::Fiddle,
                Role::Chop,
            ]),
            Kickoff::Shuffles if song.band.contains(Role::Fiddle) => {
                RoleSet::EMPTY.with(Role::Fiddle)
            }
            Kickoff::Shuffles if song.band.contains(Role::Lead) => RoleSet::EMPTY.with(Role::Lead),
            Kickoff::Shuffles => {
                let strummed: RoleSet =
                    [Role::Chop, Role::Guitar].into_iter().filter(free).collect();
                if strummed.is_empty() { first(&[Role::Bass, Role::Banjo]) } else { strummed }
            }
        };
        (!players.is_empty()).then_some(Self { kickoff: song.kickoff, players, lead })
    }

    /// How many bars of the song's meter it takes.
    pub const fn bars(&self) -> usize {
        match self.kickoff {
            Kickoff::None => 0,
            Kickoff::Pickup => 1,
            Kickoff::Shuffles => 2,
        }
    }
}
