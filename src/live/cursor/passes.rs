//! How often the band has come round.

/// Passes of the form and rounds of the loop, as they are counted.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Passes {
    /// The pass, counted from 0.
    pass: u32,
    /// The round, counted from 0.
    round: u32,
    /// True once a bar was played, the kickoff's not counted.
    begun: bool,
}

impl Passes {
    /// The pass that is played.
    pub const fn pass(&self) -> u32 {
        self.pass
    }

    /// The round that is played.
    pub const fn round(&self) -> u32 {
        self.round
    }

    /// True if a pass begins with the bar that comes: where the form says so, and with the very first.
    pub const fn begins(&self, in_form: bool) -> bool {
        !self.begun || in_form
    }

    /// The pass that would begin next.
    pub const fn next(&self) -> u32 {
        if self.begun { self.pass.saturating_add(1) } else { 0 }
    }

    /// The next pass begins.
    pub const fn begin(&mut self) {
        self.pass = self.next();
    }

    /// A bar of the form is played, or one of the kickoff.
    pub const fn play(&mut self, kickoff: bool) {
        self.begun = self.begun || !kickoff;
    }

    /// A round is over.
    pub const fn wrap(&mut self) {
        self.round = self.round.saturating_add(1);
    }

    /// Another loop: rounds are counted anew.
    pub const fn loop_anew(&mut self) {
        self.round = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_kickoff_is_no_pass() {
        let mut passes = Passes::default();
        for kickoff in [true, true, false] {
            assert!(passes.begins(false), "nothing was played yet");
            passes.begin();
            passes.play(kickoff);
            assert_eq!(passes.pass(), 0);
        }
        assert!(!passes.begins(false) && passes.begins(true));
        passes.begin();
        assert_eq!((passes.pass(), passes.next()), (1, 2));
    }

    #[test]
    fn rounds_are_those_of_one_loop() {
        let mut passes = Passes::default();
        passes.wrap();
        passes.wrap();
        assert_eq!(passes.round(), 2);
        passes.loop_anew();
        assert_eq!(passes.round(), 0);
    }
}
