use serde::Serialize;

/// What the singer does in a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Singing {
    /// Sings, in the whole bar or a part of it.
    Sings,
    /// Pauses for the bar.
    Pauses,
    /// Nobody sings in this pass.
    Nobody,
}
