//! From measurements to figures: what feeders should give, may give, and could give if all went
//! wrong.

use serde::Serialize;

use super::amounts::Worked;
use super::care::CheckFigures;
use super::ceiling;
use super::peak;
use super::site::{PoolKind, Site};
use crate::plant::BATHER_CHLORINE_G;
use crate::water::units::CACO3_MG_PER_MEQ;
use crate::water::{AIR_CO2_ATM, ExchangeStep, Reagent, Water, WaterError, WaterTest};
use dosewarden::commission::purge;
use dosewarden::guard::units::{FlowMlPerS, Millis};

/// Where a whole day's cap of acid at once ends. Our choice, over the 6.5 of US CDC MAHC 6.6.3.1.
pub const PH_FLOOR: f64 = 6.8;
/// The cut-off of acid is never under this. Our choice.
pub const CUTOFF_MIN: f64 = 7.0;
/// Most free chlorine that an hour's cap at once may lead to, mg/L (California 22 CCR 65529(b)).
pub const CHLORINE_MAX_MG_L: f64 = 10.0;
/// Loss of chlorine that no cyanurate holds at noon, 1/h (about 90 % in 2 to 3 h: White 1972,
/// second-hand), over half a sine of 14 h.
pub(super) const SUN_PER_H: f64 = 1.0;
const DAYLIGHT_H: f64 = 14.0;
/// Loss day and night, 1/h. Our choice.
pub(super) const BACKGROUND_PER_H: f64 = 0.005;
/// Caustic soda of hypochlorite besides what its chlorine brings, eq/L. Our choice.
pub(crate) const FREE_ALKALI_EQ_L: f64 = 0.15;
/// ORP gained for ten times the HOCl, mV (common practice, no source).
pub(super) const ORP_PER_DECADE_MV: f64 = 70.0;
/// By how much the ORP cut-off is lower for each pH above the wanted one, mV. From 7.5 to 9 the share of hypochlorous acid
/// falls by 0.8 of a decade a pH (pKa 7.54 at 25 C, Morris 1966, from memory): at 70 mV a decade a probe shows 56 mV less
/// for the same chlorine, rounded up.
pub(super) const ORP_FALL_MV_PER_PH: f64 = 60.0;
/// Taken where no anchor is known yet, mV. Our choice; feed by ORP waits for a real one.
pub(super) const ORP_GUESS_MV: f64 = 700.0;
/// Guard's tick gap and the drive's off delay that settings are made with, s.
pub(super) const TICK_GAP_S: f64 = 2.0;
/// The same for the drive, s.
pub(super) const DRIVE_OFF_S: f64 = 0.2;
/// Of the rate, once it was caught; our choice.
pub(super) const TOLERANCE: f64 = 0.10;

/// Figures that differ by the sort of pool. All are our choices; see the sheet for the reasons.
#[derive(Clone, Copy, Debug)]
pub struct Custom {
    /// Least hold after acid, s.
    pub acid_hold_s: f64,
    /// Least hold after hypochlorite, s.
    pub chlorine_hold_s: f64,
    /// A cycle of chlorine, mg/L.
    pub chlorine_cycle_mg_l: f64,
    /// An hour of it, mg/L.
    pub chlorine_hour_mg_l: f64,
    /// An hour of acid, pH.
    pub acid_hour_ph: f64,
    /// How long water has to have moved past the probes, s.
    pub settle_s: f64,
    /// Most hours that a new unit only observes. A busy spa's chlorine is gone within an hour: it observes from
    /// closing to opening.
    pub observe_h_max: u16,
    /// Days between proof tests of the interlocks.
    pub proof_test_days: u32,
    /// How near pH is to be kept.
    pub within_ph: f64,
    /// Largest movement of pH the wrong way after a full cycle of acid. Jets lift a spa's by 0.19 an
    /// hour, and an hour's hypochlorite by 0.1 by its own alkali: between a dose and its answer that
    /// together is more than the 0.15 of a pool, with nothing wrong. The price: base in a spa's drum
    /// is named by its first three doses and not locked out by one.
    pub wrong_way_ph: f64,
}

impl Custom {
    /// For a sort of pool.
    #[must_use]
    pub const fn of(kind: PoolKind) -> Self {
        let spa = matches!(kind, PoolKind::Spa);
        Self {
            acid_hold_s: if spa { 600.0 } else { 1800.0 },
            chlorine_hold_s: if spa { 300.0 } else { 900.0 },
            chlorine_cycle_mg_l: if spa { 1.0 } else { 0.5 },
            chlorine_hour_mg_l: if spa { 5.0 } else { 2.0 },
            acid_hour_ph: if spa { 0.4 } else { 0.2 },
            settle_s: if spa { 120.0 } else { 300.0 },
            observe_h_max: if spa { 7 } else { 24 },
            proof_test_days: if matches!(kind, PoolKind::Home) {
                90
            } else {
                30
            },
            within_ph: if spa { 0.25 } else { 0.15 },
            wrong_way_ph: if spa { 0.3 } else { 0.15 },
        }
    }
}

/// What a chlorine generator comes to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct CellFigures {
    /// What it has to make while the pump runs, g/h: the least size, at the site's salt and temperature.
    pub needed_g_per_h: f64,
    /// Hydrogen that it makes at its rate, L/h at 20 C: as many moles as of chlorine.
    pub hydrogen_l_per_h: f64,
}

/// What one feeder comes to. Amounts are mL, or g for a generator.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FeederFigures {
    /// Its name.
    pub name: String,
    /// "mL" or "g".
    pub unit: &'static str,
    /// It gives acid: figures of the water are pH. Else they are mg/L of free chlorine.
    pub acid: bool,
    /// Rate that settings are made for, an hour.
    pub rate_per_h: f64,
    /// The rate at which caps hold, an hour.
    pub rate_for_caps_per_h: f64,
    /// Smallest dose that is worth a cycle.
    pub dose_min: f64,
    /// Moves pH by 0.1, or free chlorine by 0.1 mg/L.
    pub per_tenth: f64,
    /// What it is expected to give a day.
    pub expected_per_day: f64,
    /// Of that, against the free alkali of the hypochlorite that is fed; acid only.
    pub against_alkali_per_day: f64,
    /// Cap of a cycle.
    pub cycle_cap: f64,
    /// Cap of an hour.
    pub hour_cap: f64,
    /// Cap of a day.
    pub day_cap: f64,
    /// Share of a cycle's cap at a pH where chlorine is weak, %; 100 for acid.
    pub weak_share_percent: f64,
    /// Flowing time after a cycle, s.
    pub hold_s: f64,
    /// Drive-on time of a cycle at its rate, s.
    pub cycle_s: f64,
    /// Days that a full drum lasts; none for a generator, and at no use.
    pub stock_days: Option<f64>,
    /// pH just behind the injector at the slowest flow.
    pub stream_ph: f64,
    /// pH, or free chlorine in mg/L, after: a cycle more than was wanted.
    pub after_cycle: f64,
    /// After an hour without a stop, with the largest tube.
    pub after_hour: f64,
    /// After a whole day's cap at once, acid from its cut-off.
    pub after_day_cap: f64,
    /// After all of a full drum; none for a generator.
    pub after_drum: Option<f64>,
    /// How its real rate is checked; none for a generator.
    pub check: Option<CheckFigures>,
    /// Of a chlorine generator.
    pub cell: Option<CellFigures>,
}

/// What a site comes to.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Figures {
    /// Volume, m3.
    pub volume_m3: f64,
    /// Mean depth, m.
    pub depth_m: f64,
    /// Alkalinity with which feeding starts, mg/L.
    pub alkalinity_start_mg_l: f64,
    /// What holding the pH takes of it a day, mg/L.
    pub alkalinity_loss_mg_l_day: f64,
    /// The lowest before the next test, mg/L: caps of acid are made for it.
    pub alkalinity_lowest_mg_l: f64,
    /// Chlorine that is used a day, mg/L.
    pub chlorine_mg_l_day: f64,
    /// Chlorine that is used in the busiest hour where the wanted chlorine stands, mg/L.
    pub chlorine_mg_l_peak_h: f64,
    /// The same where the least does.
    pub chlorine_mg_l_least_h: f64,
    /// ORP that is held, mV.
    pub orp_set_mv: f64,
    /// ORP that 1 mg/L of HOCl would have by that, mV.
    pub orp_at_1_mg_l_mv: f64,
    /// Cut-off of acid, pH.
    pub acid_cutoff: f64,
    /// Cut-off of chlorine, mV.
    pub orp_cutoff_mv: f64,
    /// Flowing time that clears the line, s.
    pub purge_s: f64,
    /// Saturation index of calcite as tested.
    pub calcite_index: f64,
    /// Feeders.
    pub feeders: Vec<FeederFigures>,
}

/// The water of the site, at another alkalinity and pH.
///
/// # Errors
/// As [`WaterTest::water`].
pub(super) fn water(site: &Site, alkalinity_mg_l: f64, ph: f64) -> Result<Water, WaterError> {
    let w = &site.water;
    let wanted = &site.wanted;
    WaterTest {
        temp_c: site.temperature_c,
        ta_mg_l: alkalinity_mg_l,
        ca_mg_l: w.calcium_mg_l.max(wanted.calcium_mg_l),
        tds_mg_l: w.dissolved_mg_l.max(wanted.dissolved_mg_l),
        ph,
        cya_mg_l: w.cyanuric_acid_mg_l.max(wanted.cyanuric_acid_mg_l),
        borate_mg_l: w.borate_mg_l,
        chlorine_mg_l: wanted.free_chlorine_mg_l,
    }
    .water()
}

pub(super) fn ph_after(water: &Water, reagent: Reagent, mol_per_l: f64) -> f64 {
    let with = water.with(reagent, mol_per_l);
    with.equilibrium().solve(&with).ph
}

/// Acid in eq/L that holds the pH for a day while CO2 leaves.
pub(super) fn acid_a_day(water: &Water, ph: f64, velocity_cm_h: f64, depth_m: f64) -> f64 {
    let eq = water.equilibrium();
    let surface = ExchangeStep {
        velocity_cm_per_h: velocity_cm_h,
        depth_m,
        air_atm: AIR_CO2_ATM,
    };
    let mut now = *water;
    let mut solved = eq.solve(&now);
    let mut fed = 0.0;
    for _ in 0..24 {
        now.carbon += surface.carbon_change(&eq, &now, &solved, 3600.0);
        let acid = eq.to_reach(&now, ph, Reagent::HYDROCHLORIC).unwrap_or(0.0);
        now.add(Reagent::HYDROCHLORIC, acid);
        fed += acid;
        solved = eq.solve_from(&now, &solved);
    }
    fed
}

/// Chlorine that is used a day at the wanted level, mg/L.
/// Share of the free chlorine that no cyanurate holds.
pub(super) fn loose(water: &Water) -> f64 {
    let eq = water.equilibrium();
    let solved = eq.solve(water);
    let species = eq.chlorine_species(water, &solved);
    if water.chlorine > 0.0 {
        (species.hypochlorous + species.hypochlorite) / water.chlorine
    } else {
        1.0
    }
}

fn chlorine_a_day(site: &Site, water: &Water) -> f64 {
    // Half a sine over the daylight.
    let sun = if site.outdoors {
        SUN_PER_H * DAYLIGHT_H * core::f64::consts::FRAC_2_PI * loose(water)
    } else {
        0.0
    };
    let bathers = site.bathers_per_day * BATHER_CHLORINE_G * 1000.0 / site.volume_l;
    site.wanted.free_chlorine_mg_l * (sun + 24.0 * BACKGROUND_PER_H) + bathers
}

/// Works a site out.
///
/// # Errors
/// The water as tested cannot be: which figure, and why.
pub(super) fn figures(site: &Site) -> Result<Figures, WaterError> {
    let wanted = &site.wanted;
    let tested = site.water.alkalinity_mg_l;
    // Less than is wanted is made up before feeding starts.
    let start = tested.max(wanted.alkalinity_mg_l);
    let at_start = water(site, start, wanted.ph)?;
    let a_day = acid_a_day(&at_start, wanted.ph, site.co2_transfer_cm_h, site.depth_m);
    let loss = a_day * 1000.0 * CACO3_MG_PER_MEQ;
    let lowest = (start - loss * site.next_test_days).max(20.0);
    let at_lowest = water(site, lowest, wanted.ph)?;
    let orp_set = wanted.orp_mv.unwrap_or(ORP_GUESS_MV);
    let hypochlorous = ceiling::hypochlorous_mg_l(&at_start);
    let orp_at_1 = orp_set - ORP_PER_DECADE_MV * libm::log10(hypochlorous.max(1e-6));
    let custom = Custom::of(site.kind);
    let slow_ml_s = (site.flow.slowest_l_min * 1000.0 / 60.0).floor();
    let line_ml = (site.flow.line_volume_l * 1000.0).ceil();
    let purge = purge(line_ml as u32, FlowMlPerS(slow_ml_s as u32)).unwrap_or(Millis(60_000));
    let as_tested = WaterTest {
        temp_c: site.temperature_c,
        ta_mg_l: tested,
        ca_mg_l: site.water.calcium_mg_l,
        tds_mg_l: site.water.dissolved_mg_l,
        ph: site.water.ph,
        cya_mg_l: site.water.cyanuric_acid_mg_l,
        borate_mg_l: site.water.borate_mg_l,
        chlorine_mg_l: site.water.free_chlorine_mg_l,
    }
    .water()?;
    let tested_eq = as_tested.equilibrium();
    let mut figures = Figures {
        volume_m3: site.volume_l / 1000.0,
        depth_m: site.depth_m,
        alkalinity_start_mg_l: start,
        alkalinity_loss_mg_l_day: loss,
        alkalinity_lowest_mg_l: lowest,
        chlorine_mg_l_day: chlorine_a_day(site, &at_start),
        chlorine_mg_l_peak_h: peak::chlorine_mg_l_h(site, &at_start, wanted.free_chlorine_mg_l),
        chlorine_mg_l_least_h: peak::chlorine_mg_l_h(
            site,
            &at_start,
            wanted.free_chlorine_min_mg_l,
        ),
        orp_set_mv: orp_set,
        orp_at_1_mg_l_mv: orp_at_1,
        acid_cutoff: (wanted.ph - 0.2).max(CUTOFF_MIN),
        orp_cutoff_mv: ceiling::orp_cutoff_mv(site, start, orp_set, orp_at_1),
        // At least a minute: a line's volume is seldom measured. Our choice.
        purge_s: (f64::from(purge.0) / 1000.0).max(60.0),
        calcite_index: tested_eq.calcite_index(&as_tested, &tested_eq.solve(&as_tested)),
        feeders: Vec::new(),
    };
    for feeder in &site.feeders {
        let one = Worked {
            site,
            figures: &figures,
            custom,
            at_lowest,
            acid_a_day: a_day,
        };
        let worked = one.feeder(feeder)?;
        figures.feeders.push(worked);
    }
    Ok(figures)
}
