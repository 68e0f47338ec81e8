//! Faults of what is kept without power: of the guard's record, and of the record of what persons did
//! and found, both alike. Each is followed by a loss of the unit's power, so that it is read.

use super::{Fault, Injection, Lasts, Parts, Usual, acts, later, step};
use crate::scenario::{Act, Supply};
use crate::unit::InsideFault;

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::Once,
};

const RESTART: Act = Act::PowerCut {
    supply: Supply::Controller,
    for_ms: 5_000,
};

fn and_restart(fault: InsideFault) -> Result<Injection, &'static str> {
    acts([step(Act::Inside(fault)), step(RESTART)], Vec::new())
}

pub(super) const FAULTS: [Fault; 7] = [
    USUAL.fault("T1", "torn write", "one copy of the record", |_| {
        and_restart(InsideFault::TearNextWrite)
    }),
    USUAL.fault(
        "T2",
        "rot",
        "a byte of one copy, or of both above 0.5",
        |place| {
            let copy = if place.severity > 0.5 { 2 } else { 0 };
            let at = (place.severity * 4_000.0) as u16;
            and_restart(InsideFault::Rot { copy, at })
        },
    ),
    Fault {
        lasts: Lasts::For(2 * 3_600_000),
        ..USUAL.fault("T3", "full", "writes change nothing for 2 h", |_| {
            acts(
                [
                    step(Act::Inside(InsideFault::WritesIgnored)),
                    later(1_800_000, RESTART),
                ],
                vec![Act::Inside(InsideFault::WritesWork)],
            )
        })
    },
    Fault {
        lasts: Lasts::ToTheEnd,
        ..USUAL.fault(
            "T4",
            "worn, writes ignored",
            "writes change nothing any more",
            |_| {
                acts(
                    [
                        step(Act::Inside(InsideFault::WritesIgnored)),
                        later(1_800_000, RESTART),
                    ],
                    vec![Act::Inside(InsideFault::WritesWork)],
                )
            },
        )
    },
    USUAL.fault(
        "T5",
        "older copy restored",
        "both copies, 10 min to 4 h old",
        |place| {
            let older = super::even(place, 600_000.0, 4.0 * 3_600_000.0) as u64;
            acts(
                [
                    step(Act::Inside(InsideFault::CopyAway)),
                    later(older, Act::Inside(InsideFault::CopyBack)),
                    later(older, RESTART),
                ],
                Vec::new(),
            )
        },
    ),
    USUAL.fault("T6", "erased", "both copies", |_| {
        and_restart(InsideFault::Erased)
    }),
    USUAL.fault("T7", "other version", "both copies", |_| {
        and_restart(InsideFault::OtherVersion)
    }),
];
