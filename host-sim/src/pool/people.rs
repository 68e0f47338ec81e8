//! What persons do at the pool and at the unit.

use dosewarden::guard::units::Dose;
use dosewarden::probe::ProbeKind;

use super::{LogWhat, SimPool};
use crate::plant::ProbeId;
use crate::scenario::{Act, PersonAct, Poured, Visit, Work};
use crate::unit::{ControlUnit, Reply};
use crate::water::units::{CACO3_MG_PER_MEQ, NAHCO3_MG_PER_MMOL};

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
            PersonAct::ReadLevel {
                feeder,
                level: level @ None,
            } => {
                // A drum of more than 4 m3 is read as 4 m3: no amount of the guard is larger.
                let truth = self.plant.truth().feeders.get(*feeder);
                *level = truth.map(|f| Dose(f.drum.round().min(f64::from(u32::MAX)) as u32));
            }
            PersonAct::Work { work, .. } => self.work(work),
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

    /// Drums (read, filled, read again), then alkalinity by a test that errs.
    pub(super) fn visit(&mut self, clock_ms: u64, visit: &Visit) {
        let feeders = self.plant.spec().feeders.len();
        for feeder in (0..feeders).filter(|feeder| visit.refill[*feeder]) {
            let level = None;
            self.person(clock_ms, &PersonAct::ReadLevel { feeder, level });
            self.person(clock_ms, &PersonAct::Refill(feeder));
            self.person(clock_ms, &PersonAct::ReadLevel { feeder, level });
        }
        let Some(wanted) = visit.alkalinity_to_mg_l else {
            return;
        };
        let truth = self.plant.truth();
        let Some(water) = truth.bodies.get(truth.body) else {
            return;
        };
        let error = self.tests.normal() * visit.alkalinity_error_mg_l;
        let found = (water.alkalinity_mg_l + error).max(0.0);
        let litres = water.amounts.water_l;
        self.log.push(
            clock_ms,
            LogWhat::Tested {
                alkalinity_mg_l: found,
            },
        );
        let missing_eq = (wanted - found).max(0.0) / CACO3_MG_PER_MEQ * litres / 1000.0;
        let amount = (missing_eq * NAHCO3_MG_PER_MMOL).round() as u32;
        if amount > 0 {
            let what = Poured::Bicarbonate;
            self.act(Act::Person(PersonAct::Pour { what, amount }));
        }
    }
}
