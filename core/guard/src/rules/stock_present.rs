//! `stock_present`: there is product to feed
//!
//! Hazard: H-05, H-16
//! Statement: the level switch, if fitted, is fresh and sees product
//! Source: common practice, no source
//! Clears: hold; the drum is filled
//! Parameters: feeder.level_switch, witness_age_max

use crate::answer::{Answer, Clear};

/// Holds while the level switch does not see product. A site without one says so in its limits.
pub(super) const fn judge(stock: bool) -> Answer {
    Answer::hold_unless(stock, Clear::Refill)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_drum_holds() {
        assert_eq!(judge(true), Answer::ALLOW);
        assert_eq!(judge(false), Answer::hold(Clear::Refill));
    }
}
