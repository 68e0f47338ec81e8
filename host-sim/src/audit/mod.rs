//! A recorded log of any controller, judged against what a site's limits allow.
//!
//! Invariants: this module names nothing of the controller's crates, itself or through another module, so that it
//! shares no mistake with the guard; bounds are figures that whoever runs it fills in ([`crate::recorded`] takes them
//! from a site's file). What a log does not show is never *held*: each figure is judged by the least and the most that
//! it can have been, a break is one whatever happened between the rows, and a missing column, an empty field, a gap
//! or rows too far apart make a rule *cannot tell*.
//!
//! | rule | judged |
//! |---|---|
//! | `flow_present` | nothing is driven without flow, but for one tick and one drive stop |
//! | `flow_proven` | flow has stood for `flow_prove` before anything is fed |
//! | `probe_settled` | and for `probe_settle` where a probe governs the feeder |
//! | `power_on_delay` | the controller has had power for that long |
//! | `probe_trusted` | nothing is fed by a probe that is stale, stands still or is not trusted |
//! | `inside_cutoff` | nothing is fed past the product's cut-off, by the readings of the log |
//! | `one_at_a_time` | a purge of flowing time lies between incompatible products |
//! | `spread_hold` | the hold of flowing time lies between two cycles |
//! | `cycle_cap`, `run_time_cap` | what one cycle gives, and for how long it drives |
//! | `hour_cap`, `day_cap` | what any hour and any day gives |
//! | `window_open` | nothing is fed outside the operating hours |
//! | `stock_present` | nothing is fed while the level switch sees no product |
//! | `drive_obeys` | a drive follows its command |
//!
//! A log does not show who held a button, what was kept back without power, or what a record held: the guard's other
//! rules are not judged.

mod apart;
mod bounds;
mod check;
mod fed;
mod log;
mod obeys;
mod seen;
mod standing;
mod states;
#[cfg(test)]
mod tests;
mod text;
mod totals;

use serde::Serialize;

pub use bounds::{Bounds, CutoffBounds, FeederBounds, Probe};
pub use check::{BREAKS_KEPT, Break, Doubt, Finding, Verdict};
pub use log::{Columns, FeederColumns, FeederRow, Log, ProbeColumns, Reading, Row, usual_ms};

use apart::CycleChecks;
use check::Check;
use fed::is_gap;
use seen::Seen;
use text::seconds;

/// Version of the JSON's form: a change that a reader would trip over makes it one more.
pub const AUDIT_VERSION: u32 = 1;

/// The rules, in the order of their findings.
pub const AUDITED: [&str; 15] = [
    "flow_present",
    "flow_proven",
    "probe_settled",
    "power_on_delay",
    "probe_trusted",
    "inside_cutoff",
    "one_at_a_time",
    "spread_hold",
    "cycle_cap",
    "run_time_cap",
    "hour_cap",
    "day_cap",
    "window_open",
    "stock_present",
    "drive_obeys",
];

const HOUR_MS: f64 = 3_600_000.0;

/// What a log says of every rule.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Audit {
    /// [`AUDIT_VERSION`].
    pub version: u32,
    /// The log's name.
    pub log: String,
    /// The site's name.
    pub site: String,
    /// How many rows there are.
    pub rows: usize,
    /// The time between two of them that is usual, s.
    pub row_s: f64,
    /// From the first to the last, s.
    pub length_s: f64,
    /// What was found, one for each of [`AUDITED`].
    pub findings: Vec<Finding>,
    /// What all of it rests on.
    pub notes: Vec<String>,
}

impl Audit {
    /// Names of the rules that were broken.
    pub fn broken(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.with(Verdict::Broken)
    }

    /// Names of the rules that cannot be told.
    pub fn unsure(&self) -> impl Iterator<Item = &'static str> + '_ {
        self.with(Verdict::CannotTell)
    }

    fn with(&self, verdict: Verdict) -> impl Iterator<Item = &'static str> + '_ {
        let all = self.findings.iter().filter(move |f| f.verdict == verdict);
        all.map(|finding| finding.rule)
    }

    /// What was found of one rule.
    #[must_use]
    pub fn finding(&self, rule: &str) -> Option<&Finding> {
        self.findings.iter().find(|finding| finding.rule == rule)
    }
}

/// Judges a log. `log.columns.feeders` and the feeders of each row stand in the order of `bounds.feeders`.
#[must_use]
pub fn audit(log: &Log, bounds: &Bounds) -> Audit {
    let seen = Seen::of(log, bounds);
    let mut checks = states::checks(&seen);
    checks.extend(amounts(&seen));
    let gaps = (0..log.rows.len()).filter(|row| is_gap(log, *row));
    let gaps = gaps.fold((0, 0.0, 0), |(number, length, line), row| {
        let long = log.rows[row].at_ms - log.rows[row - 1].at_ms;
        let line = if number == 0 {
            log.rows[row].line
        } else {
            line
        };
        (number + 1, length + long, line)
    });
    let mut findings = Vec::new();
    for rule in AUDITED {
        let at = checks.iter().position(|check| check.rule() == rule);
        let mut check = match at {
            Some(at) => checks.swap_remove(at),
            None => continue,
        };
        silent_feeders(&mut check, &seen);
        findings.push(check.finish(log, gaps, seconds));
    }
    Audit {
        version: AUDIT_VERSION,
        log: log.name.clone(),
        site: bounds.site.clone(),
        rows: log.rows.len(),
        row_s: log.usual_ms() / 1000.0,
        length_s: log.length_ms() / 1000.0,
        findings,
        notes: notes(log, bounds),
    }
}

/// No rule can be told of a feeder of which the log has nothing.
fn silent_feeders(check: &mut Check, seen: &Seen<'_>) {
    for (columns, bound) in seen.log.columns.feeders.iter().zip(&seen.bounds.feeders) {
        if !(columns.drive || columns.on_time || columns.amount) {
            let name = &bound.name;
            check.blind(
                "feeder",
                format!("the log has no column that says when {name} was fed"),
            );
        }
    }
}

fn amounts(seen: &Seen<'_>) -> Vec<Check> {
    let time = |ms: f64| seconds(ms);
    let bounds = seen.bounds;
    let purge = time(bounds.purge_ms);
    let mut apart = Check::new(
        "one_at_a_time",
        format!("{purge} of flow between incompatible products"),
    );
    apart::one_at_a_time(&mut apart, seen);
    let mut hold = Check::new(
        "spread_hold",
        "the hold of flowing time between two cycles".to_owned(),
    );
    let mut amount = Check::new("cycle_cap", "no more in one cycle than its cap".to_owned());
    let mut run = Check::new(
        "run_time_cap",
        "driven in one cycle for no longer than it may".to_owned(),
    );
    let mut cycles = CycleChecks {
        hold: &mut hold,
        amount: &mut amount,
        run: &mut run,
    };
    apart::cycles(&mut cycles, seen);
    let mut hour = Check::new("hour_cap", "no more in any hour than its cap".to_owned());
    totals::rolling(
        &mut hour,
        seen,
        HOUR_MS,
        |bound| bound.hour_cap,
        "fed within an hour",
    );
    let mut day = Check::new("day_cap", "no more in any day than its cap".to_owned());
    totals::rolling(
        &mut day,
        seen,
        24.0 * HOUR_MS,
        |bound| bound.day_cap,
        "fed within a day",
    );
    let mut obeys = Check::new("drive_obeys", "each drive follows its command".to_owned());
    obeys::drive_obeys(&mut obeys, seen);
    vec![apart, hold, amount, run, hour, day, obeys]
}

fn notes(log: &Log, bounds: &Bounds) -> Vec<String> {
    let mut notes = vec![
        "caps are those of the full stage, and what was fed before the log begins is not in it"
            .to_owned(),
        "a feed by hand is not told apart: it may go past a cut-off with a person beside it"
            .to_owned(),
    ];
    let columns = || log.columns.feeders.iter().zip(&bounds.feeders);
    let named = |pick: fn(&FeederColumns) -> bool| -> Vec<&str> {
        columns()
            .filter(|(c, _)| pick(c))
            .map(|(_, b)| b.name.as_str())
            .collect()
    };
    let by_rate = named(|c| !c.amount && (c.drive || c.on_time));
    if !by_rate.is_empty() {
        notes.push(format!(
            "amounts of {} are drive-on time times the rate as entered",
            by_rate.join(", ")
        ));
    }
    let by_state = named(|c| c.drive && !c.on_time && !c.amount);
    if !by_state.is_empty() {
        notes.push(format!(
            "feeds of {} that are shorter than {} may lie between two rows and are not seen",
            by_state.join(", "),
            seconds(log.usual_ms())
        ));
    }
    notes
}
