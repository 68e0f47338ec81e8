//! What a campaign found: its cases and what it was made of, so that parts can be put together.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::CampaignError;
use super::case::Case;

/// What a campaign, or a part of one, found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Report {
    /// Layout of this file.
    pub version: u32,
    /// The site.
    pub site: String,
    /// The command that lives all of it again.
    pub command: String,
    /// A digest of the site's scenario and of the bounds.
    pub digest: u64,
    /// What is wrong with its unit on purpose.
    pub canary: Option<String>,
    /// "single", "pairs" or "random".
    pub mode: String,
    /// The seed.
    pub seed: u64,
    /// Ids of the faults that were asked for; empty: all of the catalogue.
    pub only: Vec<String>,
    /// A digest of all cases that were drawn: their faults, sizes and times, what becomes of them, and how they are lived.
    pub drawn: u64,
    /// Which parts of how many were lived: `[part, of]`, `[1, 1]` for all of it.
    pub parts: BTreeSet<[u64; 2]>,
    /// How many trials the whole campaign has.
    pub planned: u64,
    /// How many trials were lived.
    pub lived: u64,
    /// Simulated time, s.
    pub simulated_s: u64,
    /// It was stopped before its end.
    pub stopped: bool,
    /// The cases that were lived, and those that the site cannot have, by number.
    pub cases: Vec<Case>,
}

impl Report {
    /// Layout of what [`Report`] is written as.
    pub const VERSION: u32 = 5;

    /// Whether all was inside the bounds.
    #[must_use]
    pub fn is_inside(&self) -> bool {
        self.cases.iter().all(Case::is_inside)
    }

    /// Puts parts together.
    ///
    /// # Errors
    /// They are not parts of one campaign.
    pub fn merge(parts: Vec<Self>) -> Result<Self, CampaignError> {
        let mut parts = parts.into_iter();
        let Some(mut all) = parts.next() else {
            return Err(CampaignError::Merge("no file to put together".to_owned()));
        };
        let mut cases = core::mem::take(&mut all.cases);
        for part in parts {
            if !all.is_of_one_with(&part) {
                let what = format!(
                    "these are parts of two campaigns: {} {} with seed {}, and {} {} with seed {}",
                    all.site, all.mode, all.seed, part.site, part.mode, part.seed
                );
                return Err(CampaignError::Merge(what));
            }
            if let Some([one, of]) = part.parts.intersection(&all.parts).next() {
                let what = format!("part {one}/{of} is there twice");
                return Err(CampaignError::Merge(what));
            }
            all.parts.extend(part.parts);
            all.lived += part.lived;
            all.simulated_s += part.simulated_s;
            all.stopped |= part.stopped;
            cases.extend(part.cases);
        }
        if let Some(missing) = all.missing() {
            return Err(CampaignError::Merge(missing));
        }
        // A case of single faults has trials in several parts.
        cases.sort_by_key(|case| case.number);
        for case in cases {
            match all
                .cases
                .last_mut()
                .filter(|last| last.number == case.number)
            {
                Some(last) => last.merge(case),
                None => all.cases.push(case),
            }
        }
        all.parts = [[1, 1]].into();
        Ok(all)
    }

    /// Whether two are parts of one campaign.
    fn is_of_one_with(&self, other: &Self) -> bool {
        let of = |one: &Self| one.parts.iter().map(|[_, of]| *of).next();
        (
            self.version,
            self.digest,
            self.drawn,
            self.seed,
            self.planned,
        ) == (
            other.version,
            other.digest,
            other.drawn,
            other.seed,
            other.planned,
        ) && (&self.site, &self.mode, &self.canary) == (&other.site, &other.mode, &other.canary)
            && self.only == other.only
            && of(self) == of(other)
    }

    /// Which parts are missing, in words.
    fn missing(&self) -> Option<String> {
        let of = self.parts.iter().map(|[_, of]| *of).next()?;
        let missing: Vec<String> = (1..=of)
            .filter(|part| !self.parts.contains(&[*part, of]))
            .map(|part| format!("{part}/{of}"))
            .collect();
        (!missing.is_empty()).then(|| format!("missing: {}", missing.join(", ")))
    }
}
