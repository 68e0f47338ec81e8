//! Closing for winter and opening again.
//!
//! # Invariants
//! - Laid up, nothing is fed: through power cuts, resets and another board. A pump that runs
//!   against frost is flow and no demand; alarms of the water, its tests, the probes and the proof
//!   tests are suppressed by design, and those of the plant are not.
//! - A site whose stages ask for evidence is opened in two steps. The first begins it, and makes
//!   every proof test due anew; what is entered counts from then on, so that no test of the autumn
//!   does. The second opens, once all that is owed was entered and every interlock that can be
//!   without feed is proven: into the reduced stage, with its evidence from nothing.
//! - Full caps then need the evidence of the stage, all proof tests with it
//!   ([`StageNeeds`](crate::stages::StageNeeds)).
//!
//! A site that nobody has laid up is not fed either while its water is too cold
//! ([`CareSettings::cold_below`](crate::CareSettings)). Near to freezing, by a temperature that is fresh
//! ([`FROST_BELOW`](crate::FROST_BELOW)), a pump that runs is no demand; the alarms of its water stand.
//!
//! A site whose stages ask for nothing ([`CareSettings::stages`](crate::CareSettings) not fitted) is
//! opened at once: its technician has decided that nobody is asked.

use crate::act::ActResult;
use crate::around::Around;
use crate::guard::{Action, Authority, Limits, PersonAction, Product, Stage};
use crate::proof::InterlockSet;
use crate::stages::{Evidence, Scene};
use crate::upkeep::UpkeepAct;
use crate::water_tests::{TestedSet, TestedValue};

/// What is in a drum has to have at least so much of the strength that its caps were made for,
/// percent. Our choice: the day's cap then still gives most of a hot day's need. Hypochlorite that
/// stood warm for a season has less.
pub const STRENGTH_MIN: u8 = 70;
/// And at most so much. Our choice: what is stronger than the tolerance of a rate needs other caps.
pub const STRENGTH_MAX: u8 = 110;

/// What has to be entered before a site that was laid up feeds again; 3 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Owed {
    /// Tests of the water.
    pub tests: TestedSet,
    /// The slope of the pH probe, by two buffers.
    pub slope: bool,
    /// Strength of what is in the drums of these feeders, as bits.
    pub drums: u8,
}

impl Owed {
    /// Nothing.
    pub const NOTHING: Self = Self {
        tests: TestedSet::NONE,
        slope: false,
        drums: 0,
    };

    /// What a site owes: alkalinity where pH is fed, cyanurate where chlorine is, salt where it is
    /// made; the slope of its pH probe; the strength of each drum of hypochlorite.
    #[must_use]
    pub fn of<const N: usize, const B: usize>(limits: &Limits<N, B>) -> Self {
        let mut owed = Self {
            slope: limits.spec().ph_probe.is_fitted(),
            ..Self::NOTHING
        };
        for feeder in 0..N {
            let tested = match limits.product(feeder) {
                None => continue,
                Some(Product::Acid | Product::Base) => TestedValue::Alkalinity,
                Some(Product::Hypochlorite) => {
                    owed.drums |= bit(feeder);
                    TestedValue::Cyanurate
                }
                Some(Product::GeneratedChlorine) => {
                    owed.tests = owed.tests.with(TestedValue::Salt);
                    TestedValue::Cyanurate
                }
            };
            owed.tests = owed.tests.with(tested);
        }
        owed
    }

    /// Whether nothing is owed.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::NOTHING
    }
}

fn bit(feeder: usize) -> u8 {
    let bit = u32::try_from(feeder)
        .ok()
        .and_then(|at| 1_u8.checked_shl(at));
    bit.unwrap_or(0)
}

const fn name(value: TestedValue) -> &'static str {
    match value {
        TestedValue::Alkalinity => "alkalinity",
        TestedValue::Cyanurate => "cyanuric acid",
        TestedValue::Salt => "salt",
        TestedValue::Borate => "borate",
    }
}

/// How far an opening is; kept with the rest.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Opening {
    /// Which step was taken.
    pub step: OpeningStep,
    /// What is owed yet.
    pub owed: Owed,
}

/// The steps of an opening.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum OpeningStep {
    /// None.
    #[default]
    None,
    /// Begun: what is entered counts, and proof tests are about to be made due anew.
    Begun,
    /// They are due.
    Asks,
}

impl Opening {
    /// None is under way.
    pub const NONE: Self = Self {
        step: OpeningStep::None,
        owed: Owed::NOTHING,
    };
}

/// What an opening waits for; all of it is named at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OpeningNeeds {
    /// To be entered.
    pub owed: Owed,
    /// Nobody says which proof tests have passed.
    pub proofs_unknown: bool,
    /// Interlocks to be proven, of those that can be without feed.
    pub proofs: InterlockSet,
}

impl OpeningNeeds {
    /// Whether nothing is missing.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }
}

impl core::fmt::Display for OpeningNeeds {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("missing before it opens:")?;
        for value in TestedValue::ALL {
            if self.owed.tests.has(value) {
                write!(f, " a test of {},", name(value))?;
            }
        }
        if self.owed.slope {
            f.write_str(" the slope of the pH probe by two buffers,")?;
        }
        for feeder in (0_u8..8).filter(|at| self.owed.drums >> at & 1 == 1) {
            write!(
                f,
                " the strength of what is in the drum of feeder {feeder},"
            )?;
        }
        if self.proofs_unknown {
            f.write_str(" proof tests, of which nothing is known,")?;
        }
        for interlock in self.proofs.iter() {
            write!(f, " a proof test of the {}", interlock.name())?;
            match interlock.feeder() {
                None => f.write_str(",")?,
                Some(feeder) => write!(f, " of feeder {feeder},")?,
            }
        }
        f.write_str(" then open it once more")
    }
}

impl<const N: usize> Around<N> {
    /// Lays the site up. False if it is.
    pub(crate) const fn lay_up(&mut self) -> bool {
        self.opening = Opening::NONE;
        !core::mem::replace(&mut self.restraints.is_laid_up, true)
    }

    /// Opens it up, or says what is missing. What is left for the guard is handed on.
    pub(crate) fn open_up<const B: usize, const H: usize, const D: usize>(
        &mut self,
        scene: &Scene<'_, N, B, H, D>,
        by: Authority,
    ) -> Result<PersonAction, ActResult> {
        if !self.restraints.is_laid_up {
            return Err(ActResult::AlreadySo);
        }
        let asks = self.caring.settings.stages.is_fitted();
        if asks {
            let step = self.opening.step;
            if step == OpeningStep::None {
                self.opening = Opening {
                    step: OpeningStep::Begun,
                    owed: Owed::of(scene.limits),
                };
            }
            let unproven = scene.care.unproven;
            let needs = OpeningNeeds {
                owed: self.opening.owed,
                proofs_unknown: unproven.is_none(),
                proofs: unproven.unwrap_or_default().without_feed(),
            };
            if step != OpeningStep::Asks || !needs.is_nothing() {
                return Err(ActResult::OpeningNeeds(needs));
            }
        }
        self.restraints.is_laid_up = false;
        self.opening = Opening::NONE;
        // After a winter it is another water, from another drum.
        self.forget_all_answers();
        if !asks {
            return Err(ActResult::Done);
        }
        let own = &mut self.restraints.evidence;
        *own = if own.is_observing {
            Evidence::OBSERVING
        } else {
            Evidence::NONE
        };
        Ok(PersonAction {
            by,
            action: Action::SetStage(Stage::Reduced),
        })
    }

    /// Takes the strength of what is in a drum.
    pub(crate) fn strength<const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        feeder: usize,
        percent: u8,
    ) -> ActResult {
        if limits.product(feeder) != Some(Product::Hypochlorite) {
            return ActResult::NoSuchFeeder;
        }
        if !(STRENGTH_MIN..=STRENGTH_MAX).contains(&percent) {
            return ActResult::StrengthOut {
                min: STRENGTH_MIN,
                max: STRENGTH_MAX,
            };
        }
        self.opening.owed.drums &= !bit(feeder);
        ActResult::Done
    }

    /// Whether proof tests have to be made due anew now; once.
    pub(crate) fn ages_proofs(&mut self) -> bool {
        let own = &mut self.opening.step;
        let begun = *own == OpeningStep::Begun;
        if begun {
            *own = OpeningStep::Asks;
        }
        begun
    }

    /// Takes note of what upkeep has done. `calibrated`: the pH probe has a new slope.
    pub(crate) fn note_for_opening(&mut self, act: &UpkeepAct, calibrated: bool) {
        let owed = &mut self.opening.owed;
        if let UpkeepAct::Test(value, _) = act {
            let left = TestedValue::ALL.into_iter();
            let left = left.filter(|one| one != value && owed.tests.has(*one));
            owed.tests = left.fold(TestedSet::NONE, TestedSet::with);
        }
        owed.slope &= !calibrated;
    }
}

#[cfg(all(test, feature = "store"))]
mod tests;
