//! The band's own sound: plucked strings by digital waveguide and bowed ones by their wave, with no file,
//! device or clock in it.
//!
//! A plucked note is a string loop for each of the two planes in which a string swings (twice that in a mandolin's
//! double course), plucked by a pulse and some noise. All strings of an instrument meet at its bridge, and the
//! bridge is the body: a bank of resonances that takes from them and sounds.
//! The method is Karplus and Strong's as extended by Jaffe and Smith, "Extensions of the
//! Karplus-Strong Plucked-String Algorithm", Computer Music Journal 7(2), 1983, with the
//! refinements named in each file. A bowed note is the wave of a string under a bow, with the bow's noise
//! and the player's hand, through a body of the same kind.
//!
//! Everything is reckoned in blocks of [`QUANTUM`] frames that start at fixed frames of the song, so
//! the same notes give the very same samples however many frames are asked for at a time.

mod band;
mod body;
mod body_modes;
mod bow_timbre;
mod bow_voice;
mod click;
mod ensemble;
mod fade;
mod held;
mod hush;
mod last_chord;
mod limiter;
mod live;
mod loop_filter;
mod loudness;
mod modes;
mod one_pole;
mod outlet;
mod picking_hand;
mod player;
mod pluck;
mod renderer;
mod resonances;
mod room;
mod saw;
mod schedule;
mod seat;
mod sequencer;
mod sound;
mod string_loop;
mod timbre;
mod voice;
mod voices;
mod weight;

use fade::Fade;
use limiter::Limiter;

pub use band::Synth;
pub use ensemble::Ensemble;
pub use last_chord::{last_chord_rings, rings_on};
pub use limiter::CEILING;
pub use live::{LIVE_ROOM, LiveRenderer};
pub use loudness::{LOUDNESS, loudness, make_up};
pub use outlet::{Blocks, Outlet};
pub use renderer::Renderer;
pub use room::Room;
pub use schedule::{QUANTUM, frame_at, frame_in, framed};
pub use sequencer::{Instruments, Sequencer};
