//! What persons did and found, and what was learned, as bytes.
//!
//! Little-endian, in this order:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWSK` |
//! | 2 | version, 4 |
//! | 2 | feeders N, and 0 |
//! | n | calibration and trim of the pH probe, its trend; check of the ORP probe, its anchor; tests of the water; the probe that is out; restraints; proof tests; drums |
//! | n | since version 2: answers of the water and what drums say, each with the settings it was found under; cures; whether cold water holds feed; whether what was kept before is lost |
//! | n | since version 3: the number of changes of the board, and whether the pool was given away; how far an opening is |
//! | n | since version 4: into which body of water each product was poured by hand |
//! | 4 | CRC-32 of everything before |
//!
//! Version 1 has answers without their settings in place of what version 2 added; they are read and begin anew. Written
//! as the [settings image](super::SettingsImage) is, field by field.

use super::envelope::{Misfit, close, count, open, put, take};
use super::newest::NoNewest;
use crate::controller::Controller;
use crate::handover::Handover;
use crate::probe::{CalibrationRefused, TrimRefused};
use crate::proof::{ProofTests, Proofs};
use crate::regulate::{CureAge, Regulator};
use crate::response::Estimate;
use crate::restraint::Restraints;
use crate::season::Opening;
use crate::settings::SettingsError;
use crate::stages::Evidence;
use crate::stock::{DrumVerdict, Stock};
use crate::under::Under;
use crate::upkeep::{Kept, Upkeep};
use crate::water_tests::TestRange;

mod check;
mod due;
mod raw;

const MAGIC: [u8; 4] = *b"DWSK";
const VERSION: u16 = 4;
/// The version whose answers do not say under which settings they were found.
const VERSION_WITHOUT_SETTINGS: u16 = 1;
/// The last version that knows no change of the board.
const VERSION_WITHOUT_HANDOVER: u16 = 2;
/// The last version of whose doses by hand nobody knows the body of water.
const VERSION_WITHOUT_BODIES: u16 = 3;

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
                write!(
                    f,
                    "kept record of version {version}; right is \
                     {VERSION_WITHOUT_SETTINGS} to {VERSION}"
                )
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

/// Of what was read.
impl From<Misfit> for KeptError {
    fn from(_: Misfit) -> Self {
        Self::Meaning
    }
}

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
    pub answers: [Option<Under<Estimate>>; N],
    /// What drums say of rates, where they say anything.
    pub drums: [Option<Under<DrumVerdict>>; N],
    /// How far new plaster has cured, of the regulators that go by that.
    pub cures: [Option<Under<CureAge>>; N],
    /// Whether cold water holds feed.
    pub is_too_cold: bool,
    /// Whether what was kept before is lost and nobody has ended the observing since. Told at each
    /// start, by an event and an alarm.
    pub is_lost: bool,
    /// Whether this board still has its pool.
    pub handover: Handover,
    /// How far an opening after a winter is.
    pub opening: Opening,
}

impl<const N: usize> KeptRecord<N> {
    /// A new unit.
    pub const NEW: Self = Self {
        upkeep: Kept::NOTHING,
        restraints: Restraints::NONE,
        proofs: Proofs::NEVER,
        stocks: [Stock::UNKNOWN; N],
        answers: [None; N],
        drums: [None; N],
        cures: [None; N],
        is_too_cold: false,
        is_lost: false,
        handover: Handover::FIRST,
        opening: Opening::NONE,
    };

    /// One whose record was lost: nothing is calibrated, anchored, tested or proven, and it only
    /// observes, since it may have, or have been paused or laid up. A technician ends that as any
    /// other observing. Not laid up: that takes the water's alarms away.
    pub const LOST: Self = Self {
        restraints: Restraints {
            evidence: Evidence::OBSERVING,
            ..Restraints::NONE
        },
        is_lost: true,
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
        let all = |feeder| controller.found_under(feeder);
        let drum = |feeder| {
            let found = controller.drum_verdict(feeder);
            let settings = all(feeder).1.filter(|_| found != DrumVerdict::Unclear)?;
            Some(Under { found, settings })
        };
        let answers = |feeder| {
            let (found, settings) = (controller.response(feeder)?, all(feeder).0?);
            Some(Under { found, settings })
        };
        Self {
            upkeep: upkeep.kept(),
            restraints: *controller.restraints(),
            proofs: *proofs.proofs(),
            stocks: core::array::from_fn(|feeder| {
                controller.stock(feeder).unwrap_or(Stock::UNKNOWN)
            }),
            answers: core::array::from_fn(answers),
            drums: core::array::from_fn(drum),
            cures: controller.regulators().each_ref().map(Regulator::cure),
            is_too_cold: controller.is_too_cold(),
            is_lost: controller.is_kept_lost(),
            handover: controller.handover(),
            opening: controller.opening(),
        }
    }

    /// Puts the controller's part of it back, after a restart and before the first tick. What was found
    /// under other settings than it has now begins anew.
    pub fn put_back<const B: usize, const H: usize, const D: usize, R: Regulator>(
        &self,
        controller: &mut Controller<N, B, H, D, R>,
    ) {
        controller.set_restraints(self.restraints);
        controller.set_too_cold(self.is_too_cold);
        controller.set_handover(self.handover);
        controller.set_opening(self.opening);
        if self.is_lost {
            controller.tell_kept_lost();
        }
        for (feeder, stock) in (0..N).zip(&self.stocks) {
            controller.set_stock(feeder, *stock);
        }
        let found = self.answers.iter().zip(&self.drums);
        for (feeder, (answers, drum)) in (0..N).zip(found) {
            let (of_answers, of_drum) = controller.found_under(feeder);
            let answers = answers.zip(of_answers);
            if let Some(found) = answers.and_then(|(one, now)| one.still(now)) {
                controller.set_response(feeder, found);
            }
            let drum = drum.zip(of_drum);
            if let Some(found) = drum.and_then(|(one, now)| one.still(now)) {
                controller.set_drum_verdict(feeder, found);
            }
        }
        let regulators = controller.regulators_mut().iter_mut();
        for (regulator, cure) in regulators.zip(&self.cures) {
            if let Some(cure) = cure {
                regulator.set_cure(*cure);
            }
        }
    }

    /// Writes it. How many bytes it takes: up to 500 for two feeders.
    ///
    /// # Errors
    /// [`KeptError::Space`] if `out` is too short; a figure that could not be read again.
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, KeptError> {
        check::all(self)?;
        let done = close((MAGIC, VERSION, shape::<N>()), out, |rest| {
            let rest = put(&raw::Begin::from(self), rest)?;
            let rest = put(&raw::Rest::from(self), rest)?;
            let rest = put(&(self.handover, self.opening), rest)?;
            put(&raw::Poured::of(&self.restraints), rest)
        });
        done.ok_or(KeptError::Space)
    }

    /// Reads it, all of it or nothing.
    ///
    /// # Errors
    /// Why it is not one, or which figure is wrong.
    pub fn decode(bytes: &[u8]) -> Result<Self, KeptError> {
        let (version, shaped, rest) = open(bytes, MAGIC).ok_or(KeptError::NotWhole)?;
        if !(VERSION_WITHOUT_SETTINGS..=VERSION).contains(&version) {
            return Err(KeptError::Version(version));
        }
        if shaped != shape::<N>() {
            return Err(KeptError::Shape);
        }
        let (begin, rest) = take::<raw::Begin<N>>(rest)?;
        let (more, rest) = if version > VERSION_WITHOUT_SETTINGS {
            take::<raw::Rest<N>>(rest)?
        } else {
            // Learned under settings that nobody can name: it begins anew.
            let (_, rest) = take::<raw::Answers<N>>(rest)?;
            (raw::Rest::NONE, rest)
        };
        let ((handover, opening), rest) = if version > VERSION_WITHOUT_HANDOVER {
            take::<(Handover, Opening)>(rest)?
        } else {
            ((Handover::FIRST, Opening::NONE), rest)
        };
        let (poured, rest) = if version > VERSION_WITHOUT_BODIES {
            let (poured, rest) = take::<raw::Poured<N>>(rest)?;
            (Some(poured), rest)
        } else {
            (None, rest)
        };
        if !rest.is_empty() {
            return Err(KeptError::Meaning);
        }
        let mut record = KeptRecord {
            handover,
            opening,
            ..begin.checked(more)?
        };
        if let Some(poured) = poured {
            poured.put_into(&mut record.restraints);
        }
        check::all(&record)?;
        Ok(record)
    }
}

fn shape<const N: usize>() -> [u8; 2] {
    [count(N), 0]
}
