//! Reasons that keep a feeder from feeding and are no rules: the controller does not ask, so the guard has nothing to
//! refuse.
//!
//! Invariant: names and words are those of the crate `dosewarden`, as traces, `why` and displays have them.

use dosewarden::Obstacle;
use dosewarden::guard::units::Millis;
use serde::Serialize;

/// A reason that is no rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Reason {
    /// Its name in traces and on displays.
    pub name: &'static str,
    /// In a few words.
    pub words: &'static str,
    /// When it stands.
    pub when: &'static str,
    /// What clears it.
    pub clears: &'static str,
}

fn reason(obstacle: Obstacle, when: &'static str, clears: &'static str) -> Reason {
    Reason {
        name: obstacle.name(),
        words: obstacle.words(),
        when,
        clears,
    }
}

/// All of them.
#[must_use]
pub fn reasons() -> Vec<Reason> {
    let time = Millis(0);
    vec![
        reason(
            Obstacle::Disabled,
            "the limits leave the feeder out",
            "a person, who puts it into the limits",
        ),
        reason(
            Obstacle::NotAsked,
            "the regulator sees no need, or does not know the water; rules that stand besides would refuse it too",
            "the water, when it is away from its set point",
        ),
        reason(
            Obstacle::OtherHasTurn,
            "a product that must not meet this one is asked for and goes first, or is in its cycle",
            "the other's dose and a purge, or that nothing asks for it any more",
        ),
        reason(
            Obstacle::PumpStops(time),
            "by the timetable the circulation pump stops before a dose and the purge after it are over",
            "the pump's next run, or another timetable",
        ),
        reason(
            Obstacle::OutputFault,
            "the board says that the output of the drive or of the series contact does not follow",
            "a person, who mends it",
        ),
        reason(
            Obstacle::HandDose(time),
            "a person entered a dose by hand of the same product",
            "the rest of its flowing time",
        ),
        reason(
            Obstacle::HandDay(time),
            "doses by hand count against the day's cap, and it is used up",
            "the time until the latest of them is a day old",
        ),
        reason(
            Obstacle::GivenAway,
            "a person gave the pool to another board",
            "a technician, who takes it back",
        ),
        reason(
            Obstacle::WrongWay,
            "after several doses pH went the wrong way beyond doubt: another product in the drum, or a probe that is wrong",
            "a person, who puts it right and enters it: a refill after the drum and tube were emptied and rinsed, a catch test, or a buffer for the probe",
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use dosewarden::guard::{Clear, Rule};

    #[test]
    fn a_reason_is_no_rule_and_says_its_words_once() {
        let all = reasons();
        for one in &all {
            assert!(Rule::ALL.iter().all(|rule| rule.name() != one.name));
            assert!(!one.when.is_empty() && !one.clears.is_empty());
            assert_ne!(
                one.words,
                Obstacle::Rule(Rule::DayCap, Clear::Person).words()
            );
        }
        let names: Vec<&str> = all.iter().map(|one| one.name).collect();
        // Each that a trace can name; lockouts go by their alarms.
        assert_eq!(
            names,
            [
                "disabled",
                "not_asked",
                "other_has_turn",
                "pump_stops",
                "output_fault",
                "hand_dose",
                "hand_day",
                "given_away",
                "wrong_way"
            ]
        );
    }
}
