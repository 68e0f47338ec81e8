//! What stands in the way as a word of a trace, and back.

use dosewarden::guard::units::Millis;
use dosewarden::guard::{Clear, Lockout, Rule};
use dosewarden::{Obstacle, Phase};

/// Each way to clear, by its name; those with a time carry one that stands for any.
const CLEARS: [(&str, Clear); 20] = [
    ("nothing", Clear::Nothing),
    ("after", Clear::After(Millis(0))),
    ("after_flow", Clear::AfterFlow(Millis(0))),
    ("flow_then", Clear::FlowThen(Millis(0))),
    ("probe_trusted", Clear::ProbeTrusted),
    ("water_inside", Clear::WaterInside),
    ("valves_then", Clear::ValvesThen(Millis(0))),
    ("cycle_ends", Clear::CycleEnds),
    ("charge", Clear::Charge),
    ("saved", Clear::Saved),
    ("person", Clear::Person),
    ("inhibit_ends", Clear::InhibitEnds),
    ("hours_open", Clear::HoursOpen(Millis(0))),
    ("clock_known", Clear::ClockKnown),
    ("refill", Clear::Refill),
    ("other_off_then", Clear::OtherOffThen(Millis(0))),
    ("turn_passes", Clear::TurnPasses),
    ("feedback_known", Clear::FeedbackKnown),
    ("button", Clear::Button),
    ("next_tick", Clear::NextTick),
];

/// The same with another time; `None` where it has none.
const fn timed(clear: Clear, time: Millis) -> Option<Clear> {
    Some(match clear {
        Clear::After(_) => Clear::After(time),
        Clear::AfterFlow(_) => Clear::AfterFlow(time),
        Clear::FlowThen(_) => Clear::FlowThen(time),
        Clear::ValvesThen(_) => Clear::ValvesThen(time),
        Clear::HoursOpen(_) => Clear::HoursOpen(time),
        Clear::OtherOffThen(_) => Clear::OtherOffThen(time),
        _ => return None,
    })
}

const fn time_of(clear: Clear) -> Option<Millis> {
    match clear {
        Clear::After(time)
        | Clear::AfterFlow(time)
        | Clear::FlowThen(time)
        | Clear::ValvesThen(time)
        | Clear::HoursOpen(time)
        | Clear::OtherOffThen(time) => Some(time),
        _ => None,
    }
}

/// The name of a way to clear.
pub(super) fn clear_name(clear: Clear) -> &'static str {
    let same = |of: Clear| core::mem::discriminant(&of) == core::mem::discriminant(&clear);
    let found = CLEARS.iter().find(|(_, of)| same(*of));
    found.map_or("nothing", |(name, _)| *name)
}

/// Seconds until it clears, where that is a time, rounded up.
pub(super) fn clear_s(clear: Clear) -> Option<u32> {
    time_of(clear).map(|time| time.0.div_ceil(1000))
}

fn token(obstacle: &Obstacle) -> String {
    let clear = obstacle.clears();
    let (name, how) = (obstacle.name(), clear_name(clear));
    match clear_s(clear) {
        Some(seconds) => format!("{name}={how}:{seconds}"),
        None => format!("{name}={how}"),
    }
}

/// What stands in the way, for a field of a trace.
pub(crate) fn tokens(obstacles: &[Obstacle]) -> String {
    let all: Vec<String> = obstacles.iter().map(token).collect();
    all.join(" ")
}

/// What a token says; `None`: it says nothing that this program knows.
pub(super) fn read(token: &str) -> Option<Obstacle> {
    let (name, how) = token.split_once('=')?;
    let clear = match how.split_once(':') {
        None => {
            let clear = CLEARS.iter().find(|(word, _)| *word == how)?.1;
            time_of(clear).is_none().then_some(clear)?
        }
        Some((word, seconds)) => {
            let clear = CLEARS.iter().find(|(name, _)| *name == word)?.1;
            let seconds: u32 = seconds.parse().ok()?;
            timed(clear, Millis(seconds.checked_mul(1000)?))?
        }
    };
    let time = time_of(clear).unwrap_or(Millis(0));
    let own = [
        Obstacle::Disabled,
        Obstacle::NotAsked,
        Obstacle::OtherHasTurn,
        Obstacle::PumpStops(Millis(0)),
        Obstacle::OutputFault,
        Obstacle::HandDose(time),
        Obstacle::HandDay(time),
        Obstacle::GivenAway,
        Obstacle::WrongWay,
        Obstacle::Unanswered,
    ];
    let lockouts = Lockout::ALL.into_iter().map(Obstacle::Lockout);
    let rules = Rule::ALL
        .into_iter()
        .map(|rule| Obstacle::Rule(rule, clear));
    let mut all = rules.chain(lockouts).chain(own);
    all.find(|obstacle| obstacle.name() == name && obstacle.clears() == clear)
}

/// The names of all phases.
pub(super) const PHASES: [&str; 9] = [
    Phase::Starting.name(),
    Phase::AwaitingFlow.name(),
    Phase::Settling.name(),
    Phase::NotAsked.name(),
    Phase::Feeding.name(),
    Phase::Spreading.name(),
    Phase::Refused(Rule::NoLockout).name(),
    Phase::LockedOut(Rule::NoLockout).name(),
    Phase::Disabled.name(),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back() {
        let time = Millis(95_000);
        let mut all = vec![
            Obstacle::Disabled,
            Obstacle::NotAsked,
            Obstacle::OtherHasTurn,
            Obstacle::PumpStops(Millis(0)),
            Obstacle::OutputFault,
            Obstacle::HandDose(time),
            Obstacle::HandDay(time),
            Obstacle::GivenAway,
            Obstacle::WrongWay,
            Obstacle::Unanswered,
        ];
        all.extend(Lockout::ALL.map(Obstacle::Lockout));
        for (_, clear) in CLEARS {
            let clear = timed(clear, time).unwrap_or(clear);
            all.extend(Rule::ALL.map(|rule| Obstacle::Rule(rule, clear)));
        }
        for obstacle in all {
            assert_eq!(read(&token(&obstacle)), Some(obstacle), "{obstacle:?}");
        }
        let two = [
            Obstacle::NotAsked,
            Obstacle::Rule(Rule::HourCap, Clear::After(time)),
        ];
        assert_eq!(tokens(&two), "not_asked=charge hour_cap=after:95");
    }

    #[test]
    fn a_word_that_is_none_is_told() {
        for word in [
            "",
            "hour_cap",
            "hour_cap=",
            "hour_cap=later",
            "hour_cap=after",
            "hour_cap=after:-1",
            "hour_cap=after:4294968",
            "hour_cap=person:5",
            "no_cap=person",
            "not_asked=person",
            "locked_probe=after:5",
        ] {
            assert_eq!(read(word), None, "{word}");
        }
    }
}
