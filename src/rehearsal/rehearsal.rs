use std::num::NonZeroU32;
use std::ops::RangeInclusive;
use std::sync::Arc;

use thiserror::Error;

use super::read::read_song_and_style;
use super::{NotRead, Rendition, StyleShelf, Wishes};
use crate::arrange::{Arrangement, Plan, PlanError, SitOut, arrange};
use crate::backup::{CHAIR, Level};
use crate::chart::{Role, RoleSet, Song};
use crate::perform::{StyleMismatch, perform};
use crate::practice::{Chairs, Change, SitOutError, SitOutRule, Stretch, StretchError, drill};
use crate::style::Style;
use crate::text::Source;
use crate::theory::Key;
use crate::time::Nanos;

/// A song, the style that it is played in, and what a player asks for: all that a band must agree on before
/// it plays. What it plays comes from here and from nowhere else.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    song: Song,
    style: Style,
    wishes: Wishes,
    sit_out: Vec<SitOut>,
    chairs: Chairs,
}

/// Why a rehearsal comes to nothing.
#[derive(Clone, Debug)]
pub enum NoRehearsal {
    /// The song, or a style, can't be had.
    Read(NotRead),
    /// Two wishes contradict each other.
    SitOut(SitOutError),
}

/// Why a song can't be played as wished.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub enum NotPlayed {
    /// What is wished for does not go with the song.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// The song has nothing of the kind that is to go round.
    #[error(transparent)]
    Stretch(#[from] StretchError),
    /// The style does not go with the song.
    #[error(transparent)]
    Style(#[from] StyleMismatch),
    /// The song's form has no such bars.
    #[error("{title} has no such bars")]
    NoBars {
        /// The song's title.
        title: String,
    },
}

impl Rehearsal {
    /// Of a song and a style that were read.
    ///
    /// # Errors
    /// [`SitOutError`] if two rules at once say who sits out.
    pub fn new(song: Song, style: Style, wishes: Wishes) -> Result<Self, SitOutError> {
        let (sit_out, chairs) = SitOutRule::split(&wishes.sit_out, wishes.seed)?;
        Ok(Self { song, style, wishes, sit_out, chairs })
    }

    /// Of a song's text, in the style that is wished for, or its own.
    ///
    /// # Errors
    /// [`NoRehearsal`].
    pub fn read(
        source: &Source,
        shelf: &impl StyleShelf,
        wishes: Wishes,
    ) -> Result<Self, NoRehearsal> {
        let (song, style) = read_song_and_style(source, wishes.style.as_deref(), shelf)
            .map_err(NoRehearsal::Read)?;
        Self::new(song, style, wishes).map_err(NoRehearsal::SitOut)
    }

    /// The song.
    pub const fn song(&self) -> &Song {
        &self.song
    }

    /// The style.
    pub const fn style(&self) -> &Style {
        &self.style
    }

    /// What is asked for.
    pub const fn wishes(&self) -> &Wishes {
        &self.wishes
    }

    /// Who leaves a chair open, all along or in a section.
    pub fn sit_out(&self) -> &[SitOut] {
        &self.sit_out
    }

    /// Whose chair is open in which pass besides, by turns or by surprise.
    pub const fn chairs(&self) -> Chairs {
        self.chairs
    }

    /// The beats a minute that count as full speed.
    pub fn full_tempo(&self) -> f64 {
        self.wishes.tempo.unwrap_or(self.song.tempo)
    }

    /// The whole song from its first beat, as it is played live: those who sit out by turns or by surprise are
    /// there, for the turns go by what is played, and where that goes the player's hand says.
    ///
    /// # Errors
    /// [`PlanError`] where the wishes do not go with the song.
    pub fn whole(&self) -> Result<Arrangement, PlanError> {
        arrange(&self.song, &self.plan())
    }

    /// The whole song from its first beat, with the chairs left open of those who sit out.
    ///
    /// # Errors
    /// [`PlanError`] where the wishes do not go with the song.
    pub fn whole_with_chairs(&self) -> Result<Arrangement, PlanError> {
        Ok(self.lay_out(self.whole()?))
    }

    /// The numbers of the bars that are to go round; `None` for the whole song.
    ///
    /// # Errors
    /// [`StretchError`] if the song has none of the kind.
    pub fn bars(&self, whole: &Arrangement) -> Result<Option<RangeInclusive<usize>>, StretchError> {
        self.wishes.stretch.as_ref().map(|stretch| stretch.bars(whole)).transpose()
    }

    /// Bars of the song that go round so often, the last round leading back to the first, with the chairs left
    /// open of those who sit out.
    ///
    /// # Errors
    /// [`NotPlayed`] where the wishes do not go with the song, or its form has no such bars.
    pub fn rounds(
        &self,
        bars: RangeInclusive<usize>,
        rounds: usize,
    ) -> Result<Arrangement, NotPlayed> {
        let round = self.whole()?.excerpt(bars, rounds);
        let round = round.ok_or_else(|| NotPlayed::NoBars { title: self.song.title.clone() })?;
        Ok(self.lay_out(round))
    }

    /// The whole of what is to be played, to be written down: the song, or what goes round as often as is
    /// wished; from its count-in to its end, with the chairs left open of those who sit out. What goes round
    /// ends after its last round, so that nothing leads on and nothing rings past the end.
    ///
    /// # Errors
    /// [`NotPlayed`] where the wishes do not go with the song.
    pub fn arrangement(&self) -> Result<Arrangement, NotPlayed> {
        let whole = self.whole()?;
        let song = match self.bars(&whole)? {
            None => self.lay_out(whole),
            Some(bars) => {
                let rounds = self.wishes.rounds.map_or(1, NonZeroU32::get);
                Arrangement { round: None, ..self.rounds(bars, rounds as usize)? }
            }
        };
        Ok(song.counted_in(self.wishes.count_in))
    }

    /// How long the count-in takes before an arrangement, whether that holds it or not.
    pub fn count_in_of(&self, arrangement: &Arrangement) -> Nanos {
        let clicks = arrangement.meter.bar() * i64::from(self.wishes.count_in);
        arrangement.tempo.nanos(clicks)
    }

    /// An arrangement of this rehearsal's as the band plays it.
    ///
    /// # Errors
    /// [`StyleMismatch`] if the style does not go with the song.
    pub fn perform(&self, arrangement: Arrangement) -> Result<Rendition, StyleMismatch> {
        let performance = perform(&arrangement, &self.style, self.wishes.seed)?;
        Ok(Rendition { arrangement: Arc::new(arrangement), performance: Arc::new(performance) })
    }

    /// The rehearsal of a change from one chord to another as a song of its own, so many bars of each, which go
    /// round. `played` is the whole song as it is played, with its key. Who sits out in one section plays: a
    /// change is of no section.
    #[must_use]
    pub fn drill(&self, played: &Arrangement, change: &Change, bars: u32) -> Self {
        let song = drill(&self.song, played, change, bars);
        let bars = 2 * bars.max(1);
        let stretch = Stretch::parse(&format!("1-{bars}")).ok();
        // The drill's song is in the key that is played already.
        let wishes = Wishes { key: None, stretch, ..self.wishes.clone() };
        let sit_out = self.sit_out.iter().filter(|out| out.section.is_none()).cloned().collect();
        Self { song, style: self.style.clone(), wishes, sit_out, chairs: self.chairs }
    }

    /// Takes up another song with the same wishes.
    pub fn set_song(&mut self, song: Song) {
        self.song = song;
    }

    /// Asks for a key.
    pub const fn set_key(&mut self, key: Option<Key>) {
        self.wishes.key = key;
    }

    /// Asks for a line-up.
    pub fn set_band(&mut self, band: Vec<Role>) {
        self.wishes.band = band;
    }

    /// Asks for a banjo in the open chair, or none.
    pub const fn set_banjo(&mut self, level: Option<Level>) {
        self.wishes.banjo = level;
    }

    /// Asks for another rule by which chairs are open.
    pub const fn set_chairs(&mut self, chairs: Chairs) {
        self.chairs = chairs;
    }

    /// Asks for a practice speed, in percent of the tempo.
    pub const fn set_speed(&mut self, percent: f64) {
        self.wishes.speed = percent;
    }

    /// Asks for a tempo that counts as full speed, in beats a minute.
    pub const fn set_full_tempo(&mut self, beats: f64) {
        self.wishes.tempo = Some(beats);
    }

    /// Asks for some bars to go round.
    pub fn set_stretch(&mut self, stretch: Option<Stretch>) {
        self.wishes.stretch = stretch;
    }

    /// Asks for the form so many times.
    pub(super) const fn set_times(&mut self, times: NonZeroU32) {
        self.wishes.times = times;
    }

    /// Calls in all who sit out, in sections too.
    pub(super) fn call_in_all(&mut self) {
        self.sit_out.clear();
    }

    /// Calls in those who sit out all along, for somebody to silence by hand who can call them back as well. A chair
    /// that another fills stays open.
    pub fn call_in(&mut self) -> RoleSet {
        let filled = |role| self.wishes.banjo.is_some() && role == CHAIR;
        let (all_along, others) = std::mem::take(&mut self.sit_out)
            .into_iter()
            .partition(|out| out.section.is_none() && !filled(out.role));
        self.sit_out = others;
        let all_along: Vec<SitOut> = all_along;
        all_along.iter().map(|out| out.role).collect()
    }

    /// The same song, style, line-up and performance with nothing else asked for.
    pub(super) fn as_written(&self) -> Self {
        let wishes = &self.wishes;
        let wishes = Wishes { band: wishes.band.clone(), seed: wishes.seed, ..Wishes::default() };
        let (song, style) = (self.song.clone(), self.style.clone());
        Self { song, style, wishes, sit_out: Vec::new(), chairs: Chairs::AsWritten }
    }

    /// The line-up that is asked for, if one is.
    pub(super) fn line_up(&self) -> Option<RoleSet> {
        let band = &self.wishes.band;
        (!band.is_empty()).then(|| band.iter().copied().collect())
    }

    /// Leaves open the chairs of those who sit out by turns or by surprise.
    fn lay_out(&self, mut arrangement: Arrangement) -> Arrangement {
        self.chairs.lay_out(&mut arrangement);
        arrangement
    }

    fn plan(&self) -> Plan {
        let Wishes { key, tempo, speed, times, drone, looseness, .. } = self.wishes;
        let (band, sit_out, tag) = (self.line_up(), self.sit_out.clone(), self.style.tag);
        Plan { key, tempo, speed, band, sit_out, count_in: 0, times, tag, drone, looseness }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Shipped;
    use super::*;
    use crate::text::Problems;

    /// Seven passes, the first a verse of 16 bars.
    fn lantern(wishes: Wishes) -> Rehearsal {
        let source = Shipped::song("lantern-on-the-landing").unwrap();
        Rehearsal::read(&source, &Shipped, wishes).unwrap()
    }

    fn rules(words: &[&str]) -> Vec<SitOutRule> {
        words.iter().map(|word| SitOutRule::parse(word).unwrap()).collect()
    }

    #[test]
    fn what_is_shipped_is_played_without_a_file() {
        for name in Shipped::songs() {
            let source = Shipped::song(&name).unwrap();
            let rehearsal = Rehearsal::read(&source, &Shipped, Wishes::default()).unwrap();
            let band = rehearsal.perform(rehearsal.arrangement().unwrap()).unwrap();
            assert!(!band.performance.parts.is_empty(), "{name}");
            assert_eq!(rehearsal.remarks(&band.arrangement), [], "{name}");
        }
    }

    #[test]
    fn a_wished_style_takes_the_place_of_the_songs_own() {
        let wishes = |style: &str| Wishes { style: Some(style.to_owned()), ..Wishes::default() };
        assert_eq!(lantern(wishes("shuffle")).style().name, "shuffle");
        let source = Shipped::song("lantern-on-the-landing").unwrap();
        let refused = |style: &str| match Rehearsal::read(&source, &Shipped, wishes(style)) {
            Err(NoRehearsal::Read(NotRead::Wished(super::super::StyleError::No(why)))) => {
                why.to_string()
            }
            other => panic!("{style}: {other:?}"),
        };
        assert!(refused("shufle").ends_with("did you mean `shuffle`?"));
        assert!(refused("waltz").contains("and the song is in"));
        assert!(refused("mine/odd.toml").starts_with("there is no style file mine/odd.toml"));
    }

    #[test]
    fn mistakes_are_the_songs() {
        let source = Source::new("song.toml", "title = 'Tar Bucket'\nstyle = 'none'\n").unwrap();
        match Rehearsal::read(&source, &Shipped, Wishes::default()) {
            Err(NoRehearsal::Read(NotRead::Song(problems))) => assert!(problems.len() > 1),
            other => panic!("{other:?}"),
        }
        let mut problems = Problems::new();
        let read = super::super::read_with_own_style(&source, &Shipped, &mut problems);
        assert!(read.unwrap().is_none() && !problems.is_empty());
    }

    #[test]
    fn the_tag_is_the_styles() {
        let mut rehearsal = lantern(Wishes::default());
        for tag in [crate::style::Tag::Chords, crate::style::Tag::Line] {
            rehearsal.style.tag = tag;
            assert_eq!(rehearsal.plan().tag, tag);
        }
    }

    #[test]
    fn what_goes_round_is_counted_in_and_ends() {
        let wishes = Wishes {
            stretch: Stretch::parse("5-8").ok(),
            rounds: NonZeroU32::new(3),
            count_in: 2,
            ..Wishes::default()
        };
        let rehearsal = lantern(wishes);
        let song = rehearsal.arrangement().unwrap();
        assert_eq!((song.bars.len(), song.count_in, song.round), (12, 2, None));
        assert_eq!(song.start, song.meter.bar() * 2);
        assert_eq!(rehearsal.count_in_of(&song), song.tempo.nanos(song.start));
        let round = rehearsal.rounds(5..=8, 3).unwrap();
        assert_eq!((round.bars.len(), round.count_in, round.round), (12, 0, Some(4)));
        assert!(matches!(rehearsal.rounds(900..=901, 1), Err(NotPlayed::NoBars { .. })));
    }

    #[test]
    fn turns_go_by_the_rounds_that_are_played() {
        let wishes = Wishes {
            sit_out: rules(&["turns"]),
            stretch: Stretch::parse("verse:2").ok(),
            rounds: NonZeroU32::new(2),
            ..Wishes::default()
        };
        let rehearsal = lantern(wishes);
        let song = rehearsal.arrangement().unwrap();
        let out = |bar: usize| song.bars[bar].resting;
        let first = song.band.iter().next().unwrap();
        assert!(out(0).contains(first) && !out(song.bars.len() / 2).contains(first));
        // Live it is the player's hand that says which pass comes.
        let whole = rehearsal.whole().unwrap();
        assert_eq!(whole.playing(), whole.band);
        assert!(rehearsal.whole_with_chairs().unwrap().bars[0].resting.contains(first));
    }

    #[test]
    fn who_sits_out_all_along_is_called_in_and_in_a_section_not() {
        let sit_out = rules(&["guitar", "chop@verse"]);
        let mut rehearsal = lantern(Wishes { sit_out, ..Wishes::default() });
        assert!(!rehearsal.whole().unwrap().playing().contains(Role::Guitar));
        assert_eq!(rehearsal.call_in(), RoleSet::EMPTY.with(Role::Guitar));
        let resting = rehearsal.whole().unwrap().bars[0].resting;
        assert!(resting.contains(Role::Chop) && !resting.contains(Role::Guitar));
    }

    #[test]
    fn a_drill_is_in_the_key_that_is_played() {
        let key = Key::parse("B").unwrap();
        let sit_out = rules(&["guitar@verse", "bass"]);
        let rounds = NonZeroU32::new(2);
        let asked = Wishes { key: Some(key), sit_out, rounds, ..Wishes::default() };
        let rehearsal = lantern(asked);
        let played = rehearsal.whole().unwrap();
        let change = crate::practice::changes(&played)[0];
        let song = rehearsal.drill(&played, &change, 2).arrangement().unwrap();
        assert_eq!((song.key, song.bars.len(), song.capo), (key, 8, played.capo));
        assert!(song.playing().contains(Role::Guitar) && !song.playing().contains(Role::Bass));
    }
}
