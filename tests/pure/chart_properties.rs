//! What holds for every chart: no text is too strange to be read or refused, and what is read adds
//! up to what was written.

use openchair::chart::{ChartBar, Song, read_song, write_song};
use openchair::text::{Problems, Source, report};
use openchair::time::{BarMeter, Meter, Ticks};
use proptest::prelude::*;

fn read(toml: &str) -> (Source, Option<Song>, Problems) {
    let source = Source::new("song.toml", toml).unwrap();
    let mut problems = Problems::new();
    let song = read_song(&source, &mut problems).map(|(song, _)| song);
    (source, song, problems)
}

/// Any text as a TOML string: every character escaped by number.
fn quoted(text: &str) -> String {
    let escaped: String = text.chars().map(|c| format!("\\U{:08X}", u32::from(c))).collect();
    format!("\"{escaped}\"")
}

fn song(meter: Meter, rows: &[(&str, &str)], form: &str) -> String {
    let mut toml = format!(
        "title = 'Any Tune'\nkey = 'G'\nmeter = '{meter}'\ntempo = 100\nstyle = 'drive'\n\
         form = [{form}]\n[section.a]\n"
    );
    for (row, text) in rows {
        toml += &format!("{row} = {}\n", quoted(text));
    }
    toml
}

/// A song comes out or its problems do, and each problem stands on whole characters of the file.
fn sound(toml: &str) -> Result<(), TestCaseError> {
    let (source, song, problems) = read(toml);
    prop_assert_eq!(song.is_none(), !problems.is_empty());
    for problem in problems.in_order() {
        prop_assert!(source.text.get(problem.span.clone()).is_some(), "{problem:?}");
        prop_assert!(!problem.message.is_empty() && !problem.help.is_empty());
    }
    prop_assert_eq!(report(&source, &problems, false).is_empty(), problems.is_empty());
    if let Some(song) = song {
        for section in &song.sections {
            adds_up(&section.bars)?;
        }
    }
    Ok(())
}

/// The shares of each bar fill it in whole eighths, and phrases follow one another.
fn adds_up(bars: &[ChartBar]) -> Result<(), TestCaseError> {
    prop_assert!(!bars.is_empty());
    let mut line = 0;
    for (at, bar) in bars.iter().enumerate() {
        let lengths = [
            bar.chords.iter().map(|share| share.length).collect::<Vec<_>>(),
            bar.singing.iter().map(|share| share.length).collect(),
            bar.stops.iter().map(|share| share.length).collect(),
        ];
        for row in lengths {
            prop_assert_eq!(row.iter().copied().sum::<Ticks>(), bar.meter.bar());
            prop_assert!(row.iter().all(|l| *l > Ticks::ZERO && l.is_multiple_of(Ticks::EIGHTH)));
        }
        prop_assert!(bar.chords.windows(2).all(|pair| pair[0].value != pair[1].value));
        prop_assert!(bar.singing.windows(2).all(|pair| pair[0].value != pair[1].value));
        prop_assert_eq!(bar.line, line);
        prop_assert_eq!(bar.line_start, at == 0 || bars[at - 1].line_end);
        line += u32::from(bar.line_end);
    }
    prop_assert!(bars.last().is_some_and(|bar| bar.line_end));
    Ok(())
}

/// Text of the marks that rows are made of, so that readers get past the first word.
fn nearly_a_row() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "|",
        "|",
        "|",
        "||",
        "|]",
        "|:",
        ":|",
        "|1",
        ":|2",
        "|2",
        ":|3",
        ":",
        " ",
        " ",
        "\n",
        "\r\n",
        "%",
        "/",
        "(5/4)",
        "(bar 1/8)",
        "G",
        "Am7",
        "4",
        "57",
        "N.C.",
        "(2/4)",
        "(",
        ")",
        "=",
        "-",
        ".",
        "x",
        "==--",
        "Zz",
        "é",
        "\t",
        "c'",
        "A,,",
        "^f",
        "_",
        "^^",
        "=",
        "♭",
        "a2",
    ]);
    prop::collection::vec(word, 0..40).prop_map(|words| words.concat())
}

/// A bar as written, and as heard: its chords with how many eighths each lasts.
#[derive(Clone, Debug)]
struct Written {
    text: String,
    meter: BarMeter,
    heard: Vec<(String, i64)>,
}

fn bar(song: Meter) -> impl Strategy<Value = Written> {
    let heads = prop::sample::select(BarMeter::all().collect::<Vec<_>>());
    let meter = prop_oneof![4 => Just(None), 1 => heads.prop_map(Some)];
    let chord = prop::sample::select(vec!["G", "C", "D7", "Em", "A7", "G/B", "N.C."]);
    (meter, 0..4usize, prop::collection::vec((chord, any::<bool>()), 12), any::<bool>()).prop_map(
        move |(head, how, tokens, says)| {
            let meter = head.unwrap_or(song.into());
            let eighths = meter.bar().get() / Ticks::EIGHTH.get();
            let counts: Vec<i64> = (1..=eighths).filter(|n| eighths % n == 0).collect();
            let count = counts[how % counts.len()];
            // What is short and stands first would be a pickup if it did not say that it is none.
            let short = meter.of_song().is_none() && meter.bar() < song.bar();
            let word = if says || short { "bar " } else { "" };
            let mut text = head.map_or(String::new(), |meter| format!("({word}{meter}) "));
            let mut heard: Vec<(String, i64)> = Vec::new();
            for (at, (chord, hold)) in tokens.into_iter().enumerate().take(count as usize) {
                let share = eighths / count;
                match heard.last_mut() {
                    Some(last) if hold && at > 0 => {
                        text += "/ ";
                        last.1 += share;
                    }
                    Some(last) if last.0 == chord => {
                        text += &format!("{chord} ");
                        last.1 += share;
                    }
                    _ => {
                        text += &format!("{chord} ");
                        heard.push((chord.to_owned(), share));
                    }
                }
            }
            Written { text, meter, heard }
        },
    )
}

/// A stretch of bars: played once, twice, or with a number of endings.
#[derive(Clone, Debug)]
enum Part {
    Once(Vec<Written>),
    Twice(Vec<Written>),
    Endings(Vec<Written>, Vec<Vec<Written>>),
}

fn part(meter: Meter) -> impl Strategy<Value = Part> {
    let bars = move || prop::collection::vec(bar(meter), 1..6);
    prop_oneof![
        bars().prop_map(Part::Once),
        bars().prop_map(Part::Twice),
        (bars(), prop::collection::vec(bars(), 2..=9))
            .prop_map(|(body, endings)| Part::Endings(body, endings)),
    ]
}

/// Writes parts as a chart, breaking lines where `breaks` says; gives what should be heard.
fn chart(parts: &[Part], breaks: &[bool]) -> (String, Vec<Written>) {
    let mut breaks = breaks.iter().copied().cycle();
    let mut row = |bars: &[Written]| {
        let mut text = String::new();
        for (at, bar) in bars.iter().enumerate() {
            if at > 0 {
                text += if breaks.next().unwrap_or(false) { "|\n|" } else { "|" };
            }
            text += &format!(" {}", bar.text);
        }
        text
    };
    let (mut text, mut heard) = (String::new(), Vec::new());
    for part in parts {
        match part {
            Part::Once(bars) => {
                text += &format!("|| {}||\n", row(bars));
                heard.extend(bars.clone());
            }
            Part::Twice(bars) => {
                text += &format!("|: {}:|\n", row(bars));
                heard.extend([bars.clone(), bars.clone()].concat());
            }
            Part::Endings(body, endings) => {
                text += &format!("|: {}", row(body));
                for (at, ending) in endings.iter().enumerate() {
                    text +=
                        &format!("{}|{} {}", if at > 0 { ":" } else { "" }, at + 1, row(ending));
                    heard.extend([body.clone(), ending.clone()].concat());
                }
                text += "||\n";
            }
        }
    }
    (text, heard)
}

fn charts() -> impl Strategy<Value = (Meter, String, Vec<Written>)> {
    prop::sample::select(&Meter::ALL[..]).prop_flat_map(|meter| {
        let parts = prop::collection::vec(part(meter), 1..6);
        (parts, prop::collection::vec(any::<bool>(), 1..8)).prop_map(move |(parts, breaks)| {
            let (text, heard) = chart(&parts, &breaks);
            (meter, text, heard)
        })
    })
}

#[test]
fn curly_marks_are_whole_characters() {
    for text in ["\u{d85}\"»", "title = “”\n", "a = [‘x’, “y”\n", "[a.“b”]\nc = 1 = 2"]
    {
        sound(text).unwrap();
    }
}

/// Text with marks of quotation of all kinds, where TOML may have them.
fn marked() -> impl Strategy<Value = String> {
    let word = prop::sample::select(vec![
        "“",
        "”",
        "‘",
        "’",
        "»",
        "\"",
        "'",
        "“““",
        "\"\"\"",
        "title",
        " = ",
        "\n",
        "[",
        "]",
        ",",
        "é",
        "G",
        ".",
    ]);
    prop::collection::vec(word, 0..24).prop_map(|words| words.concat())
}

proptest! {
    #[test]
    fn no_file_is_too_strange(text in any::<String>()) {
        sound(&text)?;
    }

    #[test]
    fn no_marks_of_quotation_are_too_strange(text in marked()) {
        sound(&text)?;
    }

    #[test]
    fn no_row_is_too_strange(
        chords in any::<String>(), voice in any::<String>(), stops: String, melody: String
    ) {
        sound(&song(Meter::FourFour, &[("chords", &chords)], "'a'"))?;
        let rows = [
            ("chords", "G | C"),
            ("voice", voice.as_str()),
            ("stops", stops.as_str()),
            ("melody", melody.as_str()),
        ];
        sound(&song(Meter::FourFour, &rows, "'a'"))?;
    }

    #[test]
    fn no_form_entry_is_too_strange(entry in any::<String>(), lead: String) {
        let table = format!("{}, {{play = {}, lead = {}}}", quoted(&entry), quoted(&entry), quoted(&lead));
        sound(&song(Meter::FourFour, &[("chords", "G")], &table))?;
    }

    #[test]
    fn what_is_nearly_a_chart_is_read_or_refused(
        chords in nearly_a_row(),
        voice in nearly_a_row(),
        stops in nearly_a_row(),
        melody in nearly_a_row(),
    ) {
        sound(&song(Meter::FourFour, &[("chords", &chords)], "'a'"))?;
        let rows = [
            ("chords", chords.as_str()),
            ("voice", voice.as_str()),
            ("stops", stops.as_str()),
            ("melody", melody.as_str()),
        ];
        sound(&song(Meter::ThreeFour, &rows, "'a'"))?;
    }

    #[test]
    fn a_chart_is_heard_as_it_is_written((meter, text, heard) in charts()) {
        let (source, song, problems) = read(&song(meter, &[("chords", &text)], "'a', 'a: voice'"));
        prop_assert!(problems.is_empty(), "{}\n{}", text, report(&source, &problems, false));
        let song = song.unwrap();
        let (again, back, _) = read(&write_song(&song));
        prop_assert_eq!(back.as_ref(), Some(&song), "{}", again.text);
        let bars = &song.sections[0].bars;
        adds_up(bars)?;
        prop_assert_eq!(bars.len(), heard.len(), "{}", text);
        for (bar, written) in bars.iter().zip(&heard) {
            let shares: Vec<_> = bar.chords.iter().map(|share| {
                let name = share.value.map_or("N.C.".to_owned(), |chord| chord.to_string());
                (name, share.length.get() / Ticks::EIGHTH.get())
            }).collect();
            prop_assert_eq!(&shares, &written.heard);
            prop_assert_eq!(bar.meter, written.meter);
        }
    }
}
