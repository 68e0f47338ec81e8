//! `power_on_delay`: probes and water have had time since power-on
//!
//! Hazard: H-09, H-12
//! Statement: `power_on_delay` has passed since power-on; `power_on_delay_new_probe` once a person has said that a probe is new
//! Source: common practice, no source
//! Clears: hold; after the rest of the delay
//! Parameters: power_on_delay, power_on_delay_new_probe

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Holds until `powered` reaches `delay`.
pub(super) fn judge(powered: Millis, delay: Millis) -> Answer {
    let rest = Millis(delay.0.saturating_sub(powered.0));
    Answer::hold_unless(rest.0 == 0, Clear::After(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn holds_until_the_delay_has_passed() {
        assert_eq!(
            judge(Millis(59), Millis(60)),
            Answer::hold(Clear::After(Millis(1)))
        );
        assert_eq!(judge(Millis(60), Millis(60)), Answer::ALLOW);
    }
}
