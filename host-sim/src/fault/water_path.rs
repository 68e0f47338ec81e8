//! Faults of flow, its witnesses, and where products go.

use super::{
    Fault, Injection, Lasts, Parts, Place, Step, Usual, acts, at_feeder, changed, even, fault_act,
    plant, step,
};
use crate::plant::{FeederFault, PlantFault, SpeedWindow};
use crate::scenario::{Act, Scenario, Supply, Trigger};

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::ToTheEnd,
};

pub(super) const FAULTS: [Fault; 14] = [
    USUAL.fault(
        "H1",
        "circulation stops in mid-dose",
        "the pump's overload, for 2 h once the first feeder has run for 5 to 60 s",
        |place| {
            let for_ms = even(place, 60_000.0, 5_000.0) as u32;
            let trip = Step {
                trigger: Some(Trigger { feeder: 0, for_ms }),
                ..step(Act::Fault {
                    fault: PlantFault::CirculationTripped,
                    for_ms: Some(2 * 3_600_000),
                })
            };
            acts([trip], vec![Act::FaultEnds(PlantFault::CirculationTripped)])
        },
    ),
    USUAL.fault("H2", "flow switch stuck on", "the flow switch", |_| {
        plant(PlantFault::FlowSwitchStuckOn)
    }),
    USUAL.fault("H3", "flow switch stuck off", "the flow switch", |_| {
        plant(PlantFault::FlowSwitchStuckOff)
    }),
    USUAL.fault(
        "H4",
        "flow switch chatters",
        "the flow switch, each third step",
        |_| plant(PlantFault::FlowSwitchChatters),
    ),
    USUAL.fault(
        "H5",
        "flow decays to near the switch's threshold",
        "the flow, to 60 to 30 % in steps of a minute",
        |place| {
            let last = even(place, 0.6, 0.3);
            let part = |n: f64| {
                let share = 1.0 - (1.0 - last) * n / 4.0;
                super::later(
                    ((n - 1.0) * 60_000.0) as u64,
                    fault_act(PlantFault::FlowReduced(share)),
                )
            };
            acts(
                [part(1.0), part(2.0), part(3.0), part(4.0)],
                vec![Act::FaultEnds(PlantFault::FlowReduced(1.0))],
            )
        },
    ),
    Fault {
        parts: Parts::Liquids,
        ..USUAL.fault(
            "H6",
            "feeder lost its prime",
            "the feeder's head: the motor turns",
            |place| at_feeder(place, FeederFault::LostPrime),
        )
    },
    USUAL.fault(
        "H7",
        "return goes to waste or past the pool",
        "what leaves the return line, 50 to 100 % of it",
        |place| plant(PlantFault::ReturnLost(even(place, 0.5, 1.0))),
    ),
    USUAL.fault(
        "H8",
        "dead leg at the probes",
        "the sample: it stands",
        |_| plant(PlantFault::SampleStands),
    ),
    Fault {
        parts: Parts::Liquids,
        ..USUAL.fault(
            "H9",
            "siphon through the stopped feeder",
            "the injection valve, 100 to 2000 mL/h",
            |place| {
                let ml_h = super::by_ratio(place, 100.0, 2000.0);
                at_feeder(place, FeederFault::Siphon(ml_h))
            },
        )
    },
    USUAL.fault("H10", "injection points swapped", "nothing here", |_| {
        Err("both products enter one line at one point in this plant")
    }),
    Fault {
        lasts: Lasts::For(10 * 60_000),
        ..USUAL.fault(
            "H11",
            "backwash during a hold",
            "what leaves the return line: all of it goes to waste, unannounced",
            |_| plant(PlantFault::ReturnLost(1.0)),
        )
    },
    USUAL.fault(
        "H12",
        "restart after a long standstill",
        "the supply of pump and feeders, away for 2 to 5 h",
        |place| {
            let for_ms = even(place, 2.0 * 3_600_000.0, 5.0 * 3_600_000.0) as u64;
            acts(
                [step(Act::PowerCut {
                    supply: Supply::Pump,
                    for_ms,
                })],
                Vec::new(),
            )
        },
    ),
    Fault {
        lasts: Lasts::For(60 * 60_000),
        ..USUAL.fault(
            "H13",
            "valves turned to the other body",
            "the valves, for an hour: in whatever the unit is doing, or above 0.5 once the first feeder has run for 3 to 30 s",
            other_body,
        )
    },
    USUAL.fault(
        "H14",
        "pump speed changed",
        "the flow, to 80 to 50 % for all of the day",
        |place| changed(slower, even(place, 0.8, 0.5)),
    ),
];

fn other_body(place: &Place<'_>) -> Result<Injection, &'static str> {
    if place.scenario.plant.bodies.len() < 2 {
        return Err("one body of water");
    }
    let first = place.scenario.plant.valves.map_or(0, |valves| valves.first);
    let other = usize::from(first == 0);
    let in_dose = place.severity > 0.5;
    let for_ms = even(place, 3_000.0, 30_000.0) as u32;
    let turned = Step {
        trigger: in_dose.then_some(Trigger { feeder: 0, for_ms }),
        ..step(Act::TurnValves(other))
    };
    acts([turned], vec![Act::TurnValves(first)])
}

fn slower(scenario: &mut Scenario, share: f64) {
    let circulation = &mut scenario.plant.circulation;
    let flow_l_min = circulation.flow_l_min * share;
    circulation.speeds.clear();
    for window in circulation.timetable.clone() {
        circulation.speeds.push(SpeedWindow { window, flow_l_min });
    }
}
