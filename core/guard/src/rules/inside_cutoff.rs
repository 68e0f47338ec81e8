//! `inside_cutoff`: the water is not past the product's cut-off
//!
//! Hazard: H-03, H-04, H-06, H-05
//! Statement: acid only above its cut-off pH, base below; oxidiser only below its cut-off ORP and not below its floor of pH; above `ph_weak` at a reduced share, above `orp_ph` only below a lower ORP
//! Source: US CDC MAHC 6.6.3.1 (imminent hazard below pH 6.5 and above 8.0)
//! Clears: hold; the water is back inside
//! Parameters: body.cutoff, body.cycle_cap, feeder.dose_min

use super::falling::fallen;
use crate::answer::{Answer, Clear};
use crate::limits::Cutoff;
use crate::units::{Dose, Fitted, MilliPh, Millivolts};

/// What the water shows: not fitted, or fitted and perhaps not known.
#[derive(Clone, Copy)]
pub(super) struct Water {
    /// pH, where fitted.
    pub(super) ph: Fitted<Option<MilliPh>>,
    /// ORP, where it governs this feeder and is not waived by fallback.
    pub(super) orp: Fitted<Option<Millivolts>>,
}

/// Holds past the cut-off, and while what it needs is not known. Waived in manual.
pub(super) fn judge(
    waived: bool,
    cutoff: Cutoff,
    water: Water,
    cycle_cap: Dose,
    charged: Dose,
    dose_min: Dose,
) -> Answer {
    if waived {
        return Answer::ALLOW;
    }
    match cutoff {
        Cutoff::AbovePh(limit) => inside(water.ph, |ph| ph > limit),
        Cutoff::BelowPh(limit) => inside(water.ph, |ph| ph < limit),
        Cutoff::Oxidiser {
            orp,
            ph_floor,
            ph_weak,
            weak_share,
            orp_ph,
            orp_fall,
        } => {
            let orp = fallen(orp, water.ph, orp_ph, orp_fall);
            let both =
                inside(water.orp, |seen| seen < orp).and(inside(water.ph, |ph| ph >= ph_floor));
            match water.ph {
                Fitted::Fitted(Some(ph)) if ph > ph_weak && !both.refuses => {
                    let share = cycle_cap.share_floor(weak_share).max(dose_min);
                    both.dose(Dose(share.0.saturating_sub(charged.0)))
                }
                _ => both,
            }
        }
    }
}

fn inside<T: Copy>(seen: Fitted<Option<T>>, holds: impl Fn(T) -> bool) -> Answer {
    match seen {
        Fitted::NotFitted => Answer::ALLOW,
        Fitted::Fitted(None) => Answer::hold(Clear::ProbeTrusted),
        Fitted::Fitted(Some(value)) => Answer::hold_unless(holds(value), Clear::WaterInside),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Percent;

    fn water(ph: Option<i32>, orp: Option<i32>) -> Water {
        Water {
            ph: Fitted::Fitted(ph.map(MilliPh)),
            orp: Fitted::Fitted(orp.map(Millivolts)),
        }
    }

    #[test]
    fn acid_stops_at_its_cut_off_and_base_at_its_own() {
        let at = |cutoff, ph| judge(false, cutoff, water(ph, None), Dose(8), Dose(0), Dose(1));
        let refuses = |cutoff, ph| at(cutoff, ph).refuses;
        assert!(!refuses(Cutoff::AbovePh(MilliPh(7000)), Some(7001)));
        assert!(refuses(Cutoff::AbovePh(MilliPh(7000)), Some(7000)));
        assert!(!refuses(Cutoff::BelowPh(MilliPh(7400)), Some(7399)));
        assert!(refuses(Cutoff::BelowPh(MilliPh(7400)), Some(7400)));
        assert!(refuses(Cutoff::AbovePh(MilliPh(7000)), None));
    }

    #[test]
    fn oxidiser_needs_orp_below_and_ph_not_below_and_weakens_at_high_ph() {
        let cutoff = Cutoff::Oxidiser {
            orp: Millivolts(780),
            ph_floor: MilliPh(6900),
            ph_weak: MilliPh(7800),
            weak_share: Percent(50),
            orp_ph: MilliPh(7500),
            orp_fall: Millivolts(60),
        };
        let after = |ph, orp, charged| {
            let water = water(ph, orp);
            judge(false, cutoff, water, Dose(8), Dose(charged), Dose(1))
        };
        let answer = |ph, orp| after(ph, orp, 0);
        assert_eq!(answer(Some(6900), Some(779)), Answer::ALLOW);
        assert!(answer(Some(6899), Some(779)).refuses);
        assert!(answer(Some(7200), Some(780)).refuses);
        assert!(answer(None, Some(700)).refuses && answer(Some(7200), None).refuses);
        assert_eq!(answer(Some(7800), Some(700)), Answer::ALLOW);
        assert_eq!(answer(Some(7801), Some(700)), Answer::ALLOW.dose(Dose(4)));
        assert!(answer(Some(7801), Some(761)).refuses && !answer(Some(7801), Some(760)).refuses);
        // Slices stay within the share too.
        assert_eq!(after(Some(7801), Some(700), 3), Answer::ALLOW.dose(Dose(1)));
        let (ph, orp) = (Fitted::NotFitted, Fitted::NotFitted);
        let blind = judge(false, cutoff, Water { ph, orp }, Dose(8), Dose(0), Dose(1));
        assert_eq!(blind, Answer::ALLOW);
    }
}
