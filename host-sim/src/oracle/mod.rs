//! Independent judges of a run: one oracle for each thing that must hold in the water.
//!
//! Invariant: an oracle sees what the plant's truth says and what a person at the pool is told,
//! nothing of the controller. It is written from the statement at the head of its file, and its
//! threshold comes from [`SiteBounds`], which whoever runs it fills in, or from a health code.
//!
//! ```
//! use dosewarden_sim::oracle::{Annunciation, FeederBounds, OracleSet, SiteBounds, TimeBounds, Verdict};
//! use dosewarden_sim::plant::{Commands, FeederCommand, Plant, PlantSpec};
//!
//! let mut plant = Plant::new(PlantSpec::default(), 1)?; // midnight: the water stands
//! let mut oracles = OracleSet::new(SiteBounds {
//!     tick_gap_max_ms: 2_000,
//!     power_on_delay_ms: 60_000,
//!     resume_within_ms: 600_000,
//!     probe_lag_ms: 120_000,
//!     acid_cutoff_ph: Some(7.2),
//!     probe_error_ph: 0.05,
//!     chlorine_cutoff_mv: None,
//!     probe_error_mv: 5.0,
//!     chlorine_min_mg_l: 1.0,
//!     gas_max_g: 0.05,
//!     acid_wanted_above_ph: Some(7.8),
//!     chlorine_wanted_below_mg_l: Some(1.5),
//!     fed_within_ms: 4 * 3_600_000,
//!     told_within_ms: 8 * 3_600_000,
//!     kept: None,
//!     times: TimeBounds::UNJUDGED,
//!     feeders: vec![FeederBounds::UNJUDGED; 2],
//! });
//! let mut feed = Commands { master: true, ..Commands::IDLE };
//! feed.feeders[0] = FeederCommand::ON;
//! for _ in 0..10 {
//!     plant.step(1000, &feed);
//!     oracles.observe(plant.truth(), &Annunciation::default());
//! }
//! oracles.finish(plant.truth(), &Annunciation::default());
//! let standing = oracles.verdicts().find(|v| v.name == "standing_water");
//! assert!(matches!(standing.map(|v| v.verdict), Some(Verdict::Broken { .. })));
//! assert!(oracles.any_broken());
//! # Ok::<(), dosewarden_sim::plant::PlantError>(())
//! ```

mod acid_floor;
mod body_flushed;
mod cell_flow;
mod charge_stored;
mod chlorine_ceiling;
mod cycle_total;
mod day_total;
mod fallback_capped;
mod fed_or_asked;
mod hand_feed_held;
mod holds_kept;
mod hour_total;
mod hours_kept;
mod kept_in_range;
mod line_gas;
mod lockout_kept;
mod never_both;
mod never_dry;
mod poor_water_alarmed;
mod power_on_delay;
mod standing_water;
mod stop_obeyed;
mod support;
mod water_settled;

pub use acid_floor::AcidFloor;
pub use body_flushed::BodyFlushed;
pub use cell_flow::CellFlow;
pub use charge_stored::ChargeStored;
pub use chlorine_ceiling::ChlorineCeiling;
pub use cycle_total::CycleTotal;
pub use day_total::DayTotal;
pub use fallback_capped::FallbackCapped;
pub use fed_or_asked::FedOrAsked;
pub use hand_feed_held::HandFeedHeld;
pub use holds_kept::HoldsKept;
pub use hour_total::HourTotal;
pub use hours_kept::HoursKept;
pub use kept_in_range::KeptInRange;
pub use line_gas::LineGas;
pub use lockout_kept::LockoutKept;
pub use never_both::NeverBoth;
pub use never_dry::NeverDry;
pub use poor_water_alarmed::PoorWaterAlarmed;
pub use power_on_delay::PowerOnDelay;
pub use standing_water::StandingWater;
pub use stop_obeyed::StopObeyed;
pub use support::bounds::{
    CHLORINE_MAX_MG_L, FeederBounds, KeptBounds, PH_MAX, PH_MIN, POOR_WATER_MAX_MS, SiteBounds,
    TimeBounds,
};
pub use support::stored::StoredCharges;
pub use support::verdict::{Statements, Verdict};
pub use water_settled::WaterSettled;

use support::feeds::{Feed, Feeds};

use crate::plant::{FeederTruth, MAX_FEEDERS, Truth};

/// What a person at the pool is told in a step, and has done, and what the store of the controller shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Annunciation {
    /// Some alarm is shown and not shelved.
    pub alarm: bool,
    /// The controller says that it waits for a person (a lockout, a release, a test).
    pub person_asked: bool,
    /// Which feeders are shown as locked out.
    pub locked: [bool; MAX_FEEDERS],
    /// A person released a lockout, started a new unit or began a feed by hand, and it was done in this step.
    pub released: bool,
    /// A person holds the button of a feed by hand that was begun.
    pub held: [bool; MAX_FEEDERS],
    /// A person has stopped all feed: an emergency stop, a pause or a lay-up that was done stands.
    pub stopped: bool,
    /// A person has entered fallback, and it has not been left.
    pub fallback: bool,
    /// The open charge of each feeder that both copies in the store hold, in its product's unit; `None`: not to be read.
    pub stored_charge: Option<[f64; MAX_FEEDERS]>,
}

impl Annunciation {
    /// Whether anybody is told anything that calls for them.
    #[must_use]
    pub fn any(self) -> bool {
        self.alarm || self.person_asked
    }
}

/// One step as an oracle sees it.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    /// What is really so at the end of the step, and what happened in it.
    pub truth: &'a Truth,
    /// What the site is held to.
    pub site: &'a SiteBounds,
    /// What a person is told.
    pub told: Annunciation,
    /// What each product did, by all its feeders.
    fed: &'a [Feed],
    /// Some feeder gave something, or had its drive on.
    stirs: bool,
}

impl<'a> Seen<'a> {
    /// A step. Looked up once for all: most steps feed nothing, and most oracles have little to do in them.
    fn of(truth: &'a Truth, site: &'a SiteBounds, told: &Annunciation, fed: &'a [Feed]) -> Self {
        Self {
            truth,
            site,
            told: *told,
            fed,
            stirs: truth.feeders.iter().any(stirs),
        }
    }

    /// Start of the step, ms since the start of the run.
    #[must_use]
    pub fn start_ms(&self) -> u64 {
        self.truth.now_ms.saturating_sub(self.dt_ms())
    }

    /// Length of the step, ms.
    #[must_use]
    pub fn dt_ms(&self) -> u64 {
        u64::from(self.truth.dt_ms)
    }
}

/// Whether a feeder gave anything in the step, or had its drive on.
fn stirs(feeder: &FeederTruth) -> bool {
    let rests = feeder.fed <= 0.0 && feeder.fed_standing <= 0.0;
    !rests || feeder.drive_on || feeder.drive_on_ms > 0
}

/// How an oracle is copied, so that a run can be forked.
pub trait Copied {
    /// A second one that has seen the same.
    fn copied(&self) -> Box<dyn Oracle>;
}

impl<T: Oracle + Clone + 'static> Copied for T {
    fn copied(&self) -> Box<dyn Oracle> {
        Box::new(self.clone())
    }
}

/// A judge of one statement. Steps come in order, none left out.
pub trait Oracle: Copied + Send + Sync {
    /// Its name, which is its file's.
    fn name(&self) -> &'static str;

    /// The hazards, by their id in HAZARDS.md, whose threshold it checks.
    fn hazard(&self) -> &'static [&'static str];

    /// Looks at one step.
    fn observe(&mut self, seen: &Seen<'_>);

    /// Looks at what stands at the end of the run, after the last [`Oracle::observe`].
    fn finish(&mut self, _seen: &Seen<'_>) {}

    /// What it judges, and what it found of each so far.
    fn statements(&self) -> Statements<'_>;

    /// What it found so far: of the statement that was broken first; none broken, of the first that judged anything.
    fn verdict(&self) -> Verdict {
        self.statements().first()
    }
}

/// An oracle's name, hazards and verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The oracle.
    pub name: &'static str,
    /// The hazards that it stands for.
    pub hazard: &'static [&'static str],
    /// What it found: of its statement that was broken first; none broken, of the first that judged anything.
    pub verdict: Verdict,
    /// The same of each of its statements, and of each product or water that one is about: what one of them is past hides
    /// nothing of another.
    pub each: Vec<Verdict>,
}

/// All oracles with the bounds that they judge by.
pub struct OracleSet {
    /// One for each body of water: what holds while the valves select it.
    sites: Vec<SiteBounds>,
    oracles: Vec<Box<dyn Oracle>>,
    /// By product and body, for the oracles that judge cycles and what lies between them.
    feeds: Feeds,
}

impl Clone for OracleSet {
    fn clone(&self) -> Self {
        Self {
            sites: self.sites.clone(),
            oracles: self.oracles.iter().map(|oracle| oracle.copied()).collect(),
            feeds: self.feeds.clone(),
        }
    }
}

impl OracleSet {
    /// Every oracle there is, for one site. `site.feeders` stands in the order of the plant's.
    #[must_use]
    pub fn new(site: SiteBounds) -> Self {
        Self::of_bodies(site, Vec::new())
    }

    /// The same where the valves select between several bodies: `first` holds while they select the first, and
    /// `others` while they select one of the others.
    #[must_use]
    pub fn of_bodies(first: SiteBounds, others: Vec<SiteBounds>) -> Self {
        let oracles: Vec<Box<dyn Oracle>> = vec![
            Box::new(StandingWater::default()),
            Box::new(LineGas::default()),
            Box::new(PowerOnDelay::default()),
            Box::new(NeverBoth::default()),
            Box::new(AcidFloor::default()),
            Box::new(CycleTotal::default()),
            Box::new(HourTotal::default()),
            Box::new(DayTotal::default()),
            Box::new(HoldsKept::default()),
            Box::new(ChlorineCeiling::default()),
            Box::new(PoorWaterAlarmed::default()),
            Box::new(FedOrAsked::default()),
            Box::new(KeptInRange::default()),
            Box::new(CellFlow::default()),
            Box::new(LockoutKept::default()),
            Box::new(WaterSettled::default()),
            Box::new(ChargeStored::default()),
            Box::new(NeverDry::default()),
            Box::new(HandFeedHeld::default()),
            Box::new(StopObeyed::default()),
            Box::new(FallbackCapped::default()),
            Box::new(HoursKept::default()),
            Box::new(BodyFlushed::default()),
        ];
        let mut sites = vec![first];
        sites.extend(others);
        let feeds = Feeds::default();
        Self {
            sites,
            oracles,
            feeds,
        }
    }

    /// What holds while the valves stand as they do.
    fn site_of<'s>(sites: &'s [SiteBounds], truth: &Truth) -> &'s SiteBounds {
        sites.get(truth.body).unwrap_or(&sites[0])
    }

    /// Shows one step to all.
    pub fn observe(&mut self, truth: &Truth, told: &Annunciation) {
        let fed = self.feeds.step(truth);
        let seen = Seen::of(truth, Self::site_of(&self.sites, truth), told, fed);
        for oracle in &mut self.oracles {
            oracle.observe(&seen);
        }
    }

    /// Shows all what stands at the end.
    pub fn finish(&mut self, truth: &Truth, told: &Annunciation) {
        let seen = Seen::of(truth, Self::site_of(&self.sites, truth), told, &[]);
        for oracle in &mut self.oracles {
            oracle.finish(&seen);
        }
    }

    /// What each found, always in the same order.
    pub fn verdicts(&self) -> impl Iterator<Item = Finding> + '_ {
        self.oracles.iter().map(|o| {
            let statements = o.statements();
            Finding {
                name: o.name(),
                hazard: o.hazard(),
                verdict: statements.first(),
                each: statements.each(),
            }
        })
    }

    /// Whether any of them was broken.
    #[must_use]
    pub fn any_broken(&self) -> bool {
        self.verdicts().any(|f| f.verdict.is_broken())
    }

    /// What they judge by, in the first body.
    #[must_use]
    pub fn site(&self) -> &SiteBounds {
        &self.sites[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::Product;

    /// Anything given, into moving or standing water, and any drive, at the end of the step or within it.
    #[test]
    fn each_sign_of_a_feeder_by_itself_stirs() {
        let rests = FeederTruth::new(Product::Acid, 1.0);
        assert!(!stirs(&rests));
        for change in [
            (|feeder| feeder.fed = 1e-9) as fn(&mut FeederTruth),
            |feeder| feeder.fed_standing = 1e-9,
            |feeder| feeder.drive_on = true,
            |feeder| feeder.drive_on_ms = 1,
        ] {
            let mut feeder = rests;
            change(&mut feeder);
            assert!(stirs(&feeder), "{feeder:?}");
        }
    }
}
