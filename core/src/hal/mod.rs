//! Adapters for [`embedded-hal`](embedded_hal) 1.0: a flow switch, the drive line of a feeder, and
//! the master line of the series contact.
//!
//! A line is on only while a permit covers it, and goes off
//! - when it is given none, at the next [`DriveLine::apply`];
//! - when the permit has lapsed, at the next [`DriveLine::poll`], and at the exact end where a
//!   [`CutTimer`] is given;
//! - when it is dropped;
//! - at any error of its pin or timer. It then stays off, whatever it is given, until a person
//!   clears the fault.
//!
//! A program that hangs, or forgets a line by `mem::forget`, runs none of this code: that is what
//! the hardware dead man is for. Every output needs a pull to its safe state, so that a reset feeds
//! nothing.
//!
//! ```
//! use dosewarden::hal::{DriveLine, Wiring};
//! use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
//!
//! // The board's pin; here a stand-in that checks what is done to it.
//! let low = || Transaction::set(State::Low);
//! let mut pin = Mock::new(&[low(), low(), low()]);
//! let mut acid = DriveLine::<0, _>::new(pin.clone(), Wiring::ActiveHigh);
//! acid.apply(None, 0); // no permit: off
//! assert!(!acid.is_on() && acid.fault().is_none());
//! drop(acid); // off
//! pin.done();
//! ```

mod flow;
mod line;
mod timer;

pub use flow::FlowSwitch;
pub use line::{DriveLine, LineFault, MasterLine};
pub use timer::{CutTimer, NoTimer};

/// Which level of a pin means on (an output) or closed (a contact).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Wiring {
    /// High is on.
    ActiveHigh,
    /// Low is on.
    ActiveLow,
}
