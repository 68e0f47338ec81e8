//! What persons, the weather and faults do to the plant between two steps.

use super::{Amounts, Plant, PlantFault};

impl Plant {
    /// Mains for the pump and the feeders come or go.
    pub fn set_mains(&mut self, on: bool) {
        self.mains = on;
    }

    /// The valves select another body at once; one that is not there changes nothing.
    pub fn set_body(&mut self, body: usize) {
        if body < self.bodies.len() {
            self.valves.put(body);
            self.truth.body = body;
        }
    }

    /// Somebody turns the valves to another body, which takes them their time; one that is not there changes nothing.
    pub fn turn_valves(&mut self, body: usize) {
        if body < self.bodies.len() {
            self.valves.turn(body);
        }
    }

    /// Somebody switches the pump's timetable off or on again; runs against frost go on.
    pub fn set_timetable(&mut self, on: bool) {
        self.timetable_off = !on;
    }

    /// The pool closes to bathers, or opens to them again.
    pub fn set_closed(&mut self, closed: bool) {
        self.truth.closed = closed;
    }

    /// A person refills a feeder's drum to its specified stock.
    pub fn refill(&mut self, feeder: usize) {
        if let (Some(f), Some(t)) = (self.feeders.get(feeder), self.truth.feeders.get_mut(feeder)) {
            f.refill(t);
        }
    }

    /// A person pours something into a body's water, all at once; one that is not there takes
    /// nothing. What is poured can hold water.
    pub fn pour(&mut self, body: usize, amounts: &Amounts) {
        if let Some(body) = self.bodies.get_mut(body) {
            body.pour(amounts);
        }
    }

    /// A person lets so many litres out of a body and in from its mains (pure water where its
    /// specification names none).
    pub fn exchange_water(&mut self, body: usize, litres: f64) {
        if let Some(body) = self.bodies.get_mut(body) {
            let mains = body.mains();
            body.dilute(litres.max(0.0), &mains);
        }
    }

    /// It rains, on every body alike, mm/h, until it is told otherwise.
    pub fn set_rain(&mut self, mm_h: f64) {
        self.rain_mm_h = mm_h.max(0.0);
    }

    /// Saturation index of calcite in a body's well-mixed part; `None` if there is no such body.
    #[must_use]
    pub fn calcite_index(&self, body: usize) -> Option<f64> {
        let main = self.bodies.get(body)?.main();
        Some(
            main.equilibrium()
                .calcite_index(&main.water(), main.solved()),
        )
    }

    /// A fault begins; one of the same kind and part is replaced.
    pub fn set_fault(&mut self, fault: PlantFault) {
        self.faults.set(fault);
        self.spread_faults();
    }

    /// A fault ends, whatever its size was.
    pub fn clear_fault(&mut self, fault: PlantFault) {
        self.faults.clear(fault);
        self.spread_faults();
    }

    /// Something is wrong that is none of the plant: with the unit, or with what persons do.
    pub fn set_faulty_elsewhere(&mut self, faulty: bool) {
        self.faulty_elsewhere = faulty;
    }

    /// All faults end.
    pub fn clear_faults(&mut self) {
        self.faults.clear_all();
        self.spread_faults();
    }

    /// Faults that stand now.
    #[must_use]
    pub fn faults(&self) -> &[PlantFault] {
        self.faults.active()
    }

    /// Tells each part what is wrong with it.
    fn spread_faults(&mut self) {
        let active = self.faults.active();
        self.circulation.set_faults(active);
        self.valves.set_faults(active);
        self.ph_probe.set_faults(active);
        self.orp_probe.set_faults(active);
        for (i, feeder) in self.feeders.iter_mut().enumerate() {
            feeder.set_faults(i, active);
        }
        self.master_welded = active.contains(&PlantFault::MasterWelded);
        self.master_dead = active.contains(&PlantFault::MasterNeverCloses);
        self.dead_man_bridged = active.contains(&PlantFault::DeadManBridged);
        self.sample_stands = active.contains(&PlantFault::SampleStands);
        let lost = active.iter().find_map(|f| match f {
            PlantFault::ReturnLost(share) => Some(share.clamp(0.0, 1.0)),
            _ => None,
        });
        self.kept_share = 1.0 - lost.unwrap_or(0.0);
        self.bather_factor = active
            .iter()
            .find_map(|f| match f {
                PlantFault::BatherLoad(factor) => Some(factor.max(0.0)),
                _ => None,
            })
            .unwrap_or(1.0);
        // A sluggish probe has another share.
        self.shares_dt_ms = 0;
    }
}
