use super::bow_timbre::BowTimbre;
use super::timbre::Timbre;
use crate::chart::Role;

/// The instruments that the band's own sound knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sound {
    Bass,
    Mandolin,
    Guitar,
    Banjo,
    Resonator,
    Fiddle,
    Hum,
}

/// How an instrument is made to sound.
#[derive(Clone, Copy, Debug)]
pub(super) enum Make {
    Plucked(Timbre),
    Bowed(BowTimbre),
}

impl Sound {
    /// Every one.
    pub const ALL: [Self; 7] = [
        Self::Bass,
        Self::Mandolin,
        Self::Guitar,
        Self::Banjo,
        Self::Resonator,
        Self::Fiddle,
        Self::Hum,
    ];

    /// Those that a role may play: the lead all, each of the others its own.
    pub const fn played_by(role: Role) -> &'static [Self] {
        match role {
            Role::Bass => &[Self::Bass],
            Role::Chop => &[Self::Mandolin],
            Role::Guitar => &[Self::Guitar],
            Role::Banjo => &[Self::Banjo],
            Role::Fiddle => &[Self::Fiddle],
            Role::Lead => &Self::ALL,
        }
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

    /// How it is made to sound.
    pub const fn make(self) -> Make {
        match self {
            Self::Bass => Make::Plucked(Timbre::BASS),
            Self::Mandolin => Make::Plucked(Timbre::MANDOLIN),
            Self::Guitar => Make::Plucked(Timbre::GUITAR),
            Self::Banjo => Make::Plucked(Timbre::BANJO),
            Self::Resonator => Make::Plucked(Timbre::RESONATOR),
            Self::Fiddle => Make::Bowed(BowTimbre::FIDDLE),
            Self::Hum => Make::Bowed(BowTimbre::HUM),
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
