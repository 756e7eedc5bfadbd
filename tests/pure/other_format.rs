//! A second format, of plain lines, read by the readers of the song file: what is wrong with it is shown
//! in its own text.

use std::ops::Range;

use openchair::chart::{FormEntry, Given, SectionDraft, Song, SongDraft, read_song, write_song};
use openchair::text::{Placed, Problems, Source, Text, report};

/// Reads lines such as these, each word of a part a bar:
///
/// ```text
/// Heron Reel, in G, 4/4, 108, drive
/// first: G C D7 G
///        G C D7 . G .
/// sung:  = = = -
/// first. first by the fiddle.
/// ```
fn read(source: &Source, problems: &mut Problems) -> Option<Song> {
    let mut draft = SongDraft::new(|name| format!("the {name} on a line of its own"));
    let mut sections: Vec<SectionDraft> = Vec::new();
    let mut form = Vec::new();
    for (number, line) in lines(source).enumerate() {
        let text = &source.text[line.clone()];
        if number == 0 {
            let words: Vec<Text> = parts(source, line, ',').collect();
            let word = |at: usize| words.get(at).cloned().map_or(Given::Missing, Given::Here);
            draft.title = word(0);
            draft.key = words
                .get(1)
                .map_or(Given::Missing, |key| Given::Here(key.part(3..key.value.len())));
            draft.meter = word(2);
            draft.tempo = words.get(3).map_or(Given::Missing, |tempo| {
                Given::Here(Placed::new(tempo.value.parse().unwrap(), tempo.inside()))
            });
            draft.style = word(4);
        } else if let Some(row) = text.strip_prefix("sung:") {
            let row = row_of(source, line.end - row.len()..line.end);
            sections.last_mut().unwrap().voice = Given::Here(row);
        } else if let Some((name, row)) = text.split_once(':') {
            let mut section = SectionDraft::new(name, line.start..line.start + name.len());
            section.chords = Given::Here(row_of(source, line.end - row.len()..line.end));
            sections.push(section);
        } else if text.starts_with(' ') {
            // The row goes on; what stands between is in other places of the file.
            let more = row_of(source, line);
            let Some(Given::Here(row)) = sections.last_mut().map(|section| &mut section.chords)
            else {
                continue;
            };
            row.push("\n", more.whole().start..more.whole().start);
            for at in 0..more.value.len() {
                row.push(&more.value[at..=at], more.span(at..at + 1));
            }
        } else {
            for part in parts(source, line, '.').filter(|part| !part.value.is_empty()) {
                let by = part.value.find(" by the ");
                let mut entry = FormEntry::of(part.part(0..by.unwrap_or(part.value.len())));
                if let Some(by) = by {
                    entry.lead = Given::Here(part.part(by + 8..part.value.len()));
                }
                form.push(entry);
            }
        }
    }
    draft.sections = Given::Here(sections);
    draft.form = Given::Here(Placed::new(form, source.text.len()..source.text.len()));
    draft.check(problems).0.map(|(song, _)| song)
}

fn lines(source: &Source) -> impl Iterator<Item = Range<usize>> {
    let mut start = 0;
    source.text.split_inclusive('\n').map(move |line| {
        let begin = start;
        start += line.len();
        begin..begin + line.trim_end().len()
    })
}

/// What stands between the marks, without blanks.
fn parts(source: &Source, line: Range<usize>, mark: char) -> impl Iterator<Item = Text> {
    let whole = Text::of(source, line).unwrap();
    let mut start = 0;
    let ranges: Vec<_> = whole
        .value
        .split(mark)
        .map(|part| {
            let begin = start;
            start += part.len() + 1;
            begin..begin + part.len()
        })
        .collect();
    ranges.into_iter().map(move |range| whole.part(range).trimmed())
}

/// A bar a word, where `.` begins none: `D7 . G .` is one bar of two chords.
fn row_of(source: &Source, line: Range<usize>) -> Text {
    let mut row = Text::nothing_at(line.start);
    let text = &source.text[line.clone()];
    let mut words = text.split_whitespace().peekable();
    while let Some(word) = words.next() {
        let at = line.start + (word.as_ptr() as usize - text.as_ptr() as usize);
        row.push_from(source, at..at + word.len());
        row.push(" ", at + word.len()..at + word.len());
        if words.peek() == Some(&".") {
            words.next();
            continue;
        }
        row.push("| ", at + word.len()..at + word.len());
    }
    row
}

fn source(text: &str) -> Source {
    Source::new("heron.txt", text).unwrap()
}

#[test]
fn another_format_gives_the_same_song() {
    let other = source(
        "Heron Reel, in G, 4/4, 108, drive\nfirst: G C D7 G\n       G C D7 . G G\nsung:  = = = - = = = -\n\
         first. first by the fiddle.\n",
    );
    let mut problems = Problems::new();
    let song = read(&other, &mut problems);
    assert!(problems.is_empty(), "{}", report(&other, &problems, false));
    let ours = source(
        "title = 'Heron Reel'\nkey = 'G'\nmeter = '4/4'\ntempo = 108\nstyle = 'drive'\n\
         form = ['first', 'first: fiddle']\n[section.first]\nchords = '''\nG | C | D7 | G |\nG | C | D7 G | G\n'''\n\
         voice = '= | = | = | - | = | = | = | -'\n",
    );
    let (ours, _) = read_song(&ours, &mut Problems::new()).unwrap();
    assert_eq!(song.as_ref(), Some(&ours));
    // And out again as a song file.
    let written = source(&write_song(&ours));
    assert_eq!(read_song(&written, &mut Problems::new()).map(|(song, _)| song), song);
}

#[test]
fn mistakes_are_shown_where_they_stand() {
    let other = source(
        "Heron Reel, in Gb dorian, 5/4, 1000, ../drive.toml\nfirst: G H7 D7 G\n       G C Dzz . G G\n\
         sung:  = = ~ -\nfirst. frist by the flute.\n",
    );
    let mut problems = Problems::new();
    assert!(read(&other, &mut problems).is_none());
    insta::assert_snapshot!(report(&other, &problems, false));
    let places: Vec<_> = problems
        .in_order()
        .iter()
        .map(|problem| (other.position(problem.span.start), &other.text[problem.span.clone()]))
        .collect();
    assert!(places.contains(&((2, 10), "H")), "{places:?}");
    assert!(places.contains(&((3, 13), "zz")), "{places:?}");
    assert!(places.contains(&((4, 12), "~")), "{places:?}");
    assert!(places.contains(&((5, 8), "frist")), "{places:?}");
}

#[test]
fn what_is_missing_is_asked_for_as_the_format_has_it() {
    let other = source("Heron Reel, in G\nfirst: G\nfirst.\n");
    let mut problems = Problems::new();
    assert!(read(&other, &mut problems).is_none());
    let problem = problems.in_order()[0];
    assert_eq!(problem.message, "the song has no `meter`, `tempo` or `style`");
    assert!(problem.help.contains("the tempo on a line of its own"), "{}", problem.help);
}
