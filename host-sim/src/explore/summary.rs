//! What a part of a walk came to, as data: the same for the JSON and the page.

use dosewarden::guard::{Lockout, Rule};
use serde::Serialize;

use super::{Ended, Report};

/// What one part of a walk came to.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct PartSummary {
    /// Its name.
    pub part: &'static str,
    /// `closed`: walked to the end; `cut`: more states than were asked for; `stopped`: by a person; `broken`.
    pub ended: &'static str,
    /// How many distinct states.
    pub states: usize,
    /// How many calls of the guard.
    pub judgements: u64,
    /// How many different events.
    pub events: usize,
    /// Ticks to the furthest state.
    pub depth_ticks: usize,
    /// Rules that refused a feeder that was asked for.
    pub refused: Vec<&'static str>,
    /// Rules that alone refused one.
    pub alone: Vec<&'static str>,
    /// Lockouts that were entered.
    pub locked_out: Vec<String>,
    /// Lockouts that were released.
    pub released: Vec<String>,
    /// What was fed, and which records were found after a power cut.
    pub also: Vec<String>,
    /// Longest waits; `null`: not worked out.
    pub wait_max_ticks: Option<WaitSummary>,
    /// What should have happened at least once, and did not.
    pub missing: Vec<String>,
    /// The way to a property that does not hold; `null`: none was found.
    pub broken: Option<BrokenSummary>,
}

/// Longest waits in ticks, once nothing is wrong any more.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct WaitSummary {
    /// Until a feeder is fed, with persons doing their part.
    pub fed: usize,
    /// Until it is fed or a person is asked for.
    pub fed_or_asked: usize,
}

/// A property that does not hold, and the shortest way to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BrokenSummary {
    /// Its name.
    pub property: Option<&'static str>,
    /// What it says.
    pub says: Option<&'static str>,
    /// The way, from the first power-on.
    pub ticks: Vec<TickSummary>,
}

/// A tick of a way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct TickSummary {
    /// What happens before and in it.
    pub happens: String,
    /// What was decided.
    pub comes: String,
}

fn lockouts(all: impl Iterator<Item = Lockout>) -> Vec<String> {
    all.map(|one| format!("{one:?}")).collect()
}

impl From<&Report> for PartSummary {
    fn from(report: &Report) -> Self {
        let seen = report.seen;
        let waits = |[fed, fed_or_asked]: [usize; 2]| WaitSummary { fed, fed_or_asked };
        let broken = report.broken.as_ref().map(|trail| BrokenSummary {
            property: trail.broken.map(|(name, _)| name),
            says: trail.broken.map(|(_, says)| says),
            ticks: trail
                .ticks
                .iter()
                .chain(&trail.healthy)
                .map(|tick| TickSummary {
                    happens: tick.happens.clone(),
                    comes: tick.comes.clone(),
                })
                .collect(),
        });
        Self {
            part: report.part,
            ended: report.ended.word(),
            states: report.states,
            judgements: report.judgements,
            events: report.events,
            depth_ticks: report.depth,
            refused: seen.refused().map(Rule::name).collect(),
            alone: seen.sole().map(Rule::name).collect(),
            locked_out: lockouts(seen.locked()),
            released: lockouts(seen.released()),
            also: seen.events(),
            wait_max_ticks: report.waits.map(waits),
            missing: report.missing.clone(),
            broken,
        }
    }
}

/// What the parts of a configuration come to, in one line, with the names of those that did not hold or were not walked to
/// their end. A part that was cut is no walk to the end, nor is one that was not begun.
#[must_use]
pub fn verdict(parts: &[&str], reports: &[Report]) -> String {
    let named = |which: &dyn Fn(&Report) -> bool| -> Vec<&str> {
        let some = reports.iter().filter(|report| which(report));
        some.map(|report| report.part).collect()
    };
    let all = parts.len();
    let closed = named(&|one| one.ended == Ended::Closed).len();
    let wrong = named(&|one| !one.holds()).len();
    let parts_all = if all == 1 {
        "1 part"
    } else {
        &format!("{all} parts")
    };
    let mut text = if wrong > 0 {
        format!("BROKEN in {wrong} of {parts_all}")
    } else if closed == all {
        format!("HELD in every state of {parts_all}, walked to the end")
    } else {
        format!("HELD as far as it went; {closed} of {parts_all} walked to the end")
    };
    let begun = |part: &&str| reports.iter().any(|report| report.part == *part);
    for (what, names) in [
        (
            "a property does not hold in",
            named(&|one| one.broken.is_some()),
        ),
        (
            "what should have happened never did in",
            named(&|one| !one.missing.is_empty()),
        ),
        (
            "cut at their largest number of states (--states-max), and not looked at beyond:",
            named(&|one| one.ended == Ended::Cut),
        ),
        (
            "stopped before the end:",
            named(&|one| one.ended == Ended::Stopped),
        ),
        (
            "not begun:",
            parts.iter().copied().filter(|part| !begun(part)).collect(),
        ),
    ] {
        if !names.is_empty() {
            text.push_str(&format!("; {what} {}", names.join(", ")));
        }
    }
    text
}
