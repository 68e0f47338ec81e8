//! One body of water: a main part, perhaps a corner that mixes slowly, and all that happens to them.
//!
//! Invariant: what is there = what was there at the start + what came - what went, for water,
//! alkalinity, carbon, chlorine and the rest ([`Counted`]).
//!
//! Acid takes one equivalent of alkalinity a mole. Chlorine as OCl- brings one a mole when it
//! comes in, and the same one goes when it is used up (2 OCl- to 2 Cl- + O2, and likewise by
//! reduction), so chlorine that has been and gone leaves alkalinity as it was.

use super::amounts::Amounts;
use super::cell::Cell;
use super::circulation::approach;
use super::interface::BodyTruth;
use super::line::Product;
use super::spec::{BasinSpec, MakeUpSpec, PlantError, WaterSpec};
use crate::water::units::{CACO3_MG_PER_MEQ, CHLORINE_MG_PER_MMOL};
use crate::water::{AIR_CO2_ATM, ExchangeStep, Reagent, Water, WaterError, WaterTest};

/// Chlorine demand of one bather, g of Cl2 (Berg, Fang and Tang 2019, J. Water Health 17(2):227).
pub const BATHER_CHLORINE_G: f64 = 4.12;

/// ORP never leaves this range, mV.
pub const ORP_RANGE_MV: (f64, f64) = (200.0, 900.0);

const DAY_MS: u64 = 86_400_000;
/// Alkalinity of HCO3- in rain in balance with the air is nil; what CO2 it brings is not counted.
const RAIN_L_PER_M2_MM: f64 = 1.0;

/// What happens around a body in one step.
#[derive(Clone, Copy, Debug)]
pub(super) struct Around {
    pub(super) dt_ms: u32,
    /// Start of the step, ms from midnight before the first day.
    pub(super) clock_ms: u64,
    /// What came out of the return line.
    pub(super) came: Product,
    pub(super) bather_factor: f64,
    /// How much faster CO2 leaves: a generator's cell runs, cm/h.
    pub(super) strip_cm_h: f64,
    /// Water moves through this body.
    pub(super) moving: bool,
    /// Rain, mm/h.
    pub(super) rain_mm_h: f64,
}

/// A body of water.
#[derive(Clone, Debug)]
pub(super) struct Basin {
    spec: BasinSpec,
    main: Cell,
    corner: Option<Cell>,
    make_up: Option<(Water, MakeUpSpec)>,
    surface_m2: f64,
    demand_mol_per_ms: f64,
    sun_per_h: f64,
    celsius: f64,
    /// Minute of the clock for which sun and temperature hold.
    minute: Option<u64>,
    /// The share by which the corner mixes in a step of this length, and whether water moves in it.
    mixing: Option<(u32, bool, f64)>,
    truth: BodyTruth,
}

/// The water that a specification names.
pub(super) fn water_of(at: &str, spec: &WaterSpec, temp_c: f64) -> Result<Water, PlantError> {
    let test = WaterTest {
        temp_c,
        ta_mg_l: spec.alkalinity_mg_l,
        ca_mg_l: spec.calcium_mg_l,
        tds_mg_l: spec.dissolved_mg_l,
        ph: spec.ph,
        cya_mg_l: spec.cyanuric_acid_mg_l,
        borate_mg_l: spec.borate_mg_l,
        chlorine_mg_l: spec.free_chlorine_mg_l,
    };
    test.water().map_err(|error| match error {
        WaterError::NoCarbonate { other_mg_l, .. } => PlantError {
            field: format!("{at}.alkalinity_mg_l"),
            value: spec.alkalinity_mg_l.to_string(),
            wanted: format!(
                "over {other_mg_l:.1}, which cyanurate, borate and chlorine have at this pH"
            ),
        },
        WaterError::OutOfRange {
            name,
            value,
            min,
            max,
        } => PlantError {
            field: format!("{at}.{name}"),
            value: value.to_string(),
            wanted: format!("from {min} to {max}"),
        },
    })
}

impl Basin {
    /// A body at its starting water; `at` names it in messages.
    pub(super) fn new(at: &str, spec: &BasinSpec) -> Result<Self, PlantError> {
        let celsius = spec.temperature.at(0);
        let water = water_of(&format!("{at}.water"), &spec.water, celsius)?;
        let make_up = match &spec.make_up {
            Some(one) => Some((
                water_of(&format!("{at}.make_up.water"), &one.water, celsius)?,
                *one,
            )),
            None => None,
        };
        let volume_l = spec.volume_m3 * 1000.0;
        let corner_l = spec.corner.map_or(0.0, |corner| corner.share * volume_l);
        let main = Cell::new(&water, volume_l - corner_l);
        let corner = spec.corner.map(|_| Cell::new(&water, corner_l));
        let bathing_ms = f64::from(spec.bathing.minutes()) * 60_000.0;
        let day_mol = spec.bathers_per_day * BATHER_CHLORINE_G / CHLORINE_MG_PER_MMOL;
        let mut basin = Self {
            main,
            corner,
            make_up,
            surface_m2: spec.volume_m3 / spec.depth_m,
            demand_mol_per_ms: day_mol / bathing_ms,
            sun_per_h: 0.0,
            celsius,
            minute: None,
            mixing: None,
            truth: BodyTruth::default(),
            spec: spec.clone(),
        };
        basin.tell();
        basin.tell_solved();
        Ok(basin)
    }

    /// What the body is now.
    pub(super) fn truth(&self) -> &BodyTruth {
        &self.truth
    }

    /// Temperature, C.
    pub(super) fn temperature_c(&self) -> f64 {
        self.celsius
    }

    /// The water that leaves to the pump.
    pub(super) fn main(&self) -> &Cell {
        &self.main
    }

    /// One step.
    pub(super) fn step(&mut self, around: &Around) {
        self.turn_of_the_minute(around.clock_ms);
        self.receive(around.came);
        self.bathe(around);
        self.each_part(around);
        self.make_up(around.dt_ms);
        if around.rain_mm_h > 0.0 {
            self.rain(around.rain_mm_h * f64::from(around.dt_ms) / 3_600_000.0);
        }
        self.mix(around);
        let mut solved = self.main.settle(self.celsius);
        if let Some(corner) = &mut self.corner {
            solved |= corner.settle(self.celsius);
        }
        self.tell();
        if solved {
            self.tell_solved();
        }
    }

    /// Someone pours something in, all in this moment, into the main part.
    pub(super) fn pour(&mut self, amounts: &Amounts) {
        self.main.gain(amounts, &mut self.truth.counted);
    }

    /// Water of the mains or of the sky comes, and as much goes over the edge.
    pub(super) fn dilute(&mut self, litres: f64, with: &Water) {
        let came = Amounts::of(with, litres);
        self.main.overflow(litres, &mut self.truth.counted);
        self.main.gain(&came, &mut self.truth.counted);
    }

    /// What comes out of the mains; pure water where the site names none.
    pub(super) fn mains(&self) -> Water {
        self.make_up
            .as_ref()
            .map_or(Water::default(), |(water, _)| *water)
    }

    fn turn_of_the_minute(&mut self, clock_ms: u64) {
        let minute = clock_ms / 60_000;
        if self.minute == Some(minute) {
            return;
        }
        self.minute = Some(minute);
        self.celsius = self.spec.temperature.at(clock_ms);
        self.sun_per_h = self.sun_at(clock_ms);
    }

    fn receive(&mut self, came: Product) {
        if came == Product::default() {
            return;
        }
        let counted = &mut self.truth.counted;
        let acid = Amounts::reagent(Reagent::HYDROCHLORIC, came.acid);
        let chlorine = Amounts::reagent(Reagent::HYPOCHLORITE, came.chlorine);
        let alkali = Amounts::reagent(Reagent::HYDROXIDE, came.alkali);
        self.main.gain(&acid.plus(&chlorine).plus(&alkali), counted);
        self.truth.acid_in_mol += came.acid;
        self.truth.chlorine_in_mol += came.chlorine;
        self.truth.alkali_in_mol += came.alkali;
    }

    /// Bathers take chlorine out of the main part; what they find none for waits.
    fn bathe(&mut self, around: &Around) {
        let minute = (around.clock_ms % DAY_MS / 60_000) as u16;
        if self.spec.bathing.contains(minute) {
            let asked = self.demand_mol_per_ms * around.bather_factor * f64::from(around.dt_ms);
            self.truth.demand_waiting_mol += asked;
        }
        let there = self.main.amounts().chlorine_mol.max(0.0);
        let taken = there.min(self.truth.demand_waiting_mol);
        if taken > 0.0 {
            self.truth.demand_waiting_mol -= taken;
            self.main.use_chlorine(taken, &mut self.truth.counted);
            self.truth.chlorine_used_mol += taken;
        }
    }

    /// Sun, air, and new plaster, on each part by its share of the volume.
    fn each_part(&mut self, around: &Around) {
        let hours = f64::from(around.dt_ms) / 3_600_000.0;
        let velocity = self.spec.co2_transfer_cm_h + around.strip_cm_h;
        let surface = ExchangeStep {
            velocity_cm_per_h: velocity,
            depth_m: self.spec.depth_m,
            air_atm: AIR_CO2_ATM,
        };
        let plaster = self.plaster_eq(around.clock_ms) * hours / 24.0;
        let whole_l = self.spec.volume_m3 * 1000.0;
        for part in [Some(&mut self.main), self.corner.as_mut()]
            .into_iter()
            .flatten()
        {
            let rate = self.spec.background_per_h + self.sun_per_h * part.loose();
            let used = part.decayed(rate, hours) * part.amounts().chlorine_mol;
            part.use_chlorine(used, &mut self.truth.counted);
            self.truth.chlorine_used_mol += used;
            if velocity > 0.0 {
                let seconds = hours * 3600.0;
                self.truth.carbon_out_mol +=
                    part.breathe(&surface, seconds, &mut self.truth.counted);
            }
            if plaster > 0.0 {
                let eq = plaster * part.amounts().water_l / whole_l;
                let lime = Amounts {
                    alkalinity_eq: eq,
                    calcium_mol: 0.5 * eq,
                    ..Amounts::default()
                };
                part.gain(&lime, &mut self.truth.counted);
            }
        }
    }

    /// What dissolves out of new plaster now, eq a day.
    fn plaster_eq(&self, clock_ms: u64) -> f64 {
        self.spec.plaster.map_or(0.0, |plaster| {
            let days = clock_ms as f64 / DAY_MS as f64;
            plaster.first_eq_day * (1.0 - days / plaster.days).max(0.0)
        })
    }

    fn make_up(&mut self, dt_ms: u32) {
        let Some((water, spec)) = &self.make_up else {
            return;
        };
        let days = f64::from(dt_ms) / DAY_MS as f64;
        let gone = spec.evaporation_mm_day * self.surface_m2 * days;
        let lost = spec.lost_l_day * days;
        self.main
            .lose(&Amounts::pure(gone), &mut self.truth.counted);
        self.main.overflow(lost, &mut self.truth.counted);
        self.main
            .gain(&Amounts::of(water, gone + lost), &mut self.truth.counted);
    }

    /// So many millimetres of rain, taken as pure water, and as much over the edge.
    fn rain(&mut self, mm: f64) {
        let litres = mm * RAIN_L_PER_M2_MM * self.surface_m2;
        self.main.overflow(litres, &mut self.truth.counted);
        self.main
            .gain(&Amounts::pure(litres), &mut self.truth.counted);
    }

    fn mix(&mut self, around: &Around) {
        let (Some(corner), Some(spec)) = (&mut self.corner, self.spec.corner) else {
            return;
        };
        let share = match self.mixing {
            Some((dt_ms, moving, share)) if dt_ms == around.dt_ms && moving == around.moving => {
                share
            }
            _ => {
                let minutes = if around.moving {
                    spec.exchange_min
                } else {
                    spec.standing_min
                };
                approach(around.dt_ms, minutes * 60.0)
            }
        };
        self.mixing = Some((around.dt_ms, around.moving, share));
        self.main.exchange(corner, share);
    }

    /// First-order loss by sunlight now of chlorine that nothing holds, 1/h: half a sine over the
    /// daylight.
    fn sun_at(&self, clock_ms: u64) -> f64 {
        let window = self.spec.daylight;
        let since = (clock_ms + DAY_MS - u64::from(window.from_min) * 60_000) % DAY_MS;
        let length = u64::from(window.minutes()) * 60_000;
        if self.spec.sun_peak_per_h == 0.0 || since >= length {
            return 0.0;
        }
        let phase = core::f64::consts::PI * since as f64 / length as f64;
        self.spec.sun_peak_per_h * libm::sin(phase).max(0.0)
    }

    /// What follows from the amounts alone.
    fn tell(&mut self) {
        let main = *self.main.amounts();
        let all = self
            .corner
            .as_ref()
            .map_or(main, |corner| main.plus(corner.amounts()));
        let t = &mut self.truth;
        t.temperature_c = self.celsius;
        t.alkalinity_eq = all.alkalinity_eq;
        t.carbon_mol = all.carbon_mol;
        t.chlorine_mol = all.chlorine_mol;
        let per_l = 1.0 / main.water_l;
        t.free_chlorine_mg_l = main.chlorine_mol * per_l * CHLORINE_MG_PER_MMOL * 1000.0;
        t.alkalinity_mg_l = main.alkalinity_eq * per_l * CACO3_MG_PER_MEQ * 1000.0;
        t.carbon_mmol_l = main.carbon_mol * per_l * 1000.0;
        t.corner_chlorine_mg_l = self.corner.as_ref().map_or(t.free_chlorine_mg_l, |corner| {
            let there = corner.amounts();
            there.chlorine_mol / there.water_l * CHLORINE_MG_PER_MMOL * 1000.0
        });
        t.amounts = all;
    }

    /// What follows from the last solve.
    fn tell_solved(&mut self) {
        let solved = self.main.solved();
        let t = &mut self.truth;
        t.ph = solved.ph;
        t.corner_ph = self
            .corner
            .as_ref()
            .map_or(t.ph, |corner| corner.solved().ph);
        t.hypochlorous_mg_l = solved.hypochlorous * CHLORINE_MG_PER_MMOL * 1000.0;
        t.orp_mv = orp_mv(&self.spec, t.hypochlorous_mg_l);
    }
}

/// Logarithmic in HOCl (common practice, no source), clamped to [`ORP_RANGE_MV`].
fn orp_mv(spec: &BasinSpec, hypochlorous_mg_l: f64) -> f64 {
    let decades = libm::log10(hypochlorous_mg_l.max(1e-6));
    (spec.orp_at_1_mg_l_mv + spec.orp_per_decade_mv * decades).clamp(ORP_RANGE_MV.0, ORP_RANGE_MV.1)
}

#[cfg(test)]
mod tests;
