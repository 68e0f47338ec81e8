//! One limit, and what is known at a moment.

use super::limit::{Bound, Figure, Limit, When};
use crate::guard::units::{MilliPh, Millivolts, Percent};
use crate::probe::{CentiCelsius, MicrogramsPerL};

/// What stands for the whole day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Place {
    /// It is a spa.
    pub is_spa: bool,
    /// Least free chlorine that the local code wants there.
    pub chlorine_min: MicrogramsPerL,
}

/// What is known at a moment; `None`: not known. Set what is by update syntax.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Seen {
    /// pH that the unit shows, from a probe that it trusts.
    pub ph_probe: Option<MilliPh>,
    /// pH by a kit.
    pub ph_kit: Option<MilliPh>,
    /// Free chlorine by DPD.
    pub free_chlorine: Option<MicrogramsPerL>,
    /// ORP that the unit shows.
    pub orp: Option<Millivolts>,
    /// Cyanuric acid.
    pub cyanurate: Option<MicrogramsPerL>,
    /// Total alkalinity as CaCO3.
    pub alkalinity: Option<MicrogramsPerL>,
    /// Calcium hardness as CaCO3.
    pub hardness: Option<MicrogramsPerL>,
    /// Of the water.
    pub temperature: Option<CentiCelsius>,
    /// Flow, percent of the required rate, rounded down.
    pub flow_share: Option<Percent>,
    /// Water is circulated.
    pub circulates: Option<bool>,
    /// Disinfection runs.
    pub disinfects: Option<bool>,
}

impl Seen {
    /// Nothing is known.
    pub const NOTHING: Self = Self {
        ph_probe: None,
        ph_kit: None,
        free_chlorine: None,
        orp: None,
        cyanurate: None,
        alkalinity: None,
        hardness: None,
        temperature: None,
        flow_share: None,
        circulates: None,
        disinfects: None,
    };
}

/// What a limit comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Judged {
    /// By what is known it is kept, or does not hold here.
    Inside,
    /// It is passed: the condition is met.
    Met,
    /// A figure is missing.
    CannotTell,
}

fn whole(value: u32) -> i32 {
    i32::try_from(value).unwrap_or(i32::MAX)
}

impl Limit {
    /// Judges what is known at a moment.
    #[must_use]
    pub fn judge(&self, place: &Place, seen: &Seen) -> Judged {
        match (self.holds(place, seen), self.is_past(place, seen)) {
            (Some(false), _) | (_, Some(false)) => Judged::Inside,
            (Some(true), Some(true)) => Judged::Met,
            _ => Judged::CannotTell,
        }
    }

    /// Whether it holds here and now.
    fn holds(&self, place: &Place, seen: &Seen) -> Option<bool> {
        match self.when {
            When::Always => Some(true),
            When::Spa => Some(place.is_spa),
            When::WithCyanurate => seen.cyanurate.map(|found| found.0 > 0),
            When::Above(limit) => seen.temperature.map(|found| found > limit),
        }
    }

    fn is_past(&self, place: &Place, seen: &Seen) -> Option<bool> {
        let value = match self.figure {
            Figure::Circulation => return seen.circulates.map(|runs| !runs),
            Figure::Disinfection => return seen.disinfects.map(|runs| !runs),
            Figure::Ph => {
                let probe = seen.ph_probe.map(|ph| self.is_past_by(place, ph.0));
                let kit = seen.ph_kit.map(|ph| self.is_past_by(place, ph.0));
                // Either is enough.
                return probe.max(kit);
            }
            Figure::FreeChlorine => seen.free_chlorine.map(|found| whole(found.0)),
            Figure::Orp => seen.orp.map(|found| found.0),
            Figure::Cyanurate => seen.cyanurate.map(|found| whole(found.0)),
            Figure::Alkalinity => seen.alkalinity.map(|found| whole(found.0)),
            Figure::Hardness => seen.hardness.map(|found| whole(found.0)),
            Figure::FlowShare => seen.flow_share.map(|found| whole(found.0)),
        };
        value.map(|value| self.is_past_by(place, value))
    }

    fn is_past_by(&self, place: &Place, value: i32) -> bool {
        match self.bound {
            Bound::AtLeast(least) => value < least,
            Bound::AtMost(most) => value > most,
            Bound::Over(least) => value <= least,
            Bound::AtLeastSites => value < whole(place.chlorine_min.0),
            // Not of a value.
            Bound::Runs => false,
        }
    }
}
