use std::ops::Range;

use crate::text::{Placed, Text};

/// A song as the reader of some format found it, before anything is checked but that the format
/// itself holds: words and rows, each with its place in the file.
///
/// Whoever reads another format fills one, row by row, and [`SongDraft::check`] does the rest: the
/// song, or what is wrong with it under a caret in that format's own text.
///
/// ```
/// use openchair::chart::{FormEntry, Given, SectionDraft, SongDraft};
/// use openchair::text::{Placed, Problems, Source, Text};
///
/// let source = Source::new("a.txt", "Heron Reel in G: G C Xm G")?;
/// let word = |range| Text::of(&source, range).map_or(Given::Missing, Given::Here);
/// let mut draft = SongDraft::new(|name| format!("a line with the {name}"));
/// draft.title = word(0..10);
/// draft.key = word(14..15);
/// draft.meter = Given::Here(Text::made_from("4/4", 0..0));
/// draft.tempo = Given::Here(Placed::new(108.0, 0..0));
/// draft.style = Given::Here(Text::made_from("boom-chick", 0..0));
/// // A chord a bar: the bar lines are ours, the chords stand where they stand.
/// let mut row = Text::nothing_at(17);
/// for chord in [17..18, 19..20, 21..23, 24..25] {
///     row.push_from(&source, chord.clone());
///     row.push("|", chord.end..chord.end);
/// }
/// let mut section = SectionDraft::new("a", 0..0);
/// section.chords = Given::Here(row);
/// draft.sections = Given::Here(vec![section]);
/// let entry = FormEntry::of(Text::made_from("a", 0..0));
/// draft.form = Given::Here(Placed::new(vec![entry], 0..0));
///
/// let mut problems = Problems::new();
/// assert!(draft.check(&mut problems).0.is_none());
/// let problem = problems.in_order()[0];
/// assert_eq!(problem.message, "no chord starts with `X`");
/// assert_eq!(source.position(problem.span.start), (1, 22));
/// # Ok::<(), openchair::text::TooLarge>(())
/// ```
#[derive(Clone, Debug)]
pub struct SongDraft {
    /// How the value of that name is written in the format, with an example, for what is to be written
    /// instead: of `tempo` it gives `tempo = 108`. The names are those of the fields here and of
    /// [`SectionDraft`]; `section` is a whole one.
    pub example: fn(&str) -> String,
    /// What it is called.
    pub title: Given<Text>,
    /// Who made it. May be missing, as all may that a song file can leave out.
    pub composer: Given<Text>,
    /// Anything the player should know.
    pub notes: Given<Text>,
    /// The key: `G`, `F#m`.
    pub key: Given<Text>,
    /// The meter: `4/4`.
    pub meter: Given<Text>,
    /// Beats a minute.
    pub tempo: Given<Placed<f64>>,
    /// The backing style.
    pub style: Given<Text>,
    /// The share of a quarter that its first eighth takes.
    pub swing: Given<Placed<f64>>,
    /// The guitar's capo.
    pub capo: Given<Placed<f64>>,
    /// The roles of the line-up, by their words.
    pub band: Given<Placed<Vec<Text>>>,
    /// What leads into the form.
    pub kickoff: Given<Text>,
    /// What follows it.
    pub ending: Given<Text>,
    /// What a banjo does with its short string.
    pub drone: Given<Text>,
    /// The sections in the order of the file.
    pub sections: Given<Vec<SectionDraft>>,
    /// The passes in the order played.
    pub form: Given<Placed<Vec<FormEntry>>>,
}

/// A section's rows as they stand.
#[derive(Clone, Debug)]
pub struct SectionDraft {
    /// Its name; the place is that of its heading.
    pub name: Placed<String>,
    /// The chords: bars between bar signs, in lines of text.
    pub chords: Given<Text>,
    /// Where the singer sings.
    pub voice: Given<Text>,
    /// Where the band stops.
    pub stops: Given<Text>,
    /// The tune.
    pub melody: Given<Text>,
    /// Its dynamic mark.
    pub dynamics: Given<Text>,
}

/// An entry of the form.
#[derive(Clone, Debug)]
pub struct FormEntry {
    /// Where all of it stands.
    pub span: Range<usize>,
    /// The section.
    pub play: Given<Text>,
    /// Who leads.
    pub lead: Given<Text>,
    /// The roles that sit out, by their words.
    pub sit_out: Given<Placed<Vec<Text>>>,
}

/// What a format's reader found of a value.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Given<T> {
    /// Nothing.
    #[default]
    Missing,
    /// It is there, but cannot be read; that is among the problems already.
    Unreadable,
    /// The value.
    Here(T),
}

impl<T> Given<T> {
    /// The value, if it is here.
    pub const fn here(&self) -> Option<&T> {
        match self {
            Self::Here(value) => Some(value),
            Self::Missing | Self::Unreadable => None,
        }
    }

    /// True if nothing was found at all.
    pub const fn is_missing(&self) -> bool {
        matches!(self, Self::Missing)
    }

    /// True if what was found could not be read.
    pub const fn is_unreadable(&self) -> bool {
        matches!(self, Self::Unreadable)
    }
}

impl SongDraft {
    /// A song of which nothing was found yet. For `example` see [`Self::example`].
    pub const fn new(example: fn(&str) -> String) -> Self {
        Self {
            example,
            title: Given::Missing,
            composer: Given::Missing,
            notes: Given::Missing,
            key: Given::Missing,
            meter: Given::Missing,
            tempo: Given::Missing,
            style: Given::Missing,
            swing: Given::Missing,
            capo: Given::Missing,
            band: Given::Missing,
            kickoff: Given::Missing,
            ending: Given::Missing,
            drone: Given::Missing,
            sections: Given::Missing,
            form: Given::Missing,
        }
    }
}

impl SectionDraft {
    /// A section without rows, whose name stands on `span`.
    pub fn new(name: impl Into<String>, span: Range<usize>) -> Self {
        Self {
            name: Placed::new(name.into(), span),
            chords: Given::Missing,
            voice: Given::Missing,
            stops: Given::Missing,
            melody: Given::Missing,
            dynamics: Given::Missing,
        }
    }
}

impl FormEntry {
    /// `SECTION` or `SECTION: LEAD`.
    pub fn of(text: Text) -> Self {
        let (play, lead) = match text.value.find(':') {
            Some(colon) => {
                let lead = text.part(colon + 1..text.value.len()).trimmed();
                (text.part(0..colon).trimmed(), Given::Here(lead))
            }
            None => (text.trimmed(), Given::Missing),
        };
        Self { span: text.whole(), play: Given::Here(play), lead, sit_out: Given::Missing }
    }
}
