use crate::sink::MidiOut;

/// The places of the playing thread's outputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Slot {
    /// The MIDI port.
    Port,
    /// The built-in sound.
    Sound,
}

/// An output on its way: to the playing thread to be played to, or lost and on its way back to be
/// closed.
pub struct Supply {
    /// Its place.
    pub slot: Slot,
    /// The output.
    pub out: Box<dyn MidiOut>,
}
