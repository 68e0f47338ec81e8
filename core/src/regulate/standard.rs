//! The regulators of this crate as one type, so that a controller can own them side by side.

use super::{Band, CureAge, CureSchedule, Regulator, SizedDose, TimedShare, View};
use crate::guard::units::Dose;
use crate::under::Under;

/// One of the regulators of this crate. For one of your own, give the controller
/// `&mut dyn Regulator`, or an enum of yours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Standard {
    /// Never asks: for a feeder that is not in use, or that is fed by hand only.
    Never,
    /// A dose sized by the deficit.
    SizedDose(SizedDose),
    /// A share of a fixed period.
    TimedShare(TimedShare),
    /// On at one value, off at another.
    Band(Band),
    /// A dose sized by the deficit, with a daily allowance for new plaster.
    CureSchedule(CureSchedule),
}

impl From<SizedDose> for Standard {
    fn from(regulator: SizedDose) -> Self {
        Self::SizedDose(regulator)
    }
}

impl From<TimedShare> for Standard {
    fn from(regulator: TimedShare) -> Self {
        Self::TimedShare(regulator)
    }
}

impl From<Band> for Standard {
    fn from(regulator: Band) -> Self {
        Self::Band(regulator)
    }
}

impl From<CureSchedule> for Standard {
    fn from(regulator: CureSchedule) -> Self {
        Self::CureSchedule(regulator)
    }
}

impl Regulator for Standard {
    fn propose(&mut self, view: &View) -> Dose {
        match self {
            Self::Never => Dose(0),
            Self::SizedDose(regulator) => regulator.propose(view),
            Self::TimedShare(regulator) => regulator.propose(view),
            Self::Band(regulator) => regulator.propose(view),
            Self::CureSchedule(regulator) => regulator.propose(view),
        }
    }

    fn cure(&self) -> Option<Under<CureAge>> {
        match self {
            Self::CureSchedule(regulator) => regulator.cure(),
            Self::Never | Self::SizedDose(_) | Self::TimedShare(_) | Self::Band(_) => None,
        }
    }

    fn set_cure(&mut self, kept: Under<CureAge>) {
        if let Self::CureSchedule(regulator) = self {
            regulator.set_cure(kept);
        }
    }
}
