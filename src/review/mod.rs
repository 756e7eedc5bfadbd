//! What a take shows: what the player covered, how steadily, with which notes, and one thing to work on.

mod advice;
mod anchor;
mod band;
mod changes;
mod figures;
mod findings;
mod fits;
mod harmony;
mod judge;
mod kalman;
mod lay;
mod lost_beats;
mod not_reviewed;
mod noticed;
mod own_beat;
mod place;
#[allow(clippy::module_inception)] // What the module is named for.
mod review;
mod song_grid;
mod trend;

pub use anchor::Anchor;
pub use judge::review;
pub use not_reviewed::NotReviewed;
pub use review::{
    Advice, BarReview, Busy, Figures, Finding, HitReview, Part, PassReview, Review, Timing,
    TimingReference, Tone, Tones,
};
