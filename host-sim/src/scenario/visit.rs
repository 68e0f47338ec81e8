//! Visits: somebody comes by and by, tests the water and fills up.

use super::clock::DAY_MS;
use super::error::InputError;
use super::person::long;
use super::quantity::Kind;
use super::table::Table;
use super::timeline::{Act, Event};
use crate::plant::MAX_FEEDERS;

/// What is done on one visit, in this order: drums, then alkalinity.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Visit {
    /// Drums that are filled up; each is told to the unit.
    pub refill: [bool; MAX_FEEDERS],
    /// Alkalinity that is made up with bicarbonate where the test finds less, mg/L; `None`: it is
    /// not tested.
    pub alkalinity_to_mg_l: Option<f64>,
    /// Error of that test, standard deviation, mg/L.
    pub alkalinity_error_mg_l: f64,
}

type Read<T> = Result<T, InputError>;

/// Reads `[[visit]]`s and adds an event for each time that falls within `days`.
pub(super) fn read(
    root: &Table<'_, '_>,
    feeders: &[String],
    days: u32,
    events: &mut Vec<Event>,
) -> Read<()> {
    let end_ms = u64::from(days) * DAY_MS;
    for t in root.tables("visit")? {
        let first_ms = t.need("first", "\"day 8 10:00\"")?.moment()?;
        t.quantity("every", Kind::Time, "1 h", "365 days")?;
        let every_ms = long(&t, "every")?;
        let mut visit = Visit::default();
        if let Some(entry) = t.find("refill") {
            let known: Vec<(&str, usize)> = feeders.iter().map(String::as_str).zip(0..).collect();
            for one in entry.list()? {
                if let Some(refill) = visit.refill.get_mut(one.choice(&known)?) {
                    *refill = true;
                }
            }
        }
        if t.find("alkalinity_to").is_some() {
            let mg_l = |key, min| t.quantity(key, Kind::Concentration, min, "300 mg/L");
            visit.alkalinity_to_mg_l = Some(mg_l("alkalinity_to", "10 mg/L")?);
            visit.alkalinity_error_mg_l = mg_l("alkalinity_error", "0 mg/L")?;
        }
        if visit == Visit::default() {
            return Err(t.error("nothing is done on this visit; write refill = [\"acid\"] or alkalinity_to = \"100 mg/L\""));
        }
        t.close()?;
        let mut at_ms = first_ms;
        while at_ms < end_ms {
            events.push(Event {
                at_ms,
                trigger: None,
                act: Act::Visit(visit),
            });
            at_ms += every_ms;
        }
    }
    Ok(())
}
