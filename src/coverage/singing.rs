use serde::Serialize;

/// What the singer does in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Singing {
    /// Sings for more than half of the bar.
    Sings,
    /// Pauses for half of the bar or more.
    Pauses,
    /// Nobody sings in this pass.
    Nobody,
}
