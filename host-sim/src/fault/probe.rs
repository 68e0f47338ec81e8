//! Faults of probes, level switches and what comes from them.

use super::{
    Fault, Lasts, Parts, Usual, at_feeder, at_probe, by_ratio, even, of_probe, unit, unit_at_probe,
};
use crate::plant::{FeederFault, ProbeFault, Product};
use crate::unit::UnitFault;

const USUAL: Usual = Usual {
    parts: Parts::Probes,
    lasts: Lasts::ToTheEnd,
};

const fn site(fault: Fault) -> Fault {
    fault.about(Parts::Site)
}

const fn orp(fault: Fault) -> Fault {
    fault.about(Parts::Orp)
}

pub(super) const FAULTS: [Fault; 20] = [
    USUAL.fault("S1", "probe lead open", "the probe", |place| {
        at_probe(place, |_| ProbeFault::Open)
    }),
    USUAL.fault(
        "S2",
        "probe shorted",
        "the probe: 0 mV, which is near pH 7",
        |place| at_probe(place, |_| ProbeFault::Shorted),
    ),
    USUAL.fault(
        "S3",
        "probe frozen",
        "the probe: its last reading stays",
        |place| at_probe(place, |_| ProbeFault::Frozen),
    ),
    USUAL.fault(
        "S4",
        "probe drifts",
        "the probe, by 0.05 to 0.5 pH (5 to 50 mV) a day",
        |place| {
            let size = even(place, 0.05, 0.5);
            at_probe(place, |id| ProbeFault::Drift(of_probe(id, size)))
        },
    ),
    USUAL.fault(
        "S5",
        "probe off by a step",
        "the probe, by 0.1 to 1 pH (10 to 100 mV), so that more is fed",
        |place| {
            let size = even(place, 0.1, 1.0);
            // A pH that reads high asks for acid; an ORP that reads low asks for chlorine.
            at_probe(place, |id| {
                let sign = if of_probe(id, 1.0) > 1.0 { -1.0 } else { 1.0 };
                ProbeFault::Offset(sign * of_probe(id, size))
            })
        },
    ),
    USUAL.fault(
        "S6",
        "probe noisy",
        "the probe, 0.05 to 0.5 pH (5 to 50 mV)",
        |place| {
            let size = even(place, 0.05, 0.5);
            at_probe(place, |id| ProbeFault::Noise(of_probe(id, size)))
        },
    ),
    USUAL.fault(
        "S7",
        "probe spikes",
        "the probe: one sample in 97 is off by 0.5 to 3 pH (50 to 300 mV)",
        |place| {
            let size = even(place, 0.5, 3.0);
            at_probe(place, |id| ProbeFault::Spikes(of_probe(id, size)))
        },
    ),
    USUAL.fault(
        "S8",
        "probe lost its slope",
        "the probe: 80 to 30 % of it",
        |place| {
            let share = even(place, 0.8, 0.3);
            at_probe(place, |_| ProbeFault::Slope(share))
        },
    ),
    USUAL.fault(
        "S9",
        "probe sluggish",
        "the probe: 3 to 60 times its lag",
        |place| {
            let times = by_ratio(place, 3.0, 60.0);
            at_probe(place, |_| ProbeFault::Sluggish(times))
        },
    ),
    orp(USUAL.fault(
        "S10",
        "ORP probe fouled, reads low",
        "the ORP probe, by 30 to 200 mV",
        |place| {
            let size = even(place, -30.0, -200.0);
            at_probe(place, |_| ProbeFault::Offset(size))
        },
    )),
    site(USUAL.fault(
        "S11",
        "pH and ORP probe swapped",
        "the unit's inputs",
        |_| unit(UnitFault::ProbesSwapped),
    )),
    USUAL.fault("S12", "stamps stale", "the samples' stamps", |place| {
        unit_at_probe(place, UnitFault::StampStale)
    }),
    USUAL.fault(
        "S13",
        "stamps in the future",
        "the samples' stamps",
        |place| unit_at_probe(place, UnitFault::StampAhead),
    ),
    USUAL.fault(
        "S14",
        "samples come more than once",
        "the samples, each 2 to 60 times",
        |place| {
            let times = by_ratio(place, 2.0, 60.0) as u32;
            unit_at_probe(place, |id| UnitFault::SampleRepeats(id, times))
        },
    ),
    USUAL.fault(
        "S15",
        "not a number, past all range, or a wrong unit",
        "the samples; which of the three by the severity",
        |place| {
            let third = place.severity * 3.0;
            unit_at_probe(place, |id| match third {
                x if x < 1.0 => UnitFault::NotANumber(id),
                x if x < 2.0 => UnitFault::Overflow(id),
                _ => UnitFault::WrongUnit(id),
            })
        },
    ),
    site(USUAL.fault(
        "S16",
        "ground loop while the pump runs",
        "both probes' inputs, by 5 to 60 mV",
        |place| unit(UnitFault::GroundLoop(even(place, 5.0, 60.0))),
    )),
    Fault {
        parts: Parts::Liquids,
        ..USUAL.fault(
            "S17",
            "level switch stuck full",
            "the level switch",
            |place| {
                let super::Part::Feeder(at) = place.part else {
                    return Err("it is about a feeder");
                };
                let feeders = &place.scenario.plant.feeders;
                if feeders[at].level_switch_l.is_none() {
                    return Err("no level switch");
                }
                at_feeder(place, FeederFault::LevelStuckFull)
            },
        )
    },
    Fault {
        parts: Parts::Ph,
        ..USUAL.fault(
            "S18",
            "wrong temperature",
            "the pH probe's compensation, off by 10 to 30 K: 3 to 10 % of its slope",
            |place| {
                let off = even(place, 10.0, 30.0);
                at_probe(place, |_| ProbeFault::Slope(1.0 - off / 298.0))
            },
        )
    },
    site(USUAL.fault(
        "S19",
        "hydrogen bubbles at the ORP probe",
        "the ORP input while a cell runs, by 50 to 400 mV",
        |place| {
            let cells = place.scenario.plant.feeders.iter();
            if !cells
                .into_iter()
                .any(|f| f.kind.product() == Product::GeneratorChlorine)
            {
                return Err("no chlorine generator");
            }
            unit(UnitFault::CellBubbles(even(place, 50.0, 400.0)))
        },
    )),
    USUAL.fault("S20", "probe dried out over winter", "the probe", |place| {
        at_probe(place, |_| ProbeFault::Dried)
    }),
];
