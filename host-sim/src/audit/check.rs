//! One rule being judged: what broke it, and why it cannot be told elsewhere.

use serde::Serialize;

use super::fed::Range;
use super::log::{Log, Row};

/// As many breaks of a rule are kept.
pub const BREAKS_KEPT: usize = 5;

/// What a log says of a rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// It held, as far as the log shows anything.
    Held,
    /// It was broken, whatever happened between the rows.
    Broken,
    /// It was not seen broken, and cannot be seen to have held.
    CannotTell,
    /// The site has no such bound.
    NotAtThisSite,
}

/// One time that a rule was broken.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Break {
    /// Line of the log.
    pub line: u64,
    /// Its time, as the log writes it.
    pub clock: String,
    /// The feeder, by its name.
    pub feeder: String,
    /// What was seen, and what is allowed.
    pub words: String,
}

/// Why a rule cannot be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Doubt {
    /// In words.
    pub why: String,
    /// How often that is so.
    pub times: u64,
    /// The first line at which it is; `None`: it is so of the whole log.
    pub first_line: Option<u64>,
    #[serde(skip)]
    kind: &'static str,
}

/// What was found of one rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Finding {
    /// Its name.
    pub rule: &'static str,
    /// What has to hold.
    pub holds_that: String,
    /// What the log says.
    pub verdict: Verdict,
    /// How often it was seen to hold.
    pub held_times: u64,
    /// How often it was broken.
    pub broken_times: u64,
    /// The first times.
    pub breaks: Vec<Break>,
    /// Why it cannot be told elsewhere.
    pub doubts: Vec<Doubt>,
}

/// A place in a log, of one feeder.
#[derive(Clone, Copy)]
pub(super) struct Place<'a> {
    pub(super) row: &'a Row,
    pub(super) feeder: &'a str,
}

/// How a figure is shown.
pub(super) type Shown = fn(f64) -> String;

/// A rule that is being judged.
pub(super) struct Check {
    finding: Finding,
    applies: bool,
}

impl Check {
    pub(super) fn new(rule: &'static str, holds_that: String) -> Self {
        Self {
            finding: Finding {
                rule,
                holds_that,
                verdict: Verdict::Held,
                held_times: 0,
                broken_times: 0,
                breaks: Vec::new(),
                doubts: Vec::new(),
            },
            applies: false,
        }
    }

    pub(super) fn rule(&self) -> &'static str {
        self.finding.rule
    }

    /// The site has a feeder with such a bound.
    pub(super) fn applies(&mut self) {
        self.applies = true;
    }

    pub(super) fn held(&mut self) {
        self.finding.held_times += 1;
    }

    pub(super) fn broken(&mut self, place: Place<'_>, words: String) {
        self.finding.broken_times += 1;
        if self.finding.breaks.len() < BREAKS_KEPT {
            self.finding.breaks.push(Break {
                line: place.row.line,
                clock: place.row.clock.clone(),
                feeder: place.feeder.to_owned(),
                words,
            });
        }
    }

    /// One more doubt of a kind; the first of it is the one in words.
    pub(super) fn doubt(
        &mut self,
        kind: &'static str,
        line: Option<u64>,
        why: impl FnOnce() -> String,
    ) {
        match self.finding.doubts.iter_mut().find(|d| d.kind == kind) {
            Some(known) => known.times += 1,
            None => self.finding.doubts.push(Doubt {
                why: why(),
                times: 1,
                first_line: line,
                kind,
            }),
        }
    }

    /// The whole rule cannot be told.
    pub(super) fn blind(&mut self, kind: &'static str, why: String) {
        self.doubt(kind, None, || why);
    }

    /// Judges a figure that may be at most so much.
    pub(super) fn at_most(
        &mut self,
        place: Place<'_>,
        (least, most): Range,
        bound: f64,
        shown: Shown,
        what: &str,
    ) {
        // Sums of figures in ms or uL: a millionth is rounding.
        let room = bound.abs().max(1.0) * 1e-6;
        if least > bound + room {
            self.broken(
                place,
                format!(
                    "{what} {}, at most {} allowed",
                    over(least, most, shown),
                    shown(bound)
                ),
            );
        } else if most <= bound + room {
            self.held();
        } else {
            self.unsure(
                place,
                (least, most),
                shown,
                what,
                &format!("at most {} is allowed", shown(bound)),
            );
        }
    }

    /// Judges a figure that has to be at least so much.
    pub(super) fn at_least(
        &mut self,
        place: Place<'_>,
        (least, most): Range,
        bound: f64,
        shown: Shown,
        what: &str,
    ) {
        let room = bound.abs().max(1.0) * 1e-6;
        if most < bound - room {
            self.broken(
                place,
                format!(
                    "{what} {}, at least {} needed",
                    under(least, most, shown),
                    shown(bound)
                ),
            );
        } else if least >= bound - room {
            self.held();
        } else {
            self.unsure(
                place,
                (least, most),
                shown,
                what,
                &format!("at least {} is needed", shown(bound)),
            );
        }
    }

    fn unsure(
        &mut self,
        place: Place<'_>,
        (least, most): Range,
        shown: Shown,
        what: &str,
        bound: &str,
    ) {
        let (line, feeder) = (place.row.line, place.feeder);
        self.doubt("rows", Some(line), || {
            let most = if most.is_finite() { shown(most) } else { "any".to_owned() };
            format!(
                "rows are too far apart, or begin too late: {feeder} {what} {} to {most}, and {bound}",
                shown(least)
            )
        });
    }

    /// What the log says in the end. `gaps`: their number, their length in all, ms, and the line after the first.
    pub(super) fn finish(mut self, log: &Log, gaps: (u64, f64, u64), shown: Shown) -> Finding {
        let (number, length, line) = gaps;
        if self.applies && number > 0 {
            self.doubt("gap", Some(line), || {
                format!(
                    "the log has {number} gap{} of over {}, {} in all",
                    if number == 1 { "" } else { "s" },
                    shown(log.gap_ms),
                    shown(length)
                )
            });
        }
        let finding = &mut self.finding;
        finding.verdict = match (finding.broken_times, finding.doubts.len()) {
            _ if !self.applies => Verdict::NotAtThisSite,
            (0, 0) => Verdict::Held,
            (0, _) => Verdict::CannotTell,
            _ => Verdict::Broken,
        };
        if !self.applies {
            finding.doubts.clear();
        }
        self.finding
    }
}

fn over(least: f64, most: f64, shown: Shown) -> String {
    match shown(least) == shown(most) {
        true => shown(least),
        false => format!("{} or more", shown(least)),
    }
}

fn under(least: f64, most: f64, shown: Shown) -> String {
    match shown(least) == shown(most) {
        true => shown(most),
        false => format!("{} or less", shown(most)),
    }
}
