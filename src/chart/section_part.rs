/// What a section is in a song, by its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SectionPart {
    /// It tells the story: other words each time.
    Verse,
    /// What all wait for: the same words each time.
    Chorus,
    /// It leads away, once or twice.
    Bridge,
}

impl SectionPart {
    /// The names that players give it.
    const fn names(self) -> &'static [&'static str] {
        match self {
            Self::Verse => &["verse", "strophe"],
            Self::Chorus => &["chorus", "refrain"],
            Self::Bridge => &["bridge", "middle"],
        }
    }

    /// By the section's name, such as `verse`, `verse2` or `last-chorus`; `None` where it says nothing of that, as
    /// the parts of a fiddle tune do.
    pub fn of(name: &str) -> Option<Self> {
        let name = name.to_lowercase();
        let mut words = name.split(|c: char| !c.is_alphabetic());
        words.find_map(|word| {
            let is = |part: &Self| part.names().contains(&word);
            [Self::Verse, Self::Chorus, Self::Bridge].into_iter().find(is)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_says_what_a_section_is() {
        for (name, part) in [
            ("verse", Some(SectionPart::Verse)),
            ("verse2", Some(SectionPart::Verse)),
            ("Last Chorus", Some(SectionPart::Chorus)),
            ("refrain-b", Some(SectionPart::Chorus)),
            ("bridge", Some(SectionPart::Bridge)),
            ("a", None),
            ("cambridge", None),
            ("reversed", None),
        ] {
            assert_eq!(SectionPart::of(name), part, "{name}");
        }
    }
}
