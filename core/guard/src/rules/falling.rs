//! An ORP cut-off that is lower where the pH is high.

use crate::units::{Fitted, MilliPh, Millivolts};

/// By so many mV lower for each pH above `from`, a part of a mV counted as one. Where no pH is fitted, or none is known, it
/// does not fall: the rule refuses without a pH by itself.
pub(super) fn fallen(
    orp: Millivolts,
    ph: Fitted<Option<MilliPh>>,
    from: MilliPh,
    per_ph: Millivolts,
) -> Millivolts {
    let Fitted::Fitted(Some(ph)) = ph else {
        return orp;
    };
    let above = ph.0.saturating_sub(from.0).max(0);
    let fall = above.saturating_mul(per_ph.0).saturating_add(999);
    Millivolts(orp.0.saturating_sub(fall.div_euclid(1000)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_off_falls_above_its_ph_and_a_part_of_a_mv_counts_as_one() {
        let at = |ph| {
            let ph = Fitted::Fitted(Some(MilliPh(ph)));
            fallen(Millivolts(780), ph, MilliPh(7800), Millivolts(60)).0
        };
        assert_eq!((at(6000), at(7800)), (780, 780));
        assert_eq!((at(7801), at(7816), at(7817)), (779, 779, 778));
        assert_eq!((at(8800), at(14_000)), (720, 408));
    }

    #[test]
    fn without_a_ph_or_a_fall_it_stays() {
        let (orp, from) = (Millivolts(780), MilliPh(7500));
        for ph in [Fitted::NotFitted, Fitted::Fitted(None)] {
            assert_eq!(fallen(orp, ph, from, Millivolts(60)), orp);
        }
        let high = Fitted::Fitted(Some(MilliPh(9000)));
        assert_eq!(fallen(orp, high, from, Millivolts(0)), orp);
    }
}
