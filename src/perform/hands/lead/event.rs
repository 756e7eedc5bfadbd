use super::stroke::Stroke;
use super::tone::Tone;

/// What happens in a lead's part, in the order of time.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Event {
    /// A note of the line.
    Tone(Tone),
    /// What is struck together with the band, or what only stops.
    Plain(Stroke),
}
