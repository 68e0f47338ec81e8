//! Limits, settings and regulators as bytes.
//!
//! Little-endian, in this order:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWSI` |
//! | 2 | version, 3 |
//! | 2 | feeders N, bodies B |
//! | n | [`LimitsSpec`], [`SettingsSpec`], and since version 2 N times [`RegulatorSpec`] |
//! | 4 | CRC-32 of everything before |
//!
//! Until version 2 the settings end before `level_errors`, and no regulator is a cure schedule. What a
//! later version adds goes after the regulators.
//!
//! The three are written field by field in the order in which they are declared, as the wire format
//! of `postcard` 1 states it: numbers of 16 and 32 bits as LEB128 with 7 bits a byte, signed ones
//! zigzag before that; `u8` and `bool` as one byte; an enum by the index of its variant; an array
//! without a length. A field that comes, goes or moves is a new version, and images that are
//! committed with the tests say so when somebody forgets it.

use postcard::take_from_bytes;
use serde::{Deserialize, Serialize};

use super::seal::digest;
use crate::guard::units::{Dose, Millis};
use crate::guard::{Crc32, Fitted, Limits, LimitsError, LimitsSpec};
use crate::regulate::{
    Allowance, Band, CureSchedule, Direction, RegulatorError, Share, SizedDose, Standard,
    TimedShare,
};
use crate::settings::{AlarmSettings, DrumSettings, Settings, SettingsError, SettingsSpec};

const MAGIC: [u8; 4] = *b"DWSI";
const VERSION: u16 = 3;
/// The version without regulators.
const VERSION_WITHOUT_REGULATORS: u16 = 1;
/// The last version whose settings have no checks of the feeders' rates.
const VERSION_WITHOUT_CHECKS: u16 = 2;
const HEAD: usize = 8;
const TAIL: usize = 4;

/// A regulator of this crate as somebody writes it down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(rename_all = "snake_case")]
pub enum RegulatorSpec {
    /// Never asks.
    Never,
    /// As [`SizedDose::try_new`].
    SizedDose {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Wanted value, pH x 1000 or mV.
        set_point: i32,
        /// Nearer to it than this, nothing is asked for.
        dead_band: i32,
        /// A dose that is known to move the value.
        dose: Dose,
        /// By how much.
        moves: i32,
    },
    /// As [`TimedShare::try_new`].
    TimedShare {
        /// The share.
        share: Share,
        /// Of this period.
        period: Millis,
        /// Shortest run.
        on_min: Millis,
        /// Shortest pause.
        off_min: Millis,
    },
    /// As [`Band::try_new`].
    Band {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Feed starts past this.
        start: i32,
        /// Feed ends at this.
        stop: i32,
        /// Dose of each cycle.
        dose: Dose,
    },
    /// As [`CureSchedule::try_new`] around a [`SizedDose`], at the age at which it was written.
    CureSchedule {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Wanted value, pH x 1000.
        set_point: i32,
        /// Nearer to it than this, nothing is asked for.
        dead_band: i32,
        /// A dose that is known to move the value.
        dose: Dose,
        /// By how much.
        moves: i32,
        /// What may be asked for in a day.
        allowance: Allowance,
        /// Days since the plaster was filled.
        age_days: u16,
    },
}

impl RegulatorSpec {
    /// The regulator, from its start.
    ///
    /// # Errors
    /// What is wrong with a figure.
    pub fn build(self) -> Result<Standard, RegulatorError> {
        Ok(match self {
            Self::Never => Standard::Never,
            Self::SizedDose {
                direction,
                set_point,
                dead_band,
                dose,
                moves,
            } => SizedDose::try_new(direction, set_point, dead_band, dose, moves)?.into(),
            Self::TimedShare {
                share,
                period,
                on_min,
                off_min,
            } => TimedShare::try_new(share, period, on_min, off_min)?.into(),
            Self::Band {
                direction,
                start,
                stop,
                dose,
            } => Band::try_new(direction, start, stop, dose)?.into(),
            Self::CureSchedule {
                direction,
                set_point,
                dead_band,
                dose,
                moves,
                allowance,
                age_days,
            } => {
                let sized = SizedDose::try_new(direction, set_point, dead_band, dose, moves)?;
                CureSchedule::try_new(sized, allowance, age_days)?.into()
            }
        })
    }
}

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
        }
    }
}

impl core::error::Error for ImageError {}

/// What commissioning decided: checked limits, checked settings, and a regulator for each feeder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingsImage<const N: usize, const B: usize> {
    /// Limits.
    pub limits: Limits<N, B>,
    /// Alarms and drums.
    pub settings: Settings<N>,
    /// Regulators.
    pub regulators: [RegulatorSpec; N],
}

impl<const N: usize, const B: usize> SettingsImage<N, B> {
    /// Writes it. How many bytes it takes.
    ///
    /// # Errors
    /// [`ImageError::Space`] if `out` is too short, [`ImageError::Regulator`] if one could not be
    /// built.
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, ImageError> {
        check_regulators(&self.regulators)?;
        let (head, rest) = out
            .split_first_chunk_mut::<HEAD>()
            .ok_or(ImageError::Space)?;
        let [a, b] = VERSION.to_le_bytes();
        let [m, n, o, p] = MAGIC;
        let [feeders, bodies] = shape::<N, B>();
        *head = [m, n, o, p, a, b, feeders, bodies];
        let all = rest.len();
        let rest = put(self.limits.spec(), rest)?;
        let rest = put(self.settings.spec(), rest)?;
        let mut rest = rest;
        for regulator in &self.regulators {
            rest = put(regulator, rest)?;
        }
        let end = HEAD.saturating_add(all.saturating_sub(rest.len()));
        let (body, tail) = out.split_at_mut_checked(end).ok_or(ImageError::Space)?;
        let tail = tail.first_chunk_mut::<TAIL>().ok_or(ImageError::Space)?;
        *tail = Crc32::of(body).to_le_bytes();
        Ok(end.saturating_add(TAIL))
    }

    /// Reads it, and says of which version it was. An image of version 1 has no regulators: its
    /// feeders never ask until somebody sets one.
    ///
    /// # Errors
    /// Why it is not an image of this shape, or which relation is broken.
    pub fn decode(bytes: &[u8]) -> Result<(Self, u16), ImageError> {
        digest(bytes).ok_or(ImageError::NotWhole)?;
        let body = bytes
            .split_last_chunk::<TAIL>()
            .ok_or(ImageError::NotWhole)?
            .0;
        let (head, rest) = body
            .split_first_chunk::<HEAD>()
            .ok_or(ImageError::NotWhole)?;
        let [m, n, o, p, a, b, feeders, bodies] = *head;
        if [m, n, o, p] != MAGIC {
            return Err(ImageError::NotWhole);
        }
        let version = u16::from_le_bytes([a, b]);
        if !(VERSION_WITHOUT_REGULATORS..=VERSION).contains(&version) {
            return Err(ImageError::Version(version));
        }
        if [feeders, bodies] != shape::<N, B>() {
            return Err(ImageError::Shape);
        }
        let (limits, rest) = take::<LimitsSpec<N, B>>(rest)?;
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
        if !rest.is_empty() {
            return Err(ImageError::Meaning);
        }
        check_regulators(&regulators)?;
        let image = Self {
            limits: Limits::try_new(limits).map_err(ImageError::Limits)?,
            settings: Settings::try_new(settings).map_err(ImageError::Settings)?,
            regulators,
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

fn shape<const N: usize, const B: usize>() -> [u8; 2] {
    [N, B].map(|count| u8::try_from(count).unwrap_or(u8::MAX))
}

fn put<'a, T: Serialize>(value: &T, out: &'a mut [u8]) -> Result<&'a mut [u8], ImageError> {
    let used = postcard::to_slice(value, out)
        .map_err(|_| ImageError::Space)?
        .len();
    out.get_mut(used..).ok_or(ImageError::Space)
}

fn take<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Result<(T, &'a [u8]), ImageError> {
    take_from_bytes(bytes).map_err(|_| ImageError::Meaning)
}

fn check_regulators(all: &[RegulatorSpec]) -> Result<(), ImageError> {
    for (regulator, feeder) in all.iter().zip(0_u8..) {
        regulator
            .build()
            .map_err(|error| ImageError::Regulator { feeder, error })?;
    }
    Ok(())
}
