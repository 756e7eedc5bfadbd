/// The longest system exclusive message that is passed on: a longer one is no pedal's and no clock's.
const LONGEST: usize = 256;

/// Makes whole messages of MIDI 1.0 out of bytes as they come: with the status byte of each spelled
/// out where the sender leaves it out (running status), and with real-time messages, which may stand
/// inside any other, apart. What is cut short, or has no status, is dropped. Allocates nothing.
///
/// The rules are the MIDI 1.0 Detailed Specification's (4.2), from memory.
pub(super) struct Assembler {
    bytes: [u8; LONGEST],
    /// How many of `bytes` there are; past their number if too many have come.
    length: usize,
    /// The status byte that data bytes belong to.
    running: Option<u8>,
}

impl Assembler {
    pub(super) const fn new() -> Self {
        Self { bytes: [0; LONGEST], length: 0, running: None }
    }

    /// Takes bytes and gives each message that they complete.
    pub(super) fn feed(&mut self, bytes: &[u8], mut whole: impl FnMut(&[u8])) {
        for &byte in bytes {
            match byte {
                0xF8..=0xFF => whole(&[byte]),
                0xF7 => {
                    if self.running == Some(0xF0) {
                        self.put(byte);
                        whole(self.bytes.get(..self.length).unwrap_or_default());
                    }
                    self.forget();
                }
                0x80..=0xF6 => {
                    self.running = Some(byte);
                    self.length = 0;
                    self.put(byte);
                    self.give(&mut whole);
                }
                0x00..=0x7F => {
                    let Some(status) = self.running else { continue };
                    if self.length == 0 {
                        self.put(status);
                    }
                    self.put(byte);
                    self.give(&mut whole);
                }
            }
        }
    }

    fn put(&mut self, byte: u8) {
        if let Some(place) = self.bytes.get_mut(self.length) {
            *place = byte;
        }
        // One past the end at most, so that an overlong message is known by its length.
        self.length = (self.length + 1).min(LONGEST + 1);
    }

    fn forget(&mut self) {
        self.running = None;
        self.length = 0;
    }

    /// Gives the message if it is complete by its status.
    fn give(&mut self, whole: &mut impl FnMut(&[u8])) {
        let Some(status) = self.running else { return };
        let wanted = match status {
            // Ends by a byte of its own.
            0xF0 => return,
            0x80..=0xBF | 0xE0..=0xEF | 0xF2 => 3,
            0xC0..=0xDF | 0xF1 | 0xF3 => 2,
            _ => 1,
        };
        if self.length < wanted {
            return;
        }
        whole(self.bytes.get(..wanted).unwrap_or_default());
        self.length = 0;
        // Only channel messages run on.
        if status >= 0xF0 {
            self.running = None;
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn fed(pieces: &[&[u8]]) -> Vec<Vec<u8>> {
        let mut assembler = Assembler::new();
        let mut got = Vec::new();
        for piece in pieces {
            assembler.feed(piece, |message| got.push(message.to_vec()));
        }
        got
    }

    #[test]
    fn running_status_is_spelled_out() {
        let got = fed(&[&[0x90, 60, 64, 62, 64], &[64], &[64, 0xC0, 5, 6]]);
        let expected: [&[u8]; 5] =
            [&[0x90, 60, 64], &[0x90, 62, 64], &[0x90, 64, 64], &[0xC0, 5], &[0xC0, 6]];
        assert_eq!(got, expected);
    }

    #[test]
    fn a_clock_inside_another_message_is_heard_first_and_harms_it_not() {
        let expected: [&[u8]; 2] = [&[0xF8], &[0xB0, 64, 127]];
        assert_eq!(fed(&[&[0xB0, 0xF8, 64, 127]]), expected);
        let expected: [&[u8]; 2] = [&[0xF8], &[0xF0, 1, 2, 0xF7]];
        assert_eq!(fed(&[&[0xF0, 1], &[0xF8, 2], &[0xF7]]), expected);
    }

    #[test]
    fn what_is_not_whole_is_dropped() {
        // Data without status, a note cut short by another message, an exclusive cut short, an end
        // without a beginning, data after a system message.
        let got = fed(&[
            &[1, 2],
            &[0x90, 60],
            &[0xF2, 8, 0, 7],
            &[0xF0, 1],
            &[0xFA],
            &[0x80, 1, 2, 0xF7],
        ]);
        let expected: [&[u8]; 3] = [&[0xF2, 8, 0], &[0xFA], &[0x80, 1, 2]];
        assert_eq!(got, expected);
    }

    #[test]
    fn an_overlong_exclusive_is_dropped_and_what_follows_is_not() {
        for (data, comes) in [(LONGEST - 2, true), (LONGEST - 1, false), (3000, false)] {
            let mut bytes = vec![0xF0];
            bytes.extend(vec![1; data]);
            bytes.extend([0xF7, 0xFE]);
            let got = fed(&[&bytes]);
            let long = got.iter().filter(|it| it.len() > 1).count();
            assert_eq!((long == 1, got.last().unwrap().as_slice()), (comes, [0xFE].as_slice()));
        }
    }

    proptest! {
        #[test]
        fn however_it_is_cut_up_the_same_comes_of_it(
            bytes in prop::collection::vec(prop_oneof![any::<u8>(), 0x80..=0xFFu8], 0..600),
            cut in 1..7usize,
        ) {
            let pieces: Vec<&[u8]> = bytes.chunks(cut).collect();
            let got = fed(&pieces);
            prop_assert_eq!(&got, &fed(&[&bytes]));
            for message in got {
                prop_assert!(message[0] >= 0x80);
                let end = usize::from(message[0] == 0xF0);
                prop_assert!(message[1..message.len() - end].iter().all(|&byte| byte < 0x80));
            }
        }
    }
}
