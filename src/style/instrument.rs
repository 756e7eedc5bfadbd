/// What a part sounds like, as General MIDI says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Instrument {
    /// General MIDI program, 0 to 127. Styles write it from 1 to 128, as General MIDI numbers them.
    pub program: u8,
    /// Controller 7, 0 to 127.
    pub volume: u8,
    /// Controller 10: 0 left, 64 middle, 127 right.
    pub pan: u8,
}
