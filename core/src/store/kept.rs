//! What persons did and found, and what was learned, as bytes.
//!
//! Little-endian, in this order:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWSK` |
//! | 2 | version, 1 |
//! | 2 | feeders N, and 0 |
//! | n | calibration and trim of the pH probe, its trend; check of the ORP probe, its anchor; tests of the water; the probe that is out; restraints; proof tests; drums; answers of the water |
//! | 4 | CRC-32 of everything before |
//!
//! Written as the [settings image](super::SettingsImage) is, field by field.

use serde::{Deserialize, Serialize};

use super::image::{put, take};
use super::newest::NoNewest;
use super::seal::{digest, seal};
use crate::controller::Controller;
use crate::guard::units::{HOUR_MS, MilliPh, Millis};
use crate::probe::{
    Age, Anchor, Calibration, CalibrationRefused, Microvolts, ProbeKind, ReferenceCheck, Trend,
    Trim, TrimRefused,
};
use crate::proof::{ProofTests, Proofs};
use crate::regulate::Regulator;
use crate::response::Estimate;
use crate::restraint::Restraints;
use crate::settings::SettingsError;
use crate::stages::Evidence;
use crate::stock::Stock;
use crate::upkeep::{Kept, Upkeep};
use crate::water_tests::{TestRange, WaterTests};

mod check;

const MAGIC: [u8; 4] = *b"DWSK";
const VERSION: u16 = 1;
const HEAD: usize = 8;
const TAIL: usize = 4;

/// Why a kept record could not be made or understood. Nothing of a faulty one is ever applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum KeptError {
    /// The buffer is too short.
    Space,
    /// Nothing was ever written.
    Empty,
    /// Not a kept record, torn, or rotten; or only an older one is whole.
    NotWhole,
    /// Of a version that this release does not read.
    Version(u16),
    /// For another number of feeders.
    Shape,
    /// Whole, but a field has no meaning, or bytes are left over.
    Meaning,
    /// No probe that was ever accepted has this calibration.
    Calibration(CalibrationRefused),
    /// No trim is so large.
    Trim(TrimRefused),
    /// No water has so much.
    Test(TestRange),
    /// Another figure is out of range.
    Figure(SettingsError),
}

impl core::fmt::Display for KeptError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Space => write!(f, "the buffer is too short for the kept record"),
            Self::Empty => write!(f, "no kept record was ever written"),
            Self::NotWhole => write!(f, "no kept record is whole and up to date"),
            Self::Version(version) => {
                write!(f, "kept record of version {version}; right is {VERSION}")
            }
            Self::Shape => write!(f, "kept record for another number of feeders"),
            Self::Meaning => write!(f, "the kept record is whole, and a field has no meaning"),
            Self::Calibration(error) => write!(f, "kept calibration: {error}"),
            Self::Trim(error) => write!(f, "kept trim: {error}"),
            Self::Test(error) => write!(f, "kept test of the water: {error}"),
            Self::Figure(error) => write!(f, "kept {error}"),
        }
    }
}

impl core::error::Error for KeptError {}

impl From<NoNewest> for KeptError {
    fn from(why: NoNewest) -> Self {
        match why {
            NoNewest::Empty => Self::Empty,
            NoNewest::NotWhole => Self::NotWhole,
        }
    }
}

/// All that has to survive the power and stands neither in the guard's record nor in the settings
/// image: what persons did and found since commissioning, and what was learned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptRecord<const N: usize> {
    /// Probes and tests of the water, for [`Upkeep::restore`].
    pub upkeep: Kept,
    /// Pause, lay-up, doses by hand, evidence of the stage.
    pub restraints: Restraints<N>,
    /// For [`ProofTests::restore`].
    pub proofs: Proofs<N>,
    /// Drums.
    pub stocks: [Stock; N],
    /// What the water's answers show, of the feeders whose answers are followed.
    pub answers: [Option<Estimate>; N],
}

impl<const N: usize> KeptRecord<N> {
    /// A new unit.
    pub const NEW: Self = Self {
        upkeep: Kept::NOTHING,
        restraints: Restraints::NONE,
        proofs: Proofs::NEVER,
        stocks: [Stock::UNKNOWN; N],
        answers: [None; N],
    };

    /// One whose record was lost: nothing is calibrated, anchored, tested or proven, and it only
    /// observes, since it may have, or have been paused or laid up. A technician ends that as any
    /// other observing. Not laid up: that takes the water's alarms away.
    pub const LOST: Self = Self {
        restraints: Restraints {
            evidence: Evidence::OBSERVING,
            ..Restraints::NONE
        },
        ..Self::NEW
    };

    /// What to start with: what was read, [`KeptRecord::NEW`] where nothing was ever written and the
    /// unit is new (the guard's record was never written either), else [`KeptRecord::LOST`].
    #[must_use]
    pub fn to_start(read: Result<Self, KeptError>, is_new: bool) -> Self {
        match read {
            Ok(record) => record,
            Err(KeptError::Empty) if is_new => Self::NEW,
            Err(_) => Self::LOST,
        }
    }

    /// As it is now.
    #[must_use]
    pub fn of<const B: usize, const H: usize, const D: usize, R: Regulator>(
        controller: &Controller<N, B, H, D, R>,
        upkeep: &Upkeep,
        proofs: &ProofTests<N>,
    ) -> Self {
        Self {
            upkeep: upkeep.kept(),
            restraints: *controller.restraints(),
            proofs: *proofs.proofs(),
            stocks: core::array::from_fn(|feeder| {
                controller.stock(feeder).unwrap_or(Stock::UNKNOWN)
            }),
            answers: core::array::from_fn(|feeder| controller.response(feeder)),
        }
    }

    /// Puts the controller's part of it back, after a restart and before the first tick.
    pub fn put_back<const B: usize, const H: usize, const D: usize, R: Regulator>(
        &self,
        controller: &mut Controller<N, B, H, D, R>,
    ) {
        controller.set_restraints(self.restraints);
        for (feeder, (stock, answers)) in self.stocks.iter().zip(self.answers).enumerate() {
            controller.set_stock(feeder, *stock);
            if let Some(answers) = answers {
                controller.set_response(feeder, answers);
            }
        }
    }

    /// Whether it should be written now, where `written` was, so long ago: at once if more than time
    /// has changed it, else once an hour. So a cut costs no act of a person, and of what only passes
    /// an hour: pauses last longer then, evidence is less, ages are an hour too low
    /// (say so in what was passed without power).
    #[must_use]
    pub fn is_due(&self, written: &Self, ago: Millis) -> bool {
        self.ageless() != written.ageless()
            || self.is_younger(written)
            || (ago.0 >= HOUR_MS && self != written)
    }

    /// With all that time alone changes left out.
    fn ageless(&self) -> Self {
        let mut all = self.clone();
        let (upkeep, own) = (&mut all.upkeep, &mut all.restraints);
        let ages = [
            upkeep.calibration.as_mut().map(|one| &mut one.age),
            Some(&mut upkeep.trim.age),
            upkeep.check.as_mut().map(|one| &mut one.age),
            upkeep.anchor.as_mut().map(|one| &mut one.age),
            Some(&mut own.evidence.sound),
        ];
        ages.into_iter().flatten().for_each(|age| *age = Age::NEW);
        own.evidence.would_feed = 0;
        own.paused.0 = own.paused.0.min(1);
        for by_hand in &mut own.by_hand {
            by_hand.counts_for.0 = by_hand.counts_for.0.min(1);
            by_hand.spreads_for.0 = by_hand.spreads_for.0.min(1);
        }
        upkeep.tests = upkeep.tests.ageless();
        all.proofs = all.proofs.ageless();
        all
    }

    /// Whether an age fell or a time left rose: something was begun anew with the same figures.
    fn is_younger(&self, written: &Self) -> bool {
        fn ages(kept: &Kept, evidence: &Evidence) -> [u16; 5] {
            let hours = |age: Option<Age>| age.map_or(0, |age| age.hours());
            [
                hours(kept.calibration.map(|one| one.age)),
                kept.trim.age.hours(),
                hours(kept.check.map(|one| one.age)),
                hours(kept.anchor.map(|one| one.age)),
                evidence.sound.hours(),
            ]
        }
        let all = |one: &Self| {
            let (tests, evidence) = (one.upkeep.tests, one.restraints.evidence);
            let own = ages(&one.upkeep, &evidence);
            let more: [u16; 4] = tests.hours();
            (own, more)
        };
        let (now, then) = (all(self), all(written));
        let fell = |now: &[u16], then: &[u16]| now.iter().zip(then).any(|(now, then)| now < then);
        let (own, was) = (&self.restraints, &written.restraints);
        let hands = own.by_hand.iter().zip(was.by_hand.iter());
        let mut proofs = self.proofs.hours().zip(written.proofs.hours());
        fell(&now.0, &then.0)
            || fell(&now.1, &then.1)
            || proofs.any(|(now, then)| now < then)
            || own.paused > was.paused
            || hands
                .into_iter()
                .any(|(now, then)| now.counts_for > then.counts_for)
    }

    /// Writes it. How many bytes it takes: up to 500 for two feeders.
    ///
    /// # Errors
    /// [`KeptError::Space`] if `out` is too short; a figure that could not be read again.
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, KeptError> {
        check::all(self)?;
        let (head, rest) = out
            .split_first_chunk_mut::<HEAD>()
            .ok_or(KeptError::Space)?;
        let [a, b] = VERSION.to_le_bytes();
        let [m, n, o, p] = MAGIC;
        *head = [m, n, o, p, a, b, feeders::<N>(), 0];
        let all = rest.len();
        let rest = put(&Raw::from(self), rest).map_err(|_| KeptError::Space)?;
        let end = HEAD.saturating_add(all.saturating_sub(rest.len()));
        seal(out, end).ok_or(KeptError::Space)
    }

    /// Reads it, all of it or nothing.
    ///
    /// # Errors
    /// Why it is not one, or which figure is wrong.
    pub fn decode(bytes: &[u8]) -> Result<Self, KeptError> {
        digest(bytes).ok_or(KeptError::NotWhole)?;
        let body = bytes
            .split_last_chunk::<TAIL>()
            .ok_or(KeptError::NotWhole)?
            .0;
        let (head, rest) = body
            .split_first_chunk::<HEAD>()
            .ok_or(KeptError::NotWhole)?;
        let [m, n, o, p, a, b, count, zero] = *head;
        if [m, n, o, p] != MAGIC {
            return Err(KeptError::NotWhole);
        }
        let version = u16::from_le_bytes([a, b]);
        if version != VERSION {
            return Err(KeptError::Version(version));
        }
        if (count, zero) != (feeders::<N>(), 0) {
            return Err(KeptError::Shape);
        }
        let (raw, rest) = take::<Raw<N>>(rest).map_err(|_| KeptError::Meaning)?;
        if !rest.is_empty() {
            return Err(KeptError::Meaning);
        }
        let record = raw.checked()?;
        check::all(&record)?;
        Ok(record)
    }
}

fn feeders<const N: usize>() -> u8 {
    u8::try_from(N).unwrap_or(u8::MAX)
}

/// As it is written: what has a check of its own in parts.
#[derive(Serialize, Deserialize)]
struct Raw<const N: usize> {
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
    #[serde(with = "crate::serial::array")]
    answers: [Option<Estimate>; N],
}

impl<const N: usize> From<&KeptRecord<N>> for Raw<N> {
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
            answers: kept.answers,
        }
    }
}

impl<const N: usize> Raw<N> {
    fn checked(self) -> Result<KeptRecord<N>, KeptError> {
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
            answers: self.answers,
        })
    }
}
