//! The front end of one probe: counts of an analog converter to the electrode's potential, with its
//! age, its health, and whether its lead is whole.
//!
//! # Invariants
//! - Only a conversion that was started with the bias off and settled, and that ended inside the
//!   electrode's range, makes a value young. A bus that does not answer, a conversion that is late
//!   and a converter at its stop leave the last value, which grows old.
//! - Age counts from the *start* of the conversion, and saturates.
//! - No value is Normal before a check has found the lead whole, nor once that check is older than
//!   twice `check_every`.
//!
//! # Open and short
//! An electrode whose lead is off leaves the input floating, at a potential that may look like
//! water for minutes. One whose connector is wet, or whose glass is broken, reads about 0 mV, which
//! is pH 7. Neither shows in a value. So every `check_every` the front end turns on a bias: a
//! potential above the electrode's range, through a resistance far above the glass's. What follows
//! depends on the resistance of the source alone (common practice, no source):
//!
//! | electrode | what the input does | [`Lead`] |
//! |---|---|---|
//! | whole | moves by `bias x R / (R + R_bias)`, between `moves_min` and `moves_max` | `Intact` |
//! | off | goes to the bias, past `open_at` | `Open` |
//! | short | moves by less than `moves_min`, or the wrong way | `Short` |
//! | dry or cold glass | moves by more than `moves_max`, not past `open_at` | `HighResistance` |
//!
//! Until the next check a lead that comes off is not seen: `check_every` bounds how long a floating
//! input can pass for water.
//!
//! ```
//! use core::convert::Infallible;
//! use dosewarden::guard::Health;
//! use dosewarden::guard::units::{Fitted, Millis};
//! use dosewarden::probe::front::{Adc, Front, FrontLimits, FrontSpec, Lead, Microvolts};
//! use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
//!
//! /// A converter that is always at once done. It shows 1.25 V, which stands for 0 mV, and 20 mV
//! /// more each second time, when the bias is on.
//! struct Bench(bool);
//!
//! impl Adc for Bench {
//!     type Error = Infallible;
//!     const COUNTS_MAX: i16 = i16::MAX;
//!     fn full_scale_mv(&self) -> i32 { 2048 }
//!     fn start(&mut self) -> Result<bool, Infallible> {
//!         self.0 = !self.0;
//!         Ok(true)
//!     }
//!     fn finish(&mut self) -> Result<Option<i16>, Infallible> {
//!         Ok(Some(if self.0 { 20_000 } else { 20_320 }))
//!     }
//! }
//!
//! const GLASS: FrontSpec = FrontSpec {
//!     full_scale_mv: 2048,
//!     offset_mv: 1250,
//!     gain_milli: 1000,
//!     low_mv: -500,
//!     high_mv: 500,
//!     open_at_mv: 700,
//!     moves_min_mv: Fitted::Fitted(3),
//!     moves_max_mv: 150,
//!     settle: Millis(1000),
//!     convert_max: Millis(300),
//!     poll_max: Millis(100),
//!     check_every: Millis::from_secs(60),
//!     age_max: Millis(5000), // `probe_age_max` of the guard's limits
//! };
//! const LIMITS: FrontLimits = match FrontLimits::try_new(GLASS) {
//!     Ok(limits) => limits,
//!     Err(_) => panic!("does not build with limits that contradict each other"),
//! };
//!
//! let [off, on] = [State::Low, State::High].map(Transaction::set);
//! let mut bias = Mock::new(&[off.clone(), on, off.clone(), off]); // off when it is dropped, too
//! let mut front = Front::try_new(Bench(false), bias.clone(), LIMITS).unwrap();
//! for now_ms in (0..=3000).step_by(100) {
//!     front.poll(now_ms); // more often than once a tick
//! }
//! let seen = front.read(3000);
//! assert_eq!(seen.lead, Lead::Intact);
//! assert_eq!(seen.reading.health, Health::Normal);
//! assert_eq!(seen.reading.value, Microvolts(0));
//! drop(front);
//! bias.done();
//! ```

#[cfg(feature = "adc")]
mod ads;
mod convert;
mod cycle;
mod spec;
#[cfg(all(test, feature = "adc"))]
mod tests;

/// The driver crate, for what names the chip's address and its range.
#[cfg(feature = "adc")]
pub use ads1x1x;

#[cfg(feature = "adc")]
pub use ads::{Ads, Chip, Input};
pub use cycle::Front;
pub use spec::{FrontError, FrontLimits, FrontSpec};

pub use super::raw::{FrontFault, FrontReading, Lead, Microvolts};

/// A converter with one input: what a driver crate is adapted to.
pub trait Adc {
    /// What can go wrong on its bus.
    type Error;

    /// The largest count; the least is one below its negative. At either the input may be
    /// anywhere beyond.
    const COUNTS_MAX: i16;

    /// Potential of the input, mV, at one count above [`Adc::COUNTS_MAX`].
    fn full_scale_mv(&self) -> i32;

    /// Starts a conversion. False if an earlier one is still under way, and none was started:
    /// to be called again.
    ///
    /// # Errors
    /// If the converter did not take it.
    fn start(&mut self) -> Result<bool, Self::Error>;

    /// The counts, once the conversion is done. Never those of a conversion from before the
    /// last [`Adc::start`] that said true.
    ///
    /// # Errors
    /// If the converter did not answer.
    fn finish(&mut self) -> Result<Option<i16>, Self::Error>;
}
