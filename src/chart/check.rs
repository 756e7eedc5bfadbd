use super::form::check_form;
use super::head::Head;
use super::limits::MOST_SECTIONS;
use super::section_rows::{SectionReader, SectionRows};
use super::{Given, Header, Kickoff, Pass, SectionDraft, Song, SongDraft, SongSpans};
use crate::text::{Problems, list};

impl SongDraft {
    /// Reads every value and every row, and holds them against one another.
    ///
    /// No song comes out if anything is wrong; `problems` then holds all of it. What the format's own
    /// reader found wrong with the same text must be in `problems` already: then too there is no song.
    /// The header comes out as far as it can be read whatever else is wrong.
    pub fn check(&self, problems: &mut Problems) -> (Option<(Song, SongSpans)>, Header) {
        self.check_missing(problems);
        let head = Head::check(self, problems);
        let sections = self.check_sections(&head, problems);
        let form = match &self.form {
            Given::Here(form) => check_form(form, &sections, self.example, problems),
            Given::Missing | Given::Unreadable => Vec::new(),
        };
        check_line(self, &head, &sections, &form, problems);
        let header = Header {
            style: head.style.clone(),
            meter: head.meter.as_ref().map(|(meter, _)| *meter),
        };
        let song = if problems.is_empty() { finish(head, sections, form) } else { None };
        (song, header)
    }

    /// Reports what every song needs and this one lacks.
    fn check_missing(&self, problems: &mut Problems) {
        let needed = [
            ("title", self.title.is_missing()),
            ("key", self.key.is_missing()),
            ("meter", self.meter.is_missing()),
            ("tempo", self.tempo.is_missing()),
            ("style", self.style.is_missing()),
            ("form", self.form.is_missing()),
        ];
        let lacks: Vec<&str> =
            needed.iter().filter(|(_, missing)| *missing).map(|(key, _)| *key).collect();
        if !lacks.is_empty() {
            let keys: Vec<_> = lacks.iter().map(|key| format!("`{key}`")).collect();
            let it = if lacks.len() == 1 { "it" } else { "them" };
            let lines: Vec<_> = lacks.iter().map(|key| (self.example)(key)).collect();
            problems.add(
                0..0,
                format!("the song has no {}", list(&keys, "or")),
                format!("write {it} above the first section, as in {}", list(&lines, "and")),
            );
        }
        let none = match &self.sections {
            Given::Missing => true,
            Given::Here(sections) => sections.is_empty(),
            Given::Unreadable => false,
        };
        if none {
            let help = format!("write one, as in {}", (self.example)("section"));
            problems.add(0..0, "the song has no section", help);
        }
    }

    fn check_sections(&self, head: &Head, problems: &mut Problems) -> Vec<SectionRows> {
        let sections = self.sections.here().map_or(&[][..], Vec::as_slice);
        if let Some(first_too_many) = sections.get(MOST_SECTIONS) {
            problems.add(
                first_too_many.name.span.clone(),
                format!("the song has {} sections", sections.len()),
                format!("write {MOST_SECTIONS} at most, and let the form repeat them"),
            );
        }
        let key = head.key.as_ref().map(|(key, _)| *key);
        let meter = head.meter.as_ref().map(|(meter, _)| *meter);
        let mut reader = SectionReader::new(key, meter, self.example);
        let mut read = |section: &SectionDraft| reader.read(section, problems);
        sections.iter().take(MOST_SECTIONS).map(&mut read).collect()
    }
}

/// Reports a kickoff with the tune's last line where that is not written out.
fn check_line(
    draft: &SongDraft,
    head: &Head,
    sections: &[SectionRows],
    form: &[Pass],
    problems: &mut Problems,
) {
    let first = form.first().and_then(|pass| sections.get(pass.section));
    if let (Kickoff::Line, Some(text), Some(section)) = (head.kickoff, draft.kickoff.here(), first)
        && !section.has_melody()
    {
        problems.add(
            text.inside(),
            "the section that the form begins with has no `melody` to kick off with",
            format!("write its tune out, or {}", (draft.example)("kickoff")),
        );
    }
}

/// The song, if nothing is missing.
fn finish(head: Head, sections: Vec<SectionRows>, form: Vec<Pass>) -> Option<(Song, SongSpans)> {
    let (key, key_span) = head.key?;
    let (meter, meter_span) = head.meter?;
    let (style, style_span) = head.style?;
    if sections.is_empty() || form.is_empty() {
        return None;
    }
    let song = Song {
        title: head.title?,
        composer: head.composer,
        notes: head.notes,
        key,
        meter,
        tempo: head.tempo?,
        style,
        swing: head.swing,
        capo: head.capo,
        band: head.band,
        kickoff: head.kickoff,
        ending: head.ending,
        drone: head.drone,
        sections: sections.into_iter().map(SectionRows::finish).collect(),
        form,
    };
    Some((song, SongSpans { style: style_span, meter: meter_span, key: key_span }))
}
