//! `[[visit]]`: somebody comes by and by, fills up, tests the water, and enters what was found at the unit.
//!
//! | key | what |
//! |---|---|
//! | `first`, `every` | when |
//! | `refill` | drums that are filled up; each level is read and entered before and after |
//! | `alkalinity_to` | alkalinity is tested, and made up to this with bicarbonate; feeding is paused for half an hour then |
//! | `alkalinity_error` | of that test, mg/L |
//! | `ph_error` | pH is tested with a kit of this error, and compared with the probe |
//! | `chlorine_error` | free chlorine is tested, mg/L |
//! | `cyanurate_error` | cyanuric acid is tested, mg/L |
//! | `trim_over` | the probe is trimmed where the kit's pH is further from it than this |
//! | `anchor_at` | free chlorine that is wanted: the ORP set point is anchored to it |
//! | `enters` | `false`: nobody tells the unit of the tests, nor pauses it; without the key they do |
//! | `body` | with two bodies: whose water is tested and made up. A probe is compared, trimmed and anchored only where the valves select it |
//!
//! Errors are standard deviations, drawn from the scenario's seed.

use super::Names;
use super::bodies;
use super::clock::DAY_MS;
use super::error::InputError;
use super::person::long;
use super::quantity::Kind;
use super::table::Table;
use super::timeline::{Act, Event};
use crate::plant::MAX_FEEDERS;

/// What is done on one visit, in this order: drums, then the tests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Visit {
    /// Drums that are filled up; each is told to the unit.
    pub refill: [bool; MAX_FEEDERS],
    /// Alkalinity that is made up with bicarbonate where the test finds less, mg/L; `None`: it is
    /// not tested.
    pub alkalinity_to_mg_l: Option<f64>,
    /// Error of that test, standard deviation, mg/L.
    pub alkalinity_error_mg_l: f64,
    /// Error of a kit's pH, standard deviation; `None`: not tested.
    pub ph_error: Option<f64>,
    /// The same of free chlorine, mg/L.
    pub chlorine_error_mg_l: Option<f64>,
    /// The same of cyanuric acid, mg/L.
    pub cyanurate_error_mg_l: Option<f64>,
    /// The probe is trimmed where the kit's pH is further from it than this.
    pub trim_over_ph: Option<f64>,
    /// The ORP set point is anchored to this free chlorine, mg/L.
    pub anchor_at_mg_l: Option<f64>,
    /// What was found is entered at the unit.
    pub enters: bool,
    /// Whose water is tested and made up; `None`: that which the valves select.
    pub body: Option<usize>,
}

impl Visit {
    /// Nothing is done.
    pub const NOTHING: Self = Self {
        refill: [false; MAX_FEEDERS],
        alkalinity_to_mg_l: None,
        alkalinity_error_mg_l: 0.0,
        ph_error: None,
        chlorine_error_mg_l: None,
        cyanurate_error_mg_l: None,
        trim_over_ph: None,
        anchor_at_mg_l: None,
        enters: true,
        body: None,
    };
}

type Read<T> = Result<T, InputError>;

/// Reads `[[visit]]`s and adds an event for each time that falls within `days`.
pub(super) fn read(
    root: &Table<'_, '_>,
    names: &Names<'_>,
    days: u32,
    events: &mut Vec<Event>,
) -> Read<()> {
    let end_ms = u64::from(days) * DAY_MS;
    for t in root.tables("visit")? {
        let first_ms = t.need("first", "\"day 8 10:00\"")?.moment()?;
        t.quantity("every", Kind::Time, "1 h", "365 days")?;
        let every_ms = long(&t, "every")?;
        let mut visit = one(&t, names.feeders)?;
        visit.body = bodies::body_of(&t, names.bodies)?;
        t.close()?;
        let mut at_ms = first_ms;
        while at_ms < end_ms {
            events.push(Event::at(at_ms, Act::Visit(visit)));
            at_ms += every_ms;
        }
    }
    Ok(())
}

fn one(t: &Table<'_, '_>, feeders: &[String]) -> Read<Visit> {
    let mut visit = Visit::NOTHING;
    if let Some(entry) = t.find("refill") {
        let known: Vec<(&str, usize)> = feeders.iter().map(String::as_str).zip(0..).collect();
        for one in entry.list()? {
            if let Some(refill) = visit.refill.get_mut(one.choice(&known)?) {
                *refill = true;
            }
        }
    }
    let mg_l = |key, min, max| t.quantity(key, Kind::Concentration, min, max);
    let error = |key, max| t.find(key).map(|_| mg_l(key, "0 mg/L", max)).transpose();
    if t.find("alkalinity_to").is_some() {
        visit.alkalinity_to_mg_l = Some(mg_l("alkalinity_to", "10 mg/L", "300 mg/L")?);
        visit.alkalinity_error_mg_l = mg_l("alkalinity_error", "0 mg/L", "300 mg/L")?;
    }
    visit.chlorine_error_mg_l = error("chlorine_error", "5 mg/L")?;
    visit.cyanurate_error_mg_l = error("cyanurate_error", "50 mg/L")?;
    if t.find("ph_error").is_some() {
        visit.ph_error = Some(t.quantity("ph_error", Kind::Ph, "pH 0", "pH 1")?);
    }
    if t.find("trim_over").is_some() {
        if visit.ph_error.is_none() || visit.chlorine_error_mg_l.is_none() {
            let what = "a probe is trimmed to a test of pH, and of chlorine too; write `ph_error` and `chlorine_error`";
            return Err(t.error_at("trim_over", what.to_owned()));
        }
        visit.trim_over_ph = Some(t.quantity("trim_over", Kind::Ph, "pH 0.05", "pH 1")?);
    }
    if t.find("anchor_at").is_some() {
        if visit.chlorine_error_mg_l.is_none() {
            let what = "ORP is anchored to a test of chlorine; write `chlorine_error` too";
            return Err(t.error_at("anchor_at", what.to_owned()));
        }
        visit.anchor_at_mg_l = Some(mg_l("anchor_at", "0.5 mg/L", "10 mg/L")?);
    }
    if visit == Visit::NOTHING {
        return Err(t.error("nothing is done on this visit; write refill = [\"acid\"] or alkalinity_to = \"100 mg/L\""));
    }
    if let Some(entry) = t.find("enters") {
        visit.enters = entry.yes_or_no()?;
    }
    Ok(visit)
}
