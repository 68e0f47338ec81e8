//! Parts that wear, by hours and by age.

use crate::probe::Age;

/// A part that wears.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Part {
    /// Tube of a feed pump that squeezes.
    Tube,
    /// Injection valve.
    InjectionValve,
    /// pH probe.
    PhProbe,
    /// ORP probe.
    OrpProbe,
    /// A chlorine generator's cell.
    Cell,
}

/// How long a part lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PartLife {
    /// Hours of running; `None`: it ages whether it runs or not.
    pub hours: Option<u32>,
    /// Days.
    pub days: u16,
}

impl Part {
    /// How long it usually lasts (common practice, no source; what its maker says comes first).
    #[must_use]
    pub const fn usual(self) -> PartLife {
        let (hours, days) = match self {
            Self::Tube => (Some(500), 365),
            Self::InjectionValve => (None, 365),
            Self::PhProbe | Self::OrpProbe => (None, 730),
            Self::Cell => (Some(10_000), 1825),
        };
        PartLife { hours, days }
    }

    /// What it is.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tube => "tube",
            Self::InjectionValve => "injection valve",
            Self::PhProbe => "pH probe",
            Self::OrpProbe => "ORP probe",
            Self::Cell => "cell",
        }
    }
}

/// How a part was used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PartUse {
    /// How long ago it was put in.
    pub age: Age,
    /// Hours that it ran since; `None`: nobody knows.
    pub ran_hours: Option<u32>,
}

/// When a part is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PartDue {
    /// Whole days; 0 is today or overdue.
    pub in_days: u16,
    /// By its hours, and not by its age.
    pub by_hours: bool,
}

impl PartUse {
    /// When it is due: by its age, or by hours at the pace so far, whichever is first.
    #[must_use]
    pub fn due(&self, life: &PartLife) -> PartDue {
        let age_days = self.age.days_ceil();
        let by_age = life.days.saturating_sub(age_days);
        let by_hours = self.ran_hours.zip(life.hours).and_then(|(ran, most)| {
            let left = u64::from(most.saturating_sub(ran));
            if left == 0 {
                return Some(0);
            }
            let days = left
                .saturating_mul(u64::from(age_days.max(1)))
                .checked_div(u64::from(ran))?;
            Some(u16::try_from(days).unwrap_or(u16::MAX))
        });
        match by_hours {
            Some(days) if days < by_age => PartDue {
                in_days: days,
                by_hours: true,
            },
            _ => PartDue {
                in_days: by_age,
                by_hours: false,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn due(part: Part, days: u16, ran_hours: Option<u32>) -> (u16, bool) {
        let age = Age::from_days(days);
        let due = PartUse { age, ran_hours }.due(&part.usual());
        (due.in_days, due.by_hours)
    }

    #[test]
    fn by_age_or_by_hours_whichever_is_first() {
        assert_eq!(due(Part::Tube, 100, None), (265, false));
        assert_eq!(due(Part::Tube, 100, Some(0)), (265, false), "it never ran");
        // 400 h in 100 days: the other 100 h take 25.
        assert_eq!(due(Part::Tube, 100, Some(400)), (25, true));
        assert_eq!(due(Part::Tube, 100, Some(500)), (0, true));
        assert_eq!(due(Part::Tube, 366, Some(1)), (0, false));
        assert_eq!(due(Part::PhProbe, 700, Some(9999)), (30, false));
    }

    #[test]
    fn due_on_the_same_day_by_both_it_is_due_by_age() {
        let life = PartLife {
            days: 200,
            hours: Some(200),
        };
        let age = Age::from_days(100);
        let due = |ran| {
            let ran_hours = Some(ran);
            let due = PartUse { age, ran_hours }.due(&life);
            (due.in_days, due.by_hours)
        };
        assert_eq!(due(100), (100, false));
        assert_eq!(due(101), (98, true));
    }
}
