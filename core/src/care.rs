//! What upkeep has to say about feed in a tick: tests that are overdue, interlocks that are not
//! proven, a rate that the water says is wrong, how cold the water is. It only ever takes away.

use crate::around::Around;
use crate::ask::{Ask, Desk};
use crate::event::EventKind;
use crate::guard::units::{Dose, Fitted, Millis};
use crate::guard::{Inhibits, Mode, Product, Reading};
use crate::probe::CentiCelsius;
use crate::proof::InterlockSet;
use crate::settings::{SettingsError, held, narrow, ranged};
use crate::stages::StageSettings;
use crate::water_tests::TestedSet;

/// Oldest temperature of the water that is looked at. Our choice: water changes by the hour.
pub const TEMPERATURE_AGE_MAX: Millis = Millis::from_mins(10);

/// How much warmer than [`CareSettings::cold_below`] the water has to be again, hundredths of a
/// degree. Our choice: noise must not switch feed.
const WARM_AGAIN: i32 = 100;

/// What upkeep says. Without any of it nothing is held back, and no stage is earned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Care {
    /// Tests of the water that are overdue: an alarm, and smaller cycles of what they are for.
    pub overdue: TestedSet,
    /// Interlocks whose proof test is due, failed, or was never made: an alarm, and no further
    /// stage. `None`: nobody says.
    pub unproven: Option<InterlockSet>,
    /// An interlock has failed its proof test: feed is held until one passes.
    pub interlock_failed: bool,
    /// Temperature of the water.
    pub temperature: Reading<CentiCelsius>,
}

impl Care {
    /// Nothing is known.
    pub const UNKNOWN: Self = Self {
        overdue: TestedSet::NONE,
        unproven: None,
        interlock_failed: false,
        temperature: Reading::unknown(CentiCelsius(0)),
    };

    /// Whether a proof test is due.
    pub(crate) fn proof_due(&self) -> bool {
        self.interlock_failed || self.unproven.is_some_and(|set| !set.is_empty())
    }

    /// What an automatic dose is cut to while a test is overdue that the caps of its product were
    /// made with: half of the cycle's cap. Our choice: right down to half of the buffer that they
    /// were made for, and the water is still fed. Never under the smallest dose, which is what the
    /// guard would charge at all; other modes are a person's and stay.
    pub(crate) fn cut(
        &self,
        product: Product,
        mode: Mode,
        (cycle_cap, least): (Dose, Dose),
        dose: Dose,
    ) -> Dose {
        let buffered = matches!(product, Product::Acid | Product::Base);
        if self.overdue.is_of_buffer() && buffered && mode == Mode::Automatic {
            dose.min(Dose(cycle_cap.0 >> 1).max(least))
        } else {
            dose
        }
    }
}

/// What the controller is told about stages and cold water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct CareSettings {
    /// What each stage needs; not fitted: a technician sets them without evidence.
    pub stages: Fitted<StageSettings>,
    /// No feed in water that was last read to be colder; not fitted: it is fed at any temperature. A hold is kept
    /// without power, and a temperature that is not there is told (`SiteAlarm::PhStatus`).
    pub cold_below: Fitted<CentiCelsius>,
}

impl CareSettings {
    /// What a controller goes by until [`Controller::set_care`](crate::Controller::set_care): a new unit only observes, each
    /// step up needs its evidence, and no water is too cold.
    pub const USUAL: Self = Self {
        stages: Fitted::Fitted(StageSettings::USUAL),
        cold_below: Fitted::NotFitted,
    };

    /// Neither: a unit feeds as soon as a person has initialised it. For tests and simulated plants; to say so is a decision.
    pub const NONE: Self = Self {
        stages: Fitted::NotFitted,
        cold_below: Fitted::NotFitted,
    };

    /// Looks at them: hours of each stage 1 to 1000, cold 1 to 25 C.
    ///
    /// # Errors
    /// The first that is out of range.
    pub const fn try_new(self) -> Result<Self, SettingsError> {
        if let Fitted::Fitted(stages) = self.stages {
            held! { stages.check(); }
        }
        if let Fitted::Fitted(below) = self.cold_below {
            held! { ranged("cold_below", narrow(below.0), 100, 2500); }
        }
        Ok(self)
    }
}

/// Colder water is near to freezing: pumps run so that pipes do not, and nobody bathes. Our choice; that such runs
/// begin at some degrees over freezing is common practice, no source.
pub const FROST_BELOW: CentiCelsius = CentiCelsius::from_whole(5);

/// What reads as colder is no water that a pump moves: the sensor or its line has failed. Our choice.
pub const COLDEST: CentiCelsius = CentiCelsius::from_whole(-2);

/// The settings and whether the water is too cold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Caring {
    pub(crate) settings: CareSettings,
    pub(crate) is_cold: bool,
    /// So cold that pumps run against frost, by a temperature that is fresh.
    is_near_freezing: bool,
    /// Cold water holds feed, and nobody says how cold it is.
    pub(crate) is_blind: bool,
}

impl Caring {
    /// Before anybody has told anything: forgetting to is no way to feed.
    pub(crate) const UNTOLD: Self = Self {
        settings: CareSettings::USUAL,
        is_cold: false,
        is_near_freezing: false,
        is_blind: false,
    };

    /// Looks at a temperature. One that is not fresh changes nothing: a sensor that fails must not
    /// end the chlorine of a warm pool, nor begin the acid of a cold one.
    pub(crate) fn look(&mut self, care: &Care) {
        let Fitted::Fitted(below) = self.settings.cold_below else {
            *self = Self {
                settings: self.settings,
                ..Self::UNTOLD
            };
            return;
        };
        let now = care.temperature.trusted(TEMPERATURE_AGE_MAX);
        let now = now.filter(|now| *now >= COLDEST);
        self.is_blind = now.is_none();
        self.is_near_freezing = now.is_some_and(|now| now < FROST_BELOW);
        if let Some(now) = now {
            let bound = if self.is_cold {
                below.0.saturating_add(WARM_AGAIN)
            } else {
                below.0
            };
            self.is_cold = now.0 < bound;
        }
    }

    /// Whether a pump that runs does so against frost: nothing is to be fed in water that is so cold, and it is no
    /// demand. In water that is only too cold to be fed, and once nobody says how cold it is, a demand counts.
    pub(crate) const fn runs_against_frost(&self) -> bool {
        self.is_cold && self.is_near_freezing
    }

    /// What the guard is told.
    pub(crate) const fn inhibits(&self, care: &Care) -> Inhibits {
        let mut inhibits = Inhibits::NONE;
        if self.is_cold {
            inhibits = inhibits.with(Inhibits::TOO_COLD);
        }
        if care.interlock_failed {
            inhibits = inhibits.with(Inhibits::SERVICE);
        }
        inhibits
    }
}

impl<const N: usize> Around<N> {
    /// Looks at what upkeep says, before anything is asked for.
    pub(crate) fn care_for(&mut self, care: &Care) {
        let before = self.caring;
        self.caring.look(care);
        let Caring {
            is_cold, is_blind, ..
        } = self.caring;
        if is_cold != before.is_cold {
            self.events.push(EventKind::TooCold { now: is_cold });
        }
        if is_blind != before.is_blind {
            self.events
                .push(EventKind::TemperatureLost { now: is_blind });
        }
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Desk<'_, N, B, H, D> {
    /// Asks for less while a test is overdue, also while a cycle runs: else its next slice would
    /// make up for it. The guard cuts no open cycle short by that.
    pub(crate) fn cut_by_care(&self, feeder: usize, least: Dose, ask: &mut Ask) {
        let Some(product) = self.limits.product(feeder) else {
            return;
        };
        let body = usize::from(self.state.selected.unwrap_or(0));
        let cap = self.limits.caps(feeder, body, self.state.stage).cycle;
        let care = &self.inputs.care;
        ask.dose = care.cut(product, ask.mode, (cap, least), ask.dose);
    }
}

#[cfg(test)]
mod tests;
