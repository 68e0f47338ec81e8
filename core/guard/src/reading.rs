//! A reading is a value, its age and its health. The guard, not the driver, decides whether it is
//! fresh enough to count.

use crate::units::Millis;

/// Status of a device, by the names of NAMUR NE 107 (numbers as in OPC 10000-100, table 22).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Health {
    /// Works within its specification.
    Normal = 0,
    /// The signal is not valid.
    Failure = 1,
    /// The signal is temporarily not valid: someone works on the device.
    CheckFunction = 2,
    /// The device works outside its specified range.
    OutOfSpecification = 3,
    /// The signal is valid, but will soon not be.
    MaintenanceRequired = 4,
}

/// A value with its age and health. A switch's value is the *worst since the last tick*.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Reading<T> {
    /// The value as measured.
    pub value: T,
    /// How long ago it was measured. Unknown is `Millis(u32::MAX)`.
    pub age: Millis,
    /// Health of the device that measured it.
    pub health: Health,
}

impl<T: Copy> Reading<T> {
    /// A healthy reading taken now.
    #[must_use]
    pub const fn now(value: T) -> Self {
        Self {
            value,
            age: Millis(0),
            health: Health::Normal,
        }
    }

    /// A reading that nobody took: as old as can be, and failed.
    #[must_use]
    pub const fn unknown(value: T) -> Self {
        Self {
            value,
            age: Millis(u32::MAX),
            health: Health::Failure,
        }
    }

    /// The value, if it is at most `age_max` old and its device is healthy.
    #[must_use]
    pub fn trusted(&self, age_max: Millis) -> Option<T> {
        (self.age <= age_max && self.health == Health::Normal).then_some(self.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fresh_means_up_to_and_including_the_limit() {
        let reading = Reading {
            value: 1,
            age: Millis(500),
            health: Health::Normal,
        };
        assert_eq!(reading.trusted(Millis(500)), Some(1));
        assert_eq!(reading.trusted(Millis(499)), None);
    }

    #[test]
    fn only_normal_is_trusted() {
        for health in [
            Health::Failure,
            Health::CheckFunction,
            Health::OutOfSpecification,
            Health::MaintenanceRequired,
        ] {
            let reading = Reading {
                value: 1,
                age: Millis(0),
                health,
            };
            assert_eq!(reading.trusted(Millis(500)), None);
        }
    }

    #[test]
    fn nobody_trusts_the_unknown() {
        assert_eq!(Reading::unknown(true).trusted(Millis(u32::MAX)), None);
    }
}
