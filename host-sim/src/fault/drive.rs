//! Faults of feeders and their drives.

use super::{Fault, Lasts, Part, Parts, Usual, at_feeder, by_ratio, even, unit};
use crate::plant::FeederFault;
use crate::unit::UnitFault;

const USUAL: Usual = Usual {
    parts: Parts::Feeders,
    lasts: Lasts::ToTheEnd,
};

const fn of(parts: Parts, fault: Fault) -> Fault {
    fault.about(parts)
}

pub(super) const FAULTS: [Fault; 12] = [
    USUAL.fault(
        "A1",
        "contact welded on",
        "the feeder's own contact",
        |place| at_feeder(place, FeederFault::ContactWelded),
    ),
    USUAL.fault(
        "A2",
        "contact never closes",
        "the feeder's own contact",
        |place| at_feeder(place, FeederFault::NeverCloses),
    ),
    USUAL.fault(
        "A3",
        "goes off late",
        "the feeder's own contact, by 0.2 to 10 s",
        |place| {
            let late = by_ratio(place, 200.0, 10_000.0) as u32;
            at_feeder(place, FeederFault::LateOff(late))
        },
    ),
    USUAL.fault(
        "A4",
        "rate of twice the setting",
        "what the feeder gives: 1.5 to 2 times",
        |place| at_feeder(place, FeederFault::Rate(even(place, 1.5, 2.0))),
    ),
    USUAL.fault(
        "A5",
        "rate of half the setting",
        "what the feeder gives: 80 to 50 %",
        |place| at_feeder(place, FeederFault::Rate(even(place, 0.8, 0.5))),
    ),
    USUAL.fault(
        "A6",
        "feedback lies",
        "drive feedback: always off at 0 to 0.5, always on above",
        |place| {
            let Part::Feeder(at) = place.part else {
                return Err("it is about a feeder");
            };
            if !place.scenario.plant.feeders[at].feedback {
                return Err("no drive feedback");
            }
            at_feeder(
                place,
                if place.severity > 0.5 {
                    FeederFault::FeedbackStuckOn
                } else {
                    FeederFault::FeedbackStuckOff
                },
            )
        },
    ),
    of(
        Parts::Site,
        USUAL.fault(
            "A7",
            "drives of two feeders swapped",
            "the unit's first two outputs",
            |place| {
                if place.scenario.plant.feeders.len() < 2 {
                    return Err("one feeder");
                }
                unit(UnitFault::DrivesSwapped)
            },
        ),
    ),
    of(
        Parts::Liquids,
        USUAL.fault(
            "A8",
            "drips when off",
            "the injection valve, 5 to 100 mL/h",
            |place| at_feeder(place, FeederFault::Siphon(by_ratio(place, 5.0, 100.0))),
        ),
    ),
    of(
        Parts::Site,
        USUAL.fault("A9", "command comes late", "all outputs, by a tick", |_| {
            unit(UnitFault::CommandLate)
        }),
    ),
    of(
        Parts::Site,
        USUAL.fault(
            "A10",
            "pulses missed",
            "feeders' outputs: each 20th to 3rd tick",
            |place| unit(UnitFault::PulseMissed(even(place, 20.0, 3.0) as u32)),
        ),
    ),
    of(
        Parts::Cells,
        USUAL.fault(
            "A11",
            "cell dead, cold or short of salt",
            "what the cell makes",
            |place| {
                let share = even(place, 0.5, 0.0);
                at_feeder(
                    place,
                    if share > 0.05 {
                        FeederFault::Rate(share)
                    } else {
                        FeederFault::CellDead
                    },
                )
            },
        ),
    ),
    of(
        Parts::Liquids,
        USUAL.fault(
            "A12",
            "tube split",
            "what reaches the line: 40 to 0 %",
            |place| at_feeder(place, FeederFault::Rate(even(place, 0.4, 0.0))),
        ),
    ),
];
