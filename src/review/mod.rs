//! What a take shows: what the player covered, how steadily, with which notes, and one thing to work on.

#[allow(clippy::module_inception)] // What the module is named for.
mod review;

pub use review::{
    Advice, BarReview, Busy, Figures, Finding, HitReview, Part, PassReview, Review, Timing, Tone,
    Tones,
};
