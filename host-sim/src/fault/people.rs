//! What persons do wrong.

use dosewarden::guard::Authority;
use dosewarden::guard::units::MilliPh;
use dosewarden::probe::{Buffer, MicrogramsPerL, ProbeKind};

use super::{
    Fault, Injection, Lasts, Part, Parts, Usual, acts, at_feeder, changed, even, fault_act,
    into_first, later, step,
};
use crate::plant::{FeederFault, PlantFault, Product};
use crate::scenario::{Act, Dip, PersonAct, Poured, Scenario, Supply, ToBody, Work};
use crate::unit::InsideFault;

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::Once,
};

const fn of(parts: Parts, fault: Fault) -> Fault {
    fault.about(parts)
}

const fn stays(fault: Fault) -> Fault {
    fault.lasting(Lasts::ToTheEnd)
}

const HOUR_MS: u64 = 3_600_000;

fn works(work: Work) -> Act {
    let by = Authority::Technician;
    Act::Person(PersonAct::Work { by, work })
}

pub(super) const FAULTS: [Fault; 15] = [
    stays(of(
        Parts::Liquids,
        USUAL.fault(
            "U1",
            "wrong pump rate entered",
            "what the feeder gives: 50 to 15 % at 0 to 0.5, 2 to 6 times above",
            |place| {
                let s = place.severity;
                let times = if s <= 0.5 {
                    0.5 - 0.7 * s
                } else {
                    2.0 + 8.0 * (s - 0.5)
                };
                at_feeder(place, FeederFault::Rate(times))
            },
        ),
    )),
    stays(USUAL.fault(
        "U2",
        "wrong volume entered",
        "the basin: 80 to 40 % at 0 to 0.5, 1.25 to 2.5 times above",
        |place| {
            let s = place.severity;
            let times = if s <= 0.5 {
                0.8 - 0.8 * s
            } else {
                1.25 + 2.5 * (s - 0.5)
            };
            changed(volume, times)
        },
    )),
    stays(of(
        Parts::Liquids,
        USUAL.fault(
            "U3",
            "wrong strength entered",
            "the drum's product: 80 to 40 % at 0 to 0.5, 1.3 to 2.5 times above",
            |place| {
                let s = place.severity;
                let times = if s <= 0.5 {
                    0.8 - 0.8 * s
                } else {
                    1.3 + 2.4 * (s - 0.5)
                };
                at_feeder(place, FeederFault::Strength(times))
            },
        ),
    )),
    USUAL.fault(
        "U4",
        "buffers swapped at calibration",
        "the pH probe",
        |_| {
            let dip = |buffer| works(Work::Dip(Dip::Buffer(buffer)));
            let tell = |buffer| works(Work::Calibrate(buffer));
            acts(
                [
                    step(dip(Buffer::Technical700)),
                    later(120_000, tell(Buffer::Technical400)),
                    later(125_000, dip(Buffer::Technical400)),
                    later(245_000, tell(Buffer::Technical700)),
                    later(250_000, works(Work::PutBack(ProbeKind::Ph))),
                ],
                Vec::new(),
            )
        },
    ),
    stays(of(
        Parts::Probes,
        USUAL.fault(
            "U5",
            "probe left out of the water, in its cap",
            "the probe: pH 4 and 200 mV, as common storage solutions have",
            |place| match place.part {
                Part::Probe(id) => acts(
                    [step(Act::ProbeOut(id, true))],
                    vec![Act::ProbeOut(id, false)],
                ),
                _ => Err("it is about a probe"),
            },
        ),
    )),
    of(
        Parts::Feeders,
        USUAL.fault(
            "U6",
            "manual feed again and again",
            "the button, held 3 to 30 times",
            |place| {
                let Part::Feeder(feeder) = place.part else {
                    return Err("it is about a feeder");
                };
                let times = even(place, 3.0, 30.0) as u64;
                let each = |n| {
                    let act = PersonAct::ManualFeed {
                        feeder,
                        for_ms: 120_000,
                    };
                    later(n * 130_000, Act::Person(act))
                };
                Ok(Injection {
                    steps: (0..times).map(each).collect(),
                    ..Injection::default()
                })
            },
        ),
    ),
    USUAL.fault(
        "U7",
        "alarms shelved",
        "every alarm that stands, each hour of 12",
        |_| {
            let each = |n: usize| {
                let act = PersonAct::Shelve(Authority::Operator);
                later(n as u64 * HOUR_MS, Act::Person(act))
            };
            acts(core::array::from_fn::<_, 12, _>(each), Vec::new())
        },
    ),
    USUAL.fault("U8", "limits raised", "caps: to 120 to 250 %", |place| {
        let percent = even(place, 120.0, 250.0) as u8;
        // It takes effect once no cycle stands: somebody tries again.
        let each = |n: usize| later(n as u64 * 60_000, Act::Inside(InsideFault::Caps(percent)));
        acts([each(0), each(1), each(2)], Vec::new())
    }),
    USUAL.fault(
        "U9",
        "power cycled to clear a lockout",
        "the unit, off for 10 s 5 times",
        |_| {
            let each = |n: usize| {
                let act = Act::PowerCut {
                    supply: Supply::Controller,
                    for_ms: 10_000,
                };
                later(n as u64 * 300_000, act)
            };
            acts(core::array::from_fn::<_, 5, _>(each), Vec::new())
        },
    ),
    USUAL.fault(
        "U10",
        "acknowledged without cure",
        "alarms, each half hour of 12 h",
        |_| {
            let each = |n: usize| {
                let act = PersonAct::Acknowledge(Authority::Operator);
                later(n as u64 * HOUR_MS / 2, Act::Person(act))
            };
            acts(core::array::from_fn::<_, 24, _>(each), Vec::new())
        },
    ),
    of(
        Parts::Liquids,
        USUAL.fault(
            "U11",
            "hand dose beside the automatic one",
            "the pool: 5 to 30 mL a m3 of acid of 31.45 %, or of hypochlorite of 125 g/L",
            |place| {
                let Part::Feeder(at) = place.part else {
                    return Err("it is about a feeder");
                };
                let plant = &place.scenario.plant;
                let m3 = plant.bodies.first().map_or(0.0, |body| body.volume_m3);
                let what = if plant.feeders[at].kind.product() == Product::Acid {
                    Poured::Acid
                } else {
                    Poured::Hypochlorite
                };
                let amount = (m3 * even(place, 5.0, 30.0)).round() as u32;
                let act = into_first(place.scenario, ToBody::Pour { what, amount });
                acts([step(act)], Vec::new())
            },
        ),
    ),
    stays(USUAL.fault(
        "U12",
        "interlock wire bridged",
        "the flow switch's wire; the pump contact's too above 0.5",
        |place| {
            let switch = PlantFault::FlowSwitchStuckOn;
            let contact = PlantFault::PumpContactStuckOn;
            if place.severity > 0.5 && place.scenario.plant.circulation.pump_contact {
                acts(
                    [step(fault_act(switch)), step(fault_act(contact))],
                    vec![Act::FaultEnds(switch), Act::FaultEnds(contact)],
                )
            } else {
                acts([step(fault_act(switch))], vec![Act::FaultEnds(switch)])
            }
        },
    )),
    USUAL.fault(
        "U13",
        "bleached chlorine test entered",
        "the ORP anchor: a test of 0.6 to 0.1 mg/L",
        |place| {
            let found = even(place, 600.0, 100.0) as u32;
            acts(
                [step(works(Work::Anchor {
                    chlorine: Some(MicrogramsPerL(found)),
                    wanted: MicrogramsPerL(2_000),
                }))],
                Vec::new(),
            )
        },
    ),
    USUAL.fault(
        "U14",
        "trimmed to a false kit",
        "pH: the kit says 7.7 to 8.2",
        |place| {
            let ph = MilliPh(even(place, 7_700.0, 8_200.0) as i32);
            acts(
                [step(works(Work::Trim {
                    ph: Some(ph),
                    chlorine: None,
                }))],
                Vec::new(),
            )
        },
    ),
    of(
        Parts::Liquids,
        USUAL.fault(
            "U15",
            "refill not entered",
            "the drum",
            |place| match place.part {
                Part::Feeder(at) => acts([step(Act::QuietRefill(at))], Vec::new()),
                _ => Err("it is about a feeder"),
            },
        ),
    ),
];

/// The basin is another than the one that settings were made for.
fn volume(scenario: &mut Scenario, times: f64) {
    for body in &mut scenario.plant.bodies {
        body.volume_m3 *= times;
    }
}
