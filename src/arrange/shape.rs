use crate::chart::{Dynamic, Lead, Pass, Section, SectionPart, Song};

/// Where a pass stands in its song: what gives a song a shape.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Shape {
    /// What its section is.
    pub part: Option<SectionPart>,
    /// The first time through its section.
    pub first_time: bool,
    /// The last of several times through its section.
    pub last_time: bool,
    /// The verse that the band comes down in, so that the chorus after it can rise.
    pub down: bool,
}

/// Of each pass of a form that is played `times` times, in order.
///
/// A band comes down in its last sung verse, where that is not the only one and a sung chorus follows (common
/// practice, no source). Where the song marks the verse's loudness itself, that is the song's to say.
pub(super) fn shapes(song: &Song, times: u32) -> Vec<Shape> {
    let passes: Vec<&Pass> = (0..times).flat_map(|_| &song.form).collect();
    let section = |pass: &Pass| song.sections.get(pass.section);
    let part = |pass: &Pass| section(pass).and_then(|section| SectionPart::of(&section.name));
    let is_sung = |pass: &&Pass, as_part| pass.lead == Some(Lead::Voice) && part(pass) == as_part;
    let is_verse = |pass: &&Pass| is_sung(pass, Some(SectionPart::Verse));
    let unmarked = |section: &Section| section.dynamics == Dynamic::default();
    let down = passes.iter().rposition(&is_verse).filter(|&at| {
        let followed = passes.get(at + 1).is_some_and(|p| is_sung(p, Some(SectionPart::Chorus)));
        let before = passes.iter().take(at).any(is_verse);
        let marked_so = passes.get(at).and_then(|pass| section(pass)).is_some_and(unmarked);
        followed && before && marked_so
    });
    // The first and the last pass through each section.
    let mut ends: Vec<Option<(usize, usize)>> = vec![None; song.sections.len()];
    for (at, pass) in passes.iter().enumerate() {
        if let Some(ends) = ends.get_mut(pass.section) {
            let (first, _) = ends.unwrap_or((at, at));
            *ends = Some((first, at));
        }
    }
    let shape = |(at, pass): (usize, &&Pass)| {
        let (first, last) = ends.get(pass.section).copied().flatten().unwrap_or((at, at));
        Shape {
            part: part(pass),
            first_time: at == first,
            last_time: at == last && at != first,
            down: down == Some(at),
        }
    };
    passes.iter().enumerate().map(shape).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::read_song;
    use crate::text::{Problems, Source};

    fn shapes_of(form: &str, verse: &str, times: u32) -> Vec<Shape> {
        let toml = format!(
            "title = 'Tar Bucket'\nkey = 'G'\nmeter = '4/4'\ntempo = 120\nstyle = 'any'\n\
             form = {form}\n[section.verse]\n{verse}chords = '| G |'\n[section.chorus]\nchords = '| C |'\n"
        );
        let source = Source::new("song.toml", toml).unwrap();
        let (song, _) = read_song(&source, &mut Problems::new()).unwrap();
        shapes(&song, times)
    }

    const FORM: &str =
        "['verse: voice', 'chorus: voice', 'verse: fiddle', 'verse: voice', 'chorus: voice']";

    const NONE: [usize; 0] = [];

    fn of(shapes: &[Shape], what: impl Fn(&Shape) -> bool) -> Vec<usize> {
        (0..shapes.len()).filter(|&at| what(&shapes[at])).collect()
    }

    #[test]
    fn the_first_and_the_last_time_are_known() {
        let once = shapes_of(FORM, "", 1);
        assert_eq!(of(&once, |shape| shape.first_time), [0, 1]);
        assert_eq!(of(&once, |shape| shape.last_time), [3, 4]);
        let twice = shapes_of(FORM, "", 2);
        assert_eq!(of(&twice, |shape| shape.last_time), [8, 9], "the form again is no end");
    }

    #[test]
    fn the_last_verse_before_a_chorus_comes_down() {
        assert_eq!(of(&shapes_of(FORM, "", 1), |shape| shape.down), [3]);
        assert_eq!(of(&shapes_of(FORM, "dynamics = 'mf'\n", 1), |shape| shape.down), [3]);
        assert_eq!(of(&shapes_of(FORM, "dynamics = 'f'\n", 1), |shape| shape.down), NONE);
        let one = "['verse: voice', 'chorus: voice']";
        assert_eq!(
            of(&shapes_of(one, "", 1), |shape| shape.down),
            NONE,
            "the only one tells the story"
        );
        let no_chorus = "['verse: voice', 'chorus: voice', 'verse: voice']";
        assert_eq!(of(&shapes_of(no_chorus, "", 1), |shape| shape.down), NONE);
    }
}
