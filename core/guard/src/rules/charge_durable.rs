//! `charge_durable`: a power cut would not forget this dose
//!
//! Hazard: H-09, H-10, H-11
//! Statement: the charge of this cycle was read back from both records before the first drop
//! Source: common practice, no source
//! Clears: hold; the record is confirmed
//! Parameters: save_max

use crate::answer::{Answer, Clear};
use crate::state::CycleStage;

/// Holds unless the cycle's charge is confirmed durable.
pub(super) const fn judge(stage: CycleStage) -> Answer {
    match stage {
        CycleStage::Open => Answer::ALLOW,
        CycleStage::Pending => Answer::hold(Clear::Saved),
        CycleStage::Closing => Answer::hold(Clear::CycleEnds),
        CycleStage::Idle => Answer::hold(Clear::Charge),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_runs_before_its_charge_is_durable() {
        assert_eq!(judge(CycleStage::Open), Answer::ALLOW);
        assert_eq!(judge(CycleStage::Pending), Answer::hold(Clear::Saved));
        assert!(judge(CycleStage::Closing).refuses && judge(CycleStage::Idle).refuses);
    }
}
