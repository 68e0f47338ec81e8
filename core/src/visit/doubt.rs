//! Figures of a visit that contradict each other.

use crate::guard::units::{MilliPh, Millivolts};
use crate::probe::{DPD_MAX, KIT_PH, MicrogramsPerL, ORP_MIN, TRIM_CHLORINE_MAX, may_be_bleached};

/// How much less total chlorine may test than free: two readings of one drop's step. Our choice.
const TOTAL_UNDER_FREE: u32 = 500;

/// A question to the person who stands there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Doubt {
    /// Hardly any free chlorine, and an ORP that such water does not have.
    ChlorineBleached,
    /// Free chlorine at or over the end of the colours, sample not diluted.
    ChlorineOverScale,
    /// pH by a dye in water with much chlorine.
    PhDyeMisreads,
    /// pH at the end of the kit's scale.
    PhOffKitScale,
    /// Less total than free chlorine.
    TotalUnderFree,
    /// The wanted chlorine, and an ORP under what a clean probe reads then.
    OrpTooLow,
    /// A drum holds more than at the last reading, and nobody entered a refill.
    DrumRose,
    /// A drum's level is over its size.
    DrumOverSize,
    /// A drum fell while nothing was booked.
    DrumFellUnfed,
    /// A drum stood while feed was booked.
    DrumStoodFed,
    /// Alkalinity rose while acid was fed, and nobody entered what raised it.
    AlkalinityRose,
    /// The ledger's total is less than it was.
    LedgerFell,
}

impl Doubt {
    /// Its name, which stays.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ChlorineBleached => "chlorine_bleached",
            Self::ChlorineOverScale => "chlorine_over_scale",
            Self::PhDyeMisreads => "ph_dye_misreads",
            Self::PhOffKitScale => "ph_off_kit_scale",
            Self::TotalUnderFree => "total_under_free",
            Self::OrpTooLow => "orp_too_low",
            Self::DrumRose => "drum_rose",
            Self::DrumOverSize => "drum_over_size",
            Self::DrumFellUnfed => "drum_fell_unfed",
            Self::DrumStoodFed => "drum_stood_fed",
            Self::AlkalinityRose => "alkalinity_rose",
            Self::LedgerFell => "ledger_fell",
        }
    }

    /// What to do now to know which of the two is wrong.
    #[must_use]
    pub const fn ask(self) -> &'static str {
        match self {
            Self::ChlorineBleached => {
                "DPD bleaches above about 8 mg/L and then reads nothing: dilute the sample (1 part to 4 of \
                 water without chlorine) and test again before any chlorine is added; nobody bathes until then"
            }
            Self::ChlorineOverScale => {
                "the colours end at about 5 mg/L: dilute the sample and test again"
            }
            Self::PhDyeMisreads => {
                "over 5 mg/L of chlorine the pH dye misreads: take the chlorine out of the sample as the kit \
                 says, or hold the probe into two buffers, and add no acid or base by this figure"
            }
            Self::PhOffKitScale => {
                "the water may be anywhere beyond the scale: read the probe after a check in a buffer"
            }
            Self::TotalUnderFree => {
                "total chlorine holds the free: rinse the cell, take fresh reagents and test both again"
            }
            Self::OrpTooLow => {
                "clean the ORP probe and check it in a reference solution; look at pH and cyanuric acid too"
            }
            Self::DrumRose => {
                "was it filled up or changed, with what and how strong, and what did it hold before? Read it again"
            }
            Self::DrumOverSize => {
                "read the level again; is the drum another one than the site file says?"
            }
            Self::DrumFellUnfed => {
                "look for a leak, for a siphon through the injection valve, and for product taken out by hand"
            }
            Self::DrumStoodFed => {
                "does the pump draw? Look for air in the suction line, a worn tube, a closed valve; make a catch test"
            }
            Self::AlkalinityRose => {
                "was bicarbonate or soda added, or water filled in? Is there new plaster? Else test alkalinity again, \
                 and look whether acid arrives at all"
            }
            Self::LedgerFell => {
                "was the controller replaced or its record lost? What it fed before is not known: read the drum"
            }
        }
    }
}

/// What was found of the water on one visit. Set what is known by update syntax.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct WaterSeen {
    /// Free chlorine that is wanted.
    pub wanted: MicrogramsPerL,
    /// Free chlorine by DPD.
    pub chlorine: Option<MicrogramsPerL>,
    /// Total chlorine by DPD.
    pub total_chlorine: Option<MicrogramsPerL>,
    /// The sample was diluted.
    pub diluted: bool,
    /// pH by a kit.
    pub ph: Option<MilliPh>,
    /// What the ORP probe shows.
    pub orp: Option<Millivolts>,
    /// What the ledger says was fed in the last day, as chlorine in the whole water.
    pub fed_last_day: Option<MicrogramsPerL>,
}

impl WaterSeen {
    /// Nothing was found yet.
    #[must_use]
    pub const fn of(wanted: MicrogramsPerL) -> Self {
        Self {
            wanted,
            chlorine: None,
            total_chlorine: None,
            diluted: false,
            ph: None,
            orp: None,
            fed_last_day: None,
        }
    }

    /// Questions, the gravest first.
    pub fn doubts(&self) -> impl Iterator<Item = Doubt> {
        let undiluted = self.chlorine.filter(|_| !self.diluted);
        let bleached = undiluted.zip(self.orp).is_some_and(|(chlorine, orp)| {
            may_be_bleached(chlorine, orp, self.fed_last_day, self.wanted)
        });
        let over = undiluted.is_some_and(|chlorine| chlorine >= DPD_MAX);
        let dye = self.ph.is_some() && self.chlorine.is_some_and(|it| it > TRIM_CHLORINE_MAX);
        let off_scale = self.ph.is_some_and(|ph| ph <= KIT_PH.0 || ph >= KIT_PH.1);
        let under = self
            .chlorine
            .zip(self.total_chlorine)
            .is_some_and(|(free, total)| total.0.saturating_add(TOTAL_UNDER_FREE) < free.0);
        let low = self.chlorine.zip(self.orp).is_some_and(|(chlorine, orp)| {
            chlorine.0 >= self.wanted.0 / 2 && chlorine.0 > 0 && orp < ORP_MIN
        });
        let all = [
            (bleached, Doubt::ChlorineBleached),
            (over, Doubt::ChlorineOverScale),
            (dye, Doubt::PhDyeMisreads),
            (off_scale, Doubt::PhOffKitScale),
            (under, Doubt::TotalUnderFree),
            (low, Doubt::OrpTooLow),
        ];
        let those = all.into_iter().filter(|(stands, _)| *stands);
        those.map(|(_, doubt)| doubt)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    const SOUND: WaterSeen = WaterSeen {
        chlorine: Some(MicrogramsPerL(2000)),
        total_chlorine: Some(MicrogramsPerL(2200)),
        ph: Some(MilliPh(7500)),
        orp: Some(Millivolts(700)),
        fed_last_day: Some(MicrogramsPerL(2500)),
        ..WaterSeen::of(MicrogramsPerL(2000))
    };

    fn doubts(change: impl Fn(&mut WaterSeen)) -> Vec<Doubt> {
        let mut seen = SOUND;
        change(&mut seen);
        seen.doubts().collect()
    }

    #[test]
    fn sound_water_and_no_tests_at_all_raise_no_question() {
        assert_eq!(doubts(|_| ()), []);
        assert_eq!(WaterSeen::of(MicrogramsPerL(2000)).doubts().count(), 0);
    }

    #[test]
    fn hardly_any_chlorine_at_a_high_orp_is_asked_about_until_the_sample_was_diluted() {
        let at = |chlorine, orp, fed, diluted| {
            let seen = doubts(|seen| {
                seen.chlorine = Some(MicrogramsPerL(chlorine));
                seen.total_chlorine = None;
                seen.orp = Some(Millivolts(orp));
                seen.fed_last_day = Some(MicrogramsPerL(fed));
                seen.diluted = diluted;
            });
            seen.contains(&Doubt::ChlorineBleached)
        };
        assert!(at(200, 800, 0, false) && !at(200, 800, 0, true));
        assert!(at(999, 750, 0, false) && !at(1000, 750, 0, false) && !at(999, 749, 0, false));
        // So much was fed that it could bleach.
        assert!(at(200, 650, 8000, false) && !at(200, 650, 7999, false));
    }

    #[test]
    fn each_question_at_both_sides_of_its_bound() {
        let with = |change: fn(&mut WaterSeen, u32), value| doubts(|seen| change(seen, value));
        let chlorine: fn(&mut WaterSeen, u32) = |seen, value| {
            seen.chlorine = Some(MicrogramsPerL(value));
            seen.total_chlorine = None;
            seen.ph = None;
        };
        assert_eq!(with(chlorine, 4999), []);
        assert_eq!(with(chlorine, 5000), [Doubt::ChlorineOverScale]);
        let dye: fn(&mut WaterSeen, u32) = |seen, value| {
            seen.chlorine = Some(MicrogramsPerL(value));
            seen.total_chlorine = None;
            seen.diluted = true;
        };
        assert_eq!(with(dye, 5000), []);
        assert_eq!(with(dye, 5001), [Doubt::PhDyeMisreads]);
        let total: fn(&mut WaterSeen, u32) =
            |seen, value| seen.total_chlorine = Some(MicrogramsPerL(value));
        assert_eq!(with(total, 1500), []);
        assert_eq!(with(total, 1499), [Doubt::TotalUnderFree]);
        for (ph, is) in [(6800, true), (6801, false), (8199, false), (8200, true)] {
            let found = doubts(|seen| seen.ph = Some(MilliPh(ph)));
            assert_eq!(found.contains(&Doubt::PhOffKitScale), is, "{ph}");
        }
        for (orp, is) in [(499, true), (500, false)] {
            let found = doubts(|seen| seen.orp = Some(Millivolts(orp)));
            assert_eq!(found.contains(&Doubt::OrpTooLow), is, "{orp}");
        }
    }

    #[test]
    fn a_low_orp_is_asked_about_from_half_of_the_wanted_chlorine_on_and_never_in_water_without_any()
    {
        let low = |wanted, chlorine| {
            let seen = WaterSeen {
                chlorine: Some(MicrogramsPerL(chlorine)),
                orp: Some(Millivolts(499)),
                ..WaterSeen::of(MicrogramsPerL(wanted))
            };
            seen.doubts().any(|doubt| doubt == Doubt::OrpTooLow)
        };
        assert!(low(2000, 1000) && !low(2000, 999));
        assert!(low(1, 1) && !low(1, 0) && !low(0, 0));
    }
}
