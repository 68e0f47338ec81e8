//! A contact with a pull-in and a drop-out time, to the millisecond inside a step.
//!
//! Invariant: within one step a contact is closed for at most one unbroken [`Interval`].

/// Part of a step, in milliseconds from its start; empty when `start >= end`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Interval {
    pub(super) start: u32,
    pub(super) end: u32,
}

impl Interval {
    pub(super) const EMPTY: Self = Self { start: 0, end: 0 };

    pub(super) fn whole(dt_ms: u32) -> Self {
        Self {
            start: 0,
            end: dt_ms,
        }
    }

    pub(super) fn len(self) -> u32 {
        self.end.saturating_sub(self.start)
    }

    /// The time in both: two contacts in series.
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            start: self.start.max(other.start),
            end: self.end.min(other.end),
        }
    }
}

/// A contact that follows its command late.
#[derive(Clone, Debug, Default)]
pub(super) struct Relay {
    closed: bool,
    /// How long the command has differed from the contact, ms.
    pending_ms: u32,
}

impl Relay {
    /// One step in which the command is on for the first `on_ms` of `dt_ms` and off for the rest.
    pub(super) fn step(
        &mut self,
        on_ms: u32,
        dt_ms: u32,
        on_delay_ms: u32,
        off_delay_ms: u32,
    ) -> Interval {
        let on_ms = on_ms.min(dt_ms);
        if !self.closed {
            let start = on_delay_ms.saturating_sub(self.pending_ms);
            let commanded_to_the_end = on_ms == dt_ms;
            if start >= on_ms {
                let counts = on_ms > 0 && commanded_to_the_end;
                self.pending_ms = if counts { self.pending_ms + dt_ms } else { 0 };
                return Interval::EMPTY;
            }
            self.closed = true;
            self.pending_ms = 0;
            let end = self.drop_out(on_ms, dt_ms, off_delay_ms);
            return Interval { start, end };
        }
        if on_ms > 0 {
            self.pending_ms = 0;
        }
        Interval {
            start: 0,
            end: self.drop_out(on_ms, dt_ms, off_delay_ms),
        }
    }

    /// When a closed contact opens, its command going off at `on_ms`.
    fn drop_out(&mut self, on_ms: u32, dt_ms: u32, off_delay_ms: u32) -> u32 {
        if on_ms >= dt_ms {
            return dt_ms;
        }
        let left = off_delay_ms.saturating_sub(self.pending_ms);
        let end = on_ms.saturating_add(left);
        if end > dt_ms {
            self.pending_ms += dt_ms - on_ms;
            return dt_ms;
        }
        self.closed = false;
        self.pending_ms = 0;
        end
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pulls_in_and_drops_out_late() {
        let mut relay = Relay::default();
        assert_eq!(
            relay.step(1000, 1000, 30, 50),
            Interval {
                start: 30,
                end: 1000
            }
        );
        assert_eq!(relay.step(1000, 1000, 30, 50), Interval::whole(1000));
        assert_eq!(relay.step(0, 1000, 30, 50), Interval { start: 0, end: 50 });
        assert_eq!(relay.step(0, 1000, 30, 50).len(), 0);
    }

    #[test]
    fn cut_inside_a_step() {
        let mut relay = Relay::default();
        assert_eq!(
            relay.step(400, 1000, 30, 50),
            Interval {
                start: 30,
                end: 450
            }
        );
        assert_eq!(relay.step(0, 1000, 30, 50).len(), 0);
    }

    #[test]
    fn a_delay_longer_than_a_step_carries_over() {
        let mut relay = Relay::default();
        assert_eq!(relay.step(200, 200, 500, 500).len(), 0);
        assert_eq!(relay.step(200, 200, 500, 500).len(), 0);
        assert_eq!(
            relay.step(200, 200, 500, 500),
            Interval {
                start: 100,
                end: 200
            }
        );
        assert_eq!(relay.step(0, 200, 500, 500).len(), 200);
        assert_eq!(relay.step(0, 200, 500, 500).len(), 200);
        assert_eq!(relay.step(0, 200, 500, 500).len(), 100);
        assert_eq!(relay.step(0, 200, 500, 500).len(), 0);
    }

    #[test]
    fn a_pulse_shorter_than_the_pull_in_does_nothing() {
        let mut relay = Relay::default();
        assert_eq!(relay.step(20, 1000, 30, 50).len(), 0);
        assert_eq!(relay.step(20, 1000, 30, 50).len(), 0);
    }

    #[test]
    fn on_again_during_the_drop_out_never_opened() {
        let mut relay = Relay::default();
        relay.step(1000, 1000, 0, 1500);
        assert_eq!(relay.step(0, 1000, 0, 1500).len(), 1000);
        assert_eq!(relay.step(1000, 1000, 0, 1500).len(), 1000);
        // The drop-out starts anew.
        assert_eq!(relay.step(0, 1000, 0, 1500).len(), 1000);
        assert_eq!(relay.step(0, 1000, 0, 1500).len(), 500);
    }
}
