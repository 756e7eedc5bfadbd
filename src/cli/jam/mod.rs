//! Playing live: what the band plays to, the player's hand and eye, and what becomes of it.

mod beside;
mod drilling;
mod front;
mod growing;
mod hands;
#[allow(clippy::module_inception)] // What the module is named for.
mod jam;
mod listen;
mod microphone;
mod no_device;
mod plain;
mod player;
mod stage;

pub(super) use drilling::{DrillPlan, Drilling};
pub(super) use jam::{Heard, Jam};
pub(super) use listen::Listen;
pub(super) use no_device::{no_device, other_devices, server_instead};
pub(super) use stage::{NoStage, Stage};
