use super::bow_timbre::BowTimbre;
use super::timbre::Timbre;
use super::weight::Weight;
use crate::chart::Role;

/// The instruments, so that none can be missing from [`Sound::ALL`].
macro_rules! sounds {
    ($($sound:ident,)+) => {
        /// The instruments that the band's own sound knows.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Sound {
            $($sound,)+
        }

        impl Sound {
            /// Every one.
            pub const ALL: [Self; [$(Self::$sound),+].len()] = [$(Self::$sound),+];
        }
    };
}

sounds! { Bass, Mandolin, Guitar, Banjo, Resonator, Fiddle, Hum, }

/// How an instrument is made to sound.
#[derive(Clone, Copy, Debug)]
pub(super) enum Make {
    Plucked(Timbre),
    Bowed(BowTimbre),
}

/// What a role plays on.
struct Plays {
    /// Its sounds.
    sounds: &'static [Sound],
    /// Notes at once at most: on strings that ring, more than two hands on six of them make even in a fast strum;
    /// under a bow and in a tune, few.
    most_at_once: usize,
}

impl Plays {
    /// The lead has all sounds, each of the others its own.
    const fn of(role: Role) -> Self {
        match role {
            Role::Bass => Self { sounds: &[Sound::Bass], most_at_once: 32 },
            Role::Chop => Self { sounds: &[Sound::Mandolin], most_at_once: 32 },
            Role::Guitar => Self { sounds: &[Sound::Guitar], most_at_once: 32 },
            Role::Banjo => Self { sounds: &[Sound::Banjo], most_at_once: 32 },
            Role::Fiddle => Self { sounds: &[Sound::Fiddle], most_at_once: 16 },
            Role::Lead => Self { sounds: &Sound::ALL, most_at_once: 16 },
        }
    }
}

/// Notes at once at most, of each role.
pub(super) const fn most_voices(role: Role) -> usize {
    Plays::of(role).most_at_once
}

impl Sound {
    /// How it is made to sound, and what its notes weigh as they are measured.
    const fn row(self) -> (Make, Weight) {
        match self {
            Self::Bass => (
                Make::Plucked(Timbre::BASS),
                Weight::new([(28, -18.5, 0.37), (40, -16.8, 0.27), (55, -18.5, 0.19)], 10.4, 0.012),
            ),
            Self::Mandolin => (
                Make::Plucked(Timbre::MANDOLIN),
                Weight::new([(55, -19.8, 0.14), (70, -20.8, 0.09), (88, -24.2, 0.06)], 10.2, 0.008),
            ),
            Self::Guitar => (
                Make::Plucked(Timbre::GUITAR),
                Weight::new([(40, -23.0, 0.48), (55, -22.7, 0.32), (76, -23.4, 0.18)], 9.2, 0.010),
            ),
            Self::Banjo => (
                Make::Plucked(Timbre::BANJO),
                Weight::new([(50, -19.6, 0.13), (64, -20.2, 0.14), (81, -18.6, 0.13)], 10.0, 0.006),
            ),
            Self::Resonator => (
                Make::Plucked(Timbre::RESONATOR),
                Weight::new([(43, -18.7, 0.29), (60, -20.2, 0.17), (76, -19.1, 0.10)], 9.7, 0.010),
            ),
            Self::Fiddle => (
                Make::Bowed(BowTimbre::FIDDLE),
                Weight::new([(55, -8.7, 20.0), (69, -6.6, 20.0), (88, -4.1, 20.0)], 9.5, 0.017),
            ),
            Self::Hum => (
                Make::Bowed(BowTimbre::HUM),
                Weight::new([(48, -8.9, 20.0), (68, -13.5, 20.0), (79, -13.0, 20.0)], 9.6, 0.013),
            ),
        }
    }

    /// How it is made to sound.
    pub const fn make(self) -> Make {
        self.row().0
    }

    /// What its notes weigh.
    pub const fn weight(self) -> Weight {
        self.row().1
    }

    /// Those that a role may play.
    pub const fn played_by(role: Role) -> &'static [Self] {
        Plays::of(role).sounds
    }

    /// The one that is nearest to a program of General MIDI, 0 to 127. General MIDI has no mandolin
    /// and no resonator guitar: the nylon guitar (24) and the jazz guitar (26) stand for them.
    pub const fn of_program(program: u8) -> Self {
        match program {
            24 => Self::Mandolin,
            26 => Self::Resonator,
            // The basses, contrabass and tuba.
            32..=39 | 43 | 58 => Self::Bass,
            // Harp and other plucked things beside the violin's family.
            45 | 46 => Self::Mandolin,
            40..=51 | 110 => Self::Fiddle,
            // Voices, and whatever else is blown.
            52..=54 | 56..=95 | 109 | 111 => Self::Hum,
            104..=106 => Self::Banjo,
            _ => Self::Guitar,
        }
    }

    /// The one that a role plays when it is told that program: only the lead heeds it.
    pub fn told(role: Role, program: u8) -> Self {
        match Self::played_by(role) {
            [only] => *only,
            _ => Self::of_program(program),
        }
    }

    /// The lowest note of the instrument; 0 if it can play any.
    pub const fn lowest(self) -> u8 {
        match self.make() {
            Make::Plucked(timbre) => timbre.range.0,
            Make::Bowed(_) => 0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lead_alone_heeds_its_program() {
        let leads = [
            (105, Sound::Banjo),
            (110, Sound::Fiddle),
            (40, Sound::Fiddle),
            (25, Sound::Guitar),
            (24, Sound::Mandolin),
            (32, Sound::Bass),
            (26, Sound::Resonator),
            (53, Sound::Hum),
        ];
        for (program, sound) in leads {
            assert_eq!(Sound::told(Role::Lead, program), sound, "{program}");
            assert_eq!(Sound::told(Role::Bass, program), Sound::Bass, "{program}");
            assert_eq!(Sound::told(Role::Fiddle, program), Sound::Fiddle, "{program}");
        }
    }
}
