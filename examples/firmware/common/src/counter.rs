//! Milliseconds from a hardware counter that runs free, up or down, at any width.

/// Adds up what a counter has moved since it was last looked at. It has to be looked at more often than
/// the counter comes round.
#[derive(Clone, Copy, Debug)]
pub struct Millis {
    seen: u32,
    rest: u32,
    ms: u32,
}

impl Millis {
    /// From a counter that shows this.
    #[must_use]
    pub const fn from(seen: u32) -> Self {
        Self {
            seen,
            rest: 0,
            ms: 0,
        }
    }

    /// The counter counts up and shows this; `mask` has a one for each of its bits, and it counts
    /// `a_ms` in a millisecond. Gives the milliseconds since the start, rounded down; they wrap.
    pub const fn up(&mut self, shows: u32, mask: u32, a_ms: u32) -> u32 {
        let moved = shows.wrapping_sub(self.seen) & mask;
        self.add(shows, moved, a_ms)
    }

    /// As [`Millis::up`], for a counter that counts down.
    pub const fn down(&mut self, shows: u32, mask: u32, a_ms: u32) -> u32 {
        let moved = self.seen.wrapping_sub(shows) & mask;
        self.add(shows, moved, a_ms)
    }

    /// What the counter showed when it was last looked at.
    #[must_use]
    pub const fn shows(&self) -> u32 {
        self.seen
    }

    /// Counts until the milliseconds next reach a multiple of `step_ms`: at least 1.
    #[must_use]
    pub const fn until(&self, step_ms: u32, a_ms: u32) -> u32 {
        let into = match self.ms.checked_rem(step_ms) {
            Some(into) => into,
            None => 0,
        };
        let left = step_ms.saturating_sub(into).saturating_mul(a_ms);
        let left = left.saturating_sub(self.rest);
        if left == 0 { 1 } else { left }
    }

    const fn add(&mut self, shows: u32, moved: u32, a_ms: u32) -> u32 {
        self.seen = shows;
        // The rest is less than a millisecond: this saturates only if the counter came all the way
        // round.
        let moved = self.rest.saturating_add(moved);
        if let (Some(whole), Some(rest)) = (moved.checked_div(a_ms), moved.checked_rem(a_ms)) {
            self.ms = self.ms.wrapping_add(whole);
            self.rest = rest;
        }
        self.ms
    }
}
