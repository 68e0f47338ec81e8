//! A kept record as it is written.

use serde::{Deserialize, Serialize};

use super::{KeptError, KeptRecord};
use crate::guard::units::{Body, Dose, MilliPh, Millis};
use crate::handover::Handover;
use crate::probe::{Age, Anchor, Calibration, Microvolts, ProbeKind, ReferenceCheck, Trend, Trim};
use crate::proof::Proofs;
use crate::regulate::CureAge;
use crate::response::Estimate;
use crate::restraint::{HandDoses, Restraints};
use crate::season::Opening;
use crate::stages::Evidence;
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
    restraints: Told<N>,
    proofs: Proofs<N>,
    #[serde(with = "crate::serial::array")]
    stocks: [Stock; N],
}

/// What persons have put in the way of feed. Into which body they poured follows since version 4.
#[derive(Serialize, Deserialize)]
struct Told<const N: usize> {
    paused: Millis,
    is_laid_up: bool,
    #[serde(with = "crate::serial::array")]
    by_hand: [(Dose, Millis, Millis); N],
    evidence: Evidence,
}

impl<const N: usize> From<&Restraints<N>> for Told<N> {
    fn from(own: &Restraints<N>) -> Self {
        let hand = |one: HandDoses| (one.dose, one.counts_for, one.spreads_for);
        Self {
            paused: own.paused,
            is_laid_up: own.is_laid_up,
            by_hand: own.by_hand.map(hand),
            evidence: own.evidence,
        }
    }
}

impl<const N: usize> From<Told<N>> for Restraints<N> {
    fn from(told: Told<N>) -> Self {
        let hand = |(dose, counts_for, spreads_for)| HandDoses {
            dose,
            body: None,
            counts_for,
            spreads_for,
        };
        Self {
            paused: told.paused,
            is_laid_up: told.is_laid_up,
            by_hand: told.by_hand.map(hand),
            evidence: told.evidence,
        }
    }
}

/// The bodies that were poured into, since version 4.
#[derive(Serialize, Deserialize)]
pub(super) struct Poured<const N: usize>(#[serde(with = "crate::serial::array")] [Option<Body>; N]);

impl<const N: usize> Poured<N> {
    pub(super) fn of(own: &Restraints<N>) -> Self {
        Self(own.by_hand.map(|one| one.body))
    }

    pub(super) fn put_into(self, own: &mut Restraints<N>) {
        let both = own.by_hand.iter_mut().zip(self.0);
        both.for_each(|(hand, body)| hand.body = body);
    }
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
            restraints: Told::from(&kept.restraints),
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
            restraints: self.restraints.into(),
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
