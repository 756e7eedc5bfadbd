/// What turns a performance into samples: the band's own synthesizer or a soundfont's.
///
/// Once made, it neither allocates nor locks, so that it may run in a sound device's callback.
pub trait Renderer: Send {
    /// Fills both slices with the next frames, silence once the end is past. If their lengths
    /// differ, the longer one's rest is silence.
    fn render(&mut self, left: &mut [f32], right: &mut [f32]);

    /// Frames a second.
    fn sample_rate(&self) -> u32;

    /// The next frame to be rendered, from 0.
    fn position_frames(&self) -> u64;

    /// Frames from the start to the end of the song and of what still rings then.
    fn total_frames(&self) -> u64;

    /// True once nothing but silence will come: the end is past, or all has been damped.
    fn finished(&self) -> bool;

    /// Damps everything as a flat hand would: silence within about 30 ms.
    fn silence(&mut self);
}
