/// What states and steps cost, and their sums.
pub trait Cost: Copy + PartialOrd {
    /// No cost.
    const NOTHING: Self;

    /// The sum of a way that does not exist: above all others.
    const NEVER: Self;

    /// The sum of both. What would be more than [`Self::NEVER`] is that, and so is what has it in it.
    #[must_use]
    fn plus(self, other: Self) -> Self;

    /// A sum without a part of it; [`Self::NEVER`] stays what it is.
    #[must_use]
    fn less(self, part: Self) -> Self;

    /// What is taken away from all sums of a layer of which this is the least, so that those of a long way need no more
    /// room than those of a short one: all of it. Of floating-point numbers, which have room for any, nothing: they would
    /// be rounded once more.
    #[must_use]
    fn shed(self) -> Self;
}

macro_rules! whole_numbers {
    ($($kind:ty),*) => {$(
        impl Cost for $kind {
            const NOTHING: Self = 0;
            const NEVER: Self = Self::MAX;

            #[inline]
            fn plus(self, other: Self) -> Self {
                self.saturating_add(other)
            }

            #[inline]
            fn less(self, part: Self) -> Self {
                if self == Self::NEVER { self } else { self.saturating_sub(part) }
            }

            #[inline]
            fn shed(self) -> Self {
                self
            }
        }
    )*};
}

whole_numbers!(u16, u32, i32);

impl Cost for f64 {
    const NOTHING: Self = 0.0;
    const NEVER: Self = Self::INFINITY;

    #[inline]
    fn plus(self, other: Self) -> Self {
        self + other
    }

    #[inline]
    fn less(self, part: Self) -> Self {
        self - part
    }

    #[inline]
    fn shed(self) -> Self {
        Self::NOTHING
    }
}
