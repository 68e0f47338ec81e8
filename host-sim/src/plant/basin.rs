//! One well-mixed body of water.
//!
//! Invariant: alkalinity, carbon and chlorine are kept as amounts, and every change of them is
//! also counted, so that each balance closes: what is there = what was there + in - out.
//!
//! Acid takes one equivalent of alkalinity a mole. Chlorine as OCl- brings one a mole when it
//! comes in, and the same one goes when it is used up (2 OCl- to 2 Cl- + O2, and likewise by
//! reduction), so chlorine that has been and gone leaves alkalinity as it was.

use super::chemistry::{
    CACO3_MG_PER_MEQ, CHLORINE_G_PER_MOL, Equilibrium, Totals, hypochlorous_share,
};
use super::interface::BodyTruth;
use super::line::Product;
use super::spec::BasinSpec;

/// Chlorine demand of one bather, g of Cl2 (Berg, Fang and Tang 2019, J. Water Health 17(2):227).
pub const BATHER_CHLORINE_G: f64 = 4.12;

/// ORP never leaves this range, mV.
pub const ORP_RANGE_MV: (f64, f64) = (200.0, 900.0);

const DAY_MS: u64 = 86_400_000;

/// A body of water.
#[derive(Clone, Debug)]
pub(super) struct Basin {
    spec: BasinSpec,
    equilibrium: Equilibrium,
    volume_l: f64,
    surface_dm2: f64,
    demand_mol_per_ms: f64,
    truth: BodyTruth,
}

impl Basin {
    /// A body at its starting water; `spec` has been validated.
    pub(super) fn new(spec: &BasinSpec) -> Self {
        let equilibrium = Equilibrium::new(spec.temperature_c, spec.ionic_strength_mol_l);
        let volume_l = spec.volume_m3 * 1000.0;
        let alkalinity = spec.alkalinity_mg_l / CACO3_MG_PER_MEQ / 1000.0;
        let chlorine = spec.free_chlorine_mg_l / 1000.0 / CHLORINE_G_PER_MOL;
        let carbon = equilibrium.carbon_for(spec.ph, alkalinity, chlorine);
        let bathing_ms = f64::from(spec.bathing.minutes()) * 60_000.0;
        let day_mol = spec.bathers_per_day * BATHER_CHLORINE_G / CHLORINE_G_PER_MOL;
        let mut basin = Self {
            equilibrium,
            volume_l,
            surface_dm2: volume_l / (spec.depth_m * 10.0),
            demand_mol_per_ms: day_mol / bathing_ms,
            truth: BodyTruth {
                ph: spec.ph,
                alkalinity_eq: alkalinity * volume_l,
                carbon_mol: carbon.max(0.0) * volume_l,
                chlorine_mol: chlorine * volume_l,
                ..BodyTruth::default()
            },
            spec: spec.clone(),
        };
        basin.settle();
        basin
    }

    /// What the body is now.
    pub(super) fn truth(&self) -> &BodyTruth {
        &self.truth
    }

    /// Temperature, C.
    pub(super) fn temperature_c(&self) -> f64 {
        self.spec.temperature_c
    }

    /// One step that begins `clock_ms` into the day.
    pub(super) fn step(&mut self, dt_ms: u32, clock_ms: u64, came: Product, bather_factor: f64) {
        self.receive(came);
        let used = self.chlorine_used(dt_ms, clock_ms, bather_factor);
        self.truth.chlorine_mol -= used;
        self.truth.alkalinity_eq -= used;
        self.truth.chlorine_used_mol += used;
        self.lose_carbon(dt_ms);
        self.settle();
    }

    fn receive(&mut self, came: Product) {
        let t = &mut self.truth;
        t.alkalinity_eq += came.chlorine - came.acid;
        t.chlorine_mol += came.chlorine;
        t.acid_in_mol += came.acid;
        t.chlorine_in_mol += came.chlorine;
    }

    /// Moles of chlorine that sun, bathers and the rest take in this step.
    fn chlorine_used(&mut self, dt_ms: u32, clock_ms: u64, bather_factor: f64) -> f64 {
        let hours = f64::from(dt_ms) / 3_600_000.0;
        let rate = self.spec.background_per_h + self.sun_per_h(clock_ms);
        // expm1 is exactly 0 for a rate of 0 and never beyond -1, so never more than there is.
        let decay = -libm::expm1(-rate * hours) * self.truth.chlorine_mol;
        let minute = (clock_ms % DAY_MS / 60_000) as u16;
        if self.spec.bathing.contains(minute) {
            let asked = self.demand_mol_per_ms * bather_factor * f64::from(dt_ms);
            self.truth.demand_waiting_mol += asked;
        }
        let left = (self.truth.chlorine_mol - decay).max(0.0);
        let taken = left.min(self.truth.demand_waiting_mol);
        self.truth.demand_waiting_mol -= taken;
        (decay + taken).min(self.truth.chlorine_mol)
    }

    /// First-order loss by sunlight now, 1/h: half a sine over the daylight.
    fn sun_per_h(&self, clock_ms: u64) -> f64 {
        let window = self.spec.daylight;
        let since = (clock_ms + DAY_MS - u64::from(window.from_min) * 60_000) % DAY_MS;
        let length = u64::from(window.minutes()) * 60_000;
        if self.spec.sun_peak_per_h == 0.0 || since >= length {
            return 0.0;
        }
        let phase = core::f64::consts::PI * since as f64 / length as f64;
        self.spec.sun_peak_per_h * libm::sin(phase).max(0.0)
    }

    /// CO2 to or from the air: velocity x surface x (in solution - in balance with 420 uatm).
    fn lose_carbon(&mut self, dt_ms: u32) {
        let t = &mut self.truth;
        let carbon = t.carbon_mol / self.volume_l;
        let above = self.equilibrium.co2(t.ph, carbon) - self.equilibrium.co2_in_balance();
        // cm/h to dm in this step.
        let depth_dm = self.spec.co2_transfer_cm_h / 10.0 * f64::from(dt_ms) / 3_600_000.0;
        let out = (above * depth_dm * self.surface_dm2).min(t.carbon_mol);
        t.carbon_mol -= out;
        t.carbon_out_mol += out;
    }

    /// Solves pH from the amounts and fills in what follows from it.
    fn settle(&mut self) {
        let t = &mut self.truth;
        let totals = Totals {
            alkalinity: t.alkalinity_eq / self.volume_l,
            carbon: t.carbon_mol / self.volume_l,
            chlorine: t.chlorine_mol / self.volume_l,
        };
        t.ph = self.equilibrium.solve_ph(totals, t.ph);
        t.free_chlorine_mg_l = totals.chlorine * CHLORINE_G_PER_MOL * 1000.0;
        t.alkalinity_mg_l = totals.alkalinity * CACO3_MG_PER_MEQ * 1000.0;
        t.carbon_mmol_l = totals.carbon * 1000.0;
        let share = hypochlorous_share(t.ph, self.equilibrium.hypochlorous_pka());
        t.hypochlorous_mg_l = t.free_chlorine_mg_l * share;
        t.orp_mv = orp_mv(&self.spec, t.hypochlorous_mg_l);
    }
}

/// Logarithmic in HOCl (common practice, no source), clamped to [`ORP_RANGE_MV`].
fn orp_mv(spec: &BasinSpec, hypochlorous_mg_l: f64) -> f64 {
    let decades = libm::log10(hypochlorous_mg_l.max(1e-6));
    (spec.orp_at_1_mg_l_mv + spec.orp_per_decade_mv * decades).clamp(ORP_RANGE_MV.0, ORP_RANGE_MV.1)
}

#[cfg(test)]
mod tests {
    use super::super::spec::DayWindow;
    use super::*;
    use proptest::prelude::*;

    const NOTHING: Product = Product {
        acid: 0.0,
        chlorine: 0.0,
    };

    fn quiet() -> BasinSpec {
        BasinSpec {
            co2_transfer_cm_h: 0.0,
            sun_peak_per_h: 0.0,
            background_per_h: 0.0,
            bathers_per_day: 0.0,
            free_chlorine_mg_l: 0.0,
            temperature_c: 25.0,
            ..BasinSpec::default()
        }
    }

    fn run(basin: &mut Basin, hours: u64, from_hour: u64) {
        for s in 0..hours * 360 {
            basin.step(10_000, from_hour * 3_600_000 + s * 10_000, NOTHING, 1.0);
        }
    }

    #[test]
    fn co2_loss_over_a_day() {
        // PHREEQC, 25 C, 1.5 m, TA 100, 24 h from pH 7.50 (computed). Without ion pairs the water
        // holds pH about a tenth less firmly, so the fastest ends 0.04 higher.
        for (velocity, ph) in [(1.0, 7.55), (2.0, 7.61), (4.0, 7.70), (8.0, 7.86)] {
            let mut basin = Basin::new(&BasinSpec {
                co2_transfer_cm_h: velocity,
                ..quiet()
            });
            run(&mut basin, 24, 0);
            let got = basin.truth().ph;
            assert!((got - ph).abs() < 0.045, "{velocity} cm/h: {got}");
        }
    }

    #[test]
    fn sunlight_without_cyanuric_acid() {
        // White 1972 (second-hand): about 90 % lost in 2 to 3 h; here with a peak of 0.95 1/h.
        let mut basin = Basin::new(&BasinSpec {
            free_chlorine_mg_l: 3.0,
            sun_peak_per_h: 0.95,
            daylight: DayWindow {
                from_min: 360,
                to_min: 1200,
            },
            ..quiet()
        });
        run(&mut basin, 2, 12);
        assert!(basin.truth().free_chlorine_mg_l > 0.3);
        run(&mut basin, 1, 14);
        assert!(basin.truth().free_chlorine_mg_l < 0.3);
        run(&mut basin, 9, 15);
        let evening = basin.truth().free_chlorine_mg_l;
        run(&mut basin, 6, 0);
        assert_eq!(basin.truth().free_chlorine_mg_l, evening);
    }

    #[test]
    fn each_bather_takes_4_12_g() {
        // Berg, Fang and Tang 2019: 4.12 g each; 23 in 95 m3 take 0.9975 mg/L.
        let mut basin = Basin::new(&BasinSpec {
            free_chlorine_mg_l: 3.0,
            bathers_per_day: 23.0,
            ..quiet()
        });
        run(&mut basin, 24, 0);
        let taken = 3.0 - basin.truth().free_chlorine_mg_l;
        assert!((taken - 23.0 * 4.12 / 95.0).abs() < 1e-9, "{taken}");
        assert_eq!(basin.truth().demand_waiting_mol, 0.0);
    }

    #[test]
    fn demand_without_chlorine_waits_for_it() {
        let mut basin = Basin::new(&BasinSpec {
            bathers_per_day: 23.0,
            ..quiet()
        });
        run(&mut basin, 24, 0);
        let waiting = basin.truth().demand_waiting_mol;
        assert!((waiting - 23.0 * 4.12 / 70.906).abs() < 1e-9);
        let half = Product {
            acid: 0.0,
            chlorine: waiting / 2.0,
        };
        basin.step(1000, 0, half, 1.0);
        assert!(basin.truth().chlorine_mol.abs() < 1e-12);
        assert!((basin.truth().demand_waiting_mol - waiting / 2.0).abs() < 1e-12);
    }

    #[test]
    fn hypochlorite_dose_that_raises_one_milligram() {
        // White 1972 (second-hand): 8.0 mL of 12.5 trade % (125 g/L) raise 1 m3 by 1 mg/L.
        let mut basin = Basin::new(&quiet());
        let grams = 95.0 * 8.0e-3 * 125.0;
        let came = Product {
            acid: 0.0,
            chlorine: grams / CHLORINE_G_PER_MOL,
        };
        basin.step(1000, 0, came, 1.0);
        assert!((basin.truth().free_chlorine_mg_l - 1.0).abs() < 1e-9);
    }

    #[test]
    fn acid_takes_an_equivalent_a_mole() {
        // 25.6 US fl oz of 31.45 % in 10,000 US gal take 10 mg/L (second-hand and computed).
        let mut basin = Basin::new(&BasinSpec {
            volume_m3: 37.854_117_84,
            ..quiet()
        });
        let litres = 25.6 * 29.573_529_562_5e-3;
        let came = Product {
            acid: litres * 9.971,
            chlorine: 0.0,
        };
        basin.step(1000, 0, came, 1.0);
        let fell = 100.0 - basin.truth().alkalinity_mg_l;
        assert!((fell - 10.0).abs() < 0.05, "{fell}");
        assert!(basin.truth().ph < 7.4);
    }

    proptest! {
        #[test]
        fn every_balance_closes(
            doses in proptest::collection::vec((0.0_f64..2.0, 0.0_f64..2.0), 1..200),
            sun in 0.0_f64..2.0, bathers in 0.0_f64..60.0, velocity in 0.0_f64..20.0,
            start in 0_u64..86_400_000,
        ) {
            let mut basin = Basin::new(&BasinSpec {
                sun_peak_per_h: sun, bathers_per_day: bathers, co2_transfer_cm_h: velocity,
                volume_m3: 2.0, ..BasinSpec::default()
            });
            let mut was = *basin.truth();
            for (i, (acid, chlorine)) in doses.into_iter().enumerate() {
                let came = Product { acid: acid * 0.01, chlorine: chlorine * 0.01 };
                basin.step(5_000, start + 5_000 * i as u64, came, 1.0);
                let now = *basin.truth();
                let used = now.chlorine_used_mol - was.chlorine_used_mol;
                let out = now.carbon_out_mol - was.carbon_out_mol;
                let alkalinity = was.alkalinity_eq - came.acid + came.chlorine - used;
                let close = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs().max(1e-3);
                prop_assert!(close(now.alkalinity_eq, alkalinity));
                prop_assert!(close(now.chlorine_mol, was.chlorine_mol + came.chlorine - used));
                prop_assert!(close(now.carbon_mol, was.carbon_mol - out));
                prop_assert!(close(now.acid_in_mol, was.acid_in_mol + came.acid));
                prop_assert!(now.chlorine_mol >= 0.0 && used >= 0.0 && now.carbon_mol >= 0.0);
                was = now;
            }
        }

        #[test]
        fn orp_rises_with_chlorine_and_falls_with_ph(
            chlorine in 0.0_f64..12.0, more in 0.0_f64..5.0, ph in 6.5_f64..8.5, up in 0.0_f64..0.5,
        ) {
            let orp = |fc: f64, ph: f64| Basin::new(&BasinSpec {
                free_chlorine_mg_l: fc, ph, ..BasinSpec::default()
            }).truth().orp_mv;
            prop_assert!(orp(chlorine + more, ph) >= orp(chlorine, ph));
            prop_assert!(orp(chlorine, ph + up) <= orp(chlorine, ph) + 1e-6);
            prop_assert!((ORP_RANGE_MV.0..=ORP_RANGE_MV.1).contains(&orp(chlorine, ph)));
        }
    }
}
