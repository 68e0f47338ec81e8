//! What a visit shows: the probe beside a kit, the drum beside the ledger, alkalinity that was used
//! beside what the acid explains, parts that are due, and figures that contradict each other.
//!
//! # Invariants
//! - Advice to the person who stands there. Nothing here feeds, trims, releases or raises a cap.
//! - A contradiction is a question ([`Doubt`]) and never an answer: which of the two figures is
//!   wrong, a device cannot know.
//! - What nobody measured is `None`, and gives neither a verdict nor a question.
//!
//! ```
//! use dosewarden::guard::units::{Dose, MilliPh, Millivolts, Rate};
//! use dosewarden::probe::{KitTest, MicrogramsPerL};
//! use dosewarden::stock::DrumVerdict;
//! use dosewarden::visit::{BesideKit, Doubt, DrumBook, KitSays, WaterSeen, real_rate};
//!
//! // The drum stood at 18 L after the last visit; 4 L were booked, and it reads 11.5 L.
//! let mut drum = DrumBook::NEW;
//! drum.filled(Dose::from_ml(18_000));
//! drum.feed(Dose::from_ml(4_000));
//! let found = drum.read(Dose::from_ml(11_500)).expect("it fell").expect("there was a level before");
//! assert_eq!(found.verdict(Dose::from_ml(300)), DrumVerdict::High);
//! assert_eq!(real_rate(&found, Rate(1_560_000)), Some(Rate(2_535_000))); // 2.5 L/h, not 1.6
//!
//! let test = KitTest { ph: MilliPh(7300), chlorine: Some(MicrogramsPerL(2000)) };
//! let beside = BesideKit { shown: MilliPh(7750), trim: MilliPh(0), kit: test, in_buffer: None };
//! assert_eq!(beside.says(), KitSays::Calibrate);
//!
//! // Hardly any chlorine at 800 mV, and nothing fed: the dye may be bleached.
//! let seen = WaterSeen {
//!     chlorine: Some(MicrogramsPerL(200)),
//!     orp: Some(Millivolts(800)),
//!     fed_last_day: Some(MicrogramsPerL(0)),
//!     ..WaterSeen::of(MicrogramsPerL(2000))
//! };
//! assert_eq!(seen.doubts().next(), Some(Doubt::ChlorineBleached));
//! ```

mod alkalinity;
mod doubt;
mod drum;
mod kit;
mod parts;

pub use alkalinity::{AlkalinityBooks, AlkalinitySays, AlkalinityUse};
pub use doubt::{Doubt, WaterSeen};
pub use drum::{DrumBook, booked_between, drum_doubt, real_rate};
pub use kit::{BUFFER_AGREES, BesideKit, KitSays};
pub use parts::{Part, PartDue, PartLife, PartUse};
