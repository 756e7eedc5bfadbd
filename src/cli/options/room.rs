use clap::builder::PossibleValuesParser;
use clap::builder::TypedValueParser;

use super::headings::PLACES;
use crate::synth::Room;

/// Where the band's own sound is heard.
#[derive(Clone, Copy, Debug, clap::Args)]
pub(in crate::cli) struct InRoom {
    /// Where the band sits, for its built-in sound: dry is without any room
    #[arg(long, value_name = "ROOM", help_heading = PLACES, default_value = Room::Parlor.word(), value_parser = rooms())]
    pub room: Room,
}

/// The words for the rooms.
fn rooms() -> impl TypedValueParser<Value = Room> {
    PossibleValuesParser::new(Room::ALL.map(Room::word)).try_map(|word| Room::parse(&word))
}
