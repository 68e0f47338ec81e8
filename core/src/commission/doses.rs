//! Caps of acid, from the water as it will be at its weakest.

use super::CommissionError;
use crate::guard::units::{Dose, MilliPh};
use crate::water::{AcidStrength, Balance, WaterError, WaterTest};

/// Under this pH no cap may lead, whatever is wanted: water under it is an imminent hazard (US CDC
/// Model Aquatic Health Code 6.6.3.1).
const PH_FLOOR_MIN: MilliPh = MilliPh(6500);

/// What acid is to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AcidWants {
    /// Volume, L, rounded down.
    pub volume_l: u32,
    /// The acid.
    pub acid: AcidStrength,
    /// pH that is wanted.
    pub set_point: MilliPh,
    /// pH under which none is fed.
    pub cutoff: MilliPh,
    /// Where a whole day's cap at once, from the cut-off, ends: 6800 unless the site says otherwise,
    /// never under 6500.
    pub floor: MilliPh,
    /// What an hour may move, thousandths of pH: 200, a spa 400.
    pub hour_milli_ph: u16,
}

/// Doses and caps of acid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AcidPlan {
    /// Moves pH by 0.1, down to the set point: a cycle.
    pub cycle: Dose,
    /// An hour's cap.
    pub hour: Dose,
    /// A day's cap: all of it at once, from the cut-off, ends at the floor.
    pub day: Dose,
}

/// Caps for a water as it was tested but for its alkalinity, which is taken at the lowest that it
/// will have before the next test. An hour is never more than a day.
///
/// # Errors
/// [`AcidPlanError::Water`] if there is no such water, else [`CommissionError::NoRoom`]: set point,
/// cut-off and floor do not fall in this order, the floor is under 6.5, or a dose rounds down to
/// nothing.
pub fn acid_plan(
    test: &WaterTest,
    lowest_alkalinity_mg_l: u32,
    wants: &AcidWants,
) -> Result<AcidPlan, AcidPlanError> {
    let at = |ph: MilliPh| {
        Balance::try_new(&WaterTest {
            ph,
            alkalinity_mg_l: lowest_alkalinity_mg_l,
            ..*test
        })
    };
    let room = Err(AcidPlanError::Commission(CommissionError::NoRoom));
    if wants.cutoff <= wants.floor || wants.floor < PH_FLOOR_MIN || wants.set_point <= wants.cutoff
    {
        return room;
    }
    let dose = |from: MilliPh, to: MilliPh| -> Result<Option<Dose>, AcidPlanError> {
        let per_m3 = at(from)?.acid_ul_per_m3_floor(to, wants.acid);
        Ok(per_m3.and_then(|ul| {
            let all = u64::from(ul).saturating_mul(u64::from(wants.volume_l));
            u32::try_from(all.div_euclid(1000)).ok().map(Dose)
        }))
    };
    let above = |milli: i32| MilliPh(wants.set_point.0.saturating_add(milli));
    let cycle = dose(above(100), wants.set_point)?;
    let hour = dose(above(i32::from(wants.hour_milli_ph)), wants.set_point)?;
    let day = dose(wants.cutoff, wants.floor)?;
    match (cycle, hour, day) {
        (Some(cycle), Some(hour), Some(day)) if cycle.0 > 0 && hour.0 > 0 && day.0 > 0 => {
            Ok(AcidPlan {
                cycle: cycle.min(hour).min(day),
                hour: hour.min(day),
                day,
            })
        }
        _ => room,
    }
}

/// Why there is no plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AcidPlanError {
    /// The water test is of no water.
    Water(WaterError),
    /// What is wanted does not fit.
    Commission(CommissionError),
}

impl From<WaterError> for AcidPlanError {
    fn from(error: WaterError) -> Self {
        Self::Water(error)
    }
}

impl core::fmt::Display for AcidPlanError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Water(error) => error.fmt(f),
            Self::Commission(error) => error.fmt(f),
        }
    }
}

impl core::error::Error for AcidPlanError {}

#[cfg(test)]
mod tests {
    use super::*;

    const WANTS: AcidWants = AcidWants {
        volume_l: 37_854,
        acid: AcidStrength { meq_per_l: 9971 },
        set_point: MilliPh(7500),
        cutoff: MilliPh(7200),
        floor: MilliPh(6800),
        hour_milli_ph: 200,
    };

    fn test() -> WaterTest {
        WaterTest::of(2500, 100, 300, 1000)
    }

    #[test]
    fn a_day_at_once_ends_at_the_floor() {
        // PHREEQC (computed): 7.2 to 6.8 at TA 60 is 17 mL of 31.45 % a m3.
        let plan = acid_plan(&test(), 60, &WANTS).unwrap();
        let ml_m3 = f64::from(plan.day.0) / 37_854.0;
        assert!((ml_m3 - 17.0).abs() < 0.7, "{ml_m3}");
        let left = Balance::try_new(&WaterTest {
            ph: MilliPh(7200),
            alkalinity_mg_l: 60,
            ..test()
        })
        .unwrap();
        let end = left.ph_after_acid(plan.day.0 / 38, WANTS.acid);
        assert!((6795..=6810).contains(&end.0), "{end:?}");
    }

    #[test]
    fn a_cycle_is_a_tenth() {
        // Common practice, no source: 3 US fl oz of 31.45 % move 10,000 US gal at 7.6 and TA 100 by
        // about 0.1.
        let plan = acid_plan(&test(), 100, &WANTS).unwrap();
        let fl_oz = f64::from(plan.cycle.0) / 29_573.5;
        assert!((2.2..3.6).contains(&fl_oz), "{fl_oz}");
        assert!(plan.cycle < plan.hour && plan.hour < plan.day, "{plan:?}");
    }

    #[test]
    fn weaker_water_gets_less() {
        let day = |alkalinity| acid_plan(&test(), alkalinity, &WANTS).unwrap().day;
        assert!(day(60) < day(80) && day(80) < day(120));
    }

    #[test]
    fn what_does_not_fit_is_refused() {
        let none = Err(AcidPlanError::Commission(CommissionError::NoRoom));
        let with = |change: fn(&mut AcidWants)| {
            let mut wants = WANTS;
            change(&mut wants);
            acid_plan(&test(), 80, &wants)
        };
        assert_eq!(with(|w| w.floor = MilliPh(6499)), none);
        assert_eq!(with(|w| w.floor = MilliPh(7200)), none);
        assert_eq!(with(|w| w.cutoff = MilliPh(7500)), none);
        assert_eq!(with(|w| w.volume_l = 0), none);
        assert_eq!(with(|w| w.acid.meq_per_l = 0), none);
        // The floor itself may be 6.5.
        assert!(with(|w| w.floor = MilliPh(6500)).is_ok());
        // Any of the three that rounds down to nothing: an hour's, a day's, a cycle's.
        assert_eq!(with(|w| w.hour_milli_ph = 0), none);
        let bucket = |hour_milli_ph, floor| {
            let wants = AcidWants {
                volume_l: 2,
                hour_milli_ph,
                floor: MilliPh(floor),
                acid: AcidStrength { meq_per_l: 20_000 },
                ..WANTS
            };
            acid_plan(&test(), 80, &wants)
        };
        assert!(bucket(200, 6800).is_ok());
        assert_eq!(bucket(200, 7199), none);
        assert_eq!(bucket(1, 6800), none);
        let thimble = |volume_l| AcidWants {
            volume_l,
            hour_milli_ph: 400,
            acid: AcidStrength { meq_per_l: 90_000 },
            ..WANTS
        };
        let least = (1..2000).find_map(|volume_l| acid_plan(&test(), 80, &thimble(volume_l)).ok());
        let least = least.unwrap();
        assert_eq!(least.cycle, Dose(1), "none is of no cycle: {least:?}");
        assert_eq!(
            acid_plan(&test(), 501, &WANTS),
            Err(AcidPlanError::Water(WaterError::Alkalinity))
        );
    }
}
