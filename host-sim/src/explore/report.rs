//! A walk of one part, and what it came to.

use std::fmt;

use dosewarden::guard::{LimitsError, Lockout, Restart, Rule};

use super::seen::Seen;
use super::site::Site;
use super::told::{self, Trail};
use super::walk::{self, Ended, Walking};
use super::{dispatch, reaches, sites, waits};

/// What one part of a walk came to.
#[derive(Clone, Debug)]
pub struct Report {
    /// The part.
    pub part: &'static str,
    /// How it ended.
    pub ended: Ended,
    /// Distinct states.
    pub states: usize,
    /// Calls of the guard.
    pub judgements: u64,
    /// Ticks to the furthest state.
    pub depth: usize,
    /// Different events.
    pub events: usize,
    /// What happened at least once.
    pub seen: Seen,
    /// Longest wait, in ticks, until a feeder is fed, and until it is fed or a person is asked for.
    pub waits: Option<[usize; 2]>,
    /// What should have happened at least once, and did not.
    pub missing: Vec<String>,
    /// A way to a property that does not hold.
    pub broken: Option<Trail>,
}

/// Walks a part, as [`parts`](super::parts) names it.
///
/// # Errors
/// If the guard does not take the limits of the part any more.
pub fn explore(part: &str, walking: &mut Walking<'_>) -> Result<Report, LimitsError> {
    Ok(dispatch!(part, explore_site(walking)))
}

pub(super) fn explore_site<const N: usize, const B: usize, const H: usize, const D: usize>(
    mut site: Site<N, B>,
    walking: &mut Walking<'_>,
) -> Report {
    site.naming = !walking.fed_only;
    let site = &site;
    let walked = walk::walk::<N, B, H, D>(site, walking);
    let mut report = Report {
        part: site.name,
        ended: walked.ended,
        states: walked.worlds.all.len(),
        judgements: walked.judgements,
        depth: walked.depth,
        events: site.events.len(),
        seen: walked.seen,
        waits: None,
        missing: Vec::new(),
        broken: None,
    };
    if let Some((_, path)) = &walked.broken {
        report.broken = Some(told::told::<N, B, H, D>(site, path).0);
        return report;
    }
    match waits::waits::<N, B, H, D>(site, &walked.worlds) {
        Ok(waits) => {
            report.waits = Some(waits.longest);
            report.judgements += waits.judgements;
        }
        Err(endless) => {
            let path = walked.worlds.path(endless.world);
            let trail = told::then::<N, B, H, D>(site, &path, endless.aim, endless.feeder);
            report.broken = Some(trail);
            report.ended = Ended::Broken;
        }
    }
    if report.ended == Ended::Closed {
        report.missing = missing(report.part, report.seen);
    }
    report
}

/// What a closed part has to reach: rules that alone refuse, and lockouts that come and go.
fn missing(part: &str, seen: Seen) -> Vec<String> {
    let (alone, locked) = reaches::reaches(part);
    let rules = alone
        .iter()
        .filter(|rule| seen.sole().all(|one| one != **rule));
    let mut all: Vec<String> = rules
        .map(|rule| format!("{} never refuses alone", rule.name()))
        .collect();
    for lockout in locked {
        // These two stand from power-on, and are entered in no tick.
        let at_start = matches!(lockout, Lockout::RecordLost | Lockout::PowerLoss);
        if !at_start && seen.locked().all(|one| one != *lockout) {
            all.push(format!("{lockout:?} never locks out"));
        }
        if seen.released().all(|one| one != *lockout) {
            all.push(format!("{lockout:?} is never released"));
        }
    }
    all
}

impl Report {
    /// Everything holds, as far as it was walked.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.broken.is_none() && self.missing.is_empty()
    }
}

fn names(rules: impl Iterator<Item = Rule>) -> String {
    let names: Vec<&str> = rules.map(Rule::name).collect();
    names.join(" ")
}

fn lockouts(all: impl Iterator<Item = Lockout>) -> String {
    let names: Vec<String> = all.map(|one| format!("{one:?}")).collect();
    names.join(" ")
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ended = self.ended.word();
        writeln!(
            f,
            "{}: {ended}; {} states, {} judgements, {} events, {} ticks deep",
            self.part, self.states, self.judgements, self.events, self.depth
        )?;
        writeln!(f, "  refused: {}", names(self.seen.refused()))?;
        writeln!(f, "  alone: {}", names(self.seen.sole()))?;
        writeln!(f, "  locked out: {}", lockouts(self.seen.locked()))?;
        writeln!(f, "  released: {}", lockouts(self.seen.released()))?;
        writeln!(f, "  also: {}", self.seen.events().join("; "))?;
        if let Some([fed, asked]) = self.waits {
            writeln!(
                f,
                "  longest wait: {fed} ticks until fed, {asked} until fed or a person is asked for"
            )?;
        }
        for what in &self.missing {
            writeln!(f, "  missing: {what}")?;
        }
        if let Some(trail) = &self.broken {
            write!(f, "{trail}")?;
        }
        Ok(())
    }
}
