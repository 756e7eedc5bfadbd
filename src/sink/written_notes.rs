use crate::perform::Message;
use crate::theory::MidiNote;
use crate::time::Nanos;

/// No note sounds.
const SILENT: i64 = i64::MAX;

/// Every pitch of every channel.
const NOTES: usize = 16 * 128;

/// The notes that were written and not yet ended, with the times they were due to begin.
///
/// What is taken back should not have been written yet. On a machine so busy that it has been, the
/// note would sound on for ever, since its end was taken back too: so it is ended here.
pub(super) struct WrittenNotes {
    begun: Box<[i64; NOTES]>,
    /// Notes that begin at this time or later are to be ended.
    from: Option<Nanos>,
}

impl WrittenNotes {
    pub(super) fn new() -> Self {
        Self { begun: Box::new([SILENT; NOTES]), from: None }
    }

    fn entry(&mut self, channel: u8, pitch: MidiNote) -> &mut i64 {
        &mut self.begun[(usize::from(channel) * 128 + usize::from(pitch.get())) % NOTES]
    }

    /// A message has been written.
    pub(super) fn written(&mut self, due: Nanos, message: Message) {
        match message {
            Message::NoteOn { channel, pitch, .. } => *self.entry(channel, pitch) = due.0,
            Message::NoteOff { channel, pitch } => *self.entry(channel, pitch) = SILENT,
            Message::Control { .. } | Message::Program { .. } | Message::Sync(_) => {}
        }
    }

    /// What was due at `from` or later has been taken back.
    pub(super) fn condemn(&mut self, from: Nanos) {
        self.from = Some(self.from.map_or(from, |before| before.min(from)));
    }

    /// The end of a note that sounds although it was taken back; `None` if there is none.
    pub(super) fn condemned(&mut self) -> Option<Message> {
        let from = self.from?;
        let found = self.begun.iter().position(|&begun| begun != SILENT && begun >= from.0);
        let note = found.and_then(|index| {
            let (channel, pitch) =
                (u8::try_from(index / 128).ok()?, u8::try_from(index % 128).ok()?);
            Some(Message::NoteOff { channel, pitch: MidiNote::new(pitch)? })
        });
        if note.is_none() {
            self.from = None;
        }
        note
    }
}
