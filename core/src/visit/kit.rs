//! What the pH probe shows, beside what a kit found in the same water.

use crate::guard::units::MilliPh;
use crate::probe::{KitTest, Trim, TrimRefused};
use crate::stages::KIT_AGREES;

/// How far a calibrated probe may be from a buffer that it is held into, milli-pH. Our choice: half
/// of what a kit can tell.
pub const BUFFER_AGREES: u32 = 100;

/// What is to be done about a probe and a kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum KitSays {
    /// Nothing: they are as near as the kit can tell.
    Agrees,
    /// The probe is off by what a trim may take away. Two buffers are better.
    Trim(Trim),
    /// The probe is off by more than a trim may take away, or by its buffer: calibrate in two.
    Calibrate,
    /// The kit cannot be right as it was used.
    TestAgain(TrimRefused),
    /// The probe reads a buffer rightly: the kit is in doubt. Fresh reagents, and test again.
    KitDoubted,
}

/// A probe and a kit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BesideKit {
    /// What the unit shows, its trim in it.
    pub shown: MilliPh,
    /// That trim.
    pub trim: MilliPh,
    /// What the kit found.
    pub kit: KitTest,
    /// What the probe showed in a buffer on this visit, less the buffer's pH; `None`: not checked.
    pub in_buffer: Option<MilliPh>,
}

impl BesideKit {
    /// How far the probe shows above the kit.
    #[must_use]
    pub const fn off(&self) -> MilliPh {
        MilliPh(self.shown.0.saturating_sub(self.kit.ph.0))
    }

    /// What is to be done.
    #[must_use]
    pub fn says(&self) -> KitSays {
        let is_off = self.off().0.unsigned_abs() > KIT_AGREES;
        let buffer_off = self
            .in_buffer
            .map(|error| error.0.unsigned_abs() > BUFFER_AGREES);
        let untrimmed = MilliPh(self.shown.0.saturating_sub(self.trim.0));
        match (buffer_off, Trim::take(untrimmed, self.kit)) {
            (Some(true), _) => KitSays::Calibrate,
            (_, Err(refused @ (TrimRefused::ChlorineTooHigh(_) | TrimRefused::OffKitScale(_)))) => {
                KitSays::TestAgain(refused)
            }
            _ if !is_off => KitSays::Agrees,
            (Some(false), _) => KitSays::KitDoubted,
            (None, Err(TrimRefused::TooFar { .. })) => KitSays::Calibrate,
            (None, Err(refused)) => KitSays::TestAgain(refused),
            (None, Ok(trim)) => KitSays::Trim(trim),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::probe::MicrogramsPerL;

    fn says(shown: i32, kit: i32, chlorine: Option<u32>, in_buffer: Option<i32>) -> KitSays {
        let kit = KitTest {
            ph: MilliPh(kit),
            chlorine: chlorine.map(MicrogramsPerL),
        };
        let beside = BesideKit {
            shown: MilliPh(shown),
            trim: MilliPh(0),
            kit,
            in_buffer: in_buffer.map(MilliPh),
        };
        beside.says()
    }

    #[test]
    fn within_two_tenths_a_kit_agrees_and_beyond_a_probe_is_calibrated() {
        assert_eq!(says(7600, 7400, Some(2000), None), KitSays::Agrees);
        assert_eq!(says(7200, 7400, Some(2000), None), KitSays::Agrees);
        assert_eq!(says(7601, 7400, Some(2000), None), KitSays::Calibrate);
        assert_eq!(says(7199, 7400, Some(2000), None), KitSays::Calibrate);
    }

    #[test]
    fn a_trim_that_already_stands_counts_in_what_a_trim_may_do() {
        // Off by 0.25, of which a trim of 0.1 the other way is the probe's own: 0.15 is left.
        let kit = KitTest {
            ph: MilliPh(7350),
            chlorine: Some(MicrogramsPerL(2000)),
        };
        let beside = |trim| BesideKit {
            shown: MilliPh(7600),
            trim: MilliPh(trim),
            kit,
            in_buffer: None,
        };
        assert!(
            matches!(beside(100).says(), KitSays::Trim(trim) if trim.by() == MilliPh(-150)),
            "{:?}",
            beside(100).says()
        );
        assert_eq!(beside(0).says(), KitSays::Calibrate);
    }

    #[test]
    fn a_buffer_decides_between_probe_and_kit() {
        assert_eq!(says(7700, 7300, Some(2000), Some(100)), KitSays::KitDoubted);
        assert_eq!(says(7700, 7300, Some(2000), Some(101)), KitSays::Calibrate);
        assert_eq!(says(7400, 7300, Some(2000), Some(-101)), KitSays::Calibrate);
    }

    #[test]
    fn a_kit_that_cannot_be_right_is_used_again() {
        let again = |shown, kit, chlorine| match says(shown, kit, chlorine, None) {
            KitSays::TestAgain(refused) => Some(refused),
            _ => None,
        };
        assert_eq!(
            again(7400, 7400, Some(5001)),
            Some(TrimRefused::ChlorineTooHigh(MicrogramsPerL(5001))),
            "also where it agrees"
        );
        assert_eq!(
            again(8100, 8200, Some(2000)),
            Some(TrimRefused::OffKitScale(MilliPh(8200)))
        );
        assert_eq!(again(7400, 7400, None), None);
        assert_eq!(again(7700, 7400, None), Some(TrimRefused::ChlorineUnknown));
    }
}
