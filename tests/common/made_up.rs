//! Charts made up by the property tests: as text, so that they are read as a player's would be.
#![allow(dead_code)] // Not every test binary looks at everything.

use std::num::NonZeroU32;

use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::sample::{Index, select};

use openchair::arrange::{Plan, SitOut};
use openchair::chart::{Lead, Role, RoleSet};
use openchair::theory::{Key, Quality};
use openchair::time::{BarMeter, Meter};

/// A chart and what is asked of it.
#[derive(Clone, Debug)]
pub struct Request {
    pub toml: String,
    pub plan: Plan,
    pub seed: u64,
    /// Picks one of the styles that play the meter.
    pub style: Index,
    pub meter: Meter,
    /// A role to leave out besides.
    pub role: Role,
}

pub fn request() -> impl Strategy<Value = Request> {
    select(Meter::ALL.to_vec())
        .prop_flat_map(|meter| {
            let sections = vec(section(meter), 1..=3);
            (
                Just(meter),
                head(meter),
                sections,
                vec(pass(), 1..=5),
                plan(),
                any::<u64>(),
                any::<(Index, Index)>(),
            )
        })
        .prop_map(|(meter, head, sections, form, (mut plan, outs), seed, (style, role))| {
            for (role, section) in outs {
                let section = section.map(|index| NAMES[index.index(sections.len())].to_owned());
                plan.sit_out.push(SitOut { role, section });
            }
            let toml = write(meter, &head, &sections, &form);
            Request { toml, plan, seed, style, meter, role: Role::ALL[role.index(3)] }
        })
}

/// The text of a song in which everything occurs that a song can hold.
pub fn song_text() -> impl Strategy<Value = String> {
    let extras = |meter| {
        (
            words().prop_map(|words| words.replace(char::is_control, "")),
            weighted(0.3, words().prop_map(|words| words.replace(char::is_control, ""))),
            weighted(0.5, words()),
            vec((section(meter), weighted(0.5, 0..4_usize), prop::bool::weighted(0.4)), 1..=3),
        )
    };
    select(Meter::ALL.to_vec())
        .prop_flat_map(move |meter| (Just(meter), head(meter), extras(meter), vec(pass(), 1..=16)))
        .prop_map(|(meter, head, (title, composer, notes, sections), form)| {
            let sections: Vec<Section> = sections
                .into_iter()
                .map(|(section, ending, has_melody)| Section { ending, has_melody, ..section })
                .collect();
            let mut toml = write(meter, &head, &sections, &form);
            toml = toml
                .replace("title = 'Kettle Landing'", &format!("title = {}", in_numbers(&title)));
            toml = toml.replace("style = 'any'", "style = 'any one/of these.toml'");
            let more = [("composer", composer), ("notes", notes)];
            for (key, words) in more {
                if let Some(words) = words {
                    toml = format!("{key} = {}\n{toml}", in_numbers(&words));
                }
            }
            toml
        })
}

/// Words of any kind: none of them empty, with all that TOML would rather not hold.
fn words() -> impl Strategy<Value = String> {
    prop_oneof![
        4 => "[A-Z][a-z' ]{1,12}(\n[a-z.]{0,12}){0,3}\n?",
        3 => "x[\"'\\\\\n\t\r#= é♭日]{0,16}",
        1 => any::<String>().prop_map(|words| format!("x{words}")),
    ]
}

/// Any text as a TOML string: every character escaped by number.
fn in_numbers(text: &str) -> String {
    let escaped: String = text.chars().map(|c| format!("\\U{:08X}", u32::from(c))).collect();
    format!("\"{escaped}\"")
}

const NAMES: [&str; 3] = ["verse", "chorus", "high part"];

fn write(meter: Meter, head: &[String], sections: &[Section], form: &[Pass]) -> String {
    let mut toml = format!("title = 'Kettle Landing'\nmeter = '{meter}'\nstyle = 'any'\n");
    toml += &head.join("\n");
    let entries: Vec<String> = form.iter().map(|pass| pass.write(sections.len())).collect();
    toml += &format!("\nform = [{}]\n", entries.join(", "));
    for (name, section) in NAMES.iter().zip(sections) {
        toml += &section.write(name);
    }
    toml
}

fn keys() -> Vec<String> {
    let mut keys = Vec::new();
    for letter in "CDEFGAB".chars() {
        for accidental in ["", "#", "b"] {
            for mode in ["", "m", " mixolydian", " dorian"] {
                keys.push(format!("{letter}{accidental}{mode}"));
            }
        }
    }
    keys.retain(|key| Key::parse(key).is_ok());
    keys
}

fn tempo() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 50.0..220.0_f64, 1 => 10.0..=400.0_f64]
}

/// The head's lines. Songs in 6/8 have no swing.
fn head(meter: Meter) -> impl Strategy<Value = Vec<String>> {
    let swing = weighted(0.3, 0.5..=0.75_f64);
    let ending = select(vec!["hit", "tag", "none"]);
    let mut kickoffs = vec!["none", "pickup"];
    // Three beats don't shuffle.
    kickoffs.extend((meter != Meter::ThreeFour).then_some("shuffles"));
    let (swing, capo, band) = (swing, weighted(0.3, 0..=11_u8), weighted(0.3, band()));
    (select(keys()), tempo(), swing, capo, band, ending, weighted(0.5, select(kickoffs))).prop_map(
        move |(key, tempo, swing, capo, band, ending, kickoff)| {
            let mut lines = vec![
                format!("key = '{key}'"),
                format!("tempo = {tempo:.2}"),
                format!("ending = '{ending}'"),
            ];
            lines.extend(kickoff.map(|kickoff| format!("kickoff = '{kickoff}'")));
            let swing = swing.filter(|_| meter != Meter::SixEight);
            lines.extend(swing.map(|share| format!("swing = {share:.3}")));
            lines.extend(capo.map(|fret| format!("capo = {fret}")));
            lines.extend(band.map(|band| format!("band = {}", quoted(band))));
            lines
        },
    )
}

fn band() -> impl Strategy<Value = RoleSet> {
    (1..8_u8).prop_map(|bits| Role::ALL.into_iter().filter(|&r| bits >> r as u8 & 1 == 1).collect())
}

fn quoted(roles: RoleSet) -> String {
    let words: Vec<String> = roles.iter().map(|role| format!("'{role}'")).collect();
    format!("[{}]", words.join(", "))
}

type SitOuts = Vec<(Role, Option<Index>)>;

fn plan() -> impl Strategy<Value = (Plan, SitOuts)> {
    let majors: Vec<String> = keys().into_iter().filter(|key| !key.contains(['m', ' '])).collect();
    let out = (select(Role::ALL.to_vec()), weighted(0.7, any::<Index>()));
    (
        weighted(0.4, select(majors)),
        weighted(0.3, tempo()),
        prop_oneof![4 => Just(100.0), 3 => 40.0..150.0_f64, 1 => 10.0..=400.0_f64],
        weighted(0.2, band()),
        0..=2_u32,
        prop_oneof![4 => Just(1), 1 => 2..=3_u32],
        vec(out, 0..=2),
    )
        .prop_map(|(key, tempo, speed, band, count_in, times, outs)| {
            let times = NonZeroU32::new(times).unwrap();
            let key = key.map(|key| Key::parse(&key).unwrap());
            (Plan { key, tempo, speed, band, count_in, times, ..Plan::default() }, outs)
        })
}

/// An entry of the form.
#[derive(Clone, Debug)]
struct Pass {
    section: Index,
    lead: Option<Lead>,
    sit_out: Option<RoleSet>,
}

fn pass() -> impl Strategy<Value = Pass> {
    (any::<Index>(), weighted(0.7, select(Lead::ALL.to_vec())), weighted(0.2, band()))
        .prop_map(|(section, lead, sit_out)| Pass { section, lead, sit_out })
}

impl Pass {
    fn write(&self, sections: usize) -> String {
        let section = NAMES[self.section.index(sections)];
        let lead = self.lead.map(Lead::as_str);
        match (self.sit_out, lead) {
            (None, None) => format!("'{section}'"),
            (None, Some(lead)) => format!("'{section}: {lead}'"),
            (Some(out), lead) => {
                let lead = lead.map(|lead| format!(", lead = '{lead}'")).unwrap_or_default();
                format!("{{ play = '{section}'{lead}, sit_out = {} }}", quoted(out))
            }
        }
    }
}

/// The bars of a section; each a meter of its own or none, its chords, voice, stops, and whether a
/// line ends after it.
#[derive(Clone, Debug)]
struct Section {
    bars: Vec<Bar>,
    repeated: bool,
    has_voice: bool,
    has_stops: bool,
    has_melody: bool,
    /// Played twice, with the bars from this one on as the first ending and those after the next as the
    /// second.
    ending: Option<usize>,
    dynamics: Option<&'static str>,
}

#[derive(Clone, Debug)]
struct Bar {
    /// A meter of its own, in brackets.
    head: String,
    chords: String,
    voice: String,
    stops: String,
    melody: String,
    ends_line: bool,
}

fn section(meter: Meter) -> impl Strategy<Value = Section> {
    let bars = vec(bar(meter), 1..=10);
    let mark = weighted(0.3, select(vec!["p", "mp", "mf", "f"]));
    (bars, prop::bool::weighted(0.2), any::<bool>(), prop::bool::weighted(0.4), mark).prop_map(
        |(bars, repeated, has_voice, has_stops, dynamics)| Section {
            bars,
            repeated,
            has_voice,
            has_stops,
            has_melody: false,
            ending: None,
            dynamics,
        },
    )
}

impl Section {
    fn write(&self, name: &str) -> String {
        let mut text = format!("\n[section.'{name}']\n");
        if let Some(mark) = self.dynamics {
            text += &format!("dynamics = '{mark}'\n");
        }
        // The first and the second ending, where there are bars enough.
        let endings = self.ending.filter(|at| *at > 0 && at + 2 <= self.bars.len());
        let row = |of: fn(&Bar) -> (&str, &str), open: &str, close: &str| {
            let mut row = open.to_owned();
            let mut written = None;
            let signed = open != "|";
            for (index, bar) in self.bars.iter().enumerate() {
                // The first bar has nothing before it to hold or to say again.
                let (head, words) = of(bar);
                // Nor has an ending.
                let (head, words) = match endings {
                    Some(at) if signed && (index == at || index == at + 1) => {
                        (head, if words == "%" { "C" } else { words })
                    }
                    _ => (head, words),
                };
                // A bar of another length may have no room for the shares of the one before it.
                let dangling =
                    index == 0 && words.starts_with('/') || words == "%" && written != Some(head);
                if dangling || words != "%" {
                    written = Some(head);
                }
                row += head;
                row += if dangling { "G" } else { words };
                let last = index + 1 == self.bars.len();
                let ending = endings.filter(|_| signed).map(|at| (index + 1).wrapping_sub(at));
                row += match (last, bar.ends_line) {
                    (true, _) => close,
                    _ if ending == Some(0) => " |1 ",
                    _ if ending == Some(1) => " :|2 ",
                    (false, true) => " |\n| ",
                    (false, false) => " | ",
                };
            }
            row
        };
        let (open, close) = match endings {
            Some(_) => ("|: ", " ||"),
            None if self.repeated => ("|: ", " :|"),
            None => ("| ", " |"),
        };
        text += &format!("chords = '''\n{}'''\n", row(|bar| (&bar.head, &bar.chords), open, close));
        if self.has_voice {
            text += &format!("voice = '''\n{}'''\n", row(|bar| ("", &bar.voice), "|", "|"));
        }
        if self.has_stops {
            text += &format!("stops = '''\n{}'''\n", row(|bar| ("", &bar.stops), "|", "|"));
        }
        if self.has_melody {
            text += &format!("melody = '''\n{}'''\n", row(|bar| ("", &bar.melody), "|", "|"));
        }
        text
    }
}

/// Into how many equal shares of whole eighths a bar can be cut.
fn shares(meter: BarMeter) -> Vec<usize> {
    let eighths = usize::try_from(meter.bar().get() / 480).unwrap();
    (1..=eighths).filter(|n| eighths.is_multiple_of(*n)).collect()
}

fn bar(meter: Meter) -> impl Strategy<Value = Bar> {
    let own = weighted(0.2, select(BarMeter::all().collect::<Vec<_>>()));
    let share = any::<Index>;
    (own, share(), share(), share(), share(), prop::bool::weighted(0.3)).prop_flat_map(
        move |(own, chord_share, voice_share, stop_share, melody_share, ends_line)| {
            let shares = shares(own.unwrap_or(meter.into()));
            // Most bars hold one chord or two.
            let pick = |index: Index| shares[index.index(shares.len())];
            let count = pick(chord_share);
            let chords = prop_oneof![
                1 => Just("%".to_owned()),
                4 => chord().prop_filter("no hold alone", |chord| chord != "/"),
                4 => vec(chord(), count).prop_map(|words| words.join(" ")),
            ];
            let marks = |signs: Vec<&'static str>, count| {
                vec(select(signs), count).prop_map(|signs: Vec<&str>| signs.concat())
            };
            let voice = marks(vec!["=", "-"], pick(voice_share));
            let stops = prop_oneof![
                3 => Just(".".to_owned()),
                1 => marks(vec![".", ".", "x", "o", "-"], pick(stop_share)),
            ];
            let sixteenths =
                usize::try_from(own.unwrap_or(meter.into()).bar().get() / 240).unwrap();
            let melody = melody_share.index(sixteenths) + 1;
            // A melody may be cut as finely again.
            let melody = (melody..=sixteenths).find(|n| sixteenths.is_multiple_of(*n)).unwrap();
            let note = prop_oneof![
                4 => "(\\^|\\^\\^|_|__|=|)[A-Ga-g](,{0,3}|'{0,2})",
                2 => Just("/".to_owned()),
                1 => Just("-".to_owned()),
            ];
            let melody = vec(note, melody).prop_map(|words| words.join(" "));
            (chords, voice, stops, melody).prop_map(move |(chords, voice, stops, melody)| {
                // At the head of a row a short one would be a pickup.
                let short = |own: BarMeter| own.of_song().is_none() && own.bar() < meter.bar();
                let word = |own| if short(own) { "bar " } else { "" };
                let head = own.map(|own| format!("({}{own}) ", word(own))).unwrap_or_default();
                Bar { head, chords, voice, stops, melody, ends_line }
            })
        },
    )
}

fn chord() -> impl Strategy<Value = String> {
    let notes: Vec<String> =
        "CDEFGAB".chars().flat_map(|l| ["", "#", "b"].map(|a| format!("{l}{a}"))).collect();
    let qualities: Vec<String> = Quality::all().map(|q| q.name().to_owned()).collect();
    let symbol = (select(notes.clone()), select(qualities), weighted(0.2, select(notes))).prop_map(
        |(root, quality, bass)| match bass {
            Some(bass) => format!("{root}{quality}/{bass}"),
            None => root + &quality,
        },
    );
    let numbers =
        ["1", "2m", "3m", "4", "5", "57", "6m", "6-", "b7", "1/3", "5/7", "4/5", "b6", "1maj7"];
    let common = ["C", "G", "D", "A", "E", "F", "Am", "Em", "Bm", "Dm", "D7", "G/B", "A7"];
    prop_oneof![
        4 => symbol,
        3 => select(numbers.to_vec()).prop_map(str::to_owned),
        4 => select(common.to_vec()).prop_map(str::to_owned),
        2 => Just("/".to_owned()),
        1 => Just("N.C.".to_owned()),
    ]
}
