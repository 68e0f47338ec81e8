//! Probes: from a converter's counts to a value with its age, its health, and why.
//!
//! ```text
//!  counts ─▶ front ──potential, age, lead──▶ PhProbe::tick ──Reading<MilliPh>────▶ Facts::ph
//!           (or your own: FrontReading)  │      Finding ─▶ words for a person
//!  temperature ──────────────────────────┤
//!                                        └─▶ OrpProbe::tick ─Reading<Millivolts>─▶ Facts::orp
//! ```
//!
//! # Invariants
//! - A value is Normal only while its electrode's lead was found whole, its samples come, move and
//!   are no jump, its calibration (for ORP: its check) is young, and its temperature can be right.
//!   The guard feeds on Normal alone. Which [`Finding`] stands for which NE 107 status says
//!   [`Finding::health`].
//! - What persons do is checked, bounded and logged; what is refused changes nothing and says why.
//! - Whole numbers only: uV, thousandths of a pH, hundredths of a degree. Ages, never dates.
//!
//! # From counts to a reading
//! 1. **Potential.** The front end (module `front`, feature `hal`) or a converter of your own gives
//!    a [`FrontReading`]: microvolts, age, what the check of the lead found. Stamped samples go
//!    through [`FrontReading::stamped`].
//! 2. **Checks and filter** ([`Conditioner`]): electrode's range, age, spikes kept out, jumps, noise,
//!    a reading that stands still. The filter is of first order and adds its time constant, 10 s, to
//!    the delay of a slow change; with a probe's own lag of 15 s and water that takes 20 s to change
//!    in the cell, a dose shows 45 s late. Resistance is tested by the front end's bias; where a
//!    board has none, samples alone do not show an open lead or dry glass.
//! 3. **pH** by a [`Calibration`] in two buffers and the Nernst slope at the water's temperature,
//!    and a [`Trim`] of at most 0.2 pH. **ORP** is not calibrated: it is checked in a reference
//!    solution ([`ReferenceCheck`]), and its set point is an [`Anchor`].
//! 4. **Status.** The gravest finding, as `Reading::health` for the guard and as words.
//!
//! ```
//! use dosewarden::guard::units::{Fitted, MilliPh, Millis};
//! use dosewarden::guard::{Authority, Health, Reading};
//! use dosewarden::probe::{
//!     Buffer, BufferReading, CentiCelsius, ConditionLimits, ConditionSpec, Finding, FrontReading,
//!     Lead, Microvolts, PhProbe, PhSetup, ProbeInput, ProbeLog, Settling, Trend, Trim,
//! };
//!
//! const SETUP: PhSetup = PhSetup {
//!     limits: match ConditionLimits::try_new(ConditionSpec::PH) {
//!         Ok(limits) => limits,
//!         Err(_) => panic!("does not build with limits that contradict each other"),
//!     },
//!     sensor: Fitted::YES,
//!     assumed: CentiCelsius::from_whole(25),
//!     calibration_days_max: 90,
//!     trim_days_max: 30,
//! };
//! let room = CentiCelsius::from_whole(25);
//! // A second passes, and the converter has a new sample.
//! let sample = |now_ms, uv| ProbeInput {
//!     seen: FrontReading::stamped(now_ms, now_ms - 100, Microvolts(uv), Lead::Intact),
//!     temperature: Reading::now(room),
//!     is_steady: true, // water has flowed for a while
//! };
//! let mut probe = PhProbe::new(None, Trim::NONE); // or from the settings that were kept
//! let mut now_ms = 0;
//!
//! // A technician takes it from buffer to buffer.
//! probe.set_in_work(true);
//! let mut in_buffer = |buffer, uv| {
//!     let mut settling = Settling::NEW;
//!     while settling.stable().is_err() {
//!         now_ms += 1000;
//!         let shown = probe.tick(&SETUP, Millis(1000), &sample(now_ms, uv));
//!         assert_eq!(shown.reading.health, Health::CheckFunction);
//!         settling.push(probe.conditioner().value(), Millis(1000));
//!     }
//!     BufferReading::try_new(buffer, &settling, room)
//! };
//! let four = in_buffer(Buffer::Technical400, 170_000)?;
//! let seven = in_buffer(Buffer::Technical700, 2_000)?;
//! let (mut trend, mut log) = (Trend::NEW, ProbeLog::new());
//! let made = probe.calibrate(Authority::Operator, (&four, &seven), &mut trend, &mut log)?;
//! assert_eq!(made.slope_ppm() / 1000, 946); // 94.6 % of Nernst's slope
//! probe.set_in_work(false);
//!
//! // Back in the water, each tick:
//! let shown = probe.tick(&SETUP, Millis(1000), &sample(now_ms + 1000, -26_000));
//! assert_eq!(shown.reading, Reading { age: Millis(100), ..Reading::now(MilliPh(7502)) });
//! assert_eq!(shown.finding, Finding::Fine); // `facts.ph = shown.reading` for the guard
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # What it costs
//! A probe keeps at most 100 bytes; [`Trend`] and [`Anchor`] at most 64 more each, for the next
//! visit. A tick multiplies, and divides only by constants; it divides by a variable where the
//! temperature has moved by a tenth of a degree or the time between samples by an eighth. On a
//! Cortex-M0 at `opt-level = "s"`, counted in an emulator, a tick of pH takes 830 instructions, one
//! of ORP 780, one with a new line 2,200 at most, a calibration 7,400; it links without a panic
//! path.
//!
//! # What it cannot know
//! Power loss forgets the filter, a jump and the way to [`Finding::Flat`]; ages, calibration, trim
//! and anchor have to be kept by whoever keeps the settings, and time without power has to be told
//! ([`PhProbe::pass_off`]). Nothing here moves with the water's chemistry: that feed has no answer,
//! or the wrong one, the guard's `response_sane` sees.
#![doc = include_str!("delays.md")]

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
pub(crate) use anchor::may_be_bleached;
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
pub use settling::{NotStill, STILL_FOR, STILL_WITHIN, STILL_WITHIN_ORP, Settling, Stable};
pub use trend::{DueBy, Forecast, TREND_KEPT, Trend};
pub use trim::{KIT_PH, KitTest, TRIM_CHLORINE_MAX, TRIM_MAX, Trim, TrimRefused};
pub use units::{CentiCelsius, MicrogramsPerL};
