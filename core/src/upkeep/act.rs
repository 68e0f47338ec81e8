//! The acts of upkeep, and why one is refused.

use crate::guard::Authority;
use crate::probe::{
    AnchorRefused, Buffer, CalibrationRefused, CentiCelsius, CheckRefused, ChlorineTest, KitTest,
    MicrogramsPerL, ProbeAct, ProbeKind, Solution, TrimRefused,
};
use crate::water_tests::{TestRange, TestedValue};

/// What a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UpkeepAct {
    /// Takes a probe out of the water, or from one solution to the next.
    TakeOut(ProbeKind),
    /// Puts it back into the water.
    PutBack(ProbeKind),
    /// Has the pH probe in this buffer, of this temperature. The second such reading calibrates.
    InBuffer(Buffer, CentiCelsius),
    /// Has the ORP probe in this solution, of this temperature.
    CheckReference(Solution, CentiCelsius),
    /// Trims pH to a kit's test.
    Trim(KitTest),
    /// Takes the trim off.
    ClearTrim,
    /// Anchors the ORP set point to a test of chlorine. With what the ledger says was fed in the
    /// last day, as chlorine in the whole water, where the site can say it.
    Anchor(ChlorineTest, Option<MicrogramsPerL>),
    /// Has found that a jump was true: the water was tested.
    Confirm(ProbeKind),
    /// Has put in another probe. The guard wants to know, too (`Action::NewProbe`).
    Replace(ProbeKind),
    /// Has tested the water.
    Test(TestedValue, MicrogramsPerL),
}

/// An [`UpkeepAct`] without its figures, for events. The event's figure is what [`ProbeAct`] says,
/// for a test what was found, ug/L, and else 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum UpkeepKind {
    /// A probe taken out.
    TakeOut(ProbeKind),
    /// A probe put back.
    PutBack(ProbeKind),
    /// A reading in a buffer; the second calibrates.
    InBuffer(Buffer),
    /// A check in a reference solution.
    CheckReference,
    /// pH trimmed.
    Trim,
    /// The trim taken off.
    ClearTrim,
    /// ORP anchored.
    Anchor,
    /// A jump confirmed.
    Confirm(ProbeKind),
    /// A probe replaced.
    Replace(ProbeKind),
    /// The water tested.
    Test(TestedValue),
}

impl UpkeepAct {
    /// Its kind.
    #[must_use]
    pub const fn kind(&self) -> UpkeepKind {
        match self {
            Self::TakeOut(probe) => UpkeepKind::TakeOut(*probe),
            Self::PutBack(probe) => UpkeepKind::PutBack(*probe),
            Self::InBuffer(buffer, _) => UpkeepKind::InBuffer(*buffer),
            Self::CheckReference(..) => UpkeepKind::CheckReference,
            Self::Trim(_) => UpkeepKind::Trim,
            Self::ClearTrim => UpkeepKind::ClearTrim,
            Self::Anchor(..) => UpkeepKind::Anchor,
            Self::Confirm(probe) => UpkeepKind::Confirm(*probe),
            Self::Replace(probe) => UpkeepKind::Replace(*probe),
            Self::Test(value, _) => UpkeepKind::Test(*value),
        }
    }

    /// Least authority for it.
    #[must_use]
    pub const fn authority(&self) -> Authority {
        match self {
            Self::InBuffer(..) => ProbeAct::Calibrate.authority(),
            Self::CheckReference(..) => ProbeAct::CheckReference.authority(),
            Self::Trim(_) => ProbeAct::Trim.authority(),
            Self::ClearTrim => ProbeAct::ClearTrim.authority(),
            Self::Anchor(..) => ProbeAct::Anchor.authority(),
            Self::Confirm(_) => ProbeAct::Confirm.authority(),
            Self::Replace(_) => ProbeAct::Replace.authority(),
            Self::TakeOut(_) | Self::PutBack(_) | Self::Test(..) => Authority::Operator,
        }
    }
}

/// Why an act was not done. Nothing has changed then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UpkeepRefused {
    /// It needs at least this authority.
    NeedsAuthority(Authority),
    /// The probe has to be taken out of the water first.
    NotOut(ProbeKind),
    /// This probe is out: put it back first.
    OtherIsOut(ProbeKind),
    /// Of the calibration.
    Calibration(CalibrationRefused),
    /// Of the check in a solution.
    Check(CheckRefused),
    /// Of the trim.
    Trim(TrimRefused),
    /// Of the anchor.
    Anchor(AnchorRefused),
    /// No water has so much of it.
    TestRange(TestRange),
}

const fn name(probe: ProbeKind) -> &'static str {
    match probe {
        ProbeKind::Ph => "pH",
        ProbeKind::Orp => "ORP",
    }
}

impl core::fmt::Display for UpkeepRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NeedsAuthority(needed) => write!(f, "needs the authority of {needed:?}"),
            Self::NotOut(probe) => write!(
                f,
                "say first that the {} probe is taken out of the water",
                name(*probe)
            ),
            Self::OtherIsOut(probe) => {
                write!(
                    f,
                    "put the {} probe back first: one at a time",
                    name(*probe)
                )
            }
            Self::Calibration(reason) => write!(f, "{reason}"),
            Self::Check(reason) => write!(f, "{reason}"),
            Self::Trim(reason) => write!(f, "{reason}"),
            Self::Anchor(reason) => write!(f, "{reason}"),
            Self::TestRange(range) => write!(f, "{range}"),
        }
    }
}

impl core::error::Error for UpkeepRefused {}
