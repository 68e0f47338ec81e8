//! Probes: from a converter's counts to a value with its age and health.

mod age;
mod anchor;
mod buffers;
mod calibrate;
mod care;
mod condition;
mod conditioned;
mod finding;
#[cfg(feature = "hal")]
pub mod front;
mod nernst;
mod numbers;
mod orp;
mod ph;
mod raw;
mod reference;
mod settling;
mod trend;
mod trim;
mod units;

pub use age::Age;
pub use anchor::{
    ANCHOR_PH, Anchor, AnchorDue, AnchorRefused, Beside, CYANURATE_MOVED, ChlorineTest, DOUBT_ORP,
    DOUBT_ORP_AFTER_FEED, DOUBT_OVER_ANCHOR, DOUBT_UNDER, DPD_BLEACHES, DPD_MAX, ORP_MIN, PH_MOVED,
    TEMPERATURE_MOVED,
};
pub use buffers::Buffer;
pub use calibrate::{
    APART_MIN, BufferReading, Calibration, CalibrationRefused, Line, OFFSET_MAX, SLOPE_MAX_PPM,
    SLOPE_MIN_PPM,
};
pub use care::{PROBE_LOG_KEPT, ProbeAct, ProbeEntry, ProbeKind, ProbeLog, ProbeRefused};
pub use condition::{ConditionError, ConditionLimits, ConditionSpec, Conditioner, FlatCheck};
pub use conditioned::Conditioned;
pub use finding::Finding;
pub use nernst::nernst_uv_per_ph;
pub use orp::{OrpProbe, OrpSetup};
pub use ph::{PH_SCALE, PhProbe, PhSetup, ProbeInput, TEMPERATURE_AGE_MAX, WATER_TEMPERATURE};
pub use raw::{FrontFault, FrontReading, Lead, Microvolts, STAMP_AHEAD_MAX};
pub use reference::{
    CheckRefused, NOT_THIS_SOLUTION, REFERENCE_TOLERANCE, ReferenceCheck, ReferenceElectrode,
    Solution,
};
pub use settling::{NotStill, STILL_FOR, STILL_WITHIN, Settling, Stable};
pub use trend::{DueBy, Forecast, TREND_KEPT, Trend};
pub use trim::{KIT_PH, KitTest, TRIM_CHLORINE_MAX, TRIM_MAX, Trim, TrimRefused};
pub use units::{CentiCelsius, MicrogramsPerL};
