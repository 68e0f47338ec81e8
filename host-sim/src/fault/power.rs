//! Faults of the supply.

use super::{Fault, Injection, Lasts, Parts, Step, Usual, acts, even, later, step};
use crate::scenario::clock::DAY_MS;
use crate::scenario::{Act, Scenario, Supply, Trigger};
use crate::unit::InsideFault;

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::Once,
};

const fn cut(supply: Supply, for_ms: u64) -> Act {
    Act::PowerCut { supply, for_ms }
}

pub(super) const FAULTS: [Fault; 6] = [
    USUAL.fault("P1", "power cut", "all, for 2 s to 10 min", |place| {
        let for_ms = super::by_ratio(place, 2_000.0, 600_000.0) as u64;
        acts([step(cut(Supply::All, for_ms))], Vec::new())
    }),
    USUAL.fault(
        "P2",
        "brown-out loop",
        "the unit: 200 resets, 4 to 40 s apart",
        |place| {
            let every = even(place, 40_000.0, 4_000.0) as u64;
            let steps = (0..200).map(|n| later(n * every, cut(Supply::Controller, 1_000)));
            Ok(Injection {
                steps: steps.collect(),
                ..Injection::default()
            })
        },
    ),
    USUAL.fault(
        "P3",
        "the pump restarts before the unit",
        "all; the unit 5 to 120 s after",
        |place| {
            let more = even(place, 5_000.0, 120_000.0) as u64;
            acts(
                [
                    step(cut(Supply::All, 10_000)),
                    step(cut(Supply::Controller, 10_000 + more)),
                ],
                Vec::new(),
            )
        },
    ),
    USUAL.fault(
        "P4",
        "unit alive, supply of pump and feeders off",
        "10 min to 6 h",
        |place| {
            let for_ms = super::by_ratio(place, 600_000.0, 21_600_000.0) as u64;
            acts([step(cut(Supply::Pump, for_ms))], Vec::new())
        },
    ),
    USUAL.fault(
        "P5",
        "cut during a write of the record",
        "all, in the first dose",
        |_| {
            let trigger = Some(Trigger {
                feeder: 0,
                for_ms: 1_000,
            });
            let tear = Step {
                trigger,
                ..step(Act::Inside(InsideFault::TearNextWrite))
            };
            let cut = Step {
                trigger,
                ..step(cut(Supply::All, 5_000))
            };
            acts([tear, cut], Vec::new())
        },
    ),
    USUAL.fault(
        "P6",
        "power only while the circulation pump runs",
        "the unit, each night",
        |place| {
            let nights = nights(place.scenario)?;
            let steps = (0..u64::from(place.scenario.days.max(1)) + 1).flat_map(|day| {
                let nights = nights.clone();
                nights
                    .into_iter()
                    .map(move |(from_ms, for_ms)| (day * DAY_MS + from_ms, for_ms))
            });
            Ok(Injection {
                steps: steps
                    // What is left of the night that is under way, and all later ones.
                    .filter(|(at_ms, for_ms)| at_ms + for_ms > place.at_ms)
                    .map(|(at_ms, for_ms)| {
                        let from_ms = at_ms.max(place.at_ms);
                        let left_ms = at_ms + for_ms - from_ms;
                        let cut = cut(Supply::Controller, left_ms);
                        later(from_ms - place.at_ms, cut)
                    })
                    .collect(),
                ..Injection::default()
            })
        },
    ),
];

/// When the pump stands: from which ms of the day, and for how long.
fn nights(scenario: &Scenario) -> Result<Vec<(u64, u64)>, &'static str> {
    let mut windows = scenario.plant.circulation.timetable.clone();
    windows.sort_by_key(|window| window.from_min);
    let minute = |m: u16| u64::from(m) * 60_000;
    let mut nights = Vec::new();
    for (at, window) in windows.iter().enumerate() {
        let next = windows
            .get(at + 1)
            .or(windows.first())
            .map_or(0, |w| w.from_min);
        let from = minute(window.to_min % 1440);
        let to = minute(next);
        let for_ms = (to + DAY_MS - from) % DAY_MS;
        if for_ms > 0 && window.from_min != window.to_min {
            nights.push((from, for_ms));
        }
    }
    if nights.is_empty() {
        return Err("the pump runs day and night");
    }
    Ok(nights)
}
