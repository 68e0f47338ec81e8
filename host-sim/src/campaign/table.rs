//! What a campaign found, in words and as a table.

use core::fmt::Write as _;
use std::collections::BTreeSet;

use serde::Serialize;

use super::annunciation::Annunciations;
use super::bounds::Bounds;
use super::case::Case;
use super::moved::extremes;
use super::report::Report;
use super::row::{rows, shown};
use crate::fault::names_of;

/// A case by the ids of its faults, and in words.
pub(super) fn called(case: &Case) -> String {
    format!("{}: {}", case.faults.join(" x "), names_of(&case.faults))
}

/// What stands beside the verdict: how often faults took an oracle past the bound of a sound site, and nobody was told.
pub(super) fn beside_verdict(report: &Report) -> [String; 2] {
    let lived = || report.cases.iter().filter(|case| case.trials > 0);
    let all = lived().count();
    let past = lived().filter(|case| !case.passed.is_empty()).count();
    let passed = lived().flat_map(|case| case.passed.values());
    let oracles: BTreeSet<&String> = passed.map(|one| &one.oracle).collect();
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

const UNTOLD: &str = "\n## Nobody told, as the catalogue says and at severity 1\n\n\
                      | fault | because | seen in the end by |\n|---|---|---|\n";

/// A single fault of which nobody was told at severity 1, as tables show it.
#[derive(Serialize)]
pub(super) struct UntoldRow {
    fault: String,
    why: String,
    seen_by: String,
}

/// Single faults of which nobody was told at severity 1, but for those that somebody has to be told of.
pub(super) fn untold_rows(report: &Report) -> Vec<UntoldRow> {
    let all = Annunciations::committed();
    let row = |case: &Case| {
        let gravest = case.gravest.as_ref()?;
        let fault = case.faults.first()?.clone();
        let id = fault.split(' ').next()?;
        let untold = all.untold(id).filter(|_| gravest.told_by.is_none())?;
        Some(UntoldRow {
            why: untold.why.clone(),
            seen_by: untold.seen_by.clone(),
            fault,
        })
    };
    report.cases.iter().filter_map(row).collect()
}

/// Single faults of which somebody had to be told and was not in time, in words.
pub(super) fn late(report: &Report) -> Vec<String> {
    let late = |case: &Case| {
        let gravest = case.gravest.as_ref().filter(|one| !one.is_inside())?;
        Some(format!("{}: {}", called(case), gravest.words()))
    };
    report.cases.iter().filter_map(late).collect()
}

/// The entries that were needed, by their names, with their reasons, and those that were not:
/// the end of a table for the docs.
#[must_use]
pub fn bounds_told(needed: &BTreeSet<String>) -> String {
    let bounds = Bounds::committed();
    let mut text = String::from(
        "\n## Bounds that were needed\n\n\
         | faults: oracle | allowed | because | removed by | found |\n|---|---|---|---|---|\n",
    );
    for row in bound_rows(&bounds, needed) {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} | {} |",
            row.name, row.allows, row.why, row.removed_by, row.found
        );
    }
    let unneeded = bounds.unneeded(needed);
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
        for p in case.passed.values().filter(|p| !p.inside) {
            let _ = writeln!(
                text,
                "         {}: {:.3} against {:.3} {}, allowed {}; {} (trial {})",
                p.oracle,
                p.worst,
                p.bound,
                p.unit,
                p.allowed
                    .map_or_else(|| "without bound".to_owned(), |value| format!("{value:.3}")),
                p.words,
                p.trial
            );
        }
        if let Some(late) = case.gravest.as_ref().filter(|one| !one.is_inside()) {
            let (words, trial) = (late.words(), late.trial);
            let _ = writeln!(text, "         annunciation: {words} (trial {trial})");
        }
    }
    for line in beside_verdict(report) {
        let _ = writeln!(text, "{line}.");
    }
    let _ = writeln!(text, "Verdict: {}.", verdict(report));
    text.push_str("Simulated, not certified: the hard-wired interlock stays.\n");
    text
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
        "Made by `{}`; {} trials of {}, {}. Site: {}. Drawn: {}.\n\n{}\n\n",
        report.command,
        report.lived,
        report.planned,
        simulated(report.simulated_s),
        report.site,
        report.drawn,
        shown(report)
    );
    text.push_str(
        "| fault | told first by | told after, s | safe after, s | fed more than a sound site till safe, mL or g | pH | free chlorine, mg/L | oracles |\n\
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
            row.fed_more,
            row.ph,
            row.chlorine,
            row.passed
        );
    }
    for line in late(report) {
        let _ = writeln!(text, "\n**outside**: {line}");
    }
    let missing = not_here(report);
    if !missing.is_empty() {
        let _ = writeln!(text, "\nNot applicable here: {}.", missing.join("; "));
    }
    let untold = untold_rows(report);
    if !untold.is_empty() {
        text.push_str(UNTOLD);
    }
    for row in untold {
        let _ = writeln!(text, "| {} | {} | {} |", row.fault, row.why, row.seen_by);
    }
    text.push_str(&bounds_told(&needed(report)));
    text
}
