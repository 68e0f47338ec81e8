//! Reasons that keep a feeder from feeding and are no rules: the controller does not ask, so the guard has nothing to
//! refuse.
//!
//! Invariant: names and words are those of the crate `dosewarden`, as traces, `why` and displays have them.

use dosewarden::Obstacle;
use dosewarden::guard::units::Millis;
use serde::Serialize;

/// A reason that is no rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Reason {
    /// Its name in traces and on displays.
    #[serde(rename = "reason")]
    pub name: &'static str,
    /// In a few words.
    pub words: &'static str,
    /// When it stands.
    pub when: &'static str,
    /// What clears it.
    pub clears: &'static str,
}

/// Each with when it stands and what clears it.
fn own() -> [(Obstacle, &'static str, &'static str); 10] {
    let time = Millis(0);
    [
        (
            Obstacle::Disabled,
            "the limits leave the feeder out",
            "a person, who puts it into the limits",
        ),
        (
            Obstacle::NotAsked,
            "the regulator sees no need, or does not know the water; rules that stand besides would refuse it too",
            "the water, when it is away from its set point",
        ),
        (
            Obstacle::OtherHasTurn,
            "a product that must not meet this one is asked for and goes first, or is in its cycle",
            "the other's dose and a purge, or that nothing asks for it any more",
        ),
        (
            Obstacle::PumpStops(time),
            "by the timetable the circulation pump stops before a dose and the purge after it are over",
            "the pump's next run, or another timetable",
        ),
        (
            Obstacle::OutputFault,
            "the board says that the output of the drive or of the series contact does not follow",
            "a person, who mends it",
        ),
        (
            Obstacle::HandDose(time),
            "a person entered a dose by hand of the same product",
            "the rest of its flowing time",
        ),
        (
            Obstacle::HandDay(time),
            "doses by hand count against the day's cap, and it is used up",
            "the time until the latest of them is a day old",
        ),
        (
            Obstacle::GivenAway,
            "a person gave the pool to another board",
            "a technician, who takes it back",
        ),
        (
            Obstacle::WrongWay,
            "after several doses pH went the wrong way beyond doubt: another product in the drum, or a probe that is wrong",
            "a person, who puts it right and enters it: a refill after the drum and tube were emptied and rinsed, a catch test, or a buffer for the probe",
        ),
        (
            Obstacle::Unanswered,
            "several doses did not move pH, or nothing is proven since a product that did not: it may be hypochlorite, and the water has enough",
            "the water, once chlorine is asked for and inside its cut-off; for good three doses that pH answers: look at the drum",
        ),
    ]
}

/// All of them.
#[must_use]
pub fn reasons() -> Vec<Reason> {
    let reason = |(obstacle, when, clears): (Obstacle, &'static str, &'static str)| Reason {
        name: obstacle.name(),
        words: obstacle.words(),
        when,
        clears,
    };
    own().map(reason).to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::unit::OWN_REASONS;
    use dosewarden::guard::{Clear, Lockout, Rule};
    use std::collections::BTreeSet;

    /// A new kind of obstacle does not compile here before it is said whether it is a reason of its own.
    const fn is_own(obstacle: &Obstacle) -> bool {
        match obstacle {
            Obstacle::Rule(..) | Obstacle::Lockout(_) => false,
            Obstacle::Disabled
            | Obstacle::NotAsked
            | Obstacle::OtherHasTurn
            | Obstacle::PumpStops(_)
            | Obstacle::OutputFault
            | Obstacle::HandDose(_)
            | Obstacle::HandDay(_)
            | Obstacle::GivenAway
            | Obstacle::WrongWay
            | Obstacle::Unanswered => true,
        }
    }

    #[test]
    fn a_reason_is_no_rule_and_says_its_words_once() {
        let all = reasons();
        assert!(own().iter().all(|(obstacle, ..)| is_own(obstacle)));
        let others = Rule::ALL.map(|rule| Obstacle::Rule(rule, Clear::Person));
        let others = others
            .into_iter()
            .chain(Lockout::ALL.map(Obstacle::Lockout));
        let others: Vec<Obstacle> = others.collect();
        let taken = |part: fn(&Obstacle) -> &'static str| others.iter().map(part);
        let names = all.iter().map(|one| one.name).chain(taken(Obstacle::name));
        let words = all.iter().map(|one| one.words);
        let words = words.chain(taken(Obstacle::words));
        let words = words.chain(all.iter().flat_map(|one| [one.when, one.clears]));
        let count = all.len() + others.len();
        assert_eq!(names.collect::<BTreeSet<_>>().len(), count);
        let words: Vec<&str> = words.collect();
        assert!(words.iter().all(|text| text.len() > 8), "{words:?}");
        let apart: BTreeSet<&&str> = words.iter().collect();
        assert_eq!(apart.len(), count + 2 * all.len(), "said twice");
        // Each that a trace can name; lockouts go by their alarms.
        let names: Vec<&str> = all.iter().map(|one| one.name).collect();
        let of_traces = OWN_REASONS.iter().find(|name| !names.contains(name));
        assert_eq!(of_traces, None, "a trace names what has no page");
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
                "wrong_way",
                "unanswered"
            ]
        );
    }

    /// What clears a reason is said by the same one who clears it on the display: a person, time, flow, the water.
    #[test]
    fn what_clears_a_reason_is_what_the_display_says() {
        for (obstacle, when, clears) in own() {
            let is_person =
                clears.starts_with("a person, ") || clears.starts_with("a technician, ");
            let who = match obstacle.clears() {
                Clear::Person => is_person,
                Clear::Charge | Clear::WaterInside => clears.starts_with("the water, "),
                Clear::TurnPasses => clears.starts_with("the other's dose"),
                Clear::FlowThen(_) => clears.starts_with("the pump's next run"),
                Clear::AfterFlow(_) => clears == "the rest of its flowing time",
                Clear::After(_) => clears.starts_with("the time until"),
                other => panic!("{when}: {other:?} is not said"),
            };
            assert!(who, "{}: {clears}", obstacle.name());
            assert_eq!(is_person, obstacle.clears() == Clear::Person, "{clears}");
        }
    }
}
