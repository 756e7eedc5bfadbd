//! Where a performance goes: a file, a MIDI port, a sound device. No sink knows another.

pub mod smf;
