//! The commissioning sheet: from what was measured at a site to settings, what they rest on, what is wrong with
//! them, and what to do before feeding starts.
//!
//! Invariant: a plan is advice. Its limits are checked by the guard like anybody's, its scenario is run like
//! anybody's, and an error finding stays an error however good the figures look.
//!
//! ```
//! use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
//! use dosewarden_sim::scenario::Scenario;
//!
//! let site = Site::parse("home-pool.toml", HOME_POOL)?;
//! let plan = Plan::of(&site)?;
//! assert!(!plan.has_errors());
//! let scenario = Scenario::parse("planned.toml", &plan.scenario)?; // `run` takes it
//! assert_eq!(scenario.feeder_names(), ["acid", "chlorine"]);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod amounts;
mod basin;
mod both;
mod care;
#[cfg(test)]
mod care_tests;
mod ceiling;
mod feeder;
mod files;
mod findings;
mod life;
mod page;
mod peak;
mod prepare;
mod second;
mod sheet;
mod site;
mod stages;
mod supply;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod trade_tests;
mod valves;
mod work;

pub use care::{AnswerFigures, CheckFigures, PlannedCare};
pub use feeder::SiteFeeder;
pub use findings::{ALKALINITY_MIN_MG_L, Finding, Severity};
pub use life::ByHand;
pub use page::page;
pub use prepare::Step;
pub use second::{FIRST, Position, SecondBody, SiteValves};
pub use site::{ALL_CODES, PoolKind, Site, SiteFlow, SiteProbes, Wanted};
pub(crate) use stages::BEFORE_REDUCED;
pub use stages::{PlannedProof, PlannedStage};
pub(crate) use work::FREE_ALKALI_EQ_L;
pub use work::{
    CHLORINE_MAX_MG_L, CUTOFF_MIN, CellFigures, Custom, FeederFigures, Figures, PH_FLOOR,
};

use core::fmt;

use serde::Serialize;

use crate::campaign::Moved;
use crate::scenario::{InputError, Scenario};
use crate::water::WaterError;

/// An invented pool at a house.
pub const HOME_POOL: &str = include_str!("../../built-in/home-pool-site.toml");
/// An invented spa of a hotel.
pub const HOTEL_SPA: &str = include_str!("../../built-in/hotel-spa-site.toml");
/// An invented pool of a community, 400 m3.
pub const COMMUNITY_POOL: &str = include_str!("../../built-in/community-pool-site.toml");
/// An invented pool whose chlorine is made from its salt.
pub const SALT_POOL: &str = include_str!("../../built-in/salt-pool-site.toml");

/// A site, worked out.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Plan {
    /// Its name.
    pub site: String,
    /// Figures.
    pub figures: Figures,
    /// The other body of water on the same pump.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub second: Option<SecondPlan>,
    /// What to do by hand before feeding starts, in this order.
    pub before: Vec<Step>,
    /// Findings, the gravest first.
    pub findings: Vec<Finding>,
    /// What would use half the acid; `None`: little is used as it is, or nothing does.
    pub advice: Option<Advice>,
    /// Stages, with the evidence that each needs.
    pub stages: Vec<PlannedStage>,
    /// Proof tests of its interlocks.
    pub proof_tests: Vec<PlannedProof>,
    /// What the unit is told about stages and tests.
    pub care: PlannedCare,
    /// What is poured by hand while the unit only observes.
    pub by_hand: ByHand,
    /// How far faults moved the simulated water, of each campaign that was named.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tried: Vec<Moved>,
    /// A scenario for `run`.
    pub scenario: String,
    /// The same limits for a firmware, in Rust.
    pub rust: String,
}

/// What a second body of water comes to.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct SecondPlan {
    /// Its name.
    pub name: String,
    /// Figures.
    pub figures: Figures,
    /// What to do by hand with its water before feeding starts.
    pub before: Vec<Step>,
}

/// Set point and alkalinity that use half the acid, or less.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Advice {
    /// pH.
    pub ph: f64,
    /// Alkalinity, mg/L.
    pub alkalinity_mg_l: f64,
    /// Acid used, as a share of what the site's wishes use.
    pub share: f64,
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanError {
    /// The water as tested cannot be.
    Water(WaterError),
    /// The settings that come out are refused.
    Settings(InputError),
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Water(error) => write!(f, "the water cannot be: {error}"),
            Self::Settings(error) => write!(
                f,
                "the settings that come out are refused: {error}; something measured must be wrong"
            ),
        }
    }
}

impl std::error::Error for PlanError {}

impl Plan {
    /// Works a site out.
    ///
    /// # Errors
    /// [`PlanError`]. A finding is no error of this kind: see [`Plan::has_errors`].
    pub fn of(site: &Site) -> Result<Self, PlanError> {
        let mut figures = work::figures(site).map_err(PlanError::Water)?;
        let second = site.second.as_ref().map(second).transpose();
        let mut second = second.map_err(PlanError::Water)?;
        if let Some((second, body)) = second.as_mut().zip(site.second.as_ref()) {
            // Of one probe and one set point, what either body bears.
            let (alkalinity, at_1) = (
                second.figures.alkalinity_start_mg_l,
                figures.orp_at_1_mg_l_mv,
            );
            let its = ceiling::orp_cutoff_mv(&body.site, alkalinity, figures.orp_set_mv, at_1);
            let cutoff_mv = figures.orp_cutoff_mv.min(its);
            (figures.orp_cutoff_mv, second.figures.orp_cutoff_mv) = (cutoff_mv, cutoff_mv);
        }
        let other = second.as_ref().map(|second| &second.figures);
        let findings = findings::findings(site, &figures, other);
        let scenario = files::scenario(site, &figures, other);
        let broken = findings.iter().any(|f| f.severity == Severity::Error);
        // With an error finding the settings may be such that nothing accepts them.
        if let Err(error) = Scenario::parse("planned.toml", &scenario)
            && !broken
        {
            return Err(PlanError::Settings(error));
        }
        Ok(Self {
            site: site.name.clone(),
            before: prepare::steps(site, &figures),
            advice: advice(site, &figures),
            stages: stages::stages(site),
            proof_tests: stages::proofs(site),
            care: PlannedCare::of(site),
            by_hand: life::by_hand(site, &figures),
            tried: Vec::new(),
            rust: files::rust(site, &figures, other),
            scenario,
            second,
            figures,
            findings,
        })
    }

    /// Whether something has to be changed before feeding starts.
    #[must_use]
    pub fn has_errors(&self) -> bool {
        self.findings.iter().any(|f| f.severity == Severity::Error)
    }
}

fn second(body: &SecondBody) -> Result<SecondPlan, WaterError> {
    let figures = work::figures(&body.site)?;
    Ok(SecondPlan {
        name: body.name.clone(),
        before: prepare::steps(&body.site, &figures),
        figures,
    })
}

/// The least change of set point and alkalinity that halves the acid.
fn advice(site: &Site, figures: &Figures) -> Option<Advice> {
    let start = figures.alkalinity_start_mg_l;
    let acid = |ph: f64, alkalinity: f64| {
        let water = work::water(site, alkalinity, ph).ok()?;
        Some(work::acid_a_day(
            &water,
            ph,
            site.co2_transfer_cm_h,
            site.depth_m,
        ))
    };
    let now = acid(site.wanted.ph, start)?;
    if now <= 0.0 || figures.alkalinity_loss_mg_l_day < 1.0 {
        return None;
    }
    let mut best: Option<(f64, Advice)> = None;
    for ph in [0, 1, 2, 3].map(|step| site.wanted.ph + 0.1 * f64::from(step)) {
        for alkalinity_mg_l in [120.0, 100.0, 90.0, 80.0, 70.0, 60.0] {
            if ph > 7.8 || alkalinity_mg_l > start {
                continue;
            }
            let Some(used) = acid(ph, alkalinity_mg_l) else {
                continue;
            };
            let share = used / now;
            // A tenth of pH counts as much as 20 mg/L.
            let change = (ph - site.wanted.ph) / 0.1 + (start - alkalinity_mg_l) / 20.0;
            if share <= 0.5 && best.as_ref().is_none_or(|(least, _)| change < *least) {
                let advice = Advice {
                    ph,
                    alkalinity_mg_l,
                    share,
                };
                best = Some((change, advice));
            }
        }
    }
    best.map(|(_, advice)| advice)
}
