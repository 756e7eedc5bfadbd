use crate::perform::Message;
use crate::theory::MidiNote;

/// The notes that sound, a bit for each pitch of each channel. Fixed in size: nothing is allocated
/// while playing.
#[derive(Clone, Debug, Default)]
pub(super) struct Sounding {
    channels: [u128; 16],
}

impl Sounding {
    fn bits(&mut self, channel: u8) -> &mut u128 {
        // A channel has four bits (MIDI 1.0), so the index is in range.
        &mut self.channels[usize::from(channel & 0x0F)]
    }

    /// Marks a note.
    pub(super) fn set(&mut self, channel: u8, pitch: MidiNote) {
        *self.bits(channel) |= 1 << pitch.get();
    }

    /// Unmarks a note.
    pub(super) fn clear(&mut self, channel: u8, pitch: MidiNote) {
        *self.bits(channel) &= !(1 << pitch.get());
    }

    /// True if that note sounds.
    pub(super) fn has(&self, channel: u8, pitch: MidiNote) -> bool {
        let bits = self.channels.get(usize::from(channel & 0x0F)).copied().unwrap_or(0);
        bits >> pitch.get() & 1 == 1
    }

    /// True if no note sounds.
    pub(super) fn is_empty(&self) -> bool {
        self.channels.iter().all(|&bits| bits == 0)
    }

    /// The note-off of every marked note.
    pub(super) fn offs(&self) -> impl Iterator<Item = Message> + use<> {
        let channels = self.channels;
        (0u8..).zip(channels).flat_map(|(channel, bits)| {
            (0u8..128)
                .filter(move |pitch| bits >> pitch & 1 == 1)
                .filter_map(MidiNote::new)
                .map(move |pitch| Message::NoteOff { channel, pitch })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_note_of_every_channel_has_its_own_bit() {
        let mut sounding = Sounding::default();
        let all = (0..16).flat_map(|channel| (0..128).map(move |pitch| (channel, pitch)));
        for (channel, pitch) in all.clone() {
            sounding.set(channel, MidiNote::new(pitch).unwrap());
        }
        assert_eq!(sounding.offs().count(), 16 * 128);
        for (channel, pitch) in all {
            let pitch = MidiNote::new(pitch).unwrap();
            let off = Message::NoteOff { channel, pitch };
            assert!(sounding.offs().any(|message| message == off));
            sounding.clear(channel, pitch);
            assert!(sounding.offs().all(|message| message != off));
        }
        assert!(sounding.is_empty());
    }
}
