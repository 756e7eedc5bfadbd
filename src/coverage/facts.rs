use super::Singing;
use crate::chart::Lead;
use crate::condition::{self, bits};

/// What happens in a bar besides the groove.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Moment {
    /// Nothing: the band plays.
    Groove,
    /// Before the form, and somebody plays it.
    Kickoff,
    /// Before the form, and whoever should play it sits out.
    KickoffOpen,
    /// The line of a tag.
    Tag,
    /// The chord after which the song is over.
    LastChord,
    ColdEnd,
    /// The band stops or has no chord for half of the bar or more.
    Stop,
}

/// All that the rules ask of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Facts {
    pub moment: Moment,
    /// Nobody plays the downbeats to speak of.
    pub downbeats_missing: bool,
    /// Nobody plays the backbeats to speak of.
    pub backbeats_missing: bool,
    /// The guitar strikes all the ands: boom, up, chick, up.
    pub guitar_subdivides: bool,
    /// Another banjo plays, and does not vamp: the ands are its place, in a roll or in a pinch and a note after it.
    pub banjo_rolls: bool,
    /// Who plays gives the ands about what a roll would, whoever it is.
    pub ands_taken: bool,
    /// The section is marked `p`.
    pub soft_pass: bool,
    pub singing: Singing,
    /// The instrument that leads.
    pub lead: Option<Lead>,
    /// The pass is the player's.
    pub player_leads: bool,
    /// No bass plays.
    pub no_bass: bool,
    /// Nobody chops, nor does a bow or another banjo's vamp in the mandolin's place.
    pub no_chop: bool,
    /// No guitar plays rhythm.
    pub no_guitar: bool,
}

impl Facts {
    /// The terms that hold, a bit each.
    pub(super) fn bits(&self) -> u32 {
        bits(|term: Term| term.holds(self))
    }
}

/// A thing that a rule can ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Term {
    PlayerLeads,
    Kickoff,
    KickoffOpen,
    Tag,
    LastChord,
    ColdEnd,
    BandStops,
    DownbeatsMissing,
    BackbeatsMissing,
    /// However softly.
    GuitarSubdivides,
    BanjoRolls,
    AndsTaken,
    SoftPass,
    SingerSings,
    SingerPauses,
    InstrumentLeads,
    GuitarLeads,
    BassLeads,
    /// And it is not the player's.
    BanjoLeads,
    NoBass,
    NoChop,
    NoGuitar,
}

impl condition::Term for Term {
    const ALL: &'static [Self] = &[
        Self::PlayerLeads,
        Self::Kickoff,
        Self::KickoffOpen,
        Self::Tag,
        Self::LastChord,
        Self::ColdEnd,
        Self::BandStops,
        Self::DownbeatsMissing,
        Self::BackbeatsMissing,
        Self::GuitarSubdivides,
        Self::BanjoRolls,
        Self::AndsTaken,
        Self::SoftPass,
        Self::SingerSings,
        Self::SingerPauses,
        Self::InstrumentLeads,
        Self::GuitarLeads,
        Self::BassLeads,
        Self::BanjoLeads,
        Self::NoBass,
        Self::NoChop,
        Self::NoGuitar,
    ];

    fn as_str(self) -> &'static str {
        match self {
            Self::PlayerLeads => "player leads",
            Self::Kickoff => "kickoff",
            Self::KickoffOpen => "kickoff open",
            Self::Tag => "tag",
            Self::LastChord => "last chord",
            Self::ColdEnd => "cold end",
            Self::BandStops => "band stops",
            Self::DownbeatsMissing => "downbeats missing",
            Self::BackbeatsMissing => "backbeats missing",
            Self::GuitarSubdivides => "guitar subdivides",
            Self::BanjoRolls => "banjo rolls",
            Self::AndsTaken => "ands taken",
            Self::SoftPass => "soft pass",
            Self::SingerSings => "singer sings",
            Self::SingerPauses => "singer pauses",
            Self::InstrumentLeads => "instrument leads",
            Self::GuitarLeads => "guitar leads",
            Self::BassLeads => "bass leads",
            Self::BanjoLeads => "banjo leads",
            Self::NoBass => "no bass",
            Self::NoChop => "no chop",
            Self::NoGuitar => "no guitar",
        }
    }

    fn number(self) -> u32 {
        self as u32
    }
}

impl Term {
    /// True if it is so.
    fn holds(self, facts: &Facts) -> bool {
        match self {
            Self::PlayerLeads => facts.player_leads,
            Self::Kickoff => matches!(facts.moment, Moment::Kickoff | Moment::KickoffOpen),
            Self::KickoffOpen => facts.moment == Moment::KickoffOpen,
            Self::Tag => facts.moment == Moment::Tag,
            Self::LastChord => facts.moment == Moment::LastChord,
            Self::ColdEnd => facts.moment == Moment::ColdEnd,
            Self::BandStops => facts.moment == Moment::Stop,
            Self::DownbeatsMissing => facts.downbeats_missing,
            Self::BackbeatsMissing => facts.backbeats_missing,
            Self::GuitarSubdivides => facts.guitar_subdivides,
            Self::BanjoRolls => facts.banjo_rolls,
            Self::AndsTaken => facts.ands_taken,
            Self::SoftPass => facts.soft_pass,
            Self::SingerSings => facts.singing == Singing::Sings,
            Self::SingerPauses => facts.singing == Singing::Pauses,
            Self::InstrumentLeads => facts.lead.is_some(),
            Self::GuitarLeads => facts.lead == Some(Lead::Guitar),
            Self::BassLeads => facts.lead == Some(Lead::Bass),
            Self::BanjoLeads => facts.lead == Some(Lead::Banjo),
            Self::NoBass => facts.no_bass,
            Self::NoChop => facts.no_chop,
            Self::NoGuitar => facts.no_guitar,
        }
    }
}
