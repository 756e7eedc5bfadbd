//! A tune as a song.

use std::collections::HashSet;

use thiserror::Error;

use super::bars::{Bar, Cut, cut, fit, joined, paired};
use super::fit::Fit;
use super::jumps::{After, after};
use super::kinds::kind_of;
use super::leads::lead_called;
use super::play_order::{Played, by_pickups, played};
use super::sections::{has_tune, pickup, section};
use super::tune::{Tune, What};
use super::{MOST_MEASURES, Remark, Remarks};
use crate::chart::{
    ChartBar, Lead, MOST_SECTIONS, Pass, Role, RoleSet, Section, Song, check_style_name, write_song,
};
use crate::theory::fretboard::banjo::Drone;
use crate::time::Tempo;

/// Why a tune is no song.
#[derive(Clone, Copy, Debug, Error, PartialEq, Eq)]
pub enum NoSong {
    /// It has no bar.
    #[error("it has no music")]
    Empty,
    /// It would be too long.
    #[error("with its repeats it has more than {} bars", MOST_MEASURES)]
    TooLong,
    /// It has too many parts.
    #[error("it has more than {} parts", MOST_SECTIONS)]
    TooManyParts,
}

/// A part as played, by its number, and which of the sections it is.
type Instance = (usize, usize);

impl Tune {
    /// The song, with what could not be kept of the tune.
    ///
    /// # Errors
    /// [`NoSong`] if the tune has no bars, or too many.
    pub fn song(&self) -> Result<(Song, Remarks), NoSong> {
        let mut remarks = self.remarks.clone();
        let (parts, as_ordered) = played(self, MOST_MEASURES).ok_or(NoSong::TooLong)?;
        if !as_ordered {
            remarks.add(
                "the order of parts names one that is not there, and they are played as written",
                self.at,
                None,
            );
        }
        // A file of this program says all this itself: its pickups stand where its sections begin.
        let (parts, after) = match self.own {
            Some(_) => (parts, After::default()),
            None => self.once_through(parts, &mut remarks),
        };
        let bars = joined(&self.measures, &parts, self.time);
        // A bar may have a note in it that lasts for thousands: it is so many bars of a chart.
        let lasts = |bar: &Bar| bar.length / bar.time.length().max(1) + 1;
        let long = bars.iter().map(lasts).fold(0, i64::saturating_add);
        if usize::try_from(long).is_ok_and(|bars| bars > MOST_MEASURES) {
            return Err(NoSong::TooLong);
        }
        let fit = fit(&bars, self.time);
        let cuts = cut(&paired(&bars, fit), fit, &self.measures, &mut remarks);
        if cuts.is_empty() {
            return Err(NoSong::Empty);
        }
        self.say_meter(fit, &mut remarks);
        let (sections, instances) = self.sections(&parts, &cuts, &mut remarks)?;
        // The part where it stands first: a D.C. before a trio may have brought it again.
        let rests = |part: usize| {
            let has = |part: &Played| after.rest.is_some_and(|bar| part.bars.contains(&bar));
            let first = parts.iter().position(has);
            first.is_some_and(|first| {
                part >= first && parts.iter().take(part + 1).skip(first).all(has)
            })
        };
        let mut form = self.form(&parts, &sections, &instances, rests);
        // A file of this program has a line-up of its own.
        let band = match self.own {
            Some(_) => Role::BAND.into_iter().collect(),
            None => line_up(&sections, &mut form),
        };
        let (style, tempo) = self.style_and_tempo(fit, &mut remarks);
        let own = self.own.as_ref();
        let song = Song {
            title: self.title.clone(),
            composer: self.composer.clone(),
            notes: notes(&self.notes),
            key: self.key,
            meter: fit.meter,
            tempo,
            style,
            swing: None,
            capo: None,
            band,
            kickoff: own.and_then(|own| own.kickoff).unwrap_or_default(),
            ending: own.and_then(|own| own.ending).unwrap_or_default(),
            drone: Drone::default(),
            sections,
            form,
        };
        Ok((song, remarks))
    }

    /// The parts with what a D.C. adds to them, pickups before each time that they are played.
    fn once_through(&self, parts: Vec<Played>, remarks: &mut Remarks) -> (Vec<Played>, After) {
        let bars: usize = parts.iter().map(|part| part.bars.len()).sum();
        // Where the file says in which order its parts come, that is all of it.
        let mut after = if self.order.is_empty() {
            after(&self.measures, MOST_MEASURES.saturating_sub(bars), remarks)
        } else {
            After::default()
        };
        let mut out = Vec::with_capacity(parts.len());
        for part in parts {
            let last = part.bars.last().copied();
            out.push(part);
            let between = after.between.iter_mut().filter(|(from, _)| Some(*from) == last);
            between.for_each(|(_, played)| out.append(played));
        }
        out.append(&mut after.tail);
        (by_pickups(out, &self.measures, self.time, remarks), after)
    }

    fn say_meter(&self, fit: Fit, remarks: &mut Remarks) {
        let (beats, unit) = (self.time.beats, self.time.unit);
        let same = (u32::from(fit.meter.numerator()), u32::from(fit.meter.denominator()));
        if self.time.free {
            remarks.add(
                format!("no meter is given; the song is written in {}", fit.meter),
                self.at,
                None,
            );
        } else if same != (beats, unit) {
            let how = match fit.scale {
                (1, 1) => String::new(),
                (2, 3) | (1, 3) => ", a beat of three as triplets".to_owned(),
                _ => ", in other note values".to_owned(),
            };
            remarks.add(format!("{beats}/{unit} is written in {}{how}", fit.meter), self.at, None);
        }
    }

    /// The sections; and for each part as played which of them it is, by its own number.
    fn sections(
        &self,
        parts: &[Played],
        cuts: &[Cut],
        remarks: &mut Remarks,
    ) -> Result<(Vec<Section>, Vec<Instance>), NoSong> {
        let mut sections: Vec<Section> = Vec::new();
        let mut instances = Vec::new();
        let (mut chord, mut note) = (None, None);
        let keep = self.own.is_some();
        // A pickup alone between two bar lines belongs to the part that follows.
        let starts = |one: &Cut, next: &Cut| one.part == next.part || one.pickup.is_some();
        let groups: Vec<&[Cut]> = cuts.chunk_by(starts).collect();
        let several = groups.len() > 1;
        for group in groups {
            let lead_in = group.iter().take_while(|cut| cut.pickup.is_some()).count();
            let (head, bars) = group.split_at(lead_in);
            let Some(own) = bars.first() else { continue };
            let tune = has_tune(bars);
            let pickup = head.last().map(|cut| pickup(cut, tune, &mut chord, &mut note));
            let bars = section(bars, keep, &mut chord, &mut note, &self.measures, remarks);
            let label = parts.get(own.part).and_then(|part| part.label.clone());
            // What has a name of its own in the file keeps it.
            let is_it = |section: &Section| section.bars == bars && section.pickup == pickup;
            if let Some(same) = sections.iter().position(is_it).filter(|_| !keep) {
                instances.push((own.part, same));
                continue;
            }
            let name = self.name(label.as_deref(), &sections, several);
            instances.push((own.part, sections.len()));
            sections.push(Section { name, dynamics: Default::default(), pickup, bars });
            if sections.len() > MOST_SECTIONS {
                return Err(NoSong::TooManyParts);
            }
        }
        if sections.is_empty() { Err(NoSong::Empty) } else { Ok((sections, instances)) }
    }

    /// A name that no section has yet.
    fn name(&self, label: Option<&str>, sections: &[Section], several: bool) -> String {
        let own = self.own.as_ref().and_then(|own| {
            let (_, name) = own.sections.iter().find(|(of, _)| Some(of.as_str()) == label)?;
            Some(name.clone())
        });
        let taken: HashSet<&str> = sections.iter().map(|section| section.name.as_str()).collect();
        let free = |name: &String| !taken.contains(name.as_str());
        let said = own.or_else(|| label.map(str::to_lowercase)).map(|name| {
            let plain = name.replace([':', '@', '"'], " ");
            super::one_line(&plain)
        });
        if let Some(said) = said.filter(|said| !said.is_empty()) {
            let more = (2..).map(|number| format!("{said} {number}"));
            return std::iter::once(said.clone()).chain(more).find(free).unwrap_or(said);
        }
        if !several {
            return if self.sung { "verse" } else { "tune" }.to_owned();
        }
        let letters = ('a'..='z').map(String::from);
        let numbers = (27..).map(|number: usize| format!("part {number}"));
        letters.chain(numbers).find(free).unwrap_or_default()
    }

    /// The passes: what the file says, or once through by who sings or fiddles, and once by the banjo; then what the
    /// song comes to rest in, if `rests` says so of a part.
    fn form(
        &self,
        parts: &[Played],
        sections: &[Section],
        instances: &[(usize, usize)],
        rests: impl Fn(usize) -> bool,
    ) -> Vec<Pass> {
        let pass = |section: usize, lead: Option<Lead>| {
            let name = sections.get(section).map_or("", |section| section.name.as_str());
            let label = lead.map_or_else(|| name.to_owned(), |lead| format!("{name}: {lead}"));
            Pass { section, lead, sit_out: RoleSet::EMPTY, label }
        };
        let own = self.own.as_ref().map_or(&[][..], |own| &own.form);
        let own: Vec<Pass> = own
            .iter()
            .filter_map(|(name, lead)| {
                Some(pass(sections.iter().position(|section| section.name == *name)?, *lead))
            })
            .collect();
        if !own.is_empty() {
            return own;
        }
        let has_tune =
            self.measures.iter().flat_map(|bar| &bar.notes).any(|note| note.what != What::Blank);
        let first = if self.sung || !has_tune { Lead::Voice } else { Lead::Fiddle };
        // A break over the verse's chords is the verse's section, but nobody sings it.
        let leads = |part: usize| {
            let label = parts.get(part).and_then(|part| part.label.as_deref()).unwrap_or_default();
            if self.sung { led_by(&label.to_lowercase()).unwrap_or(first) } else { first }
        };
        let once = || instances.iter().map(|&(_, section)| section);
        // A song whose parts come in an order of their own is sung as it stands.
        let ordered = self.sung && !self.order.is_empty();
        let by_banjo = once().filter(|_| !ordered).map(|section| pass(section, Some(Lead::Banjo)));
        let rest = instances.iter().filter(|(part, _)| rests(*part));
        let rest = rest.map(|&(_, section)| pass(section, Some(first)));
        instances
            .iter()
            .map(|&(part, section)| pass(section, Some(leads(part))))
            .chain(by_banjo)
            .chain(rest)
            .collect()
    }

    fn style_and_tempo(&self, fit: Fit, remarks: &mut Remarks) -> (String, f64) {
        let (style, usual, word) = kind_of(self.rhythm.as_deref(), &self.title, fit.meter);
        let own = self.own.as_ref().and_then(|own| own.style.clone());
        let own = own.filter(|style| check_style_name(style).is_ok() && !style.ends_with(".toml"));
        let style = own.unwrap_or_else(|| style.to_owned());
        let tempo = match self.tempo {
            Some(mark) => {
                let given = fit.tempo(mark.beat, mark.per_minute);
                let held = given.clamp(Tempo::SLOWEST, Tempo::FASTEST);
                if (held - given).abs() > 1e-9 {
                    remarks.add(format!("a tempo of {given:.0} is held to {held}"), self.at, None);
                }
                // As a person would write it.
                (held * 1000.0).round() / 1000.0
            }
            None => {
                let goes = word.map_or_else(
                    || fit.meter.to_string(),
                    |word| format!("a {word} in {}", fit.meter),
                );
                let words = format!("no tempo is given; {usual} is usual for {goes}");
                remarks.add(words, self.at, None);
                usual
            }
        };
        (style, tempo)
    }
}

/// Who plays a song: where an instrument takes a break that has no tune the lead's chair too, which makes one up. What
/// the banjo leads is left to the player.
fn line_up(sections: &[Section], form: &mut [Pass]) -> RoleSet {
    let band: RoleSet = Role::BAND.into_iter().collect();
    let has_tune =
        sections.iter().flat_map(|section| &section.bars).any(|bar| !bar.melody.is_empty());
    let breaks = |pass: &Pass| !matches!(pass.lead, None | Some(Lead::Voice | Lead::Banjo));
    if has_tune || !form.iter().any(breaks) {
        return band;
    }
    let leaders: RoleSet = Role::ALL.into_iter().filter(|role| role.row().is_leader).collect();
    for pass in form.iter_mut().filter(|pass| pass.lead == Some(Lead::Banjo)) {
        pass.sit_out = leaders;
    }
    band.union(leaders)
}

/// Who leads a part of a song that its name says nobody sings: `mandolin break`; the fiddle where it names none.
fn led_by(name: &str) -> Option<Lead> {
    const UNSUNG: [&str; 5] = ["break", "solo", "instrumental", "interlude", "intro"];
    let words = || name.split(|c: char| !c.is_alphabetic());
    words().any(|word| UNSUNG.contains(&word)).then(|| {
        let lead = words().find_map(lead_called).filter(|lead| *lead != Lead::Voice);
        lead.unwrap_or(Lead::Fiddle)
    })
}

/// The notes, with no empty lines around them.
fn notes(lines: &[String]) -> Option<String> {
    let text = lines.join("\n");
    let text = text.trim_matches('\n');
    (!text.is_empty()).then(|| format!("{text}\n"))
}

/// The song file of a tune: what [`write_song`] gives, with what could not be kept below it.
pub fn song_file(song: &Song, from: &str, remarks: &[Remark]) -> String {
    let mut out = write_song(song);
    out.push_str(&format!("\n# From {}.\n", super::one_line(from)));
    for remark in remarks {
        out.push_str(&format!("# {}\n", super::one_line(&remark.sentence())));
    }
    out
}

/// True if the band would be silent: no chord is written anywhere.
pub fn has_no_chords(song: &Song) -> bool {
    let silent = |bar: &ChartBar| bar.chords.iter().all(|share| share.value.is_none());
    song.sections.iter().flat_map(|section| &section.bars).all(silent)
}
