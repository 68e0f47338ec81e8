//! Faults of clocks.

use super::{Fault, Lasts, Parts, Usual, even, inside, unit};
use crate::unit::{InsideFault, UnitFault};

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::ToTheEnd,
};

pub(super) const FAULTS: [Fault; 7] = [
    USUAL.fault(
        "L1",
        "clock jumps ahead",
        "the clock, by 10 min to 12 h",
        |place| unit(UnitFault::ClockAhead(even(place, 10.0, 720.0) as i32)),
    ),
    USUAL.fault(
        "L2",
        "clock jumps back",
        "the clock, by 10 min to 12 h",
        |place| unit(UnitFault::ClockAhead(-even(place, 10.0, 720.0) as i32)),
    ),
    USUAL.fault(
        "L3",
        "daylight saving",
        "the clock, an hour ahead, or back above 0.5",
        |place| {
            unit(UnitFault::ClockAhead(if place.severity > 0.5 {
                -60
            } else {
                60
            }))
        },
    ),
    USUAL.fault("L4", "clock unknown", "the clock", |_| {
        unit(UnitFault::ClockUnknown)
    }),
    Fault {
        lasts: Lasts::Once,
        ..USUAL.fault(
            "L5",
            "counter of 32 bits wraps",
            "the unit's time, 1 s to 10 min ahead",
            |place| {
                inside(InsideFault::CounterNearEnd(
                    even(place, 600_000.0, 1_000.0) as u32
                ))
            },
        )
    },
    USUAL.fault(
        "L6",
        "clock fast or slow",
        "the unit's time: 0.5 to 1.5 of true time",
        |place| unit(UnitFault::CounterRate(even(place, 0.5, 1.5))),
    ),
    USUAL.fault("L7", "clock frozen", "the clock", |_| {
        unit(UnitFault::ClockFrozen)
    }),
];
