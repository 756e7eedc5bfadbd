use serde::{Deserialize, Serialize};

use super::Lead;
use super::row::{
    BeatShares, Covers, Defaults, Examples, Home, InTag, NewChord, Notation, Playing, Right, Row,
    Shuffles, StrokeKeys,
};

/// The roles, so that none can be missing from [`Role::ALL`].
macro_rules! roles {
    ($($(#[$doc:meta])* $role:ident,)+) => {
        /// A job in the band.
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize, Serialize,
        )]
        #[serde(rename_all = "lowercase")]
        #[non_exhaustive]
        pub enum Role {
            $($(#[$doc])* $role,)+
        }

        impl Role {
            /// Every role, in the order of tracks.
            pub const ALL: [Self; [$(Self::$role),+].len()] = [$(Self::$role),+];
        }
    };
}

roles! {
    /// Upright bass: the downbeats.
    Bass,
    /// Mandolin chop: the backbeats.
    Chop,
    /// Guitar: bass notes and strums.
    Guitar,
    /// Five-string banjo: rolls, and vamps up the neck.
    Banjo,
    /// Fiddle: long tones and soft chops.
    Fiddle,
    /// Whoever leads a pass: a simple break to back up, or the song's own melody.
    Lead,
}

impl Role {
    /// The line-up of a song that names none. The other chairs stay free for the player.
    pub const BAND: [Self; 3] = [Self::Bass, Self::Chop, Self::Guitar];

    /// All that is data about it.
    pub const fn row(self) -> &'static Row {
        match self {
            Self::Bass => &BASS,
            Self::Chop => &CHOP,
            Self::Guitar => &GUITAR,
            Self::Banjo => &BANJO,
            Self::Fiddle => &FIDDLE,
            Self::Lead => &LEAD,
        }
    }
}

// Programs are General MIDI Level 1's, from 0: 32 acoustic bass, 25 acoustic guitar (steel), 105 banjo, 110
// fiddle. It has no mandolin; the steel guitar's short notes are nearest to a chop.
//
// A guitarist's pick goes at nine notes a second, eighths up to 270 quarters a minute; the finger of a bass
// player at five, eighths up to 150 (common practice, no source).
//
// Who covers what is common practice of backup playing, no source: 1000 is the player whose job it is. What is
// not there covers nothing.

/// Its lowest home is A1, from which its roots live in an octave.
const BASS: Row = Row {
    word: "bass",
    lead: Some(Lead::Bass),
    is_leader: false,
    channel: 0,
    key: 'b',
    key_says: "the bass sits out, or comes in",
    defaults: Defaults {
        program: 32,
        volume: 104,
        pan: 64,
        ghost: 52,
        normal: 90,
        accent: 104,
        spread: 0.0,
        length: 0.92,
        clip: None,
    },
    stroke_keys: StrokeKeys {
        spread: false,
        clip: false,
        down_strings: false,
        up_strings: false,
        why_not: "is about strokes, and the bass plays single notes",
    },
    notation: Notation::Notes,
    examples: Examples { four: "R . 5 .", two: "R . 5 .", three: "R . .", six: "R . . 5 . ." },
    playing: Playing {
        begins_on_roots: true,
        new_chord: NewChord::Always,
        rolls: false,
        looks_ahead: true,
        right: Right::GivesWay,
        steps_a_second: 5.0,
        answers_lines: false,
    },
    pickup: 3,
    shuffles: Shuffles::AtLast(1),
    home: Home { lowest: 33, on_capo: false },
    in_tag: InTag::LowLine,
    covers: Covers {
        // The bass is the boom. Walking through the backbeat it is heard there, but it is no chick.
        note: BeatShares::new(1000, 200, 200),
        ..Covers::NOTHING
    },
};

const CHOP: Row = Row {
    word: "chop",
    lead: Some(Lead::Mandolin),
    is_leader: false,
    channel: 1,
    key: 'm',
    key_says: "the mandolin chop sits out, or comes in",
    defaults: Defaults {
        program: 25,
        volume: 84,
        pan: 72,
        ghost: 40,
        normal: 84,
        accent: 100,
        spread: 8.0,
        length: 1.0,
        clip: Some(90.0),
    },
    stroke_keys: StrokeKeys {
        spread: true,
        clip: true,
        down_strings: false,
        up_strings: true,
        why_not: "changes nothing: the chop strikes its whole shape",
    },
    notation: Notation::Strokes,
    examples: Examples { four: "- x - x", two: "- x - x", three: "- x x", six: "- - x - - x" },
    playing: Playing {
        begins_on_roots: false,
        new_chord: NewChord::AsWritten,
        rolls: false,
        looks_ahead: false,
        right: Right::Own,
        steps_a_second: 9.0,
        answers_lines: false,
    },
    pickup: 6,
    shuffles: Shuffles::Together,
    home: MIDDLE_C,
    in_tag: InTag::Hit,
    covers: Covers {
        // The chop is the chick: short, dry, above everyone. Anywhere else it is an ornament.
        chop: BeatShares::new(200, 1000, 300),
        // Strummed and left to ring, a mandolin is a small guitar.
        strum: BeatShares::new(400, 800, 500),
        ..Covers::NOTHING
    },
};

/// Its lowest home is the fifth string.
const GUITAR: Row = Row {
    word: "guitar",
    lead: Some(Lead::Guitar),
    is_leader: false,
    channel: 2,
    key: 'g',
    key_says: "the guitar sits out, or comes in",
    defaults: Defaults {
        program: 25,
        volume: 92,
        pan: 36,
        ghost: 48,
        normal: 82,
        accent: 98,
        spread: 18.0,
        length: 0.95,
        clip: None,
    },
    stroke_keys: StrokeKeys {
        spread: true,
        clip: true,
        down_strings: true,
        up_strings: true,
        why_not: "",
    },
    notation: Notation::NotesAndStrokes,
    examples: Examples { four: "R D 5 D", two: "R D 5 D", three: "R D D", six: "R . D 5 . D" },
    playing: Playing {
        begins_on_roots: true,
        new_chord: NewChord::OnBeats,
        rolls: false,
        looks_ahead: false,
        right: Right::OfWay,
        steps_a_second: 9.0,
        answers_lines: false,
    },
    pickup: 1,
    shuffles: Shuffles::Together,
    home: Home { lowest: 45, on_capo: true },
    in_tag: InTag::Line,
    covers: Covers {
        // The guitar's bass strings are a boom, softer than a bass; in a run they are a line, no chick.
        note: BeatShares::new(1000, 200, 400),
        // The guitar's chick lies where the other players are and rings on: less than half of what a choked
        // chop gives.
        strum: BeatShares::new(700, 400, 600),
        // Choked it cuts through better, without the mandolin's height.
        chop: BeatShares::new(500, 700, 400),
        bites: false,
    },
};

const BANJO: Row = Row {
    word: "banjo",
    lead: Some(Lead::Banjo),
    is_leader: false,
    channel: 3,
    key: '5',
    key_says: "the five-string banjo sits out, or comes in",
    defaults: Defaults {
        program: 105,
        volume: 88,
        pan: 92,
        ghost: 48,
        normal: 78,
        accent: 94,
        spread: 6.0,
        length: 1.0,
        clip: None,
    },
    stroke_keys: StrokeKeys {
        spread: true,
        clip: true,
        down_strings: false,
        up_strings: false,
        why_not: "changes nothing: the banjo's bars name their strings",
    },
    notation: Notation::BanjoStrings,
    examples: Examples {
        four: "3 2 1 5 3 2 1 5",
        two: "3 2 5 1",
        three: "3 2 1 5 2 1",
        six: "3 2 1 5 2 1",
    },
    playing: Playing {
        begins_on_roots: true,
        new_chord: NewChord::AsWritten,
        rolls: true,
        looks_ahead: false,
        right: Right::Own,
        steps_a_second: 9.0,
        answers_lines: false,
    },
    pickup: 4,
    shuffles: Shuffles::AtLast(2),
    home: MIDDLE_C,
    in_tag: InTag::Hit,
    covers: Covers {
        // A roll is an even stream: it is heard as the notes between, its thumb a little on the beat.
        note: BeatShares::new(400, 300, 1000),
        // A pinch that rings marks the backbeat without the snap of a vamp.
        strum: BeatShares::new(400, 700, 600),
        // A vamp up the neck does the chop's work.
        chop: BeatShares::new(200, 1000, 300),
        bites: false,
    },
};

const FIDDLE: Row = Row {
    word: "fiddle",
    lead: Some(Lead::Fiddle),
    is_leader: false,
    channel: 4,
    key: 'f',
    key_says: "the fiddle sits out, or comes in",
    defaults: Defaults {
        program: 110,
        volume: 76,
        pan: 84,
        ghost: 40,
        normal: 70,
        accent: 86,
        spread: 0.0,
        length: 0.96,
        clip: None,
    },
    stroke_keys: StrokeKeys {
        spread: false,
        clip: true,
        down_strings: false,
        up_strings: false,
        why_not: "changes nothing: a bow has no strum",
    },
    notation: Notation::Bow,
    examples: Examples { four: "o . . .", two: "o . . .", three: "o . .", six: "o . . o . ." },
    playing: Playing {
        begins_on_roots: false,
        new_chord: NewChord::AsWritten,
        rolls: false,
        looks_ahead: false,
        right: Right::Own,
        steps_a_second: 9.0,
        answers_lines: false,
    },
    pickup: 5,
    shuffles: Shuffles::Alone(1),
    home: MIDDLE_C,
    in_tag: InTag::Hit,
    covers: Covers {
        // The bow's chop is a soft one; a long bow carries no beat.
        chop: BeatShares::new(200, 600, 300),
        bites: true,
        ..Covers::NOTHING
    },
};

/// It has no sound of its own: the General MIDI program is for a melody in a pass that nobody leads.
const LEAD: Row = Row {
    word: "lead",
    lead: None,
    is_leader: true,
    channel: 5,
    key: 's',
    key_says: "the soloist sits out, or comes in",
    defaults: Defaults {
        program: 110,
        volume: 96,
        pan: 64,
        ghost: 52,
        normal: 86,
        accent: 100,
        spread: 0.0,
        length: 0.92,
        clip: None,
    },
    stroke_keys: StrokeKeys {
        spread: false,
        clip: false,
        down_strings: false,
        up_strings: false,
        why_not: "is about strokes, and a break is single notes",
    },
    notation: Notation::Break,
    examples: Examples { four: "o . o o", two: "o . o o", three: "o . o", six: "o . o o o o" },
    playing: Playing {
        begins_on_roots: false,
        new_chord: NewChord::AsWritten,
        rolls: false,
        looks_ahead: false,
        right: Right::Own,
        steps_a_second: 9.0,
        answers_lines: true,
    },
    pickup: 2,
    shuffles: Shuffles::Alone(2),
    home: MIDDLE_C,
    in_tag: InTag::Waits,
    // It is no part of the rhythm.
    covers: Covers::NOTHING,
};

/// Below which everybody but bass and guitar has a fourth, with a capo too.
const MIDDLE_C: Home = Home { lowest: 60, on_capo: false };

#[cfg(test)]
mod tests {
    use super::*;

    /// No two roles have the same of it.
    fn all_differ<T: PartialEq + std::fmt::Debug>(what: impl Fn(&Row) -> T) {
        for (at, role) in Role::ALL.iter().enumerate() {
            for other in &Role::ALL[..at] {
                assert_ne!(what(role.row()), what(other.row()), "{role} and {other}");
            }
        }
    }

    #[test]
    fn rows_do_not_get_in_each_others_way() {
        all_differ(|row| row.word);
        all_differ(|row| row.channel);
        all_differ(|row| row.key);
        all_differ(|row| row.key_says);
        all_differ(|row| row.pickup);
        let turn = |shuffles| match shuffles {
            Shuffles::Alone(_) | Shuffles::AtLast(_) => Some(shuffles),
            Shuffles::Together | Shuffles::Never => None,
        };
        for (at, role) in Role::ALL.iter().enumerate() {
            for other in &Role::ALL[..at] {
                let (one, two) = (role.row(), other.row());
                assert!(turn(one.shuffles).is_none() || one.shuffles != two.shuffles, "{role}");
                assert!(one.lead.is_none() || one.lead != two.lead, "{role} and {other}");
            }
        }
        let count = |is: fn(&Row) -> bool| Role::ALL.iter().filter(|role| is(role.row())).count();
        assert!(
            count(|row| row.is_leader) == 1 && count(|row| row.playing.right == Right::OfWay) <= 1
        );
    }

    #[test]
    fn words_go_both_ways() {
        for role in Role::ALL {
            let row = role.row();
            assert_eq!(Role::parse(row.word), Some(role));
            let word = serde_json::to_string(&role).unwrap();
            assert_eq!(word, format!("\"{}\"", row.word), "files have the same word");
        }
    }

    /// Channels as General MIDI Level 1 has them: 16, and the tenth is percussion's.
    #[test]
    fn every_row_is_within_what_midi_and_styles_have() {
        for role in Role::ALL {
            let Row { channel, defaults, stroke_keys, home, .. } = *role.row();
            assert!(channel < 16 && channel != 9, "{role}");
            assert!(
                defaults.program < 128 && defaults.volume < 128 && defaults.pan < 128,
                "{role}"
            );
            assert!((1..=defaults.normal).contains(&defaults.ghost), "{role}");
            assert!((defaults.normal..128).contains(&defaults.accent), "{role}");
            assert!((0.0..=80.0).contains(&defaults.spread), "{role}");
            assert!((0.05..=1.0).contains(&defaults.length), "{role}");
            assert!(defaults.clip.is_none_or(|clip| (20.0..=2000.0).contains(&clip)), "{role}");
            let keys = ["spread", "clip", "down_strings", "up_strings"];
            let all = keys.iter().all(|key| stroke_keys.has(key) == Some(true));
            assert!(
                all || !stroke_keys.why_not.is_empty(),
                "why some keys mean nothing to the {role}"
            );
            assert!(home.lowest < 116, "{role}: an octave from there is left");
        }
    }
}
