//! Limits of the checks on one electrode's potential.

use crate::guard::units::{Fitted, Millis, Millivolts};
use crate::probe::raw::Microvolts;

/// A reading that stands still altogether.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FlatCheck {
    /// All samples within this: 1 to 1000 uV. More than one count of the converter, and well less
    /// than the probe's noise in calm water, which is what tells a live probe from a stuck one.
    pub within: Microvolts,
    /// For this long, 1 min to 24 h.
    pub after: Millis,
    /// So near 0 mV it is a short and not a stuck input, 0 to 5000 uV.
    pub short_within: Microvolts,
    /// Then for this long, 10 s to `after`.
    pub short_after: Millis,
}

/// Limits of the checks on one electrode, as somebody writes them down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ConditionSpec {
    /// Least potential that such an electrode has, -2000 to 2000 mV.
    pub low: Millivolts,
    /// Greatest, -2000 to 2000 mV.
    pub high: Millivolts,
    /// Oldest sample that counts, 1 to 60 s: `probe_age_max` of the guard's limits.
    pub age_max: Millis,
    /// Time constant of the filter, 1 to 60 s. It adds as much to the delay of a slow change.
    pub filter: Millis,
    /// Further from the filtered value than this is no water, but a jump: 5 to 500 mV.
    pub jump: Millivolts,
    /// So long a jump is taken for a spike and kept out; then it is real: 1 s to `age_max`, since
    /// the value gets old meanwhile.
    pub jump_after: Millis,
    /// Mean change from sample to sample that is too much, 100 to 50,000 uV.
    pub noise: Microvolts,
    /// Check for a reading that stands still. Not fitted where steps of the converter hide the
    /// probe's noise, as with a probe that sends 0.01 pH.
    pub flat: Fitted<FlatCheck>,
    /// The board checks the lead (see the front end); else an open lead may pass for water.
    pub lead: Fitted<()>,
}

impl ConditionSpec {
    /// A glass electrode at a converter of at most 65 uV a count, a sample every 0.2 to 5 s.
    /// Figures are our choice; the noise and delays they lead to are measured in the project's
    /// tests.
    pub const PH: Self = Self {
        low: Millivolts(-500),
        high: Millivolts(500),
        age_max: Millis(10_000),
        filter: Millis(10_000),
        jump: Millivolts(20), // 0.34 pH
        jump_after: Millis(5000),
        noise: Microvolts(3000), // 0.05 pH
        flat: Fitted::Fitted(FlatCheck {
            within: Microvolts(130),
            after: Millis::from_mins(10),
            short_within: Microvolts(2000),
            short_after: Millis::from_secs(60),
        }),
        lead: Fitted::YES,
    };

    /// A platinum electrode at such a converter.
    pub const ORP: Self = Self {
        low: Millivolts(100),
        high: Millivolts(1100),
        jump: Millivolts(60),
        noise: Microvolts(8000),
        ..Self::PH
    };
}

/// What is wrong with a specification: field, value and what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ConditionError {
    /// Field.
    pub field: &'static str,
    /// Its value.
    pub value: i32,
    /// Least that is right.
    pub min: i32,
    /// Most that is right.
    pub max: i32,
}

impl core::fmt::Display for ConditionError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self {
            field,
            value,
            min,
            max,
        } = self;
        write!(f, "{field} is {value}; right is {min} to {max}")
    }
}

impl core::error::Error for ConditionError {}

/// A [`ConditionSpec`] whose relations hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ConditionLimits(ConditionSpec);

/// Milliseconds as a signed figure; what does not fit is far out of range.
const fn ms(value: Millis) -> i32 {
    let [a, b, c, d] = value.0.to_le_bytes();
    if d > 0x7F {
        i32::MAX
    } else {
        i32::from_le_bytes([a, b, c, d])
    }
}

impl ConditionLimits {
    /// Checks every relation.
    ///
    /// # Errors
    /// The first that is broken.
    pub const fn try_new(spec: ConditionSpec) -> Result<Self, ConditionError> {
        let age_max = ms(spec.age_max);
        let rows: [(&'static str, i32, i32, i32); 7] = [
            ("low", spec.low.0, -2000, 2000),
            ("high", spec.high.0, spec.low.0.saturating_add(1), 2000),
            ("age_max", age_max, 1000, 60_000),
            ("filter", ms(spec.filter), 1000, 60_000),
            ("jump", spec.jump.0, 5, 500),
            ("jump_after", ms(spec.jump_after), 1000, age_max),
            ("noise", spec.noise.0, 100, 50_000),
        ];
        if let Err(error) = all_in_range(&rows) {
            return Err(error);
        }
        if let Fitted::Fitted(flat) = spec.flat {
            let after = ms(flat.after);
            let rows: [(&'static str, i32, i32, i32); 4] = [
                ("flat.within", flat.within.0, 1, 1000),
                ("flat.after", after, 60_000, 86_400_000),
                ("flat.short_within", flat.short_within.0, 0, 5000),
                ("flat.short_after", ms(flat.short_after), 10_000, after),
            ];
            if let Err(error) = all_in_range(&rows) {
                return Err(error);
            }
        }
        Ok(Self(spec))
    }

    /// What it was made from.
    #[must_use]
    pub const fn spec(&self) -> &ConditionSpec {
        &self.0
    }
}

const fn all_in_range(mut rows: &[(&'static str, i32, i32, i32)]) -> Result<(), ConditionError> {
    while let Some((&(field, value, min, max), rest)) = rows.split_first() {
        if value < min || value > max {
            return Err(ConditionError {
                field,
                value,
                min,
                max,
            });
        }
        rows = rest;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const _: () = assert!(ConditionLimits::try_new(ConditionSpec::PH).is_ok());
    const _: () = assert!(ConditionLimits::try_new(ConditionSpec::ORP).is_ok());

    #[test]
    fn each_broken_relation_is_named() {
        let field = |change: fn(&mut ConditionSpec)| {
            let mut spec = ConditionSpec::PH;
            change(&mut spec);
            ConditionLimits::try_new(spec).map_err(|e| e.field)
        };
        assert_eq!(field(|s| s.low.0 = -2001), Err("low"));
        assert_eq!(field(|s| s.high.0 = -500), Err("high"));
        assert_eq!(field(|s| s.age_max.0 = u32::MAX), Err("age_max"));
        assert_eq!(field(|s| s.filter.0 = 999), Err("filter"));
        assert_eq!(field(|s| s.jump.0 = 4), Err("jump"));
        assert_eq!(field(|s| s.jump_after.0 = 10_001), Err("jump_after"));
        assert_eq!(field(|s| s.noise.0 = 0), Err("noise"));
        // The ends of a range are in it.
        assert_eq!(field(|s| s.low.0 = -2000).err(), None);
        assert_eq!(field(|s| s.high.0 = 2000).err(), None);
        // A time past any that a signed figure holds is shown as the greatest.
        let shown = |age_max| {
            let spec = ConditionSpec {
                age_max: Millis(age_max),
                ..ConditionSpec::PH
            };
            ConditionLimits::try_new(spec).map_err(|e| e.value).err()
        };
        let times = [0x7F00_0000, 0x8000_0000, u32::MAX];
        assert_eq!(
            times.map(shown),
            [Some(0x7F00_0000), Some(i32::MAX), Some(i32::MAX)]
        );
        let flat = |change: fn(&mut FlatCheck)| {
            let Fitted::Fitted(mut check) = ConditionSpec::PH.flat else {
                panic!("fitted");
            };
            change(&mut check);
            let flat = Fitted::Fitted(check);
            let spec = ConditionSpec {
                flat,
                ..ConditionSpec::PH
            };
            ConditionLimits::try_new(spec).map_err(|e| e.field)
        };
        assert_eq!(flat(|f| f.within.0 = 0), Err("flat.within"));
        assert_eq!(flat(|f| f.after.0 = 1), Err("flat.after"));
        assert_eq!(flat(|f| f.short_within.0 = 5001), Err("flat.short_within"));
        assert_eq!(flat(|f| f.short_after.0 = 600_001), Err("flat.short_after"));
    }
}
