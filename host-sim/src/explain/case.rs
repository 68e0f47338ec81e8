//! What is known of the time between two tests, and how well.

use super::way::{End, Way};
use super::{ExplainError, Stop, fit};
use crate::plan::{Plan, Site};
use crate::plant::BATHER_CHLORINE_G;
use crate::visit::inside::{Came, Drum, booked, errors, feeder_of, level_error, tested, together};
use crate::visit::{Log, Tested};
use crate::water::WaterTest;
use crate::water::units::CHLORINE_MG_PER_MMOL;
use dosewarden::guard::Product;

/// Loss day and night of what a DPD test reads, 1/h, as the plan has it. Our choice.
const OTHER_PER_H: f64 = 0.005;

/// What is known of the time between.
pub(super) struct Case {
    pub(super) way: Way,
    pub(super) feeders: fit::Feeders,
    pub(super) chlorine: [f64; 2],
    pub(super) without_chlorine: bool,
    /// Share by which drums leave each feeder open: acid, chlorine.
    open: [f64; 2],
    fresh_unknown: bool,
}

impl Case {
    pub(super) fn of(
        site: &Site,
        plan: &Plan,
        log: &Log,
        first: &Stop<'_>,
        second: &Stop<'_>,
    ) -> Result<Self, ExplainError> {
        let volume = site.volume_l;
        let came = Came::between(log, first.entry, second.entry, site);
        let hours = (second.entry.at_min - first.entry.at_min) as f64 / 60.0;
        let ends = Ends {
            site,
            plan,
            log,
            first,
            second,
        };
        let (acid, hypochlorite, cell) = (
            ends.fed(
                Product::Acid,
                "total of the acid feeder at both visits (fed)",
            )?,
            ends.fed(
                Product::Hypochlorite,
                "total of the chlorine feeder at both visits (fed)",
            )?,
            ends.fed(
                Product::GeneratedChlorine,
                "total of the cell at both visits (fed)",
            )?,
        );
        let per_mol = CHLORINE_MG_PER_MMOL * volume;
        let chlorine = ends.chlorine();
        let middle = f64::midpoint(chlorine[0], chlorine[1]);
        let way = Way {
            start: ends.start(chlorine[0]),
            hours,
            depth_m: site.depth_m,
            velocity_cm_h: site.co2_transfer_cm_h,
            acid: acid.amount * acid.strength / volume,
            chlorine: (hypochlorite.amount * hypochlorite.strength + cell.amount) / per_mol,
            hypochlorite: hypochlorite.amount / volume,
            hand_alkalinity: (came.alkali_eq - came.acid_eq) / volume,
            hand_carbon: came.carbon_mol / volume,
            hand_chlorine: came.chlorine_g / per_mol,
            fresh: came.fresh_l / volume,
            fresh_mg_l: came.fresh_alkalinity(first.alkalinity),
            used: used(site, plan, &came, hours, middle),
            over: [acid.over, hypochlorite.over],
            elsewhere: [0.0; 3],
        };
        Ok(Self {
            way,
            feeders: fit::Feeders {
                acid_open: acid.open_l.map(|litres| litres * acid.strength / volume),
                acid_per_l: acid.strength / volume,
            },
            chlorine,
            without_chlorine: first.chlorine.is_none() || second.chlorine.is_none(),
            open: [acid.open, hypochlorite.open],
            fresh_unknown: came.fresh_unknown_l > 0.0,
        })
    }

    pub(super) fn test_errors(&self, second: &Stop<'_>) -> End {
        // What nobody tested may be anything.
        let chlorine = if self.without_chlorine {
            100.0
        } else {
            errors::test(Tested::FreeChlorine, self.chlorine[1])
        };
        [
            errors::test(Tested::Ph, second.ph),
            errors::test(Tested::Alkalinity, second.alkalinity),
            chlorine,
        ]
    }

    /// The way with one figure after the other off by a standard deviation.
    pub(super) fn uncertain(&self) -> Vec<Way> {
        let way = self.way;
        let share = together(&[errors::VOLUME, errors::STRENGTH]);
        let start = |change: fn(&mut WaterTest, f64), by: f64| {
            let mut other = way;
            change(&mut other.start, by);
            other
        };
        let fresh = if self.fresh_unknown {
            errors::FRESH_ALKALINITY_MG_L
        } else {
            0.0
        };
        vec![
            Way {
                velocity_cm_h: way.velocity_cm_h * (1.0 + errors::CO2_LOSS),
                ..way
            },
            Way {
                acid: way.acid * (1.0 + share),
                ..way
            },
            Way {
                chlorine: way.chlorine * (1.0 + share),
                hypochlorite: way.hypochlorite * (1.0 + share),
                ..way
            },
            Way {
                hand_alkalinity: way.hand_alkalinity * (1.0 + share),
                hand_carbon: way.hand_carbon * (1.0 + share),
                hand_chlorine: way.hand_chlorine * (1.0 + share),
                ..way
            },
            Way {
                used: way.used.map(|one| one * (1.0 + errors::CHLORINE_USE)),
                ..way
            },
            Way {
                over: [way.over[0] + self.open[0], way.over[1]],
                ..way
            },
            Way {
                over: [way.over[0], way.over[1] + self.open[1]],
                ..way
            },
            Way {
                fresh_mg_l: way.fresh_mg_l + fresh,
                ..way
            },
            start(
                |test, by| test.ph += by,
                errors::test(Tested::Ph, way.start.ph),
            ),
            start(
                |test, by| test.ta_mg_l += by,
                errors::test(Tested::Alkalinity, way.start.ta_mg_l),
            ),
            start(
                |test, by| test.chlorine_mg_l += by,
                errors::test(Tested::FreeChlorine, way.start.chlorine_mg_l),
            ),
        ]
    }
}

/// What a feeder gave by its controller and its drum.
#[derive(Clone, Copy, Debug, Default)]
struct Fed {
    /// Booked, at the configured rate: L, or g.
    amount: f64,
    /// mol/L or g/L.
    strength: f64,
    /// More than booked, a share.
    over: f64,
    /// How far the drum leaves that open, a standard deviation: a share, and in litres where it was read.
    open: f64,
    open_l: Option<f64>,
}

/// Both ends.
struct Ends<'a> {
    site: &'a Site,
    plan: &'a Plan,
    log: &'a Log,
    first: &'a Stop<'a>,
    second: &'a Stop<'a>,
}

impl Ends<'_> {
    /// What the feeder of a product gave; nothing where there is none.
    fn fed(&self, product: Product, what: &'static str) -> Result<Fed, ExplainError> {
        let Some(at) = feeder_of(self.site, product) else {
            return Ok(Fed::default());
        };
        let (first, second) = (self.first, self.second);
        let amount = booked(self.log, self.plan, at, first.at, second.at);
        let amount = amount.ok_or_else(|| ExplainError::NoTest {
            time: second.visit.time.clone(),
            what,
        })?;
        let drum = Drum::of(self.log, self.site, self.plan, at);
        let error = level_error(self.plan, at);
        let ratio = drum.ratio(error);
        let unbooked = || drum.unbooked(error).map(|(_, spread)| spread);
        Ok(Fed {
            amount,
            strength: self.site.feeders.get(at).map_or(0.0, |one| one.strength),
            over: ratio.map_or(0.0, |(ratio, _)| ratio - 1.0),
            open: ratio.map_or(0.0, |(_, spread)| spread),
            open_l: ratio.map(|(_, spread)| spread * amount).or_else(unbooked),
        })
    }

    /// Free chlorine at both; what was not tested is taken as wanted.
    fn chlorine(&self) -> [f64; 2] {
        let wanted = self.site.wanted.free_chlorine_mg_l;
        [self.first, self.second].map(|stop| stop.chlorine.unwrap_or(wanted))
    }

    /// The water at the first test; what was not tested until then is as in the site file.
    fn start(&self, chlorine_mg_l: f64) -> WaterTest {
        let latest = |which, usual: f64| {
            let mut back = self.log.visits[..=self.first.at].iter().rev();
            let found = back.find_map(|visit| visit.last(tested(which)));
            found.unwrap_or(usual)
        };
        let water = &self.site.water;
        WaterTest {
            temp_c: latest(Tested::Temperature, self.site.temperature_c),
            ta_mg_l: self.first.alkalinity,
            ca_mg_l: latest(Tested::Calcium, water.calcium_mg_l),
            tds_mg_l: latest(Tested::Salt, water.dissolved_mg_l),
            ph: self.first.ph,
            cya_mg_l: latest(Tested::Cyanurate, water.cyanuric_acid_mg_l),
            borate_mg_l: water.borate_mg_l,
            chlorine_mg_l,
        }
    }
}

/// Chlorine that bathers, sunlight and the rest were expected to use, mol/L.
fn used(site: &Site, plan: &Plan, came: &Came, hours: f64, mean_mg_l: f64) -> [f64; 3] {
    let days = hours / 24.0;
    let level = mean_mg_l / site.wanted.free_chlorine_mg_l;
    let usual = site.bathers_per_day * BATHER_CHLORINE_G * 1000.0 / site.volume_l;
    let other = OTHER_PER_H * 24.0 * site.wanted.free_chlorine_mg_l;
    let sun = (plan.figures.chlorine_mg_l_day - usual - other).max(0.0);
    let counted = came.bathers * BATHER_CHLORINE_G * 1000.0 / site.volume_l;
    let bathers = if came.bathers > 0.0 {
        counted
    } else {
        usual * days
    };
    [bathers, sun * level * days, other * level * days]
        .map(|mg_l| mg_l / 1000.0 / CHLORINE_MG_PER_MMOL)
}
