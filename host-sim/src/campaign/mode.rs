//! What a campaign tries.

/// What is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Each fault, with a reset at each tick of one dose.
    Single,
    /// Each pair of faults, with a reset at a tick drawn from the seed.
    Pairs,
    /// One to four faults at any time of a day.
    Random,
}

impl Mode {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Single => "single",
            Self::Pairs => "pairs",
            Self::Random => "random",
        }
    }
}
