use clap::builder::PossibleValuesParser;
use clap::builder::TypedValueParser;

use super::headings::PLACES;
use crate::synth::Room;

/// Where the band's own sound is heard.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(in crate::cli) struct InRoom {
    /// Where the band's built-in sound is heard: without it in a parlor, and stems dry, without any room
    #[arg(long, value_name = "ROOM", help_heading = PLACES, value_parser = rooms(), conflicts_with = "soundfont")]
    pub room: Option<Room>,
}

impl InRoom {
    /// The one asked for, or else the usual one.
    pub(in crate::cli) fn or(self, usual: Room) -> Room {
        self.room.unwrap_or(usual)
    }
}

/// The words for the rooms.
fn rooms() -> impl TypedValueParser<Value = Room> {
    PossibleValuesParser::new(Room::ALL.map(Room::word)).try_map(|word| Room::parse(&word))
}
