use std::ops::{Range, RangeInclusive};

use super::style_name::check_style_name;
use super::words::{check_roles, known_word};
use super::{Ending, Given, Kickoff, Role, RoleSet, SongDraft};
use crate::text::{Placed, Problems, Text, in_range, list, nearest};
use crate::theory::Key;
use crate::theory::fretboard::banjo::Drone;
use crate::time::{Meter, Tempo};

/// What stands above the sections; `None` where a value is missing or could not be read.
#[derive(Debug, Default)]
pub(super) struct Head {
    pub title: Option<String>,
    pub composer: Option<String>,
    pub notes: Option<String>,
    pub key: Option<(Key, Range<usize>)>,
    pub meter: Option<(Meter, Range<usize>)>,
    pub tempo: Option<f64>,
    pub style: Option<(String, Range<usize>)>,
    pub swing: Option<f64>,
    pub capo: Option<u8>,
    pub band: RoleSet,
    pub kickoff: Kickoff,
    pub ending: Ending,
    pub drone: Drone,
}

/// From even eighths to a dotted eighth and a sixteenth.
const SWING: RangeInclusive<f64> = 0.5..=0.75;

/// Past this fret a guitar is another instrument.
const CAPO: RangeInclusive<f64> = 0.0..=11.0;

impl Head {
    /// The values of a draft, checked each by itself and beside one another.
    pub fn check(draft: &SongDraft, problems: &mut Problems) -> Self {
        let example = draft.example;
        let mut number = |key: &str, given: &Given<Placed<f64>>, range| {
            let number = given.here()?;
            in_range(key, number, &range, &example(key), problems).then_some(number.value)
        };
        let tempo = number("tempo", &draft.tempo, Tempo::SLOWEST..=Tempo::FASTEST);
        let swing = number("swing", &draft.swing, SWING);
        let capo = number("capo", &draft.capo, CAPO);
        let words = |key: &str, given: &Given<Text>, problems: &mut Problems| {
            not_empty(key, given, &example(key), problems)
        };
        let head = Self {
            title: line("title", &draft.title, &example("title"), problems),
            composer: line("composer", &draft.composer, &example("composer"), problems),
            notes: words("notes", &draft.notes, problems).map(|text| text.value),
            key: words("key", &draft.key, problems).and_then(|text| key(&text, problems)),
            meter: words("meter", &draft.meter, problems).and_then(|text| meter(&text, problems)),
            tempo,
            style: style(draft, problems),
            swing,
            capo: capo.and_then(|fret| fret_of(fret, draft, problems)),
            band: match &draft.band {
                Given::Here(band) => check_roles(band, "band", &example("band"), problems),
                Given::Missing | Given::Unreadable => Role::BAND.into_iter().collect(),
            },
            kickoff: words("kickoff", &draft.kickoff, problems)
                .and_then(|text| kickoff(&text, problems))
                .unwrap_or_default(),
            ending: words("ending", &draft.ending, problems)
                .and_then(|text| ending(&text, problems))
                .unwrap_or_default(),
            drone: words("drone", &draft.drone, problems)
                .and_then(|text| drone(&text, problems))
                .unwrap_or_default(),
        };
        head.check_swing(draft, problems);
        head.check_kickoff(draft, problems);
        head
    }

    /// Reports a swing that would do nothing: a song in 6/8 has none.
    fn check_swing(&self, draft: &SongDraft, problems: &mut Problems) {
        let in_six = self.meter.as_ref().is_some_and(|(meter, _)| *meter == Meter::SixEight);
        if let (true, Some(swing), true) = (in_six, draft.swing.here(), self.swing.is_some()) {
            problems.add(
                swing.span.clone(),
                "6/8 has no pairs of eighths to swing",
                "leave `swing` out",
            );
        }
    }

    /// Reports shuffles before a waltz, which has no beats to shuffle.
    fn check_kickoff(&self, draft: &SongDraft, problems: &mut Problems) {
        let in_three = self.meter.as_ref().is_some_and(|(meter, _)| *meter == Meter::ThreeFour);
        if let (Kickoff::Shuffles, true, Some(text)) =
            (self.kickoff, in_three, draft.kickoff.here())
        {
            problems.add(
                text.inside(),
                "shuffles go by twos, and 3/4 has three beats",
                format!("write {}", (draft.example)("kickoff")),
            );
        }
    }
}

/// A text that is not empty.
fn not_empty(
    key: &str,
    given: &Given<Text>,
    example: &str,
    problems: &mut Problems,
) -> Option<Text> {
    let text = given.here()?;
    if text.value.trim().is_empty() {
        let help = format!("write something, as in {example}");
        problems.add(text.whole(), format!("`{key}` is empty"), help);
        return None;
    }
    Some(text.clone())
}

/// A text that is not empty and stands on one line, without characters that a terminal obeys.
fn line(key: &str, given: &Given<Text>, example: &str, problems: &mut Problems) -> Option<String> {
    let text = not_empty(key, given, example, problems)?;
    if let Some((at, bad)) = text.value.char_indices().find(|(_, c)| c.is_control()) {
        problems.add(
            text.span(at..at + bad.len_utf8()),
            format!("`{key}` holds a line break, a tab or another control character"),
            format!("write it on one line, as in {example}"),
        );
        return None;
    }
    Some(text.value)
}

fn style(draft: &SongDraft, problems: &mut Problems) -> Option<(String, Range<usize>)> {
    let name = line("style", &draft.style, &(draft.example)("style"), problems)?;
    let place = draft.style.here()?.inside();
    match check_style_name(&name) {
        Ok(()) => Some((name, place)),
        Err(wrong) => {
            problems.add(place, wrong.message, wrong.help);
            None
        }
    }
}

fn key(text: &Text, problems: &mut Problems) -> Option<(Key, Range<usize>)> {
    match Key::parse(&text.value) {
        Ok(key) => Some((key, text.inside())),
        Err(error) => {
            problems.add(text.span(error.range()), error.to_string(), error.help());
            None
        }
    }
}

fn meter(text: &Text, problems: &mut Problems) -> Option<(Meter, Range<usize>)> {
    let meter = Meter::parse(&text.value);
    if meter.is_none() {
        let known = Meter::ALL.map(|meter| format!("\"{meter}\""));
        let help = match nearest(&text.value, Meter::ALL.map(Meter::as_str)) {
            // Of two numbers that look alike neither is meant for the other.
            Some(meant) if !text.value.contains('/') => format!("write \"{meant}\""),
            _ => format!("write {}", list(&known, "or")),
        };
        problems.add(
            text.inside(),
            format!("the band does not play a meter of `{}`", text.value),
            help,
        );
    }
    meter.map(|meter| (meter, text.inside()))
}

fn fret_of(fret: f64, draft: &SongDraft, problems: &mut Problems) -> Option<u8> {
    // Held to a few frets before, so nothing is cut off but a fraction, and that is refused.
    let whole = fret as u8;
    if f64::from(whole) == fret {
        return Some(whole);
    }
    problems.add(
        draft.capo.here().map_or(0..0, |capo| capo.span.clone()),
        format!("`capo` is {fret}, which is no fret"),
        format!("write a whole number from 0 to 11, as in {}", (draft.example)("capo")),
    );
    None
}

fn kickoff(text: &Text, problems: &mut Problems) -> Option<Kickoff> {
    let known = Kickoff::ALL.map(Kickoff::as_str);
    known_word(&text.value, text.inside(), "kickoff", &known, Kickoff::parse, problems)
}

fn drone(text: &Text, problems: &mut Problems) -> Option<Drone> {
    let known = Drone::ALL.map(Drone::as_str);
    known_word(&text.value, text.inside(), "drone", &known, Drone::parse, problems)
}

fn ending(text: &Text, problems: &mut Problems) -> Option<Ending> {
    let known = Ending::ALL.map(Ending::as_str);
    known_word(&text.value, text.inside(), "ending", &known, Ending::parse, problems)
}
