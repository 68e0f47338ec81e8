//! A value with its age, its NE 107 status, and why.

use super::finding::Finding;
use crate::guard::Reading;

/// What a probe says to the guard, and why its status is what it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Conditioned<V> {
    /// For the guard's facts.
    pub reading: Reading<V>,
    /// For a person.
    pub finding: Finding,
}

impl<V: Copy> Conditioned<V> {
    pub(super) const fn new(mut reading: Reading<V>, finding: Finding) -> Self {
        reading.health = finding.health();
        Self { reading, finding }
    }

    /// The value, if nothing is wrong. Its age is not judged beyond what the checks do.
    #[must_use]
    pub fn trusted(&self) -> Option<V> {
        (self.finding == Finding::Fine).then_some(self.reading.value)
    }
}
