//! A kept record as it is written.

use serde::{Deserialize, Serialize};

use super::{KeptError, KeptRecord};
use crate::guard::units::MilliPh;
use crate::handover::Handover;
use crate::probe::{Age, Anchor, Calibration, Microvolts, ProbeKind, ReferenceCheck, Trend, Trim};
use crate::proof::Proofs;
use crate::regulate::CureAge;
use crate::response::Estimate;
use crate::restraint::Restraints;
use crate::season::Opening;
use crate::stock::{DrumVerdict, Stock};
use crate::under::Under;
use crate::upkeep::Kept;
use crate::water_tests::WaterTests;

/// What has a check of its own in parts.
#[derive(Serialize, Deserialize)]
pub(super) struct Begin<const N: usize> {
    calibration: Option<(Microvolts, u32, Age)>,
    trim: (MilliPh, Age),
    trend: Trend,
    check: Option<ReferenceCheck>,
    anchor: Option<Anchor>,
    tests: WaterTests,
    out: Option<ProbeKind>,
    restraints: Restraints<N>,
    proofs: Proofs<N>,
    #[serde(with = "crate::serial::array")]
    stocks: [Stock; N],
}

/// What follows since version 2.
#[derive(Serialize, Deserialize)]
pub(super) struct Rest<const N: usize> {
    #[serde(with = "crate::serial::array")]
    answers: [Option<Under<Estimate>>; N],
    #[serde(with = "crate::serial::array")]
    drums: [Option<Under<DrumVerdict>>; N],
    #[serde(with = "crate::serial::array")]
    cures: [Option<Under<CureAge>>; N],
    is_too_cold: bool,
    is_lost: bool,
}

impl<const N: usize> Rest<N> {
    pub(super) const NONE: Self = Self {
        answers: [None; N],
        drums: [None; N],
        cures: [None; N],
        is_too_cold: false,
        is_lost: false,
    };
}

impl<const N: usize> From<&KeptRecord<N>> for Rest<N> {
    fn from(kept: &KeptRecord<N>) -> Self {
        Self {
            answers: kept.answers,
            drums: kept.drums,
            cures: kept.cures,
            is_too_cold: kept.is_too_cold,
            is_lost: kept.is_lost,
        }
    }
}

/// What followed in version 1.
#[derive(Deserialize)]
pub(super) struct Answers<const N: usize> {
    #[serde(with = "crate::serial::array")]
    _answers: [Option<Estimate>; N],
}

impl<const N: usize> From<&KeptRecord<N>> for Begin<N> {
    fn from(kept: &KeptRecord<N>) -> Self {
        let own = &kept.upkeep;
        let line = |one: Calibration| (one.zero(), one.slope_ppm(), one.age);
        Self {
            calibration: own.calibration.map(line),
            trim: (own.trim.by(), own.trim.age),
            trend: own.trend,
            check: own.check,
            anchor: own.anchor,
            tests: own.tests,
            out: own.out,
            restraints: kept.restraints,
            proofs: kept.proofs,
            stocks: kept.stocks,
        }
    }
}

impl<const N: usize> Begin<N> {
    pub(super) fn checked(self, rest: Rest<N>) -> Result<KeptRecord<N>, KeptError> {
        let calibration = match self.calibration {
            Some((zero, ppm, age)) => {
                let restored = Calibration::restore(zero, ppm, age);
                Some(restored.map_err(KeptError::Calibration)?)
            }
            None => None,
        };
        let (by, age) = self.trim;
        Ok(KeptRecord {
            upkeep: Kept {
                calibration,
                trim: Trim::restore(by, age).map_err(KeptError::Trim)?,
                trend: self.trend,
                check: self.check,
                anchor: self.anchor,
                tests: self.tests,
                out: self.out,
            },
            restraints: self.restraints,
            proofs: self.proofs,
            stocks: self.stocks,
            answers: rest.answers,
            drums: rest.drums,
            cures: rest.cures,
            is_too_cold: rest.is_too_cold,
            is_lost: rest.is_lost,
            handover: Handover::FIRST,
            opening: Opening::NONE,
        })
    }
}
