/// The lowest rate of a take, in frames a second: below, a banjo's attack is not there to be heard.
pub const SLOWEST_TAKE: u32 = 8_000;

/// The highest rate of a take, in frames a second: sound cards go no higher.
pub const FASTEST_TAKE: u32 = 192_000;

/// The longest take, in hours: a rehearsal. More would take a gigabyte to hear.
pub const MOST_HOURS: u64 = 3;
