use super::Stop;
use super::mark_row::Alphabet;

/// Where the band stops.
pub(super) const STOPS: Alphabet<Stop> = Alphabet {
    row: "stops",
    marks: &[('.', Stop::PlayOn), ('x', Stop::Hit), ('o', Stop::Hold), ('-', Stop::Silence)],
    help: "write `.` to play on, `x` where all hit and choke, `o` where all strike and let it ring, `-` for silence",
    plain: '.',
};
