//! Limits, settings and regulators as bytes.
//!
//! Little-endian, in this order:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWSI` |
//! | 2 | version, 4 |
//! | 2 | feeders N, bodies B |
//! | n | [`LimitsSpec`], [`SettingsSpec`], and since version 2 N times [`RegulatorSpec`] |
//! | n | since version 3 [`CareSettings`], a fitted or no [`ProofSettings`], 4 times [`TestRule`] |
//! | 4 | CRC-32 of everything before |
//!
//! Until version 3 an oxidiser's cut-off ends before `orp_ph` and does not fall. Until version 2 the settings end before `level_errors`, and no regulator is a cure schedule. What a
//! later version adds goes after the rules.
//!
//! They are written field by field in the order in which they are declared, in the wire format
//! that `postcard` 1 states: numbers of 16 and 32 bits as LEB128 with 7 bits a byte, signed ones
//! zigzag before that; `u8` and `bool` as one byte; an enum by the index of its variant; an array
//! without a length. A field that comes, goes or moves is a new version, and images that are
//! committed with the tests say so when somebody forgets it.

use serde::Deserialize;

use super::envelope::{Misfit, close, count, open, put, take, take_without};
use super::newest::NoNewest;
use super::regulator::RegulatorSpec;
use crate::care::CareSettings;
use crate::guard::{Fitted, Limits, LimitsError, LimitsSpec};
use crate::proof::{ProofDays, ProofSettings};
use crate::regulate::RegulatorError;
use crate::settings::{AlarmSettings, DrumSettings, Settings, SettingsError, SettingsSpec};
use crate::water_tests::{TestRule, TestedValue};

const MAGIC: [u8; 4] = *b"DWSI";
const VERSION: u16 = 4;
/// The version without regulators.
const VERSION_WITHOUT_REGULATORS: u16 = 1;
/// The last version whose settings have no checks of the feeders' rates.
const VERSION_WITHOUT_CHECKS: u16 = 2;

/// The last version whose ORP cut-offs do not fall.
const VERSION_WITHOUT_FALL: u16 = 3;
/// What an oxidiser's cut-off, the one variant of limits with named fields, has besides since then: `orp_ph`, `orp_fall`.
const FALL: usize = 2;

/// Why an image could not be made or understood. Nothing of a faulty image is ever applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ImageError {
    /// The buffer is too short.
    Space,
    /// Nothing was ever written.
    Empty,
    /// Not an image, torn, or rotten; or only an older one is whole.
    NotWhole,
    /// An image of a version that this release does not read.
    Version(u16),
    /// An image for other numbers of feeders or bodies.
    Shape,
    /// Whole, but a field has no meaning, or bytes are left over.
    Meaning,
    /// The limits break a relation.
    Limits(LimitsError),
    /// The settings break a relation.
    Settings(SettingsError),
    /// A regulator's figure makes no sense.
    Regulator {
        /// Feeder.
        feeder: u8,
        /// What is wrong.
        error: RegulatorError,
    },
    /// What stages need, or how cold water may be, is out of range.
    Care(SettingsError),
    /// Days between proof tests are out of range.
    Proof(ProofDays),
    /// How often the water is tested is out of range.
    Rule {
        /// For what.
        value: TestedValue,
        /// What is wrong.
        error: SettingsError,
    },
}

impl core::fmt::Display for ImageError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Space => write!(f, "the buffer is too short for the image"),
            Self::Empty => write!(f, "no image was ever written"),
            Self::NotWhole => write!(f, "no image is whole and up to date"),
            Self::Version(version) => write!(
                f,
                "image of version {version}; right is {VERSION_WITHOUT_REGULATORS} to {VERSION}"
            ),
            Self::Shape => write!(f, "image for other numbers of feeders or bodies"),
            Self::Meaning => write!(f, "the image is whole, and a field has no meaning"),
            Self::Limits(error) => write!(f, "limits: {error}"),
            Self::Settings(error) => write!(f, "settings: {error}"),
            Self::Regulator { feeder, error } => write!(f, "regulator of feeder {feeder}: {error}"),
            Self::Care(error) => write!(f, "care: {error}"),
            Self::Proof(error) => write!(f, "proof tests: {error}"),
            Self::Rule { value, error } => write!(f, "tests of {value:?}: {error}"),
        }
    }
}

impl core::error::Error for ImageError {}

/// Of what was read.
impl From<Misfit> for ImageError {
    fn from(_: Misfit) -> Self {
        Self::Meaning
    }
}

impl From<NoNewest> for ImageError {
    fn from(why: NoNewest) -> Self {
        match why {
            NoNewest::Empty => Self::Empty,
            NoNewest::NotWhole => Self::NotWhole,
        }
    }
}

/// What commissioning decided: checked limits, checked settings, and a regulator for each feeder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingsImage<const N: usize, const B: usize> {
    /// Limits.
    pub limits: Limits<N, B>,
    /// Alarms and drums.
    pub settings: Settings<N>,
    /// Regulators.
    pub regulators: [RegulatorSpec; N],
    /// What each stage needs, and how cold water may be.
    pub care: CareSettings,
    /// Proof tests; not fitted: none is ever due.
    pub proof: Fitted<ProofSettings>,
    /// How often each value of the water is tested, in the order of [`TestedValue::ALL`].
    pub tests: [TestRule; 4],
}

impl<const N: usize, const B: usize> SettingsImage<N, B> {
    /// Writes it. How many bytes it takes.
    ///
    /// # Errors
    /// [`ImageError::Space`] if `out` is too short; what is wrong with a regulator, with care, proof
    /// tests or a rule, which are not checked before.
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, ImageError> {
        check_regulators(&self.regulators)?;
        check_care(&self.care, self.proof, &self.tests)?;
        let done = close((MAGIC, VERSION, shape::<N, B>()), out, |rest| {
            let rest = put(self.limits.spec(), rest)?;
            let mut rest = put(self.settings.spec(), rest)?;
            for regulator in &self.regulators {
                rest = put(regulator, rest)?;
            }
            put(&(self.care, self.proof, self.tests), rest)
        });
        done.ok_or(ImageError::Space)
    }

    /// Reads it, and says of which version it was. An image of version 1 has no regulators: its
    /// feeders never ask until somebody sets one. One of version 1 or 2 has no care, no proof tests,
    /// and the usual rules.
    ///
    /// # Errors
    /// Why it is not an image of this shape, or which relation is broken.
    pub fn decode(bytes: &[u8]) -> Result<(Self, u16), ImageError> {
        let (version, shaped, rest) = open(bytes, MAGIC).ok_or(ImageError::NotWhole)?;
        if !(VERSION_WITHOUT_REGULATORS..=VERSION).contains(&version) {
            return Err(ImageError::Version(version));
        }
        if shaped != shape::<N, B>() {
            return Err(ImageError::Shape);
        }
        let missing = if version > VERSION_WITHOUT_FALL {
            0
        } else {
            FALL
        };
        let (limits, rest) = take_without::<LimitsSpec<N, B>>(rest, missing)?;
        let (settings, mut rest) = if version > VERSION_WITHOUT_CHECKS {
            take::<SettingsSpec<N>>(rest)?
        } else {
            let (before, rest) = take::<WithoutChecks<N>>(rest)?;
            (before.into(), rest)
        };
        let mut regulators = [RegulatorSpec::Never; N];
        if version > VERSION_WITHOUT_REGULATORS {
            for regulator in &mut regulators {
                (*regulator, rest) = take(rest)?;
            }
        }
        let (mut care, mut proof, mut tests) =
            (CareSettings::NONE, Fitted::NotFitted, TestedValue::USUAL);
        if version > VERSION_WITHOUT_CHECKS {
            ((care, proof, tests), rest) = take(rest)?;
        }
        if !rest.is_empty() {
            return Err(ImageError::Meaning);
        }
        check_regulators(&regulators)?;
        check_care(&care, proof, &tests)?;
        let image = Self {
            limits: Limits::try_new(limits).map_err(ImageError::Limits)?,
            settings: Settings::try_new(settings).map_err(ImageError::Settings)?,
            regulators,
            care,
            proof,
            tests,
        };
        Ok((image, version))
    }
}

/// Settings until version 2.
#[derive(Deserialize)]
struct WithoutChecks<const N: usize> {
    alarms: AlarmSettings,
    #[serde(with = "crate::serial::array")]
    drums: [Fitted<DrumSettings>; N],
}

impl<const N: usize> From<WithoutChecks<N>> for SettingsSpec<N> {
    fn from(before: WithoutChecks<N>) -> Self {
        Self {
            alarms: before.alarms,
            drums: before.drums,
            level_errors: [Fitted::NotFitted; N],
            response: Fitted::NotFitted,
        }
    }
}

fn check_care(
    care: &CareSettings,
    proof: Fitted<ProofSettings>,
    tests: &[TestRule],
) -> Result<(), ImageError> {
    care.try_new().map_err(ImageError::Care)?;
    if let Fitted::Fitted(proof) = proof {
        proof.try_new().map_err(ImageError::Proof)?;
    }
    for (value, rule) in TestedValue::ALL.into_iter().zip(tests) {
        let rule = rule.try_new();
        rule.map_err(|error| ImageError::Rule { value, error })?;
    }
    Ok(())
}

fn shape<const N: usize, const B: usize>() -> [u8; 2] {
    [N, B].map(count)
}

fn check_regulators(all: &[RegulatorSpec]) -> Result<(), ImageError> {
    for (regulator, feeder) in all.iter().zip(0_u8..) {
        regulator
            .build()
            .map_err(|error| ImageError::Regulator { feeder, error })?;
    }
    Ok(())
}
