//! Faults of the unit's program and its inputs.

use super::{Fault, Lasts, Parts, Usual, acts, even, fault_act, inside, later, step, unit};
use crate::plant::{PlantFault, ProbeFault, ProbeId};
use crate::scenario::{Act, PersonAct, Supply};
use crate::unit::{InsideFault, UnitFault};
use dosewarden::guard::Authority;

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::ToTheEnd,
};

const fn once(fault: Fault) -> Fault {
    fault.lasting(Lasts::Once)
}

pub(super) const FAULTS: [Fault; 10] = [
    USUAL.fault(
        "K1",
        "tick late",
        "the program: once a minute 1 to 10 s late",
        |place| unit(UnitFault::TickLate(even(place, 1_000.0, 10_000.0) as u32)),
    ),
    USUAL.fault(
        "K2",
        "tick skipped",
        "the program: each 20th to 2nd tick",
        |place| unit(UnitFault::TickSkipped(even(place, 20.0, 2.0) as u32)),
    ),
    USUAL.fault("K3", "tick doubled", "the program: each tick", |_| {
        unit(UnitFault::TickDoubled)
    }),
    USUAL.fault(
        "K4",
        "program hung with its outputs on",
        "the program, for an hour from the first feed on",
        |_| {
            let hung = super::Step {
                trigger: Some(crate::scenario::Trigger {
                    feeder: 0,
                    for_ms: 2_000,
                }),
                ..step(Act::Unit {
                    fault: UnitFault::Hung,
                    for_ms: Some(3_600_000),
                })
            };
            acts([hung], vec![Act::UnitEnds(UnitFault::Hung)])
        },
    ),
    once(USUAL.fault(
        "K5",
        "bit flip in the state",
        "a total, an age, a permit or the bank of off time",
        |place| inside(InsideFault::StateBit((place.severity * 256.0) as u32)),
    )),
    USUAL.fault(
        "K6",
        "counter stops at its end",
        "the unit's time: it stands",
        |_| unit(UnitFault::CounterStands),
    ),
    once(USUAL.fault(
        "K7",
        "settings changed in mid-dose",
        "caps: to 90 to 40 %",
        |place| {
            let percent = even(place, 90.0, 40.0) as u8;
            let change = super::Step {
                trigger: Some(crate::scenario::Trigger {
                    feeder: 0,
                    for_ms: 5_000,
                }),
                ..step(Act::Inside(InsideFault::Caps(percent)))
            };
            acts([change], Vec::new())
        },
    )),
    USUAL.fault(
        "K8",
        "inputs torn",
        "what is read: a part is of the tick before",
        |_| unit(UnitFault::InputsTorn),
    ),
    Fault {
        lasts: Lasts::For(3_600_000),
        ..USUAL.fault(
            "K9",
            "two alarms at once, acknowledgements race",
            "the pH probe's lead and the pump, and somebody who acknowledges with them",
            |_| {
                let open = PlantFault::Probe(ProbeId::Ph, ProbeFault::Open);
                let pump = PlantFault::CirculationTripped;
                let acknowledge = Act::Person(PersonAct::Acknowledge(Authority::Operator));
                acts(
                    [
                        step(fault_act(open)),
                        step(fault_act(pump)),
                        step(acknowledge),
                        later(1_000, acknowledge),
                        later(60_000, acknowledge),
                    ],
                    vec![Act::FaultEnds(open), Act::FaultEnds(pump)],
                )
            },
        )
    },
    once(USUAL.fault(
        "K10",
        "panic",
        "the program: outputs off, and a start 1 to 10 s later",
        |place| {
            acts(
                [step(Act::PowerCut {
                    supply: Supply::Controller,
                    for_ms: even(place, 1_000.0, 10_000.0) as u64,
                })],
                Vec::new(),
            )
        },
    )),
];
