//! What stands in the image of a board: what a pool has on one controller, on its way to the next.
//!
//! Invariant: an image is read whole or not at all. One that is damaged, cut, of another version or of
//! a board that may feed on is an error, and nothing of it is shown. Reading changes nothing: whether a
//! board may take the image up, that board decides ([`dosewarden::store::BoardImage::take_up`]).
//!
//! ```
//! use dosewarden_sim::board::BoardSheet;
//!
//! let error = BoardSheet::read("image.bin", b"DWBI and no more").unwrap_err();
//! assert!(error.to_string().contains("not the whole image of a board"));
//! ```

mod fit;
mod sheet;

pub(crate) use fit::settings_of;
pub use fit::{Apart, Fit};

use std::path::Path;

use dosewarden::guard::{LedgerTrust, Limits, LockoutSet, Product, Record, Stage};
use dosewarden::lockout_words;
use dosewarden::proof::{Interlock, Proof};
use dosewarden::store::{BoardError, BoardImage, KeptRecord, SettingsImage};
use dosewarden::water_tests::TestedValue;
use serde::Serialize;

use crate::scenario::InputError;

/// Buckets of the ledger's hour and day, as every alias of the crate has them.
const HOUR: usize = 7;
const DAY: usize = 25;
/// No image of eight feeders takes as much, bytes.
const BYTES_MAX: usize = 65_536;
/// Magic number and version come before the shape.
const SHAPE_AT: usize = 6;

/// What one feeder has in it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct FeederSheet {
    /// Its place.
    pub feeder: usize,
    /// What it gives; `None`: not in use.
    pub product: Option<&'static str>,
    /// mL, or g of chlorine.
    pub unit: &'static str,
    /// Rate an hour, as the caps are held.
    pub rate_per_h: f64,
    /// Used of the rolling hour, in each body.
    pub hour_used: Vec<f64>,
    /// Used of the rolling day, in each body.
    pub day_used: Vec<f64>,
    /// The day's cap in full, in each body.
    pub day_cap: Vec<f64>,
    /// Of a cycle that stood open: it counts in full.
    pub open_charge: f64,
    /// Left in its drum, mL; `None`: not known.
    pub drum_left: Option<f64>,
    /// Lockouts that stand, in words.
    pub lockouts: Vec<&'static str>,
}

/// A value with how old it is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Aged {
    /// What.
    pub what: String,
    /// As it stands there.
    pub value: String,
    /// Days, rounded up; `None`: not known.
    pub days: Option<u16>,
}

/// All that an image shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct BoardSheet {
    /// The file.
    pub file: String,
    /// Number of bytes.
    pub bytes: usize,
    /// CRC-32 at its end, which holds.
    pub crc: String,
    /// Version of the image's form.
    pub version: u16,
    /// Number of bodies of water.
    pub bodies: usize,
    /// Number of changes of the board, this one among them.
    pub change: u16,
    /// Number of the guard's record.
    pub record: u32,
    /// Seconds of the board's clock at the export; `None`: it had no trusted clock.
    pub sealed_s: Option<u32>,
    /// CRC-32 of the limits that the guard's record was made under.
    pub limits_crc: String,
    /// Reduced or full; a board that takes it up begins reduced.
    pub stage: &'static str,
    /// The ledger was restored from a record, or begun by a person.
    pub ledger_is_trusted: bool,
    /// It only observes.
    pub is_observing: bool,
    /// Laid up for winter.
    pub is_laid_up: bool,
    /// Lockouts of the site, in words.
    pub lockouts: Vec<&'static str>,
    /// Feeders.
    pub feeders: Vec<FeederSheet>,
    /// Calibration, trim, check and anchor of the probes.
    pub probes: Vec<Aged>,
    /// Tests of the water.
    pub tests: Vec<Aged>,
    /// Proof tests; all are due anew on the next board.
    pub proofs: Vec<Aged>,
    /// Whether the settings are those of a site, if one was named.
    pub fit: Option<Fit>,
    #[serde(skip)]
    settings: serde_json::Value,
}

impl BoardSheet {
    /// Reads a file.
    ///
    /// # Errors
    /// That it cannot be read, or as [`BoardSheet::read`].
    pub fn load(path: &Path) -> Result<Self, InputError> {
        let file = path.display().to_string();
        let cannot = |why: String| InputError::of_file(&file, why);
        let length =
            std::fs::metadata(path).map_err(|error| cannot(format!("cannot be read: {error}")))?;
        if length.len() > BYTES_MAX as u64 {
            let what = format!(
                "has {} bytes; an image of a board has some thousand",
                length.len()
            );
            return Err(cannot(what));
        }
        let bytes =
            std::fs::read(path).map_err(|error| cannot(format!("cannot be read: {error}")))?;
        Self::read(&file, &bytes)
    }

    /// Reads an image; `file` is only for messages.
    ///
    /// # Errors
    /// What is wrong with it, and what would be right.
    pub fn read(file: &str, bytes: &[u8]) -> Result<Self, InputError> {
        // The shapes that this program's units have.
        let read = match bytes.get(SHAPE_AT..SHAPE_AT + 2) {
            Some([4, 1]) => of::<4, 1>(bytes),
            Some([4, 2]) => of::<4, 2>(bytes),
            _ => of::<2, 1>(bytes),
        };
        let mut sheet = read.map_err(|error| {
            let shape = bytes.get(SHAPE_AT..SHAPE_AT + 2).unwrap_or(&[]);
            InputError::of_file(file, words(error, shape))
        })?;
        file.clone_into(&mut sheet.file);
        Ok(sheet)
    }

    /// Whether the board asks for a person before it feeds, or its settings are not those of the site.
    #[must_use]
    pub fn has_something_wrong(&self) -> bool {
        let of_feeders = self.feeders.iter().any(|one| !one.lockouts.is_empty());
        let is_apart = self.fit.as_ref().is_some_and(|fit| !fit.apart.is_empty());
        of_feeders || is_apart || !self.lockouts.is_empty() || !self.ledger_is_trusted
    }
}

fn words(error: BoardError, shape: &[u8]) -> String {
    match (error, shape) {
        (BoardError::NotWhole, _) => format!(
            "{error}. It is damaged or cut, or another file; right is what the old board wrote after it was given away"
        ),
        (BoardError::Version(_), _) => {
            format!("{error}; read it with the release that wrote it")
        }
        (BoardError::Shape, [feeders, bodies]) => format!(
            "of {feeders} feeders and {bodies} bodies of water; this program reads 2 and 1, 4 and 1, 4 and 2"
        ),
        _ => error.to_string(),
    }
}

fn of<const N: usize, const B: usize>(bytes: &[u8]) -> Result<BoardSheet, BoardError> {
    let image = BoardImage::<N, B, HOUR, DAY>::decode(bytes)?;
    let BoardImage {
        settings,
        kept,
        record,
    } = &image;
    let crc = bytes.last_chunk().copied().map_or(0, u32::from_le_bytes);
    let state = &record.state;
    Ok(BoardSheet {
        file: String::new(),
        bytes: bytes.len(),
        crc: format!("{crc:08x}"),
        version: bytes
            .get(4..6)
            .map_or(0, |it| u16::from_le_bytes([it[0], it[1]])),
        bodies: B,
        change: kept.handover.number,
        record: record.sequence,
        sealed_s: record.stamp.map(|clock| clock.0),
        limits_crc: format!("{:08x}", record.limits_crc),
        stage: match state.stage {
            Stage::Reduced => "reduced",
            Stage::Full => "full",
        },
        ledger_is_trusted: state.trust == LedgerTrust::Trusted,
        is_observing: kept.restraints.evidence.is_observing,
        is_laid_up: kept.restraints.is_laid_up,
        lockouts: standing(state.site_lockouts),
        feeders: (0..N)
            .filter(|at| settings.limits.product(*at).is_some())
            .map(|at| feeder(at, &settings.limits, kept, record))
            .collect(),
        probes: probes(kept),
        tests: tests(kept),
        proofs: proofs(settings, kept),
        fit: None,
        settings: settings_of(settings),
    })
}

fn standing(set: LockoutSet) -> Vec<&'static str> {
    set.iter().map(lockout_words).collect()
}

/// mL or g.
fn amount(of: u32) -> f64 {
    f64::from(of) / 1000.0
}

fn feeder<const N: usize, const B: usize>(
    at: usize,
    limits: &Limits<N, B>,
    kept: &KeptRecord<N>,
    record: &Record<N, B, HOUR, DAY>,
) -> FeederSheet {
    let state = &record.state;
    let product = limits.product(at);
    let used = |body| state.ledger.totals(limits.account(at), body);
    let rate = limits.feeder(at).map_or(0, |one| one.rate_for_caps().0);
    FeederSheet {
        feeder: at,
        product: product.map(product_words),
        unit: match product {
            Some(Product::GeneratedChlorine) => "g",
            _ => "mL",
        },
        rate_per_h: amount(rate),
        hour_used: (0..B).map(|body| amount(used(body).0.0)).collect(),
        day_used: (0..B).map(|body| amount(used(body).1.0)).collect(),
        day_cap: (0..B)
            .map(|body| amount(limits.caps(at, body, Stage::Full).day.0))
            .collect(),
        open_charge: state
            .feeders
            .get(at)
            .map_or(0.0, |one| amount(one.charged().0)),
        drum_left: kept
            .stocks
            .get(at)
            .and_then(|one| one.left())
            .map(|left| amount(left.0)),
        lockouts: state
            .feeder_lockouts
            .get(at)
            .map_or_else(Vec::new, |set| standing(*set)),
    }
}

const fn product_words(product: Product) -> &'static str {
    match product {
        Product::Acid => "acid",
        Product::Base => "base",
        Product::Hypochlorite => "hypochlorite",
        Product::GeneratedChlorine => "generated chlorine",
    }
}

fn aged(what: impl Into<String>, value: String, days: Option<u16>) -> Aged {
    let what = what.into();
    Aged { what, value, days }
}

fn probes<const N: usize>(kept: &KeptRecord<N>) -> Vec<Aged> {
    let own = &kept.upkeep;
    let never = |what: &str| aged(what, "never".to_owned(), None);
    let calibration = own.calibration.as_ref().map_or_else(
        || never("calibration of pH"),
        |made| {
            let (slope, zero) = (
                f64::from(made.slope_ppm()) / 1e4,
                f64::from(made.zero().0) / 1e3,
            );
            let value = format!("slope {slope:.1} %, {zero:.1} mV at pH 7");
            aged("calibration of pH", value, Some(made.age.days_ceil()))
        },
    );
    let by = own.trim.by().0;
    let trim = aged(
        "trim of pH",
        format!("{:+.2}", f64::from(by) / 1000.0),
        (by != 0).then(|| own.trim.age.days_ceil()),
    );
    let anchor = own.anchor.as_ref().map_or_else(
        || never("anchor of ORP"),
        |made| {
            let value = format!(
                "{} mV at {} of free chlorine",
                made.orp.0, made.test.chlorine
            );
            aged("anchor of ORP", value, Some(made.age.days_ceil()))
        },
    );
    let check = own.check.as_ref().map_or_else(
        || never("check of ORP"),
        |made| {
            aged(
                "check of ORP",
                format!("off by {} mV", made.error.0),
                Some(made.age.days_ceil()),
            )
        },
    );
    vec![calibration, trim, anchor, check]
}

fn tests<const N: usize>(kept: &KeptRecord<N>) -> Vec<Aged> {
    let name = |value| match value {
        TestedValue::Alkalinity => "alkalinity",
        TestedValue::Cyanurate => "cyanuric acid",
        TestedValue::Salt => "salt",
        TestedValue::Borate => "borate",
    };
    let all = TestedValue::ALL.into_iter().filter_map(|value| {
        let test = kept.upkeep.tests.of(value)?;
        Some(aged(
            name(value),
            test.found.to_string(),
            Some(test.age.days_ceil()),
        ))
    });
    all.collect()
}

fn proofs<const N: usize, const B: usize>(
    settings: &SettingsImage<N, B>,
    kept: &KeptRecord<N>,
) -> Vec<Aged> {
    use dosewarden::guard::units::Fitted;
    let Fitted::Fitted(plan) = settings.proof else {
        return Vec::new();
    };
    let all = plan.of_site(&settings.limits).iter().map(|one| {
        let what = match one {
            Interlock::LevelSwitch(feeder)
            | Interlock::Feedback(feeder)
            | Interlock::CellFlow(feeder) => format!("{} of feeder {feeder}", one.name()),
            _ => one.name().to_owned(),
        };
        let found: Proof = kept.proofs.of(one);
        let days = found.age_hours().map(|hours| hours.div_ceil(24));
        let value = match (found.has_failed(), found.took_ms()) {
            (true, _) => "failed".to_owned(),
            (false, Some(0)) => "passed, not timed".to_owned(),
            (false, Some(ms)) => format!("passed in {ms} ms"),
            (false, None) => "never made".to_owned(),
        };
        aged(what, value, days)
    });
    all.collect()
}
