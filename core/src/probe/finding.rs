//! What is wrong with a probe, in words and as NE 107 status.

use crate::guard::Health;

/// What a probe's checks found: the gravest of it. Each stands for one status of NAMUR NE 107.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Finding {
    /// Nothing.
    Fine,
    // Failure.
    /// No sample yet.
    NeverRead,
    /// The lead is off or broken.
    Open,
    /// The lead or the glass is shorted.
    Short,
    /// The converter is at its stop.
    Saturated,
    /// No electrode of this kind gives this potential: also when pH and ORP are swapped.
    NotThisElectrode,
    /// The converter does not answer.
    Bus,
    /// No new sample for too long.
    Stale,
    /// Samples say that they are from the future.
    FromTheFuture,
    /// The bias of the lead's check is stuck.
    Bias,
    /// The reading does not move at all, not even by noise.
    Flat,
    // Check function.
    /// Someone works on it.
    InWork,
    /// The lead was not checked yet, or not for too long.
    LeadNotChecked,
    // Out of specification.
    /// Never calibrated.
    NotCalibrated,
    /// In the reference solution it was too far off.
    CheckFailed,
    /// Its resistance is too high: dry, cold or aged glass.
    HighResistance,
    /// It jumped as water cannot, and has not come back.
    Jumped,
    /// Too much noise.
    Noisy,
    /// The value is outside what it can measure.
    OffScale,
    // Maintenance required.
    /// The calibration is too old.
    CalibrationOld,
    /// The check in the reference solution is too old, or there is none.
    CheckOld,
    /// The trim has expired, and no longer counts.
    TrimExpired,
    /// The temperature cannot be right, and an assumed one counts.
    Temperature,
}

impl Finding {
    /// All of them.
    pub const ALL: [Self; 23] = [
        Self::Fine,
        Self::NeverRead,
        Self::Open,
        Self::Short,
        Self::Saturated,
        Self::NotThisElectrode,
        Self::Bus,
        Self::Stale,
        Self::FromTheFuture,
        Self::Bias,
        Self::Flat,
        Self::InWork,
        Self::LeadNotChecked,
        Self::NotCalibrated,
        Self::CheckFailed,
        Self::HighResistance,
        Self::Jumped,
        Self::Noisy,
        Self::OffScale,
        Self::CalibrationOld,
        Self::CheckOld,
        Self::TrimExpired,
        Self::Temperature,
    ];

    /// Its NE 107 status. The guard trusts Normal alone, so "maintenance required" is said only
    /// when a limit is passed; that one comes near is a [`Forecast`](super::Forecast)'s to say.
    #[must_use]
    pub const fn health(self) -> Health {
        match self {
            Self::Fine => Health::Normal,
            Self::NeverRead
            | Self::Open
            | Self::Short
            | Self::Saturated
            | Self::NotThisElectrode
            | Self::Bus
            | Self::Stale
            | Self::FromTheFuture
            | Self::Bias
            | Self::Flat => Health::Failure,
            Self::InWork | Self::LeadNotChecked => Health::CheckFunction,
            Self::NotCalibrated
            | Self::CheckFailed
            | Self::HighResistance
            | Self::Jumped
            | Self::Noisy
            | Self::OffScale => Health::OutOfSpecification,
            Self::CalibrationOld | Self::CheckOld | Self::TrimExpired | Self::Temperature => {
                Health::MaintenanceRequired
            }
        }
    }

    /// The graver of two: failure, check function, out of specification, maintenance; the first of
    /// two that are as grave.
    #[must_use]
    pub fn gravest(self, other: Self) -> Self {
        let rank = |finding: Self| match finding.health() {
            Health::Normal => 0,
            Health::MaintenanceRequired => 1,
            Health::OutOfSpecification => 2,
            Health::CheckFunction => 3,
            Health::Failure => 4,
        };
        if rank(other) > rank(self) {
            other
        } else {
            self
        }
    }

    /// Why, for a person, and what to do.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Fine => "in order",
            Self::NeverRead => "no reading yet",
            Self::Open => "the probe's lead is off or broken: look at plug and cable",
            Self::Short => "the probe is shorted: a wet plug, a cut cable or broken glass",
            Self::Saturated => "the input is at its end: look at plug, cable and earthing",
            Self::NotThisElectrode => {
                "no such probe gives this voltage: are pH and ORP swapped, or is the cable broken?"
            }
            Self::Bus => "the converter does not answer",
            Self::Stale => "no new reading comes",
            Self::FromTheFuture => "readings carry a time that has not come yet",
            Self::Bias => "the check of the lead does not work",
            Self::Flat => "the reading stands still, without even noise: the input is stuck",
            Self::InWork => "someone works on the probe",
            Self::LeadNotChecked => "the lead was not checked yet",
            Self::NotCalibrated => "the probe was never calibrated",
            Self::CheckFailed => "too far off in the reference solution: clean or replace it",
            Self::HighResistance => "the glass is dry, cold or old: soak or replace the probe",
            Self::Jumped => {
                "the reading jumped as water cannot: look at the probe, test the water, confirm"
            }
            Self::Noisy => "the reading is too noisy: look at plug, cable, earthing and air",
            Self::OffScale => "the value is outside what the probe can measure: test the water",
            Self::CalibrationOld => "the calibration is too old: calibrate in two buffers",
            Self::CheckOld => "not checked in a reference solution for too long",
            Self::TrimExpired => {
                "the trim has expired: test the water and trim again, or calibrate"
            }
            Self::Temperature => "the temperature cannot be right: look at its sensor",
        }
    }
}

impl core::fmt::Display for Finding {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}
