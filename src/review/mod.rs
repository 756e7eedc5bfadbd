//! What a take shows: what the player covered, how steadily, with which notes, and one thing to work on.

mod advice;
mod anchor;
mod band;
mod band_alone;
mod band_within;
mod changes;
mod figures;
mod findings;
mod fits;
mod found;
mod found_backup;
mod found_chords;
mod found_hand;
mod found_time;
mod harmony;
mod how;
mod judge;
mod kalman;
mod late_changes;
mod lay;
mod lay_tables;
mod lost_beats;
mod loudness;
mod nobody;
mod not_reviewed;
mod noticed;
mod one_chord;
mod own_beat;
mod pace;
mod picked;
mod place;
mod priorities;
mod recorded_how;
#[allow(clippy::module_inception)] // What the module is named for.
mod review;
mod song_grid;
mod time_lost;
mod trend;
mod words;

pub use anchor::Anchor;
pub use how::RecordedHow;
pub use judge::review;
pub use not_reviewed::{Instead, NotReviewed};
pub use one_chord::stays_on_one_chord;
pub use recorded_how::{fits, recorded_how};
pub use review::{
    Advice, BarReview, Busy, Figures, Finding, HitReview, Part, PassReview, Review, SwingReview,
    Timing, TimingReference, Tone, Tones,
};
pub use time_lost::time_lost;
pub use words::words;
