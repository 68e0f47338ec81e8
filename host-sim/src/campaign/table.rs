//! What a campaign found, in words and as a table.

use core::fmt::Write as _;
use std::collections::BTreeSet;

use serde::Serialize;

use super::bounds::Bounds;
use super::case::{At, Case, Report};
use super::moved::extremes;
use crate::fault::names_of;
use crate::scenario::words::time;

/// Cases of pairs and at random that a table shows: those that moved the water furthest.
const SHOWN: usize = 40;

fn most(counts: &std::collections::BTreeMap<String, u64>) -> Option<&str> {
    // The more frequent, of equal ones the first by name.
    let best = counts
        .iter()
        .max_by_key(|(name, count)| (**count, core::cmp::Reverse(*name)));
    best.map(|(name, _)| name.as_str())
}

fn figure(at: Option<At>, places: usize) -> String {
    at.map_or_else(|| "-".to_owned(), |at| format!("{:.places$}", at.value))
}

fn passed_time(at: Option<At>) -> String {
    at.map_or_else(|| "-".to_owned(), |at| time((at.value * 1000.0) as u64))
}

fn detected(case: &Case) -> String {
    match (most(&case.told_by), most(&case.refused_by)) {
        (Some(alarm), _) => alarm.to_owned(),
        (None, Some(rule)) => format!("refused by {rule}"),
        (None, None) => "nothing".to_owned(),
    }
}

fn passed(case: &Case) -> String {
    let all: Vec<String> = case
        .passed
        .iter()
        .map(|(oracle, p)| {
            // What is read in mL is computed in uL.
            let (unit, by) = match p.unit.as_str() {
                "uL" => ("mL", 1000.0),
                unit => (unit, 1.0),
            };
            let allowed = match p.allowed {
                _ if !p.inside => "**outside**".to_owned(),
                None => "allowed without bound".to_owned(),
                Some(value) => format!("allowed to {:.1}", value / by),
            };
            let (worst, bound) = (p.worst / by, p.bound / by);
            format!("{oracle} {worst:.2}, of a sound site {bound:.2} {unit} ({allowed})")
        })
        .collect();
    if all.is_empty() {
        "held".to_owned()
    } else {
        all.join("; ")
    }
}

fn fed(case: &Case) -> String {
    let all: Vec<String> = case
        .fed
        .iter()
        .map(|(name, at)| format!("{name} {:.0}", at.value))
        .collect();
    all.join(", ")
}

/// A case by the ids of its faults, and in words.
pub(super) fn called(case: &Case) -> String {
    format!("{}: {}", case.faults.join(" x "), names_of(&case.faults))
}

/// What stands beside the verdict: how often faults took an oracle past the bound of a sound site, and nobody was told.
pub(super) fn beside_verdict(report: &Report) -> [String; 2] {
    let lived = || report.cases.iter().filter(|case| case.trials > 0);
    let all = lived().count();
    let past = lived().filter(|case| !case.passed.is_empty()).count();
    let oracles: BTreeSet<&String> = lived().flat_map(|case| case.passed.keys()).collect();
    let untold = lived().filter(|case| case.untold > 0).count();
    let silent = lived().filter(|case| case.told_by.is_empty()).count();
    [
        format!(
            "In {past} of {all} cases the water was worse than at a sound site, by {} of the oracles: inside the bounds \
             means no worse than what was written down for these faults, not that nothing happened",
            oracles.len()
        ),
        format!(
            "In {untold} of {all} cases no alarm told anybody in some trial, in {silent} of them in none: what no sensor \
             sees, and what did no harm before its trial was over"
        ),
    ]
}

/// The furthest that any case moved the water, a line each.
pub(super) fn furthest(report: &Report) -> String {
    let lines = extremes(report).into_iter();
    lines.map(|one| format!("  {one}\n")).collect()
}

/// Names of the entries of the bounds that were needed.
pub(super) fn needed(report: &Report) -> BTreeSet<String> {
    let cases = report.cases.iter();
    cases
        .flat_map(|case| case.bounds_needed.iter().cloned())
        .collect()
}

/// An entry about one of its oracles, as tables show it.
#[derive(Serialize)]
pub(super) struct BoundRow {
    pub(super) name: String,
    allows: String,
    why: String,
    removed_by: String,
    found: &'static str,
}

/// The entries that were needed, in the order of the file.
pub(super) fn bound_rows(bounds: &Bounds, needed: &BTreeSet<String>) -> Vec<BoundRow> {
    let mut rows = Vec::new();
    for entry in &bounds.entries {
        rows.extend(entry.names().map(|name| BoundRow {
            name,
            allows: entry.allows.to_string(),
            why: entry.why.clone(),
            removed_by: entry.removed_by.clone(),
            found: entry.found.map_or("before", |_| "by a campaign"),
        }));
    }
    rows.retain(|row| needed.contains(&row.name));
    rows
}

/// The entries that were needed, with their reasons, and those that were not.
fn bounds_shown(report: &Report) -> String {
    let (bounds, needed) = (Bounds::committed(), needed(report));
    let mut text = String::from(
        "\n## Bounds that were needed\n\n\
         | faults: oracle | allowed | because | removed by | found |\n|---|---|---|---|---|\n",
    );
    for row in bound_rows(&bounds, &needed) {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} |",
            row.name, row.allows, row.why, row.removed_by, row.found
        );
    }
    let unneeded = bounds.unneeded(&needed);
    if !unneeded.is_empty() {
        let _ = writeln!(text, "\nNot needed here: {}.", unneeded.join("; "));
    }
    text
}

/// Which part it is, unless it is all.
fn part(report: &Report) -> String {
    let parts: Vec<String> = report
        .parts
        .iter()
        .filter(|[_, of]| *of > 1)
        .map(|[part, of]| format!("{part}/{of}"))
        .collect();
    if parts.is_empty() {
        String::new()
    } else {
        format!(" in part {}", parts.join(", "))
    }
}

/// In one line.
pub(super) fn verdict(report: &Report) -> String {
    let outside = report.cases.iter().filter(|case| !case.is_inside()).count();
    match (outside, report.stopped) {
        (0, false) => format!("INSIDE THE BOUNDS{}", part(report)),
        (0, true) => "STOPPED before its end; inside the bounds so far".to_owned(),
        (count, _) => format!("OUTSIDE in {count} cases"),
    }
}

/// Simulated time; in years from a tenth of one on.
pub(crate) fn simulated(seconds: u64) -> String {
    let hours = seconds as f64 / 3600.0;
    match hours {
        _ if hours < 48.0 => format!("{hours:.1} simulated hours"),
        _ if hours < 876.6 => format!("{:.1} simulated days", hours / 24.0),
        _ => format!("{:.1} simulated years", hours / 8766.0),
    }
}

/// The verdict, for a screen.
#[must_use]
pub fn summary(report: &Report) -> String {
    let mut text = format!(
        "Campaign of {} faults on {}, seed {}\n\n",
        report.mode, report.site, report.seed
    );
    let missing = report
        .cases
        .iter()
        .filter(|case| case.not_here.is_some())
        .count();
    let _ = writeln!(
        text,
        "  {:<24}{} ({} that this site cannot have)",
        "cases",
        report.cases.len(),
        missing
    );
    let _ = writeln!(
        text,
        "  {:<24}{} of {}",
        "trials lived", report.lived, report.planned
    );
    let _ = writeln!(text, "  {:<24}{}", "lived", simulated(report.simulated_s));
    text.push_str(&furthest(report));
    let (needed, all) = (needed(report).len(), Bounds::committed().names().count());
    let _ = writeln!(text, "  {:<24}{needed} of {all} entries", "bounds needed");
    let outside: Vec<&Case> = report
        .cases
        .iter()
        .filter(|case| !case.is_inside())
        .collect();
    text.push('\n');
    for case in &outside {
        let _ = writeln!(text, "OUTSIDE  {}", called(case));
        for (oracle, p) in case.passed.iter().filter(|(_, p)| !p.inside) {
            let _ = writeln!(
                text,
                "         {oracle}: {:.3} against {:.3} {}, allowed {}; {} (trial {})",
                p.worst,
                p.bound,
                p.unit,
                p.allowed
                    .map_or_else(|| "without bound".to_owned(), |value| format!("{value:.3}")),
                p.words,
                p.trial
            );
        }
    }
    for line in beside_verdict(report) {
        let _ = writeln!(text, "{line}.");
    }
    let _ = writeln!(text, "Verdict: {}.", verdict(report));
    text.push_str("Simulated, not certified: the hard-wired interlock stays.\n");
    text
}

/// One case, as tables show it.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Row {
    faults: String,
    /// The same in words.
    words: String,
    told_by: String,
    told_after_s: String,
    safe_after_s: String,
    /// The same two as times.
    told_after: String,
    safe_after: String,
    fed: String,
    ph: String,
    chlorine: String,
    passed: String,
    is_inside: bool,
}

impl Row {
    fn of(case: &Case) -> Self {
        let untold = if case.untold > 0 {
            format!(
                " (nobody told in {} of {} trials)",
                case.untold, case.trials
            )
        } else {
            String::new()
        };
        let range =
            |low, high, places| format!("{} to {}", figure(low, places), figure(high, places));
        Self {
            faults: case.faults.join(" x "),
            words: names_of(&case.faults),
            told_by: detected(case) + &untold,
            told_after_s: figure(case.told_after_s, 0),
            safe_after_s: figure(case.safe_after_s, 0),
            told_after: passed_time(case.told_after_s),
            safe_after: passed_time(case.safe_after_s),
            fed: fed(case),
            ph: range(case.ph_min, case.ph_max, 2),
            chlorine: range(case.chlorine_min_mg_l, case.chlorine_max_mg_l, 1),
            passed: passed(case),
            is_inside: case.is_inside(),
        }
    }
}

/// The cases that are shown: all single faults; of others those that moved pH lowest, and all that are outside.
pub(super) fn rows(report: &Report) -> Vec<Row> {
    let mut cases: Vec<&Case> = report.cases.iter().filter(|case| case.trials > 0).collect();
    if report.mode != "single" {
        let far = |case: &Case| (case.is_inside(), case.ph_min.map_or(9.0, |at| at.value));
        cases.sort_by(|a, b| {
            let (x, y) = (far(a), far(b));
            x.0.cmp(&y.0).then(x.1.total_cmp(&y.1))
        });
        let outside = cases.iter().filter(|case| !case.is_inside()).count();
        cases.truncate(SHOWN.max(outside));
    }
    cases.into_iter().map(Row::of).collect()
}

/// Faults that the site cannot have, and why.
pub(super) fn not_here(report: &Report) -> Vec<String> {
    let cases = report.cases.iter().filter(|_| report.mode == "single");
    cases.filter_map(|case| case.not_here.clone()).collect()
}

/// The table, for the docs.
#[must_use]
pub fn markdown(report: &Report) -> String {
    let mut text = format!(
        "Made by `{}`; {} trials of {}, {}. Site: {}.\n\n",
        report.command,
        report.lived,
        report.planned,
        simulated(report.simulated_s),
        report.site
    );
    text.push_str(
        "| fault | told first by | told after, s | safe after, s | fed till safe, mL or g | pH | free chlorine, mg/L | oracles |\n\
         |---|---|---|---|---|---|---|---|\n",
    );
    for row in rows(report) {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} | {} |",
            row.faults,
            row.told_by,
            row.told_after_s,
            row.safe_after_s,
            row.fed,
            row.ph,
            row.chlorine,
            row.passed
        );
    }
    let missing = not_here(report);
    if !missing.is_empty() {
        let _ = writeln!(text, "\nNot applicable here: {}.", missing.join("; "));
    }
    text.push_str(&bounds_shown(report));
    text
}
