//! `probe_settled`: the probe sees water of the pool, not of the pipe
//!
//! Hazard: H-12, H-03, H-04
//! Statement: water has moved past the probe for `probe_settle`; delays run side by side
//! Source: common practice, no source
//! Clears: hold; after the rest of the flowing time
//! Parameters: probe_settle

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Holds until water has moved past the probe for `probe_settle`. Waived in manual and fallback,
/// and where no probe governs.
pub(super) fn judge(waived: bool, flow: bool, settled: Millis, probe_settle: Millis) -> Answer {
    let rest = Millis(probe_settle.0.saturating_sub(settled.0));
    let clear = if flow {
        Clear::AfterFlow(rest)
    } else {
        Clear::FlowThen(rest)
    };
    Answer::hold_unless(waived || rest.0 == 0, clear)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stale_water_at_the_probe_is_waited_for() {
        let settle = Millis(300);
        assert_eq!(judge(false, true, Millis(300), settle), Answer::ALLOW);
        assert_eq!(
            judge(false, true, Millis(299), settle),
            Answer::hold(Clear::AfterFlow(Millis(1)))
        );
        assert_eq!(
            judge(false, false, Millis(0), settle),
            Answer::hold(Clear::FlowThen(Millis(300)))
        );
        assert_eq!(judge(true, false, Millis(0), settle), Answer::ALLOW);
    }
}
