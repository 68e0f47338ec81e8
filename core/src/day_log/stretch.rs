//! From when to when a limit was passed, kept, or not to be told.

use super::judge::Judged;

/// A stretch of time. Minutes, both ends in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stretch {
    /// What it was.
    pub judged: Judged,
    /// First minute.
    pub from_min: u32,
    /// Last minute.
    pub to_min: u32,
}

/// Follows one limit; a few bytes each.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Watch {
    now: Option<Stretch>,
}

impl Watch {
    /// Before the first minute.
    pub const NEW: Self = Self { now: None };

    /// Takes a moment, in the order of time; several in a minute are fine. What has just ended.
    pub fn step(&mut self, at_min: u32, judged: Judged) -> Option<Stretch> {
        if let Some(now) = self.now.as_mut()
            && now.judged == judged
        {
            now.to_min = at_min;
            return None;
        }
        self.now.replace(Stretch {
            judged,
            from_min: at_min,
            to_min: at_min,
        })
    }

    /// What stands.
    #[must_use]
    pub const fn standing(&self) -> Option<Stretch> {
        self.now
    }
}
