//! How far a dose moves this water, as commissioned.

use core::num::Saturating;

use super::line::{Whole, over, up, whole};
use crate::guard::units::{Dose, Fitted, Millis};

/// Bits after the point of what a microlitre of hypochlorite raises.
pub(super) const RAISES_BITS: u32 = 30;
/// 1.05 L, in uL: what it raises is exact enough.
const LITRE_BITS: u32 = 20;

/// How far a dose moves this water, as commissioned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct ExpectedResponse {
    /// The feeder whose answers are followed, of acid or base.
    pub feeder: u8,
    /// This much of its product ...
    pub dose: Dose,
    /// ... moves pH by this, pH x 1000, 1 to 2000: from alkalinity, cyanurate and borate.
    pub moves: u16,
    /// At this pH x 1000, 6100 to 8900; best the set point.
    pub at: u16,
    /// How much further it moves pH for each tenth that the water is higher, 0 to 25 %. With
    /// carbonate alone `[H] / (K1 + [H])` gives 19 to 22 % from pH 7 to 8; cyanurate and borate, which
    /// buffer at higher pH, take from that.
    pub more_per_tenth_percent: u8,
    /// How well `moves` is known, a standard deviation, 5 to 40 %. Over 20 % it widens the bounds
    /// beyond which a rate is called wrong.
    pub error_percent: u8,
    /// From the end of a dose until the probe shows all of it, 60 to 7200 s of flowing time.
    pub settle_s: u16,
    /// This much hypochlorite, fed meanwhile, ...
    pub other_dose: Dose,
    /// ... raises pH by this there, pH x 1000, 0 to 2000; 0: none is fed, or it is not known.
    pub other_raises: u16,
    /// Whether regulators may size doses by what was learned and by tests of the water.
    pub learns: bool,
    /// The water of which all this is true, so that a test which finds another one changes what is
    /// expected (with the feature `water`). Not fitted: whoever enters a test sets other settings, or
    /// takes the error.
    pub water: Fitted<BufferingWater>,
}

/// What buffers the water, as a test finds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct BufferingWater {
    /// Total alkalinity, mg/L as CaCO3, 10 to 500; cyanurate and borate are in it.
    pub alkalinity_mg_l: u16,
    /// Cyanuric acid, mg/L, 0 to 300.
    pub cyanuric_acid_mg_l: u16,
    /// Borate, mg/L as boron, 0 to 100.
    pub borate_mg_l: u16,
    /// Total dissolved solids, mg/L, 0 to 10,000. No test changes it.
    pub tds_mg_l: u16,
    /// Degrees Celsius, 0 to 45. Where a sensor says how warm the water is
    /// ([`Care::temperature`](crate::Care::temperature)), that counts in what is expected.
    pub temperature_c: u8,
}

impl ExpectedResponse {
    pub(super) fn settle(&self) -> Millis {
        Millis(u32::from(self.settle_s).saturating_mul(1000))
    }

    /// How far so much moves pH at `ph` (x 1000), pH x 1e6, by `step_milli` thousandths of what was
    /// commissioned.
    pub(super) fn of_fed(&self, fed: Dose, ph: Whole, step_milli: u16) -> Whole {
        self.at_ph(moved(fed, self.dose, self.moves, step_milli), ph)
    }

    /// By how much hypochlorite raises `ph` (x 1000): pH x 1000 a uL x 2^[`RAISES_BITS`]. Saturates at
    /// 0.004 a uL, which a cup of water would show.
    pub(super) fn raises(&self, ph: Whole, step_milli: u16) -> u32 {
        let litre = Dose(1 << LITRE_BITS);
        let raised = moved(litre, self.other_dose, self.other_raises, step_milli);
        let a_litre = up(self.at_ph(raised, ph), RAISES_BITS - LITRE_BITS);
        u32::try_from(over(a_litre, Saturating(1000)).0).unwrap_or(u32::MAX)
    }

    /// A step at the pH of the settings, taken to `ph`.
    fn at_ph(&self, wanted: Whole, ph: Whole) -> Whole {
        // exp(x) as (1 + x/2) / (1 - x/2), which is right to 2 % for x up to 0.6; x/2 in 1/2,000.
        let off = ph - whole(i32::from(self.at));
        let half = over(
            off * whole(i32::from(self.more_per_tenth_percent)),
            Saturating(10),
        );
        let half = half.clamp(whole(-1400), whole(1400));
        let (more, less) = (whole(2000) + half, whole(2000) - half);
        over(wanted * more, less)
    }
}

/// In pH x 1e6, in proportion.
fn moved(fed: Dose, dose: Dose, moves: u16, step_milli: u16) -> Whole {
    if fed.0 == 0 || moves == 0 {
        return Saturating(0);
    }
    let full = Saturating(i64::from(moves)) * Saturating(i64::from(step_milli));
    over(
        full * Saturating(i64::from(fed.0)),
        Saturating(i64::from(dose.0)),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_no_dose_and_of_one_that_moves_nothing_no_answer_is_expected() {
        let (none, full) = (Dose(0), Dose::from_ml(100));
        assert_eq!(moved(none, none, 100, 1000), Saturating(0));
        assert_eq!(moved(full, none, 0, 1000), Saturating(0));
        // 50 mL where 100 mL move 0.1: 0.05, in pH x 1e6.
        let half = moved(Dose::from_ml(50), full, 100, 1000);
        assert_eq!(half, Saturating(50_000));
    }
}
