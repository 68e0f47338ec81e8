//! `body_known`: it is known which body the product goes to
//!
//! Hazard: H-07
//! Statement: the valves say which body they select, freshly and steadily
//! Source: common practice, no source
//! Clears: hold; the position is known and steady
//! Parameters: body_valves, witness_age_max

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Holds unless the body is known and has been for `steady_min` (`None`: one body, no valves).
pub(super) fn judge(steady_min: Option<Millis>, known: bool, steady: Millis) -> Answer {
    let Some(steady_min) = steady_min else {
        return Answer::ALLOW;
    };
    if !known {
        return Answer::hold(Clear::ValvesThen(steady_min));
    }
    let rest = Millis(steady_min.0.saturating_sub(steady.0));
    Answer::hold_unless(rest.0 == 0, Clear::After(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_or_moving_valve_holds() {
        let min = Some(Millis(30));
        assert_eq!(judge(min, true, Millis(30)), Answer::ALLOW);
        assert_eq!(
            judge(min, true, Millis(29)),
            Answer::hold(Clear::After(Millis(1)))
        );
        assert_eq!(
            judge(min, false, Millis(30)),
            Answer::hold(Clear::ValvesThen(Millis(30)))
        );
        assert_eq!(judge(None, false, Millis(0)), Answer::ALLOW);
    }
}
