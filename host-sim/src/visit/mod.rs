//! The visit: what a technician tested, read and did at a pool, put beside what its controller says.
//!
//! Invariant: advice to the person who stands there, each figure with its error and where it comes from. Figures that
//! contradict each other are asked about, and what rests on them is held back; no part is blamed as certain while
//! something else would fit.
//!
//! ```
//! use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
//! use dosewarden_sim::visit::{Log, VisitResult};
//!
//! let site = Site::parse("site.toml", HOME_POOL)?;
//! let plan = Plan::of(&site)?;
//! let text = "time,what,of,value,with\n\
//!     2031-05-02 10:00,test,free_chlorine,0.2 mg/L,\n\
//!     2031-05-02 10:00,shows,orp,800 mV,\n";
//! let log = Log::parse("log.csv", text, &site, &plan)?;
//! let found = VisitResult::of(&site, &plan, &log);
//! assert_eq!(found.questions[0].name, "chlorine_bleached");
//! assert!(found.today.steps.iter().all(|step| !step.what.contains("hypochlorite")));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![doc = include_str!("../../VISIT.md")]

mod alkalinity;
mod between;
mod causes;
mod chlorine;
mod drums;
mod due;
mod entry;
pub(crate) mod errors;
mod figure;
mod forecast;
mod log;
mod many;
mod other;
mod page;
mod probe;
mod questions;
mod row;
mod sheet;
#[cfg(test)]
mod tests;
mod today;

pub use alkalinity::AlkalinityFound;
pub use causes::Cause;
pub use chlorine::ChlorineFound;
pub use drums::RateFound;
pub use due::Due;
pub use entry::{Fresh, Poured, Tested, What};
pub use figure::Figure;
pub use forecast::{Ahead, Forecast};
pub use log::{Entry, Log, Visit};
pub use many::{Order, Round};
pub use other::OtherBody;
pub use page::page;
pub use probe::ProbeFound;
pub use questions::Question;
pub use today::{CAUTIONS, Today};

/// What explaining a movement and the seasons take from here.
pub(crate) mod inside {
    pub(crate) use super::alkalinity::{booked, feeder_of, tested};
    pub(crate) use super::between::Came;
    pub(crate) use super::drums::{Drum, level_error};
    pub(crate) use super::errors;
    pub(crate) use super::figure::together;
    pub(crate) use super::today::as_found;
}

use serde::Serialize;

use crate::plan::{Plan, Severity, Site};
use crate::scenario::InputError;

/// How soon something has to be done about a pool.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// Nothing.
    Fine,
    /// Something is due or runs out before the next visit.
    Soon,
    /// Something is wrong.
    Mend,
    /// Figures contradict each other, or a part is grossly wrong.
    Now,
    /// By common codes nobody bathes.
    Close,
}

/// All that a log shows on its last visit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct VisitResult {
    /// Name of the site.
    pub site: String,
    /// When the visit began.
    pub time: String,
    /// How many visits the log has.
    pub visits: usize,
    /// How soon something has to be done.
    pub urgency: Urgency,
    /// Figures that contradict each other.
    pub questions: Vec<Question>,
    /// What the figures point at, the gravest first.
    pub causes: Vec<Cause>,
    /// Feed rates by the drums.
    pub rates: Vec<RateFound>,
    /// The pH probe beside the kit.
    pub probe: Option<ProbeFound>,
    /// Alkalinity used and expected.
    pub alkalinity: Option<AlkalinityFound>,
    /// Chlorine used and expected.
    pub chlorine: Option<ChlorineFound>,
    /// What to do by hand today.
    pub today: Today,
    /// What is due, the soonest first.
    pub due: Vec<Due>,
    /// What to expect at the next visit.
    pub forecast: Forecast,
    /// The second body of water, of a site that has one.
    pub other: Option<OtherBody>,
    /// What to bring: name and litres, or kg of a solid, or pieces.
    #[serde(skip)]
    bring: Vec<Order>,
}

impl VisitResult {
    /// Works a log out.
    #[must_use]
    pub fn of(site: &Site, plan: &Plan, log: &Log) -> Self {
        let feeders = 0..site.feeders.len();
        let drums: Vec<drums::Drum> = feeders
            .clone()
            .map(|at| drums::Drum::of(log, site, plan, at))
            .collect();
        let rates: Vec<RateFound> = drums
            .iter()
            .zip(feeders)
            .filter_map(|(drum, at)| drum.found(log, site, plan, at))
            .collect();
        let alkalinity = alkalinity::found(log, site, plan, &drums);
        let chlorine = chlorine::found(log, site, plan, &drums);
        let probe = probe::found(log);
        let questions = questions::all(log, site, plan, &drums, alkalinity.as_ref());
        let seen = causes::Seen {
            log,
            site,
            rates: &rates,
            probe: probe.as_ref(),
            alkalinity: alkalinity.as_ref(),
            chlorine: chlorine.as_ref(),
            questions: &questions,
        };
        let causes = seen.causes();
        let due = due::Dues { log, site, plan }.all();
        let forecast = forecast::ahead(log, site, plan, &drums, &rates, alkalinity.as_ref());
        let today = today::today(log, site, &questions, probe.as_ref());
        let mut result = Self {
            site: site.name.clone(),
            time: log.now().time.clone(),
            visits: log.visits.len(),
            urgency: Urgency::Fine,
            bring: many::bring(site, &forecast, &today, &due),
            questions,
            causes,
            rates,
            probe,
            alkalinity,
            chlorine,
            today,
            due,
            forecast,
            other: None,
        };
        result.urgency = result.weighed();
        result
    }

    /// Adds what was found of the second body of water.
    pub(crate) fn and_other(&mut self, other: OtherBody) {
        self.other = Some(other);
        self.urgency = self.weighed();
        self.bring.extend(many::solids_of(self));
    }

    fn all_causes(&self) -> impl Iterator<Item = &Cause> {
        let others = self.other.iter().flat_map(|other| &other.causes);
        self.causes.iter().chain(others)
    }

    fn all_questions(&self) -> impl Iterator<Item = &Question> {
        let others = self.other.iter().flat_map(|other| &other.questions);
        self.questions.iter().chain(others)
    }

    fn weighed(&self) -> Urgency {
        let gravest = self.all_causes().map(|one| one.severity).min();
        let closed = self.all_causes().any(|one| one.name == "not_fit_to_bathe");
        let runs_out = self.forecast.figures.iter().any(|one| one.runs_out);
        let steps = self.other.iter().any(|other| !other.today.steps.is_empty());
        if closed {
            Urgency::Close
        } else if self.all_questions().next().is_some() || gravest == Some(Severity::Error) {
            Urgency::Now
        } else if gravest.is_some() {
            Urgency::Mend
        } else if runs_out || steps || !self.today.steps.is_empty() || self.is_due() {
            Urgency::Soon
        } else {
            Urgency::Fine
        }
    }

    fn is_due(&self) -> bool {
        let others = self.other.iter().flat_map(|other| &other.due);
        self.due.iter().chain(others).any(|one| one.in_days == 0)
    }

    /// Whether there is something to ask or to mend.
    #[must_use]
    pub fn has_something_wrong(&self) -> bool {
        self.urgency >= Urgency::Mend
    }

    /// Why it is as urgent as it is: the first few reasons.
    #[must_use]
    pub fn why(&self) -> Vec<String> {
        let named = |name: &str, feeder: &Option<String>| match feeder {
            Some(feeder) => format!("{name} ({feeder})"),
            None => name.to_owned(),
        };
        let causes = self.causes.iter().map(|one| named(one.name, &one.feeder));
        let questions = self
            .questions
            .iter()
            .map(|one| named(one.name, &one.feeder) + "?");
        let out = self.forecast.figures.iter().filter(|one| one.runs_out);
        let out = out.map(|one| format!("{} runs out", one.what));
        let other = self.other.as_ref();
        let due_of_other = other.into_iter().flat_map(|other| &other.due);
        let all_due = self.due.iter().chain(due_of_other);
        let overdue = all_due.filter(|one| one.in_days == 0).count();
        let due = (overdue > 0).then(|| format!("{overdue} due"));
        let steps = self.today.steps.len() + other.map_or(0, |other| other.today.steps.len());
        let steps = (steps > 0).then(|| format!("{steps} to do by hand"));
        let of_other = other.into_iter().flat_map(OtherBody::why);
        let mut why: Vec<String> = questions.chain(causes).chain(of_other).chain(out).collect();
        why.extend(due);
        why.extend(steps);
        why
    }
}

/// Works out one pool, from the files of its site and its log.
///
/// # Errors
/// The first mistake in one of them.
pub fn load(site: &std::path::Path, log: &std::path::Path) -> Result<VisitResult, InputError> {
    many::load(site, log)
}
