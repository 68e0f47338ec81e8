//! How far faults moved the water of a site: what a campaign came to, short enough for a commissioning sheet.

use core::fmt;

use serde::Serialize;

use super::CampaignError;
use super::bounds::Bounds;
use super::case::{At, Case};
use super::report::Report;
use super::subject::Subject;
use super::table::{called, verdict};

/// A value that no case of a campaign went past.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Extreme {
    /// Of what.
    pub what: &'static str,
    /// The value.
    pub value: f64,
    /// Its unit; empty for pH.
    pub unit: &'static str,
    /// The faults that brought it there: ids, and in words.
    pub by: String,
}

impl fmt::Display for Extreme {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let space = if self.unit.is_empty() { "" } else { " " };
        let (what, value, unit) = (self.what, self.value, self.unit);
        write!(f, "{what:<24}{value:.2}{space}{unit} ({})", self.by)
    }
}

/// A way in which a case moved the water.
pub(super) struct Way {
    what: &'static str,
    unit: &'static str,
    of: fn(&Case) -> Option<At>,
    is_high: bool,
}

impl Way {
    /// How far a case went; less is further. `None`: it has no such value.
    pub(super) fn rank(&self, case: &Case) -> Option<f64> {
        let value = (self.of)(case)?.value;
        Some(if self.is_high { -value } else { value })
    }
}

/// All ways: lowest and highest pH and free chlorine.
pub(super) const WAYS: [Way; 4] = [
    Way {
        what: "lowest pH",
        unit: "",
        of: |case| case.ph_min,
        is_high: false,
    },
    Way {
        what: "highest pH",
        unit: "",
        of: |case| case.ph_max,
        is_high: true,
    },
    Way {
        what: "lowest free chlorine",
        unit: "mg/L",
        of: |case| case.chlorine_min_mg_l,
        is_high: false,
    },
    Way {
        what: "highest free chlorine",
        unit: "mg/L",
        of: |case| case.chlorine_max_mg_l,
        is_high: true,
    },
];

/// The furthest that any case moved the water, each way. What no case has is left out.
pub(super) fn extremes(report: &Report) -> Vec<Extreme> {
    let found = WAYS.iter().filter_map(|way| {
        let of_cases = report
            .cases
            .iter()
            .filter_map(|case| Some((case, way.rank(case)?)));
        let (case, _) = of_cases.min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Extreme {
            what: way.what,
            value: (way.of)(case)?.value,
            unit: way.unit,
            by: called(case),
        })
    });
    found.collect()
}

/// What a campaign says of a site as a whole.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Moved {
    /// "single", "pairs" or "random".
    pub mode: String,
    /// Its seed.
    pub seed: u64,
    /// How many trials were lived.
    pub trials: u64,
    /// Its verdict.
    pub verdict: String,
    /// Whether all was inside the bounds.
    pub is_inside: bool,
    /// How far the water was moved.
    pub furthest: Vec<Extreme>,
}

impl Moved {
    /// What this report, made of the subject, says.
    ///
    /// # Errors
    /// It was made of another site, other settings, another layout or other bounds; of a unit broken on purpose; or it is not whole.
    pub fn of(report: &Report, subject: &Subject) -> Result<Self, CampaignError> {
        let wrong = |what: String| Err(CampaignError::Merge(what));
        if let Some(canary) = &report.canary {
            return wrong(format!(
                "was made with a unit broken on purpose ({canary}): make it without --canary"
            ));
        }
        if report.digest != subject.digest(&Bounds::committed()) {
            return wrong(format!(
                "is of another site, other settings or other bounds ({}): make it anew with `campaign --site`",
                report.site
            ));
        }
        if report.stopped || report.parts != [[1, 1]].into() {
            return wrong(
                "is a part of a campaign: make it whole, or put its parts together with `campaign --merge`"
                    .to_owned(),
            );
        }
        Ok(Self {
            mode: report.mode.clone(),
            seed: report.seed,
            trials: report.lived,
            verdict: verdict(report),
            is_inside: report.is_inside(),
            furthest: extremes(report),
        })
    }
}

impl fmt::Display for Moved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (mode, trials, seed) = (&self.mode, self.trials, self.seed);
        let what = match mode.as_str() {
            "pairs" => "pairs of faults",
            "random" => "faults at random",
            _ => "single faults",
        };
        writeln!(
            f,
            "Simulated with {what} ({trials} trial{}, seed {seed}): {}",
            if trials == 1 { "" } else { "s" },
            self.verdict
        )?;
        for one in &self.furthest {
            writeln!(f, "  {one}")?;
        }
        Ok(())
    }
}
