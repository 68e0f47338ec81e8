//! What persons do at the pool and at the unit.

use dosewarden::guard::units::Dose;
use dosewarden::probe::ProbeKind;

use super::{LogWhat, ProofRound, SimPool};
use crate::plant::ProbeId;
use crate::scenario::{CareAct, PersonAct, ToBody, Work};
use crate::unit::{ControlUnit, Reply};

/// What a probe shows in its cap: storage solutions have about pH 4, and ORP falls there (common
/// practice, no source).
pub(super) const fn in_its_cap(probe: ProbeId) -> f64 {
    match probe {
        ProbeId::Ph => 4.0,
        ProbeId::Orp => 200.0,
    }
}

/// Whether an act ends a lockout: a release, a start of a new unit, or a feed by hand.
pub(super) const fn releases(act: &PersonAct) -> bool {
    matches!(
        act,
        PersonAct::Release { .. } | PersonAct::Initialise(_) | PersonAct::ManualFeed { .. }
    )
}

impl<U: ControlUnit> SimPool<U> {
    pub(super) fn person(&mut self, clock_ms: u64, act: &PersonAct) {
        let mut act = *act;
        match &mut act {
            PersonAct::Refill(feeder) => self.plant.refill(*feeder),
            PersonAct::Pour { what, amount } => {
                let body = self.plant.truth().body;
                self.plant.pour(body, &what.amounts(*amount));
                return;
            }
            PersonAct::ExchangeWater(litres) => {
                let body = self.plant.truth().body;
                self.plant.exchange_water(body, f64::from(*litres));
                return;
            }
            PersonAct::ToBody { body, what } => {
                match what {
                    ToBody::Pour { what, amount } => {
                        self.plant.pour(*body, &what.amounts(*amount));
                    }
                    ToBody::ExchangeWater(litres) => {
                        self.plant.exchange_water(*body, f64::from(*litres));
                    }
                }
                return;
            }
            PersonAct::ReadLevel {
                feeder,
                level: level @ None,
            } => {
                // A drum of more than 4 m3 is read as 4 m3: no amount of the guard is larger.
                let truth = self.plant.truth().feeders.get(*feeder);
                *level = truth.map(|f| Dose(f.drum.round().min(f64::from(u32::MAX)) as u32));
            }
            PersonAct::Work { work, .. } => self.work(work),
            PersonAct::Care {
                by,
                act: CareAct::ProveAll(of),
            } => {
                // One under way goes on: what it has tripped is put back.
                let round = self.round.get_or_insert(ProofRound::new(*by));
                round.add(*of, self.unit.interlocks());
                return;
            }
            PersonAct::Care { act, .. } => {
                let truth = self.plant.truth();
                act.found_in(truth.bodies.get(truth.body));
            }
            _ => {}
        }
        let reply = if self.powered {
            self.unit.person(&act)
        } else {
            Reply::Refused("the unit has no power".to_owned())
        };
        if let Reply::Later(times) = reply {
            self.awaited.extend(core::iter::repeat_n(act, times));
        } else {
            self.replied(clock_ms, &act, &reply);
            self.log.push(clock_ms, LogWhat::Reply(reply));
        }
    }

    /// The part of some work that is done at the water: probes are moved, the water is tested.
    fn work(&mut self, work: &mut Work) {
        let truth = self.plant.truth();
        let Some(water) = truth.bodies.get(truth.body) else {
            return;
        };
        *work = work.found_in(water);
        let probe = |kind| match kind {
            ProbeKind::Ph => ProbeId::Ph,
            ProbeKind::Orp => ProbeId::Orp,
        };
        match *work {
            Work::Dip(dip) => {
                // Bottles that stood beside the pool.
                let into = dip.value(water.temperature_c);
                self.plant.dip(probe(dip.probe()), into);
            }
            Work::PutBack(kind) => self.plant.dip(probe(kind), None),
            _ => {}
        }
    }
}
