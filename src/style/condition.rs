use crate::chart::Role;
use crate::condition::{self, bits};

/// What is known of a bar when a part chooses what to play in it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BarFacts {
    /// The next bar begins with another chord.
    pub change_next: bool,
    /// This bar begins with another chord than the one before.
    pub new_chord: bool,
    /// The chord changes within this bar.
    pub split: bool,
    /// This bar's meter is not the song's own: a beat dropped or added.
    pub crooked: bool,
    /// The first bar of a line of the chart.
    pub phrase_start: bool,
    /// The last bar of a line of the chart.
    pub phrase_end: bool,
    /// The first bar of a pass through a section.
    pub first_bar: bool,
    /// The last bar of a pass through a section.
    pub last_bar: bool,
    /// An instrument leads: a break.
    pub instrument_leads: bool,
    /// The voice leads and the singer sings in this bar.
    pub singer_sings: bool,
    /// The voice leads and the singer pauses in this bar.
    pub singer_pauses: bool,
    /// Nobody plays the bass: the song has none, or it leads.
    pub no_bass: bool,
    /// Nobody chops: the song has no mandolin, or it leads.
    pub no_chop: bool,
    /// Nobody plays rhythm guitar: the song has none, or it leads.
    pub no_guitar: bool,
    /// The whole bar is on the key's own chord.
    pub home_chord: bool,
    /// The section is a verse, by its name.
    pub verse: bool,
    /// The section is a chorus.
    pub chorus: bool,
    /// The section is a bridge.
    pub bridge: bool,
    /// The first time through this section.
    pub first_time: bool,
    /// The last of several times through this section.
    pub last_time: bool,
    /// The band is down: a late verse, before the chorus that rises from it.
    pub down: bool,
    /// The last line of a pass in which the band was down, or the last before an instrument leads: it builds.
    pub build: bool,
    /// Whose turn it is to lead into the next line; nobody's but at a line's end.
    pub fills: Option<Role>,
}

impl BarFacts {
    /// The terms that hold, a bit each.
    pub fn bits(&self) -> u32 {
        bits(|term: Term| term.holds(self))
    }
}

/// One thing that can be asked of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Term {
    ChangeNext,
    NewChord,
    SplitBar,
    CrookedBar,
    PhraseStart,
    PhraseEnd,
    FirstBar,
    LastBar,
    Break,
    SingerSings,
    SingerPauses,
    NoBass,
    NoChop,
    NoGuitar,
    HomeChord,
    Verse,
    Chorus,
    Bridge,
    FirstTime,
    LastTime,
    Down,
    Build,
    BassFills,
    ChopFills,
    GuitarFills,
}

impl condition::Term for Term {
    const ALL: &'static [Self] = &[
        Self::ChangeNext,
        Self::NewChord,
        Self::SplitBar,
        Self::CrookedBar,
        Self::PhraseStart,
        Self::PhraseEnd,
        Self::FirstBar,
        Self::LastBar,
        Self::Break,
        Self::SingerSings,
        Self::SingerPauses,
        Self::NoBass,
        Self::NoChop,
        Self::NoGuitar,
        Self::HomeChord,
        Self::Verse,
        Self::Chorus,
        Self::Bridge,
        Self::FirstTime,
        Self::LastTime,
        Self::Down,
        Self::Build,
        Self::BassFills,
        Self::ChopFills,
        Self::GuitarFills,
    ];

    fn as_str(self) -> &'static str {
        match self {
            Self::ChangeNext => "change next",
            Self::NewChord => "new chord",
            Self::SplitBar => "split bar",
            Self::CrookedBar => "crooked bar",
            Self::PhraseStart => "phrase start",
            Self::PhraseEnd => "phrase end",
            Self::FirstBar => "first bar",
            Self::LastBar => "last bar",
            Self::Break => "break",
            Self::SingerSings => "singer sings",
            Self::SingerPauses => "singer pauses",
            Self::NoBass => "no bass",
            Self::NoChop => "no chop",
            Self::NoGuitar => "no guitar",
            Self::HomeChord => "home chord",
            Self::Verse => "verse",
            Self::Chorus => "chorus",
            Self::Bridge => "bridge",
            Self::FirstTime => "first time",
            Self::LastTime => "last time",
            Self::Down => "down",
            Self::Build => "build",
            Self::BassFills => "bass fills",
            Self::ChopFills => "chop fills",
            Self::GuitarFills => "guitar fills",
        }
    }

    fn number(self) -> u32 {
        self as u32
    }
}

impl Term {
    /// True if it is so in that bar.
    pub const fn holds(self, facts: &BarFacts) -> bool {
        match self {
            Self::ChangeNext => facts.change_next,
            Self::NewChord => facts.new_chord,
            Self::SplitBar => facts.split,
            Self::CrookedBar => facts.crooked,
            Self::PhraseStart => facts.phrase_start,
            Self::PhraseEnd => facts.phrase_end,
            Self::FirstBar => facts.first_bar,
            Self::LastBar => facts.last_bar,
            Self::Break => facts.instrument_leads,
            Self::SingerSings => facts.singer_sings,
            Self::SingerPauses => facts.singer_pauses,
            Self::NoBass => facts.no_bass,
            Self::NoChop => facts.no_chop,
            Self::NoGuitar => facts.no_guitar,
            Self::HomeChord => facts.home_chord,
            Self::Verse => facts.verse,
            Self::Chorus => facts.chorus,
            Self::Bridge => facts.bridge,
            Self::FirstTime => facts.first_time,
            Self::LastTime => facts.last_time,
            Self::Down => facts.down,
            Self::Build => facts.build,
            Self::BassFills => matches!(facts.fills, Some(Role::Bass)),
            Self::ChopFills => matches!(facts.fills, Some(Role::Chop)),
            Self::GuitarFills => matches!(facts.fills, Some(Role::Guitar)),
        }
    }
}

/// When a bar of a style is played.
pub type Condition = condition::Condition<Term>;

impl Condition {
    /// True for a bar with those facts. Who asks it of every bar of a style for every bar of a song asks
    /// [`holds_for`](condition::Condition::holds_for) of [`BarFacts::bits`].
    pub fn holds(&self, facts: &BarFacts) -> bool {
        self.holds_for(facts.bits())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::condition::Term as _;

    #[test]
    fn every_term_reads_its_own_fact() {
        let facts = |i: usize| BarFacts {
            change_next: i == 0,
            new_chord: i == 1,
            split: i == 2,
            crooked: i == 3,
            phrase_start: i == 4,
            phrase_end: i == 5,
            first_bar: i == 6,
            last_bar: i == 7,
            instrument_leads: i == 8,
            singer_sings: i == 9,
            singer_pauses: i == 10,
            no_bass: i == 11,
            no_chop: i == 12,
            no_guitar: i == 13,
            home_chord: i == 14,
            verse: i == 15,
            chorus: i == 16,
            bridge: i == 17,
            first_time: i == 18,
            last_time: i == 19,
            down: i == 20,
            build: i == 21,
            fills: i.checked_sub(22).and_then(|at| Role::BAND.get(at).copied()),
        };
        for (i, &term) in Term::ALL.iter().enumerate() {
            assert_eq!(Term::parse(term.as_str()), Some(term));
            for j in 0..Term::ALL.len() {
                assert_eq!(Condition::new([(false, term)]).holds(&facts(j)), i == j, "{term:?}");
                assert_eq!(Condition::new([(true, term)]).holds(&facts(j)), i != j, "{term:?}");
            }
        }
    }
}
