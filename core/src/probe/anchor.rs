//! The set point of an ORP probe is anchored to chlorine: to the reading at which a DPD test found
//! the wanted free chlorine. ORP is a relation, not a measurement of chlorine: it holds for one pH,
//! cyanurate and temperature, and is due again when one of them has moved.

use super::age::Age;
use super::conditioned::Conditioned;
use super::units::{CentiCelsius, MicrogramsPerL};
use crate::guard::units::{ClockSeconds, MilliPh, Millivolts};

/// DPD's colour ends at this; over it a test is diluted (common practice, no source).
pub const DPD_MAX: MicrogramsPerL = MicrogramsPerL(5000);
/// Chlorine from which the dye may be bleached, so that the test reads low (common practice, no
/// source).
pub const DPD_BLEACHES: MicrogramsPerL = MicrogramsPerL(8000);
/// A test under this is doubted when ORP or ledger speak against it. Our choice: half of the least
/// that codes ask for, or of what is wanted, whichever is more.
pub const DOUBT_UNDER: MicrogramsPerL = MicrogramsPerL(500);
/// With so little chlorine no water has this ORP. Our choice; 650 mV is the least that codes ask
/// for.
pub const DOUBT_ORP: Millivolts = Millivolts(750);
/// As [`DOUBT_ORP`], where the ledger says that the last day's feed could bleach. Our choice.
pub const DOUBT_ORP_AFTER_FEED: Millivolts = Millivolts(650);
/// Above the last anchor by so much, at less than half of its chlorine: one of the two is wrong.
/// Our choice.
pub const DOUBT_OVER_ANCHOR: Millivolts = Millivolts(40);
/// With the wanted chlorine a clean probe does not read less than this. Our choice.
pub const ORP_MIN: Millivolts = Millivolts(500);
/// pH at which an anchor may be set. Our choice, the codes' range.
pub const ANCHOR_PH: (MilliPh, MilliPh) = (MilliPh(7200), MilliPh(7800));
/// An anchor is due again when pH is this far from what it was. Our choice: at 7.5, 0.3 changes
/// the share of hypochlorous acid by about a third.
pub const PH_MOVED: MilliPh = MilliPh(300);
/// The same for cyanurate. Our choice.
pub const CYANURATE_MOVED: MicrogramsPerL = MicrogramsPerL(15_000);
/// The same for temperature, hundredths of a degree. Our choice.
pub const TEMPERATURE_MOVED: u32 = 800;

/// What a person found in the water, in one visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ChlorineTest {
    /// Free chlorine by DPD, the dilution taken into account.
    pub chlorine: MicrogramsPerL,
    /// Whether the sample was diluted.
    pub diluted: bool,
    /// pH by kit or calibrated probe.
    pub ph: MilliPh,
    /// Cyanurate; 0 where there is none.
    pub cyanurate: MicrogramsPerL,
    /// Of the water.
    pub temperature: CentiCelsius,
    /// By a trusted clock, if there is one.
    pub at: Option<ClockSeconds>,
}

/// What else is known at that moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Beside {
    /// The ORP probe.
    pub orp: Conditioned<Millivolts>,
    /// What the ledger says was fed in the last day, as chlorine in the whole water.
    pub fed_last_day: Option<MicrogramsPerL>,
    /// Free chlorine that is wanted.
    pub wanted: MicrogramsPerL,
}

/// Why an anchor was refused. The last one stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AnchorRefused {
    /// The probe has to be Normal: clean, checked, young.
    ProbeNotTrusted,
    /// The test reads low while ORP, ledger or the last anchor say that there is chlorine: the dye
    /// may be bleached. Test again with the sample diluted.
    MayBeBleached {
        /// By the test.
        chlorine: MicrogramsPerL,
        /// By the probe.
        orp: Millivolts,
    },
    /// At or over the end of the colours. Test again with the sample diluted.
    OverScale(MicrogramsPerL),
    /// The water does not have the wanted chlorine: bring it there first, by hand.
    NotWanted {
        /// By the test.
        found: MicrogramsPerL,
        /// Wanted.
        wanted: MicrogramsPerL,
    },
    /// pH is outside [`ANCHOR_PH`].
    Ph(MilliPh),
    /// The test finds chlorine and the probe does not: clean it and check it in a solution.
    ProbeReadsLow(Millivolts),
}

impl core::fmt::Display for AnchorRefused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::ProbeNotTrusted => f.write_str("the ORP probe has to be in order first"),
            Self::MayBeBleached { chlorine, orp } => write!(
                f,
                "{chlorine} does not go with {} mV: much chlorine bleaches the dye; test again \
                 with the sample diluted",
                orp.0
            ),
            Self::OverScale(found) => write!(
                f,
                "{found} is past the test's scale; test again with the sample diluted"
            ),
            Self::NotWanted { found, wanted } => write!(
                f,
                "free chlorine is {found}, and {wanted} is wanted: bring the water there first"
            ),
            Self::Ph(ph) => write!(f, "pH is {} thousandths; right is 7200 to 7800", ph.0),
            Self::ProbeReadsLow(orp) => write!(
                f,
                "the test finds chlorine and the probe reads {} mV: clean it, and check it in a \
                 reference solution",
                orp.0
            ),
        }
    }
}

impl core::error::Error for AnchorRefused {}

/// Why an anchor is due again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AnchorDue {
    /// It is old.
    Age,
    /// pH is elsewhere.
    PhMoved,
    /// Cyanurate is elsewhere.
    CyanurateMoved,
    /// Temperature is elsewhere.
    TemperatureMoved,
}

/// The reading at which the water had the wanted chlorine, and in which water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Anchor {
    /// The reading: the set point.
    pub orp: Millivolts,
    /// What was found.
    pub test: ChlorineTest,
    /// How long ago.
    pub age: Age,
}

impl Anchor {
    /// A set point from a test and the reading beside it.
    ///
    /// # Errors
    /// If the probe is not in order, the test contradicts it or the ledger, or the water is not
    /// where it should be. [`AnchorRefused::MayBeBleached`] goes away with a diluted test.
    pub fn take(
        test: ChlorineTest,
        beside: &Beside,
        last: Option<&Self>,
    ) -> Result<Self, AnchorRefused> {
        let orp = beside.orp.trusted().ok_or(AnchorRefused::ProbeNotTrusted)?;
        if !test.diluted {
            if test.chlorine >= DPD_MAX {
                return Err(AnchorRefused::OverScale(test.chlorine));
            }
            if speaks_against(test, orp, beside, last) {
                return Err(AnchorRefused::MayBeBleached {
                    chlorine: test.chlorine,
                    orp,
                });
            }
        }
        // A kit's step at these figures: a quarter of what is wanted, half a mg/L at least.
        let within = (beside.wanted.0 / 4).max(500);
        if test.chlorine.0.abs_diff(beside.wanted.0) > within {
            return Err(AnchorRefused::NotWanted {
                found: test.chlorine,
                wanted: beside.wanted,
            });
        }
        if test.ph < ANCHOR_PH.0 || test.ph > ANCHOR_PH.1 {
            return Err(AnchorRefused::Ph(test.ph));
        }
        if orp < ORP_MIN {
            return Err(AnchorRefused::ProbeReadsLow(orp));
        }
        Ok(Self {
            orp,
            test,
            age: Age::NEW,
        })
    }

    /// Why it is due again, if it is. `None` for what nobody measured: it is not judged.
    #[must_use]
    pub fn due(
        &self,
        days_max: u16,
        ph: Option<MilliPh>,
        cyanurate: Option<MicrogramsPerL>,
        temperature: Option<CentiCelsius>,
    ) -> Option<AnchorDue> {
        let test = &self.test;
        if self.age.is_over_days(days_max) {
            return Some(AnchorDue::Age);
        }
        let limit = PH_MOVED.0.unsigned_abs();
        if ph.is_some_and(|ph| ph.0.abs_diff(test.ph.0) >= limit) {
            return Some(AnchorDue::PhMoved);
        }
        if cyanurate.is_some_and(|now| now.0.abs_diff(test.cyanurate.0) >= CYANURATE_MOVED.0) {
            return Some(AnchorDue::CyanurateMoved);
        }
        temperature
            .is_some_and(|now| now.apart(test.temperature) >= TEMPERATURE_MOVED)
            .then_some(AnchorDue::TemperatureMoved)
    }
}

/// Whether a low test goes against the probe, and what the ledger says was fed in the last day.
pub(crate) fn may_be_bleached(
    chlorine: MicrogramsPerL,
    orp: Millivolts,
    fed_last_day: Option<MicrogramsPerL>,
    wanted: MicrogramsPerL,
) -> bool {
    let could_bleach = fed_last_day.is_some_and(|fed| fed >= DPD_BLEACHES);
    let at = if could_bleach {
        DOUBT_ORP_AFTER_FEED
    } else {
        DOUBT_ORP
    };
    chlorine.0 < (wanted.0 / 2).max(DOUBT_UNDER.0) && orp >= at
}

/// Whether a low test goes against the probe, the ledger or the last anchor.
fn speaks_against(
    test: ChlorineTest,
    orp: Millivolts,
    beside: &Beside,
    last: Option<&Anchor>,
) -> bool {
    if may_be_bleached(test.chlorine, orp, beside.fed_last_day, beside.wanted) {
        return true;
    }
    last.is_some_and(|last| {
        let over = orp.0.saturating_sub(last.orp.0) >= DOUBT_OVER_ANCHOR.0;
        over && test.chlorine.0 < last.test.chlorine.0 / 2
    })
}
