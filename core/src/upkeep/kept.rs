//! What upkeep is told, and what of it survives the power.

use crate::probe::{
    Anchor, Calibration, MicrogramsPerL, OrpSetup, PhSetup, ProbeKind, ReferenceCheck, Trend, Trim,
};
use crate::water_tests::WaterTests;

/// What upkeep is told about its site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UpkeepSetup {
    /// pH probe.
    pub ph: PhSetup,
    /// ORP probe.
    pub orp: OrpSetup,
    /// Free chlorine that is wanted, for the anchor.
    pub wanted: MicrogramsPerL,
    /// Oldest anchor, days.
    pub anchor_days_max: u16,
}

/// What has to survive the power: it goes into a record of its own, `store::KeptRecord`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Of the pH probe; `None`: never calibrated.
    pub calibration: Option<Calibration>,
    /// Of the pH probe.
    pub trim: Trim,
    /// Of the pH probe.
    pub trend: Trend,
    /// Of the ORP probe; `None`: never checked.
    pub check: Option<ReferenceCheck>,
    /// Of the ORP probe; `None`: never anchored.
    pub anchor: Option<Anchor>,
    /// Tests of the water.
    pub tests: WaterTests,
    /// The probe that is out of the water.
    pub out: Option<ProbeKind>,
}

impl Kept {
    /// A new unit.
    pub const NOTHING: Self = Self {
        calibration: None,
        trim: Trim::NONE,
        trend: Trend::NEW,
        check: None,
        anchor: None,
        tests: WaterTests::NONE,
        out: None,
    };
}
