//! Regulators: they propose, and may be wrong. Nothing they say feeds a drop by itself; the guard
//! bounds every dose, whatever is asked.
//!
//! A regulator is of a feeder, and so is its set point: where two bodies of water are on one pump both are kept at it,
//! though the guard's caps and cut-offs are of each. A code may want more of a spa (ORP over 750 mV above 35 C, Quebec
//! Q-2 r. 39): a firmware moves the set point once the valves stand otherwise ([`SizedDose::set_set_point`], by
//! [`Controller::regulators_mut`](crate::Controller::regulators_mut)). Marks of alarms are of the site and stay.
//!
//! Four come with the crate, and [`Regulator`] is public and object-safe: bring your own.
//!
//! ```
//! use dosewarden::guard::units::Dose;
//! use dosewarden::regulate::{Regulator, View};
//!
//! /// Always asks for the same small dose while pH is known to be over 7.6.
//! struct Plain;
//!
//! impl Regulator for Plain {
//!     fn propose(&mut self, view: &View) -> Dose {
//!         match view.value {
//!             Some(ph) if ph > 7600 => view.dose_min,
//!             _ => Dose(0),
//!         }
//!     }
//! }
//!
//! let mut plain = Plain;
//! let by_reference: [&mut dyn Regulator; 1] = [&mut plain];
//! ```

mod band;
mod cure;
mod error;
mod sized;
mod standard;
mod timed;

pub use band::Band;
pub use cure::{Allowance, CURE_DAYS_MAX, CureAge, CureSchedule};
pub use error::RegulatorError;
pub use sized::SizedDose;
pub use standard::Standard;
pub use timed::{Share, TimedShare};

use crate::guard::units::{Dose, MilliPh, Millis, Millivolts, Rate};
use crate::guard::{Closed, Product};
use crate::under::Under;

/// What a regulator may know in one tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct View {
    /// Time since the last tick.
    pub elapsed: Millis,
    /// What the feeder gives.
    pub product: Product,
    /// Value of the governing probe, pH x 1000 or mV, if it is fresh, healthy, and the water has
    /// moved past it for long enough. `None` while that is not so, and where no probe governs.
    pub value: Option<i32>,
    /// pH under the same conditions.
    pub ph: Option<MilliPh>,
    /// ORP under the same conditions.
    pub orp: Option<Millivolts>,
    /// A cycle is charged or running. A proposal of 0 ends it.
    pub in_cycle: bool,
    /// A cycle of this feeder that was booked in the last tick.
    pub closed: Option<Closed>,
    /// Smallest dose that a cycle can give; less is never charged.
    pub dose_min: Dose,
    /// Largest dose of one cycle in this body and stage.
    pub cycle_cap: Dose,
    /// Rate as entered or measured.
    pub rate: Rate,
    /// By what a dose that is sized by the water's demand may be divided, thousandths, 500 to 2000:
    /// what the answers to earlier doses taught ([`Estimate::learned_milli`]). 1000 where nothing
    /// was learned.
    ///
    /// [`Estimate::learned_milli`]: crate::response::Estimate::learned_milli
    pub learned_milli: u16,
}

/// Asks for feed. Called once a tick for each feeder in use.
pub trait Regulator {
    /// The dose wanted in this cycle, whole; 0 asks for nothing.
    ///
    /// While a cycle runs, a smaller proposal does not shorten it, 0 ends it, and a larger one lets
    /// a further slice be charged. The guard grants at most its caps.
    fn propose(&mut self, view: &View) -> Dose;

    /// What of a cure has to survive the power; `None`: it has none.
    fn cure(&self) -> Option<Under<CureAge>> {
        None
    }

    /// Puts back what [`Regulator::cure`] gave before a restart. Of another cure it takes nothing.
    fn set_cure(&mut self, _kept: Under<CureAge>) {}
}

impl<R: Regulator + ?Sized> Regulator for &mut R {
    fn propose(&mut self, view: &View) -> Dose {
        (**self).propose(view)
    }

    fn cure(&self) -> Option<Under<CureAge>> {
        (**self).cure()
    }

    fn set_cure(&mut self, kept: Under<CureAge>) {
        (**self).set_cure(kept);
    }
}

/// Whether a product raises or lowers what its probe measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Direction {
    /// Feed is asked for below the set point.
    Raises,
    /// Feed is asked for above the set point.
    Lowers,
}

impl Direction {
    /// How far a value is on the side on which feed helps; 0 or less on the other side.
    #[must_use]
    pub const fn deficit(self, set_point: i32, value: i32) -> i32 {
        match self {
            Self::Raises => set_point.saturating_sub(value),
            Self::Lowers => value.saturating_sub(set_point),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guard::Mode;
    use crate::guard::units::Body;

    pub(super) fn view(value: Option<i32>) -> View {
        View {
            elapsed: Millis(1000),
            product: Product::Acid,
            value,
            ph: None,
            orp: None,
            in_cycle: false,
            closed: None,
            dose_min: Dose::from_ml(5),
            cycle_cap: Dose::from_ml(500),
            rate: Rate::from_ml_per_min(30),
            learned_milli: 1000,
        }
    }

    pub(super) fn closed(dose: Dose) -> Closed {
        Closed {
            fed: dose,
            charged: dose,
            full: true,
            body: Body(0),
            mode: Mode::Automatic,
        }
    }

    #[test]
    fn regulators_can_be_given_by_reference() {
        let mut never = Standard::Never;
        let mut band: Standard = Band::try_new(Direction::Lowers, 7600, 7400, Dose(7))
            .unwrap()
            .into();
        let mut all: [&mut dyn Regulator; 2] = [&mut never, &mut band];
        let doses = all.each_mut().map(|one| one.propose(&view(Some(8000))));
        assert_eq!(doses, [Dose(0), Dose(7)]);
    }
}
