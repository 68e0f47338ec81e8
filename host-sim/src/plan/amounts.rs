//! What one feeder should give, may give, and could give.

use super::care;
use super::feeder::SiteFeeder;
use super::peak;
use super::site::Site;
use super::supply;
use super::work::{
    CHLORINE_MAX_MG_L, CellFigures, Custom, DRIVE_OFF_S, FREE_ALKALI_EQ_L, FeederFigures, Figures,
    PH_FLOOR, TICK_GAP_S, TOLERANCE, ph_after, water,
};
use crate::plant::HYDROGEN_L_PER_MOL;
use crate::water::units::CHLORINE_MG_PER_MMOL;
use crate::water::{Reagent, Water, WaterError};
use dosewarden::commission::spread_hold;
use dosewarden::guard::Product;
use dosewarden::guard::units::Millis;

/// What a site's feeders are worked out from.
pub(super) struct Worked<'a> {
    pub(super) site: &'a Site,
    pub(super) figures: &'a Figures,
    pub(super) custom: Custom,
    /// The wanted water at the lowest alkalinity.
    pub(super) at_lowest: Water,
    /// eq/L.
    pub(super) acid_a_day: f64,
}

impl Worked<'_> {
    pub(super) fn feeder(&self, feeder: &SiteFeeder) -> Result<FeederFigures, WaterError> {
        let rate = f64::from(feeder.rate().0) / 1000.0;
        let rate_for_caps = if feeder.caught.is_some() {
            rate * (1.0 + TOLERANCE)
        } else {
            feeder.rate_any_tube_per_h
        };
        // A charge has to last for longer than a tick and the drive's end.
        let least = rate_for_caps * (TICK_GAP_S + DRIVE_OFF_S) * 1.02 / 3600.0;
        let dose_min = feeder.dose_min.max(least);
        let mut one = FeederFigures {
            name: feeder.name.clone(),
            unit: feeder.unit(),
            acid: feeder.product == Product::Acid,
            rate_per_h: rate,
            rate_for_caps_per_h: rate_for_caps,
            dose_min,
            per_tenth: 0.0,
            expected_per_day: 0.0,
            against_alkali_per_day: 0.0,
            cycle_cap: 0.0,
            hour_cap: 0.0,
            day_cap: 0.0,
            weak_share_percent: 100.0,
            hold_s: 60.0,
            cycle_s: 0.0,
            stock_days: None,
            stream_ph: 0.0,
            after_cycle: 0.0,
            after_hour: 0.0,
            after_day_cap: 0.0,
            after_drum: None,
            check: None,
            cell: None,
        };
        if feeder.product == Product::Acid {
            self.acid(feeder, &mut one)?;
        } else {
            self.chlorine(feeder, &mut one);
        }
        let probe_s = if one.acid {
            self.site.probes.ph_lag_s
        } else {
            self.site.probes.orp_lag_s
        };
        let lag = Millis(((probe_s + self.site.probes.sample_lag_s) * 1000.0) as u32);
        one.check = care::check(self.site, self.figures, feeder, self.way(lag))?;
        one.cycle_s = one.cycle_cap / rate * 3600.0;
        if !one.acid {
            one.weak_share_percent = peak::weak_share_percent(self.figures, &one);
        }
        if feeder.is_liquid() && one.expected_per_day > 0.0 {
            one.stock_days = Some(feeder.drum_l * 1000.0 / one.expected_per_day);
        }
        Ok(one)
    }

    /// mL of acid that carry so many eq/L into the basin.
    fn acid_ml(&self, feeder: &SiteFeeder, eq_per_l: f64) -> f64 {
        eq_per_l * self.site.volume_l / feeder.strength * 1000.0
    }

    /// Free alkali of the hypochlorite that is used a day, eq/L of the basin. What its chlorine brings besides goes
    /// again when that is used.
    fn alkali_a_day(&self) -> f64 {
        let own = self.site.feeders.iter();
        let own = own.filter(|one| one.product == Product::Hypochlorite);
        own.map(|one| self.figures.chlorine_mg_l_day / 1000.0 / one.strength * FREE_ALKALI_EQ_L)
            .sum()
    }

    fn acid(&self, feeder: &SiteFeeder, one: &mut FeederFigures) -> Result<(), WaterError> {
        let (site, ph) = (self.site, self.site.wanted.ph);
        let step = |from: f64, to: f64| -> Result<f64, WaterError> {
            let water = water(site, self.figures.alkalinity_lowest_mg_l, from)?;
            let eq = water.equilibrium();
            let acid = eq
                .to_reach(&water, to, Reagent::HYDROCHLORIC)
                .unwrap_or(0.0);
            Ok(self.acid_ml(feeder, acid))
        };
        one.per_tenth = step(ph + 0.1, ph)?;
        one.day_cap = step(self.figures.acid_cutoff, PH_FLOOR)?;
        one.hour_cap = step(ph + self.custom.acid_hour_ph, ph)?.min(one.day_cap);
        one.cycle_cap = one.per_tenth.min(one.hour_cap);
        one.against_alkali_per_day = self.acid_ml(feeder, self.alkali_a_day());
        one.expected_per_day = self.acid_ml(feeder, self.acid_a_day) + one.against_alkali_per_day;
        let lag = Millis(((site.probes.ph_lag_s + site.probes.sample_lag_s) * 1000.0) as u32);
        one.hold_s = self.hold(lag).max(self.custom.acid_hold_s);
        let after = |water: &Water, ml: f64| {
            let mol = ml / 1000.0 * feeder.strength / site.volume_l;
            ph_after(water, Reagent::HYDROCHLORIC, mol)
        };
        one.after_cycle = after(&self.at_lowest, one.cycle_cap);
        one.after_hour = after(&self.at_lowest, feeder.rate_any_tube_per_h);
        one.after_drum = Some(after(&self.at_lowest, feeder.drum_l * 1000.0));
        let low = self.figures.alkalinity_lowest_mg_l;
        let at_cutoff = water(site, low, self.figures.acid_cutoff)?;
        one.after_day_cap = after(&at_cutoff, one.day_cap);
        let mol_per_l =
            one.rate_per_h / 1000.0 * feeder.strength / (site.flow.slowest_l_min * 60.0);
        one.stream_ph = ph_after(&self.at_lowest, Reagent::HYDROCHLORIC, mol_per_l);
        Ok(())
    }

    fn chlorine(&self, feeder: &SiteFeeder, one: &mut FeederFigures) {
        let (site, custom) = (self.site, self.custom);
        let wanted = site.wanted.free_chlorine_mg_l;
        // mL, or g, for a mg/L in the basin.
        let per_mg_l = if feeder.is_liquid() {
            site.volume_l / feeder.strength
        } else {
            site.volume_l / 1000.0
        };
        let expected = self.figures.chlorine_mg_l_day;
        one.per_tenth = 0.1 * per_mg_l;
        one.expected_per_day = expected * per_mg_l;
        let day = (1.5 * expected).max(custom.chlorine_cycle_mg_l);
        // Where a day's cap has to last for longer it grows, up to what may be there at once.
        let days = supply::days_of_a_cap(site);
        one.day_cap = day.max((day * days).min(CHLORINE_MAX_MG_L - wanted)) * per_mg_l;
        let peak = peak::HOUR_OVER_PEAK * self.figures.chlorine_mg_l_peak_h;
        let hour = (custom.chlorine_hour_mg_l.max(peak)).min(CHLORINE_MAX_MG_L - wanted);
        one.hour_cap = (hour * per_mg_l).min(one.day_cap);
        one.cycle_cap = if feeder.is_liquid() {
            (custom.chlorine_cycle_mg_l * per_mg_l).min(one.hour_cap)
        } else {
            // A cell runs long: its cycle is an hour of it.
            one.hour_cap.min(one.rate_per_h)
        };
        let lag = Millis(((site.probes.orp_lag_s + site.probes.sample_lag_s) * 1000.0) as u32);
        one.hold_s = if feeder.is_liquid() {
            self.way(lag).max(custom.chlorine_hold_s)
        } else {
            60.0
        };
        one.after_cycle = wanted + one.cycle_cap / per_mg_l;
        one.after_hour = wanted + feeder.rate_any_tube_per_h / per_mg_l;
        one.after_day_cap = wanted + one.day_cap / per_mg_l;
        if feeder.is_liquid() {
            one.after_drum = Some(wanted + feeder.drum_l * 1000.0 / per_mg_l);
        }
        if !feeder.is_liquid() {
            one.cell = Some(CellFigures {
                needed_g_per_h: one.expected_per_day / site.pump_h(),
                hydrogen_l_per_h: one.rate_per_h / CHLORINE_MG_PER_MMOL * HYDROGEN_L_PER_MOL,
            });
        }
        // g/h over L/h, in mol/L.
        let grams_per_h = if feeder.is_liquid() {
            one.rate_per_h / 1000.0 * feeder.strength
        } else {
            one.rate_per_h
        };
        let mol_per_l = grams_per_h / CHLORINE_MG_PER_MMOL / (site.flow.slowest_l_min * 60.0);
        one.stream_ph = ph_after(&self.at_lowest, Reagent::HYPOCHLORITE, mol_per_l);
    }

    /// The water's way and three lags, s.
    fn way(&self, lag: Millis) -> f64 {
        let hold = spread_hold(self.transit(), lag, Millis(0));
        f64::from(hold.0) / 1000.0
    }

    /// The same and three exchanges of the slow part, s.
    fn hold(&self, lag: Millis) -> f64 {
        let minutes = self.site.corner.map_or(0.0, |corner| corner.exchange_min);
        let exchange = Millis((minutes * 60_000.0).min(8.64e7) as u32);
        let hold = spread_hold(self.transit(), lag, exchange);
        f64::from(hold.0) / 1000.0
    }

    /// From the injectors to the basin and from there to the probes, at the slowest flow.
    fn transit(&self) -> Millis {
        let flow = &self.site.flow;
        let line_s = flow.line_volume_l / flow.slowest_l_min * 60.0;
        let slower = flow.flow_l_min / flow.slowest_l_min;
        let all = line_s + self.site.probes.sample_delay_s * slower;
        Millis((all * 1000.0).ceil().min(8.64e7) as u32)
    }
}
