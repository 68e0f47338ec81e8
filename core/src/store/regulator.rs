//! A regulator as it is written down.

use serde::{Deserialize, Serialize};

use crate::guard::units::{Dose, Millis};
use crate::regulate::{
    Allowance, Band, CureSchedule, Direction, RegulatorError, Share, SizedDose, Standard,
    TimedShare,
};

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
