//! What a take shows: what the player covered, how steadily, with which notes, and one thing to work on.

mod anchor;
mod not_reviewed;
#[allow(clippy::module_inception)] // What the module is named for.
mod review;

pub use anchor::Anchor;
pub use not_reviewed::NotReviewed;
pub use review::{
    Advice, Against, BarReview, Busy, Figures, Finding, HitReview, Part, PassReview, Review,
    Timing, Tone, Tones,
};
