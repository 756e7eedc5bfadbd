use std::collections::HashSet;

use super::examples::{OPTIONAL, OTHER_KEYS, REQUIRED, ROWS, example, written};
use super::limits::MOST_SECTIONS;
use super::words::role_list;
use super::{FormEntry, Given, Header, SectionDraft, Song, SongDraft, SongSpans};
use crate::text::{
    Field, Item, Node, Placed, Problems, Source, Table, Text, nearest, parse_toml, quoted,
};

/// Reads a song file. `None` if anything is wrong with it; `problems` then holds all of it, from
/// the TOML itself to the last bar.
pub fn read_song(source: &Source, problems: &mut Problems) -> Option<(Song, SongSpans)> {
    read_song_and_header(source, problems).0
}

/// As [`read_song`], and the header as far as it can be read whatever else is wrong, so that the
/// style can be judged in the same run.
pub fn read_song_and_header(
    source: &Source,
    problems: &mut Problems,
) -> (Option<(Song, SongSpans)>, Header) {
    // A draft is held against its own text's problems alone.
    let mut own = Problems::new();
    let found = draft(source, &mut own).check(&mut own);
    problems.append(own);
    found
}

/// What a song file says, before it is checked.
fn draft(source: &Source, problems: &mut Problems) -> SongDraft {
    let table = parse_toml(source, problems);
    let reader = Reader::new(source, !problems.is_empty(), &table);
    let strays = reader.check_keys(problems);
    let sections = reader.sections(strays, problems);
    let words = |key| reader.words(key, problems);
    let [title, composer, notes, key, meter, style, kickoff, ending, drone] =
        ["title", "composer", "notes", "key", "meter", "style", "kickoff", "ending", "drone"]
            .map(words);
    let [tempo, swing, capo] = ["tempo", "swing", "capo"].map(|key| reader.number(key, problems));
    let band = reader.value(
        "band",
        |node, problems| role_list(node, "band", problems).map(Given::Here),
        problems,
    );
    let form = reader.form(&sections, problems);
    SongDraft {
        example: written,
        title,
        composer,
        notes,
        key,
        meter,
        tempo,
        style,
        swing,
        capo,
        band,
        kickoff,
        ending,
        drone,
        sections,
        form,
    }
}

struct Reader<'a> {
    source: &'a Source,
    /// True if the file's TOML is broken somewhere: what seems to be missing may be there.
    broken: bool,
    table: &'a Table,
    /// Keys of a song that others were most likely meant to be.
    misspelt: HashSet<&'static str>,
}

impl<'a> Reader<'a> {
    fn new(source: &'a Source, broken: bool, table: &'a Table) -> Self {
        let misspelt = table.fields.iter().filter_map(|field| meant(&field.key)).collect();
        Self { source, broken, table, misspelt }
    }

    /// Reports keys that no song has; gives the sections that stand there without their `section.`.
    fn check_keys(&self, problems: &mut Problems) -> Vec<&'a Field> {
        let known: Vec<&str> = [&REQUIRED[..], &OPTIONAL].concat();
        let mut told = HashSet::new();
        let mut strays = Vec::new();
        let called = self.called();
        for field in &self.table.fields {
            let key = field.key.as_str();
            if ROWS.contains(&key) || OTHER_KEYS.contains(&key) {
                told.insert(key);
                // Below a broken heading it stands where it should.
                if !self.broken {
                    problems.add(
                        field.key_span.clone(),
                        format!("`{key}` stands above every section"),
                        "put it under the heading of its section, such as [section.verse]",
                    );
                }
            } else if strays.len() < MOST_SECTIONS
                && !known.contains(&key)
                && is_section(field, &called)
            {
                told.insert(key);
                strays.push(field);
                problems.add(
                    field.key_span.clone(),
                    format!("the heading of section {key} lacks its `section.`"),
                    format!("write {}", heading(key)),
                );
            }
        }
        self.table.only_but(&told, &known, "a song", problems);
        strays
    }

    /// The sections that the form calls.
    fn called(&self) -> HashSet<&'a str> {
        let name = |node: &'a Node| match &node.item {
            Item::Text(text) => text.value.split(':').next().map(str::trim),
            _ => None,
        };
        match self.table.get("form").map(|node| &node.item) {
            Some(Item::Array(nodes)) => nodes.iter().filter_map(name).collect(),
            _ => HashSet::new(),
        }
    }

    /// True if nothing in the file was meant for `key`.
    fn lacks(&self, key: &str) -> bool {
        self.table.lacks(key)
            && !self.misspelt.contains(key)
            // A key that is there but whose value is no TOML is not missing.
            && !(self.broken && self.mentions(key))
    }

    /// True if a line of the file begins with `key`, or a heading does.
    fn mentions(&self, key: &str) -> bool {
        let head = |line: &str| line.trim_start().trim_start_matches('[').starts_with(key);
        self.source.text.lines().any(head)
    }

    /// The value of `key` as `read` has it, which reports what it can't read.
    fn value<T>(
        &self,
        key: &str,
        read: impl Fn(&Node, &mut Problems) -> Option<Given<T>>,
        problems: &mut Problems,
    ) -> Given<T> {
        match self.table.get(key) {
            Some(node) => read(node, problems).unwrap_or(Given::Unreadable),
            None if self.lacks(key) => Given::Missing,
            None => Given::Unreadable,
        }
    }

    fn words(&self, key: &str, problems: &mut Problems) -> Given<Text> {
        let read = |node: &Node, problems: &mut Problems| {
            node.text(key, example(key), problems).cloned().map(Given::Here)
        };
        self.value(key, read, problems)
    }

    fn number(&self, key: &str, problems: &mut Problems) -> Given<Placed<f64>> {
        let read = |node: &Node, problems: &mut Problems| {
            node.number(key, example(key), problems).map(Given::Here)
        };
        self.value(key, read, problems)
    }

    /// The sections, and those of `strays`, in the order of the file.
    fn sections(&self, strays: Vec<&Field>, problems: &mut Problems) -> Given<Vec<SectionDraft>> {
        // Those under `sections` and the like are read as well; the heading is reported already.
        let misspelt = self.misspelt.contains("section");
        let headings = |field: &&Field| {
            field.key == "section" || misspelt && meant(&field.key) == Some("section")
        };
        let mut found: Vec<&Field> = strays;
        let mut unreadable = false;
        for field in self.table.fields.iter().filter(headings) {
            match &field.node.item {
                Item::Table(sections) => found.extend(&sections.fields),
                _ => {
                    unreadable = true;
                    problems.add(
                        field.node.span.clone(),
                        format!("`{}` is {} where tables belong", field.key, field.node.kind()),
                        "head each section by its name, as in [section.verse]",
                    );
                }
            }
        }
        found.sort_by_key(|field| field.key_span.start);
        // A heading that is broken hides its section.
        let hidden = self.broken && self.mentions("section");
        if found.is_empty() && (unreadable || hidden) {
            return Given::Unreadable;
        }
        Given::Here(found.into_iter().map(|field| section(field, problems)).collect())
    }

    /// The sections that are headed in the file and were not found.
    fn hidden_sections(&self, found: &Given<Vec<SectionDraft>>) -> HashSet<&str> {
        let head = |line: &'a str| {
            let name = line.trim_start().trim_start_matches('[').strip_prefix("section.")?;
            let end = name.find([']', '.', '=']).unwrap_or(name.len());
            Some(name.get(..end)?.trim().trim_matches(['"', '\'']))
        };
        let mut names: HashSet<&str> = self.source.text.lines().filter_map(head).collect();
        for section in found.here().into_iter().flatten() {
            names.remove(section.name.value.as_str());
        }
        names
    }

    fn form(
        &self,
        sections: &Given<Vec<SectionDraft>>,
        problems: &mut Problems,
    ) -> Given<Placed<Vec<FormEntry>>> {
        let read = |node: &Node, problems: &mut Problems| {
            let Item::Array(nodes) = &node.item else {
                let help = node.as_list().map_or_else(
                    || format!("write a list, as in {}", written("form")),
                    |list| format!("write form = {list}"),
                );
                problems.add(
                    node.span.clone(),
                    format!("`form` is {} where a list belongs", node.kind()),
                    help,
                );
                return None;
            };
            let entries: Vec<FormEntry> =
                nodes.iter().filter_map(|node| form_entry(node, problems)).collect();
            // Where the TOML is broken, a section may be there and not be found.
            let hidden = if self.broken { self.hidden_sections(sections) } else { HashSet::new() };
            let lost = |entry: &FormEntry| {
                entry.play.here().is_some_and(|play| hidden.contains(play.value.trim()))
            };
            let entries: Vec<_> = entries.into_iter().filter(|entry| !lost(entry)).collect();
            // What is empty only because nothing in it could be read is no empty form.
            if entries.is_empty() && !nodes.is_empty() {
                return None;
            }
            Some(Given::Here(Placed::new(entries, node.span.clone())))
        };
        self.value("form", read, problems)
    }
}

/// The key of a song that another was most likely meant to be.
fn meant(key: &str) -> Option<&'static str> {
    let known = || REQUIRED.into_iter().chain(OPTIONAL);
    if known().any(|known| known == key) { None } else { nearest(key, known()) }
}

/// True for a table that holds a row, or that is `called` by the form.
fn is_section(field: &Field, called: &HashSet<&str>) -> bool {
    let Item::Table(table) = &field.node.item else { return false };
    let row = |field: &Field| ROWS.contains(&field.key.as_str());
    called.contains(field.key.as_str()) || table.fields.iter().any(row)
}

/// The heading of a section of that name.
pub(super) fn heading(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '_' || c == '-';
    if !name.is_empty() && name.chars().all(bare) {
        format!("[section.{name}]")
    } else {
        format!("[section.{}]", quoted(name))
    }
}

/// `[section.NAME]` and what stands under it.
fn section(field: &Field, problems: &mut Problems) -> SectionDraft {
    let mut draft = SectionDraft::new(field.key.clone(), field.key_span.clone());
    let Item::Table(table) = &field.node.item else {
        problems.add(
            field.key_span.clone(),
            format!("section {} is {} where a table belongs", field.key, field.node.kind()),
            format!("write {} and under it {}", heading(&field.key), written("chords")),
        );
        draft.chords = Given::Unreadable;
        return draft;
    };
    let known = [&ROWS[..], &OTHER_KEYS].concat();
    table.only(&known, &format!("section {}", field.key), problems);
    let mut text = |key: &str| match table.get(key) {
        Some(node) => {
            node.text(key, example(key), problems).cloned().map_or(Given::Unreadable, Given::Here)
        }
        None => {
            let misspelt = |field: &Field| {
                !known.contains(&field.key.as_str())
                    && nearest(&field.key, known.iter().copied()) == Some(key)
            };
            if table.lacks(key) && !table.fields.iter().any(misspelt) {
                Given::Missing
            } else {
                Given::Unreadable
            }
        }
    };
    draft.chords = text("chords");
    draft.voice = text("voice");
    draft.stops = text("stops");
    draft.melody = text("melody");
    draft.dynamics = text("dynamics");
    draft
}

/// An entry of the form; `None`, reported, if it is no kind of entry.
fn form_entry(node: &Node, problems: &mut Problems) -> Option<FormEntry> {
    match &node.item {
        Item::Text(text) => Some(FormEntry::of(text.clone())),
        Item::Table(table) => Some(form_table(table, node, problems)),
        _ => {
            problems.add(
                node.span.clone(),
                format!("this entry of the form is {}", node.kind()),
                "write a section in quotes, with its lead if it has one: \"verse: guitar\"",
            );
            None
        }
    }
}

/// `{ play = "verse", lead = "guitar", sit_out = ["chop"] }`.
fn form_table(table: &Table, node: &Node, problems: &mut Problems) -> FormEntry {
    const KEYS: [&str; 3] = ["play", "lead", "sit_out"];
    table.only(&KEYS, "an entry of the form", problems);
    let misspelt = |key: &str| {
        table.fields.iter().any(|field| {
            !KEYS.contains(&field.key.as_str()) && nearest(&field.key, KEYS) == Some(key)
        })
    };
    let mut text = |key: &str| match table.get(key) {
        Some(node) => {
            node.text(key, example(key), problems).cloned().map_or(Given::Unreadable, Given::Here)
        }
        None if misspelt(key) => Given::Unreadable,
        None => Given::Missing,
    };
    let (play, lead) = (text("play"), text("lead"));
    let sit_out = match table.get("sit_out") {
        Some(roles) => role_list(roles, "sit_out", problems).map_or(Given::Unreadable, Given::Here),
        None => Given::Missing,
    };
    FormEntry { span: node.span.clone(), play, lead, sit_out }
}
