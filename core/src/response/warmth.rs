//! How far a dose moves water that is colder or warmer than the water of the settings. Needs the feature `water`.
//!
//! Cold water holds more of its carbon as CO2 at the same pH, and cyanurate buffers more: at pH 7.5, 90 mg/L of
//! alkalinity and 30 mg/L of cyanuric acid a dose moves pH at 8 C by 73 % of what it does at 26 C.

#[cfg(feature = "water")]
use super::{BufferingWater, ExpectedResponse};
use crate::around::Around;
use crate::care::Care;
#[cfg(feature = "water")]
use crate::care::TEMPERATURE_AGE_MAX;
#[cfg(feature = "water")]
use crate::guard::units::Fitted;

/// Hundredths of a degree by which water has to change before the step is worked out anew: 3 % of it.
#[cfg(feature = "water")]
const CHANGES_BY: u32 = 200;

/// The step at the water's own temperature, over that at the temperature of the settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Warmth {
    /// The temperature, hundredths of a degree, for which it was worked out last.
    of: Option<i32>,
    /// Thousandths.
    milli: u16,
}

impl Warmth {
    /// Nobody has said how warm the water is.
    pub(crate) const UNKNOWN: Self = Self {
        of: None,
        milli: 1000,
    };

    pub(crate) const fn milli(self) -> u16 {
        self.milli
    }
}

impl<const N: usize> Around<N> {
    /// Looks at the water's temperature. One that is not fresh changes nothing.
    #[cfg(feature = "water")]
    pub(crate) fn follow_warmth(&mut self, care: &Care) {
        let Some(now) = care.temperature.trusted(TEMPERATURE_AGE_MAX) else {
            return;
        };
        let near = |of: i32| of.abs_diff(now.0) < CHANGES_BY;
        if self.warmth.of.is_some_and(near) {
            return;
        }
        let expected = self.settings.spec().response.get();
        let milli = expected.and_then(|expected| expected.warmth_milli(now.0));
        self.warmth = Warmth {
            of: Some(now.0),
            milli: milli.unwrap_or(1000),
        };
    }

    /// Nothing to work it out with.
    #[cfg(not(feature = "water"))]
    pub(crate) const fn follow_warmth(&mut self, _: &Care) {}
}

#[cfg(feature = "water")]
impl ExpectedResponse {
    /// At so many hundredths of a degree. `None`: the settings name no water, or no water is so.
    fn warmth_milli(&self, hundredths: i32) -> Option<u16> {
        let Fitted::Fitted(was) = self.water else {
            return None;
        };
        let degrees = hundredths.saturating_add(50).checked_div(100)?;
        let is = BufferingWater {
            temperature_c: u8::try_from(degrees).ok()?,
            ..was
        };
        is.step_milli(&was, self.at)
    }
}

/// One step by tests and by temperature, thousandths.
pub(super) fn both(step_milli: u16, warmth_milli: u16) -> u16 {
    let both = u32::from(step_milli).saturating_mul(u32::from(warmth_milli));
    u16::try_from(both / 1000).unwrap_or(u16::MAX)
}
