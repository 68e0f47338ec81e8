//! What is done on a visit: drums, tests with their errors, and what the unit is told of them.

use dosewarden::guard::Authority;
use dosewarden::guard::units::MilliPh;
use dosewarden::probe::MicrogramsPerL;
use dosewarden::water_tests::TestedValue;

use super::{LogWhat, SimPool, Tested};
use crate::scenario::{Act, CareAct, PersonAct, Poured, ToBody, Visit, Work};
use crate::unit::ControlUnit;
use crate::water::units::{CACO3_MG_PER_MEQ, CYANURIC_ACID_MG_PER_MMOL, NAHCO3_MG_PER_MMOL};

/// How long feeding is paused for bicarbonate that spreads, ms: it lifts pH, by 0.1 for a third more alkalinity, and the
/// unit would take that for a weak answer to its acid.
const SPREADS_MS: u64 = 30 * 60_000;

const BY: Authority = Authority::Technician;

fn micrograms(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().max(0.0) as u32)
}

impl<U: ControlUnit> SimPool<U> {
    /// Drums (read, filled, read again), then the tests of the water as it was found.
    pub(super) fn visit(&mut self, clock_ms: u64, visit: &Visit) {
        let feeders = self.plant.spec().feeders.len();
        for feeder in (0..feeders).filter(|feeder| visit.refill[*feeder]) {
            let level = None;
            self.person(clock_ms, &PersonAct::ReadLevel { feeder, level });
            self.person(clock_ms, &PersonAct::Refill(feeder));
            self.person(clock_ms, &PersonAct::ReadLevel { feeder, level });
        }
        self.test_alkalinity(clock_ms, visit);
        self.test_ph_and_chlorine(clock_ms, visit);
        if let (Some(error), Some(water)) = (visit.cyanurate_error_mg_l, self.water(visit)) {
            let per_l = water.amounts.cyanurate_mol / water.amounts.water_l;
            let found = self.tested(per_l * 1000.0 * CYANURIC_ACID_MG_PER_MMOL, error);
            self.log
                .push(clock_ms, LogWhat::Tested(Tested::Cyanurate(found)));
            self.enter(clock_ms, visit, TestedValue::Cyanurate, found);
        }
    }

    /// The water that a visit is about: of the body that it names, or that the valves select.
    fn water(&self, visit: &Visit) -> Option<crate::plant::BodyTruth> {
        let truth = self.plant.truth();
        let body = visit.body.unwrap_or(truth.body);
        truth.bodies.get(body).copied()
    }

    /// What a test with this error finds of a figure; never less than nothing.
    fn tested(&mut self, true_value: f64, error: f64) -> f64 {
        (true_value + self.tests.normal() * error).max(0.0)
    }

    fn enter(&mut self, clock_ms: u64, visit: &Visit, value: TestedValue, found_mg_l: f64) {
        if visit.enters {
            let found = Some(micrograms(found_mg_l));
            self.work_at_unit(clock_ms, Work::Test { value, found });
        }
    }

    fn work_at_unit(&mut self, clock_ms: u64, work: Work) {
        self.person(clock_ms, &PersonAct::Work { by: BY, work });
    }

    /// Makes up what is missing, and enters what the water then has.
    fn test_alkalinity(&mut self, clock_ms: u64, visit: &Visit) {
        let (Some(wanted), Some(water)) = (visit.alkalinity_to_mg_l, self.water(visit)) else {
            return;
        };
        let found = self.tested(water.alkalinity_mg_l, visit.alkalinity_error_mg_l);
        self.log
            .push(clock_ms, LogWhat::Tested(Tested::Alkalinity(found)));
        let litres = water.amounts.water_l;
        let missing_eq = (wanted - found).max(0.0) / CACO3_MG_PER_MEQ * litres / 1000.0;
        let amount = (missing_eq * NAHCO3_MG_PER_MMOL).round() as u32;
        if amount > 0 {
            let what = Poured::Bicarbonate;
            self.act(Act::Person(match visit.body {
                None => PersonAct::Pour { what, amount },
                Some(body) => {
                    let what = ToBody::Pour { what, amount };
                    PersonAct::ToBody { body, what }
                }
            }));
            if visit.enters {
                self.act(Act::Person(PersonAct::Pause(SPREADS_MS)));
            }
        }
        self.enter(clock_ms, visit, TestedValue::Alkalinity, found.max(wanted));
    }

    /// Compares pH with the probe, and trims the probe or anchors ORP where the visit says so.
    fn test_ph_and_chlorine(&mut self, clock_ms: u64, visit: &Visit) {
        let Some(water) = self.water(visit) else {
            return;
        };
        let ph = visit.ph_error.map(|error| self.tested(water.ph, error));
        let errs = visit.chlorine_error_mg_l;
        let chlorine = errs.map(|error| self.tested(water.free_chlorine_mg_l, error));
        if let Some(ph) = ph {
            self.log.push(clock_ms, LogWhat::Tested(Tested::Ph(ph)));
        }
        if let Some(chlorine) = chlorine {
            self.log
                .push(clock_ms, LogWhat::Tested(Tested::Chlorine(chlorine)));
        }
        // A probe is compared with the water that it stands in.
        let selected = self.plant.truth().body;
        if !visit.enters || visit.body.is_some_and(|body| body != selected) {
            return;
        }
        let chlorine = chlorine.map(micrograms);
        if let Some(ph) = ph.map(|ph| MilliPh((ph * 1000.0).round() as i32)) {
            let act = CareAct::KitPh(Some(ph));
            self.person(clock_ms, &PersonAct::Care { by: BY, act });
            let shown = self.status.ph;
            let over = visit
                .trim_over_ph
                .map(|over| (over * 1000.0).round() as u32);
            if let (Some(shown), Some(over)) = (shown, over)
                && ph.0.abs_diff(shown) > over
            {
                let ph = Some(ph);
                self.work_at_unit(clock_ms, Work::Trim { ph, chlorine });
            }
        }
        if let (Some(wanted), Some(_)) = (visit.anchor_at_mg_l, chlorine) {
            let wanted = micrograms(wanted);
            self.work_at_unit(clock_ms, Work::Anchor { chlorine, wanted });
        }
    }
}
