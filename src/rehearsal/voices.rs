use super::Rehearsal;
use crate::chart::Role;
use crate::perform::{Instrument, Performance};
use crate::synth::{Synth, make_up};

/// What the band's sound hangs on beside the notes: who may play which instrument, and how much louder
/// it all is made.
#[derive(Clone, Debug)]
pub struct Voices {
    instruments: Vec<(Role, Instrument)>,
    gain: f32,
}

impl Voices {
    /// The band's own sound of a performance, at so many frames a second.
    pub fn synth(&self, performance: &Performance, sample_rate: u32) -> Synth {
        Synth::new(performance, sample_rate).at_gain(self.gain)
    }

    /// The band's own sound, to be played live.
    pub fn live(&self, sample_rate: u32) -> Synth {
        Synth::live(&self.instruments, sample_rate).at_gain(self.gain)
    }
}

impl Rehearsal {
    /// How it will sound, whatever is played of it. Song, style, line-up and seed say so alone: key, tempo,
    /// speed and who sits out change nothing, so that a change of these while the band plays is no leap in
    /// loudness, and a song sounds in a file as it does live.
    pub fn voices(&self) -> Voices {
        let line_up = self.line_up().unwrap_or(self.song().band);
        let parts = self.style().parts.iter().filter(|(role, _)| line_up.contains(*role));
        let instruments = parts.map(|(role, part)| (*role, part.instrument)).collect();
        // What can't be played is told of where it is to be played.
        let all = self.as_written();
        let all = all.whole().ok().and_then(|whole| all.perform(whole).ok());
        Voices { instruments, gain: all.map_or(1.0, |all| make_up(&all.performance)) }
    }
}
