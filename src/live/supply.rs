use crate::sink::MidiOut;

/// Which of the two places an output takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Slot {
    /// The MIDI port.
    Port,
    /// The built-in sound.
    Sound,
}

/// An output for a slot: a new one on its way to the playing thread, or a lost one on its way back, to
/// be closed.
pub struct Supply {
    /// Which.
    pub slot: Slot,
    /// The output.
    pub out: Box<dyn MidiOut>,
}
