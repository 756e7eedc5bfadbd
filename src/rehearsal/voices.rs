use super::Rehearsal;
use crate::chart::Role;
use crate::perform::{Instrument, Performance};
use crate::synth::{Room, Synth, make_up};

/// What the band's sound hangs on beside the notes: who may play which instrument, in the line-up or called in
/// later, and how much louder it all is made.
#[derive(Clone, Debug)]
pub struct Voices {
    instruments: Vec<(Role, Instrument)>,
    gain: f32,
    room: Room,
}

impl Voices {
    /// The same in that room; the [`Room::Parlor`] without it.
    #[must_use]
    pub fn in_room(self, room: Room) -> Self {
        Self { room, ..self }
    }

    /// The band's own sound of a performance, at so many frames a second.
    pub fn synth(&self, performance: &Performance, sample_rate: u32) -> Synth {
        Synth::new(performance, sample_rate).in_room(self.room).at_gain(self.gain)
    }

    /// Each player of a performance alone, by name, and whoever clicks if somebody does: as loud as in the band, in
    /// the same room, frame by frame beside it, and before the limiter. Together they are the band.
    pub fn stems(&self, performance: &Performance, sample_rate: u32) -> Vec<(&'static str, Synth)> {
        let alone = |parts, clicks| {
            let performance = Performance { parts, clicks, ..performance.clone() };
            self.synth(&performance, sample_rate).unlimited()
        };
        let parts = performance.parts.iter().filter(|part| !part.notes.is_empty());
        let mut stems: Vec<_> =
            parts.map(|part| (part.role.as_str(), alone(vec![part.clone()], Vec::new()))).collect();
        if !performance.clicks.is_empty() {
            stems.push(("clicks", alone(Vec::new(), performance.clicks.clone())));
        }
        stems
    }

    /// The band's own sound, to be played live.
    pub fn live(&self, sample_rate: u32) -> Synth {
        Synth::live(&self.instruments, sample_rate).in_room(self.room).at_gain(self.gain)
    }
}

impl Rehearsal {
    /// How it will sound, whatever is played of it. Song, style, line-up and seed say so alone: key, tempo,
    /// speed and who sits out change nothing, so that a change of these while the band plays is no leap in
    /// loudness, and a song sounds in a file as it does live.
    pub fn voices(&self) -> Voices {
        let parts = self.style().parts.iter();
        let instruments = parts.map(|(role, part)| (*role, part.instrument)).collect();
        // What can't be played is told of where it is to be played.
        let all = self.as_written();
        let all = all.whole().ok().and_then(|whole| all.perform(whole).ok());
        let gain = all.map_or(1.0, |all| make_up(&all.performance));
        Voices { instruments, gain, room: Room::Parlor }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Shipped, Wishes};
    use super::*;
    use crate::practice::SitOutRule;
    use crate::theory::Key;

    #[test]
    fn key_speed_and_open_chairs_are_no_leap_in_loudness() {
        let source = Shipped::song("one-plank-short").unwrap();
        let voices = |wishes| Rehearsal::read(&source, &Shipped, wishes).unwrap().voices();
        let plain = voices(Wishes::default());
        let asked = voices(Wishes {
            key: Key::parse("D").ok(),
            speed: 60.0,
            sit_out: vec![SitOutRule::parse("bass").unwrap()],
            count_in: 2,
            ..Wishes::default()
        });
        assert_eq!((plain.gain, &plain.instruments), (asked.gain, &asked.instruments));
        let alone = voices(Wishes { band: vec![Role::Bass], ..Wishes::default() });
        assert!(alone.gain > plain.gain);
        // Whoever the style has a part for can be called in, so has a voice.
        assert_eq!(alone.instruments, plain.instruments);
        assert!(alone.instruments.iter().any(|(role, _)| *role == Role::Fiddle));
    }
}
