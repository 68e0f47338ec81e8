//! How long the water has stood.

use crate::oracle::Seen;

/// Water that stands when a run begins has stood for longer than any bound, ms.
const BEFORE_THE_START_MS: u64 = 3_600_000;

/// Time since flow was lost.
#[derive(Clone, Debug)]
pub(in crate::oracle) struct Standing {
    stood_ms: u64,
}

impl Default for Standing {
    fn default() -> Self {
        Self {
            stood_ms: BEFORE_THE_START_MS,
        }
    }
}

impl Standing {
    /// Takes in a step; gives how long the water had stood when the step began, or `None` if it
    /// moved. Flow that is lost within a step counts as lost at its start.
    pub(in crate::oracle) fn step(&mut self, seen: &Seen<'_>) -> Option<u64> {
        if seen.truth.water_moving {
            self.stood_ms = 0;
            return None;
        }
        let before = self.stood_ms;
        self.stood_ms += seen.dt_ms();
        Some(before)
    }
}
