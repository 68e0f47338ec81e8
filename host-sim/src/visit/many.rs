//! Several pools: one table, worst first, and one list of what to bring.

use core::fmt;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::due::Due;
use super::forecast::{Forecast, bring as of_drums};
use super::today::Today;
use super::{Log, OtherBody, Urgency, VisitResult};
use crate::plan::{Plan, Site};
use crate::scenario::InputError;

/// Something to bring.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Order {
    /// What.
    pub what: String,
    /// How much.
    pub amount: f64,
    /// "L", "kg" or "" for pieces.
    pub unit: &'static str,
    /// For which pools, with how much each.
    pub of: Vec<(String, f64)>,
}

/// Pools of a folder.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Round {
    /// Worst first.
    pub pools: Vec<VisitResult>,
    /// What to bring to all of them, until the visits after the next ones.
    pub order: Vec<Order>,
}

/// What one pool needs.
pub(super) fn bring(site: &Site, forecast: &Forecast, today: &Today, due: &[Due]) -> Vec<Order> {
    let one = |what: String, amount: f64, unit: &'static str| Order {
        what,
        amount,
        unit,
        of: vec![(site.name.clone(), amount)],
    };
    let drums = of_drums(forecast, site).into_iter();
    let mut all: Vec<Order> = drums.map(|(what, litres)| one(what, litres, "L")).collect();
    let solids = today
        .steps
        .iter()
        .filter_map(|step| step.kg.map(|kg| (&step.what, kg)));
    all.extend(solids.map(|(what, kg)| one(what.clone(), kg, "kg")));
    let soon = 2.0 * forecast.next_visit_days;
    let parts = due.iter().filter(|one| f64::from(one.in_days) <= soon);
    all.extend(parts.filter_map(|due| Some(one(due.part.clone()?, 1.0, ""))));
    all
}

/// Solids that the second body of water needs.
pub(super) fn solids_of(found: &VisitResult) -> Vec<Order> {
    let other = found.other.iter();
    let steps = other.flat_map(|other| other.today.steps.iter());
    let one = |step: &crate::plan::Step| {
        let kg = step.kg?;
        Some(Order {
            what: step.what.clone(),
            amount: kg,
            unit: "kg",
            of: vec![(found.site.clone(), kg)],
        })
    };
    steps.filter_map(one).collect()
}

/// Pairs of a site and its log.
fn pairs(folder: &Path) -> Result<Vec<(PathBuf, PathBuf)>, InputError> {
    let wrong = |path: &Path, what: String| InputError::of_file(&path.display().to_string(), what);
    let sorted = |folder: &Path| -> Result<Vec<PathBuf>, InputError> {
        let entries = std::fs::read_dir(folder)
            .map_err(|error| wrong(folder, format!("cannot be read: {error}")))?;
        let mut paths: Vec<PathBuf> = entries
            .filter_map(|entry| Some(entry.ok()?.path()))
            .collect();
        paths.sort();
        Ok(paths)
    };
    let of = |paths: &[PathBuf], kind: &str| -> Vec<PathBuf> {
        let is = |path: &&PathBuf| path.is_file() && path.extension().is_some_and(|it| it == kind);
        paths.iter().filter(is).cloned().collect()
    };
    let mut all = Vec::new();
    let here = sorted(folder)?;
    for site in of(&here, "toml") {
        let log = site.with_extension("csv");
        if !log.is_file() {
            return Err(wrong(
                &site,
                format!("has no log beside it; {} has to be there", log.display()),
            ));
        }
        all.push((site, log));
    }
    for sub in here.iter().filter(|path| path.is_dir()) {
        let inside = sorted(sub)?;
        match (
            of(&inside, "toml").as_slice(),
            of(&inside, "csv").as_slice(),
        ) {
            ([], []) => {}
            ([site], [log]) => all.push((site.clone(), log.clone())),
            (sites, logs) => {
                let what = format!(
                    "has {} .toml and {} .csv; a pool's folder has one site and one log",
                    sites.len(),
                    logs.len()
                );
                return Err(wrong(sub, what));
            }
        }
    }
    if all.is_empty() {
        let what =
            "holds no pool: put SITE.toml and SITE.csv there, or a folder with both for each pool";
        return Err(wrong(folder, what.to_owned()));
    }
    Ok(all)
}

impl Round {
    /// Works out all pools of a folder: pairs NAME.toml and NAME.csv, and sub-folders with one of each.
    ///
    /// # Errors
    /// The first mistake in a file.
    pub fn load(folder: &Path) -> Result<Self, InputError> {
        let mut pools = Vec::new();
        for (site, log) in pairs(folder)? {
            pools.push(super::load(&site, &log)?);
        }
        Ok(Self::of(pools))
    }

    /// Worst first; of two that are alike, the one with more reasons, then by name.
    #[must_use]
    pub fn of(mut pools: Vec<VisitResult>) -> Self {
        pools.sort_by(|a, b| {
            let key = |one: &VisitResult| (one.urgency, one.causes.len() + one.questions.len());
            key(b).cmp(&key(a)).then_with(|| a.site.cmp(&b.site))
        });
        let mut order: Vec<Order> = Vec::new();
        for need in pools.iter().flat_map(|pool| &pool.bring) {
            let same = order
                .iter_mut()
                .find(|one| one.what == need.what && one.unit == need.unit);
            match same {
                Some(one) => {
                    one.amount += need.amount;
                    one.of.extend(need.of.iter().cloned());
                }
                None => order.push(need.clone()),
            }
        }
        order.sort_by(|a, b| a.what.cmp(&b.what));
        Self { pools, order }
    }

    /// Whether something is wrong with one of them.
    #[must_use]
    pub fn has_something_wrong(&self) -> bool {
        self.pools.iter().any(VisitResult::has_something_wrong)
    }
}

impl Urgency {
    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Soon => "soon",
            Self::Mend => "mend",
            Self::Now => "now",
            Self::Close => "CLOSE",
        }
    }
}

impl Order {
    /// The amount in words: solids to 100 g, litres and pieces whole, rounded up.
    #[must_use]
    pub fn words(&self) -> String {
        match self.unit {
            "kg" => format!("{:.1} kg", (self.amount * 10.0).ceil() / 10.0),
            "" => format!("{:.0}", self.amount),
            unit => format!("{:.0} {unit}", self.amount.ceil()),
        }
    }
}

impl fmt::Display for Round {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let width = self
            .pools
            .iter()
            .map(|one| one.site.chars().count())
            .max()
            .unwrap_or(4)
            .max(4);
        writeln!(f, "{:<width$}  how    last visit        why", "pool")?;
        for pool in &self.pools {
            let why = pool.why();
            let why = if why.is_empty() {
                "nothing".to_owned()
            } else {
                why.join(", ")
            };
            let (site, how, time) = (&pool.site, pool.urgency.word(), &pool.time);
            writeln!(f, "{site:<width$}  {how:<5}  {time}  {why}")?;
        }
        writeln!(f, "\nTo bring, until the visits after the next ones")?;
        if self.order.is_empty() {
            writeln!(f, "  nothing")?;
        }
        for one in &self.order {
            let of: Vec<&str> = one.of.iter().map(|(site, _)| site.as_str()).collect();
            writeln!(f, "  {:<8} {} ({})", one.words(), one.what, of.join(", "))?;
        }
        writeln!(
            f,
            "Acid and hypochlorite travel and stand apart. Advice, not a permission; local codes come first."
        )
    }
}

/// One pool out of its two files.
///
/// # Errors
/// The first mistake in one of them.
pub(super) fn load(site_path: &Path, log_path: &Path) -> Result<VisitResult, InputError> {
    let site = Site::load(site_path)?;
    let plan = planned(&site, &site_path.display().to_string())?;
    let log = Log::load(log_path, &site, &plan)?;
    of(&site, &plan, &log)
}

/// The same, of a log that is read.
#[cfg(test)]
pub(super) fn read(site: &Site, file: &str, text: &str) -> Result<VisitResult, InputError> {
    let plan = planned(site, "the site")?;
    let log = Log::parse(file, text, site, &plan)?;
    of(site, &plan, &log)
}

fn planned(site: &Site, file: &str) -> Result<Plan, InputError> {
    Plan::of(site).map_err(|error| InputError::of_file(file, error.to_string()))
}

/// The pool, and the second body of water where the site has one.
fn of(site: &Site, plan: &Plan, log: &Log) -> Result<VisitResult, InputError> {
    let pool = log.of_pool(site)?;
    let mut found = VisitResult::of(site, plan, &pool);
    if let Some(second) = &site.second {
        let plan = planned(&second.site, &second.name)?;
        found.and_other(OtherBody::of(log, second, &plan));
    }
    Ok(found)
}
