use crate::arrange::Arrangement;
use crate::perform::Performance;

/// A performance laid out bar by bar, so that it can be played from any bar, in any order.
#[derive(Debug)]
pub struct Score {
    id: u32,
}

impl Score {
    /// Of an arrangement and its performance. `id` tells it from other scores of the session.
    pub fn new(id: u32, arrangement: &Arrangement, performance: &Performance) -> Self {
        let _ = (arrangement, performance);
        Self { id }
    }

    /// Its number.
    pub const fn id(&self) -> u32 {
        self.id
    }
}
