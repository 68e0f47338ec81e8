//! Walks the shipped guard, breadth first, to the end of its state space.
//!
//! Invariant: what is walked is [`dosewarden::guard::step`] as it ships, from the first power-on, by
//! every event of a pinned configuration in every world that it can reach. Beside the guard stands a
//! truth of our own, which reads events and permits and never the guard's state, and the properties
//! are statements about that truth.
//!
//! | module | what |
//! |---|---|
//! | `event`, `facts` | what can happen between two ticks, and which rule reads it |
//! | `site`, `sites` | limits in ticks, and the configurations |
//! | `world` | guard, truth and record store, moved on by one event |
//! | `truth`, `answers`, `calls` | what really happened |
//! | `held` | what always holds |
//! | `live` | what must happen in the end |
//! | `seen` | what must happen at least once |
//! | `pack`, `coder` | a world in 32 bytes, whole |
//! | `settle` | what is taken out of a world, and why that changes nothing |
//! | `walk` | breadth first, the same with any number of threads |
//! | `told` | a way through it, in words |
//! | `summary`, `page` | what it came to, as data and as a page |
//!
//! What it leaves out stands in `EXPLORE.md`.

mod answers;
mod calls;
mod coder;
mod event;
mod facts;
mod held;
mod live;
mod pack;
mod page;
mod seen;
mod settle;
mod site;
mod sites;
mod summary;
#[cfg(test)]
mod tests;
mod told;
mod truth;
mod walk;
mod world;

use std::fmt;

use dosewarden::guard::{LimitsError, Lockout, Restart, Rule};

pub use held::{ALWAYS, Property};
pub use live::Aim;
pub use page::page;
pub use seen::Seen;
pub use summary::{BrokenSummary, PartSummary, TickSummary, WaitSummary, verdict};
pub use told::Trail;
pub use walk::{Ended, Progress, Walking};

use crate::scenario::InputError;
use site::Site;

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

/// Every part.
const ALL: [&str; 6] = [
    "x1-automatic",
    "x1-person",
    "x2",
    "x3-persons",
    "x3-bodies",
    "x3-answers",
];

/// The parts of a configuration, or the part itself; `None` if there is no such.
#[must_use]
pub fn parts(config: &str) -> Option<&'static [&'static str]> {
    match config {
        "x1" => Some(&["x1-automatic", "x1-person"]),
        "x2" => Some(&["x2"]),
        "x3" => Some(&["x3-persons", "x3-bodies", "x3-answers"]),
        "all" => Some(&ALL),
        part => ALL
            .iter()
            .position(|one| *one == part)
            .map(|index| &ALL[index..=index]),
    }
}

/// Calls a function that is generic over a site's shape.
macro_rules! dispatch {
    ($part:expr, $function:ident($($argument:expr),*)) => {
        match $part {
            "x1-automatic" => $function::<1, 1, 2, 3>(sites::x1(Restart::Automatic)? $(, $argument)*),
            "x1-person" => $function::<1, 1, 2, 3>(sites::x1(Restart::Person)? $(, $argument)*),
            "x2" => $function::<2, 1, 2, 2>(sites::x2()? $(, $argument)*),
            "x3-persons" => $function::<1, 1, 2, 2>(sites::x3_persons()? $(, $argument)*),
            "x3-bodies" => $function::<1, 2, 2, 2>(sites::x3_bodies()? $(, $argument)*),
            _ => $function::<1, 1, 2, 2>(sites::x3_answers()? $(, $argument)*),
        }
    };
}

/// Walks a part, as [`parts`] names it.
///
/// # Errors
/// If the guard does not take the limits of the part any more.
pub fn explore(part: &str, walking: &mut Walking<'_>) -> Result<Report, LimitsError> {
    Ok(dispatch!(part, explore_site(walking)))
}

/// Tells a way again.
///
/// # Errors
/// If the guard does not take the limits of the part any more.
pub fn replay(part: &str, events: &[u16]) -> Result<Trail, LimitsError> {
    Ok(dispatch!(part, replay_site(events)))
}

/// Tells a way again from the text of a file that [`Trail::file`] made.
///
/// # Errors
/// What is wrong, with its line; `file` is the name that it is told by.
pub fn replay_file(file: &str, text: &str) -> Result<Trail, InputError> {
    let (part, events, words) = told::read(file, text)?;
    let wrong = |line, what: String| InputError::of_line(file, line, what);
    let trail = replay(part, &events).map_err(|error| wrong(1, error.to_string()))?;
    for (line, ((what, _), was)) in (2..).zip(trail.ticks.iter().zip(&words)) {
        if what != was {
            let what =
                format!("this event is `{what}` here, not `{was}`: the file is of another version");
            return Err(wrong(line, what));
        }
    }
    if trail.ticks.len() < events.len() && trail.broken.is_none() {
        let line = trail.ticks.len() + 2;
        return Err(wrong(line, format!("{part} has no event of this number")));
    }
    Ok(trail)
}

fn replay_site<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: Site<N, B>,
    events: &[u16],
) -> Trail {
    told::told::<N, B, H, D>(&site, events).0
}

fn explore_site<const N: usize, const B: usize, const H: usize, const D: usize>(
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
    match live::waits::<N, B, H, D>(site, &walked.worlds) {
        Ok(waits) => {
            report.waits = Some(waits.longest);
            report.judgements += waits.judgements;
        }
        Err(endless) => {
            let path = walked.worlds.path(endless.world);
            let trail = told::endless::<N, B, H, D>(site, &path, endless.aim, endless.feeder);
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
    let (alone, locked) = sites::reaches(part);
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
