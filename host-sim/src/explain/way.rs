//! The water from one test to another, hour by hour, with some of what moved it.

use serde::Serialize;

use crate::plan::FREE_ALKALI_EQ_L;
use crate::water::units::{CACO3_MG_PER_MEQ, CHLORINE_MG_PER_MMOL};
use crate::water::{AIR_CO2_ATM, ExchangeStep, Reagent, Water, WaterError, WaterTest};

/// Something that moves the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Acid that the controller booked, at the configured rate.
    FedAcid,
    /// CO2 that leaves.
    Co2Loss,
    /// Hypochlorite, or what a cell made, as booked.
    FedChlorine,
    /// What was poured by hand and entered.
    Hand,
    /// Refill and rain.
    FreshWater,
    /// What bathers used.
    Bathers,
    /// What sunlight used.
    Sunlight,
    /// What the rest used, day and night.
    OtherUse,
    /// What feeders gave beside what was booked, by their drums; less is negative.
    OverDelivery,
}

impl Source {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::FedAcid,
        Self::Co2Loss,
        Self::FedChlorine,
        Self::Hand,
        Self::FreshWater,
        Self::Bathers,
        Self::Sunlight,
        Self::OtherUse,
        Self::OverDelivery,
    ];

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::FedAcid => "acid, as booked",
            Self::Co2Loss => "CO2 that left",
            Self::FedChlorine => "chlorine, as booked",
            Self::Hand => "poured by hand",
            Self::FreshWater => "refill and rain",
            Self::Bathers => "bathers",
            Self::Sunlight => "sunlight",
            Self::OtherUse => "other use of chlorine",
            Self::OverDelivery => "feeders beside their booking",
        }
    }
}

/// Amounts of all of it, over the whole time; mol/L and eq/L of the water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    pub(super) start: WaterTest,
    pub(super) hours: f64,
    pub(super) depth_m: f64,
    pub(super) velocity_cm_h: f64,
    pub(super) acid: f64,
    /// Chlorine, and litres of hypochlorite a litre of water for its free alkali.
    pub(super) chlorine: f64,
    pub(super) hypochlorite: f64,
    pub(super) hand_alkalinity: f64,
    pub(super) hand_carbon: f64,
    pub(super) hand_chlorine: f64,
    /// Share of the water, and its alkalinity, mg/L.
    pub(super) fresh: f64,
    pub(super) fresh_mg_l: f64,
    /// Used by bathers, sunlight, the rest.
    pub(super) used: [f64; 3],
    /// Over-delivery of acid and chlorine, a share of what was booked.
    pub(super) over: [f64; 2],
    /// What nobody knows of: alkalinity, carbon and chlorine from elsewhere.
    pub(super) elsewhere: [f64; 3],
}

/// Where the water ends: pH, alkalinity in mg/L, free chlorine in mg/L.
pub(super) type End = [f64; 3];

impl Way {
    /// The end with these sources; what comes from elsewhere is always in it.
    pub(super) fn end(&self, on: &[Source]) -> Result<End, WaterError> {
        let mut water = self.start.water()?;
        let eq = water.equilibrium();
        let has = |source| on.contains(&source);
        let fresh = self.fresh_water(&water)?;
        let mut chlorine = water.chlorine;
        if has(Source::Hand) {
            water.alkalinity += self.hand_alkalinity + self.hand_chlorine;
            water.carbon += self.hand_carbon;
            chlorine += self.hand_chlorine;
        }
        let steps = self.hours.ceil().max(1.0);
        let each = 1.0 / steps;
        let surface = ExchangeStep {
            velocity_cm_per_h: self.velocity_cm_h,
            depth_m: self.depth_m,
            air_atm: AIR_CO2_ATM,
        };
        let mut solved = eq.solve(&water);
        for _ in 0..steps as usize {
            if has(Source::Co2Loss) {
                let seconds = 3600.0 * self.hours * each;
                water.carbon += surface.carbon_change(&eq, &water, &solved, seconds);
            }
            let (alkalinity, more) = self.flows(on);
            water.alkalinity += (alkalinity + self.elsewhere[0]) * each;
            water.carbon += self.elsewhere[1] * each;
            chlorine += (more + self.elsewhere[2]) * each;
            if has(Source::FreshWater) {
                let share = self.fresh * each;
                water.alkalinity += (fresh.alkalinity - water.alkalinity) * share;
                water.carbon += (fresh.carbon - water.carbon) * share;
                chlorine -= chlorine * share;
            }
            solved = eq.solve_from(&water, &solved);
        }
        Ok([
            solved.ph,
            water.alkalinity * 1000.0 * CACO3_MG_PER_MEQ,
            chlorine * 1000.0 * CHLORINE_MG_PER_MMOL,
        ])
    }

    /// Alkalinity and chlorine that these sources bring in all, besides CO2, fresh water and what was poured.
    fn flows(&self, on: &[Source]) -> (f64, f64) {
        let free_alkali = self.hypochlorite * FREE_ALKALI_EQ_L;
        let own = |source| match source {
            Source::FedAcid => (-self.acid, 0.0),
            Source::FedChlorine => (self.chlorine + free_alkali, self.chlorine),
            Source::Bathers => (-self.used[0], -self.used[0]),
            Source::Sunlight => (-self.used[1], -self.used[1]),
            Source::OtherUse => (-self.used[2], -self.used[2]),
            Source::OverDelivery => {
                let chlorine = self.over[1] * self.chlorine;
                let alkali = self.over[1] * free_alkali;
                (chlorine + alkali - self.over[0] * self.acid, chlorine)
            }
            Source::Co2Loss | Source::Hand | Source::FreshWater => (0.0, 0.0),
        };
        on.iter()
            .map(|source| own(*source))
            .fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
    }

    /// Water from the mains: at pH 7.5, since nobody tests that.
    fn fresh_water(&self, like: &Water) -> Result<Water, WaterError> {
        let test = WaterTest {
            ph: 7.5,
            ta_mg_l: self.fresh_mg_l.max(1.0),
            cya_mg_l: 0.0,
            borate_mg_l: 0.0,
            chlorine_mg_l: 0.0,
            temp_c: like.temperature_c,
            ..self.start
        };
        test.water()
    }

    /// What each source moved, in its order: the mean of adding them from the first and from the last, so that their sum is
    /// the whole movement.
    pub(super) fn split(&self) -> Result<Vec<(Source, End)>, WaterError> {
        let all = Source::ALL;
        let mut first = Vec::new();
        let mut last = Vec::new();
        for cut in 0..=all.len() {
            first.push(self.end(&all[..cut])?);
            last.push(self.end(&all[cut..])?);
        }
        let step = |at: usize| {
            core::array::from_fn(|which| {
                let up = first[at + 1][which] - first[at][which];
                let down = last[at][which] - last[at + 1][which];
                f64::midpoint(up, down)
            })
        };
        Ok(all
            .into_iter()
            .enumerate()
            .map(|(at, source)| (source, step(at)))
            .collect())
    }
}

/// What a mole of acid takes.
pub(super) const ACID: [f64; 3] = [Reagent::HYDROCHLORIC.alkalinity, 0.0, 0.0];
