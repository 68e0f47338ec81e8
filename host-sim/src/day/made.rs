//! Tests of the day, and what the probes showed beside them.

use serde::Serialize;

use super::record::Row;
use super::{Asked, clock_of};
use crate::visit::{Log, Tested, What};

/// Rows within so long of a test's first row are one test, min. Our choice.
const TEST_MIN: i64 = 30;
/// What was recorded counts until the next row, and no longer than this, min. Our choice.
pub(super) const HELD_MIN: i64 = 10;

/// An entry of the log, in minutes from midnight of the day.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entered {
    pub(super) at_min: i64,
    pub(super) what: What,
}

/// All entries up to the last minute that is looked at.
pub(super) fn entries(log: &Log, asked: &Asked) -> Vec<Entered> {
    let midnight = asked.date.at(0, 0, 0, 0);
    let offset = log.first().duration_since(midnight).as_mins();
    let all = log.visits.iter().flat_map(|visit| &visit.entries);
    let all = all.filter(|entry| entry.body.is_none() || entry.body == asked.body);
    let all = all.map(|entry| Entered {
        at_min: entry.at_min + offset,
        what: entry.what,
    });
    all.filter(|entry| entry.at_min <= asked.last_min())
        .collect()
}

/// The row that tells of a minute.
pub(super) fn row_at(rows: &[Row], at_min: i64) -> Option<&Row> {
    let after = rows.partition_point(|row| row.at_min <= at_min);
    let last = after.checked_sub(1).and_then(|at| rows.get(at));
    last.filter(|row| at_min - row.at_min <= HELD_MIN)
}

/// A test that was made, with the probes beside it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct TestMade {
    /// When it began.
    pub time: String,
    #[serde(skip)]
    pub(super) at_min: i64,
    /// pH by the kit.
    pub ph: Option<f64>,
    /// pH that the unit showed.
    pub ph_probe: Option<f64>,
    /// Probe less kit.
    pub ph_difference: Option<f64>,
    /// Free chlorine, mg/L.
    pub free_chlorine_mg_l: Option<f64>,
    /// Total less free chlorine, mg/L.
    pub combined_chlorine_mg_l: Option<f64>,
    /// ORP that the unit showed, mV.
    pub orp_probe_mv: Option<f64>,
    /// Of the water, C.
    pub temperature_c: Option<f64>,
    #[serde(skip)]
    total_mg_l: Option<f64>,
}

impl TestMade {
    fn add(&mut self, what: &What) {
        match *what {
            What::Test(Tested::Ph, value, _) => self.ph = Some(value),
            What::Test(Tested::FreeChlorine, value, _) => self.free_chlorine_mg_l = Some(value),
            What::Test(Tested::TotalChlorine, value, _) => self.total_mg_l = Some(value),
            What::Test(Tested::Temperature, value, _) => self.temperature_c = Some(value),
            What::ShowsPh(value) => self.ph_probe = Some(value),
            What::ShowsOrp(value) => self.orp_probe_mv = Some(value),
            _ => {}
        }
    }

    /// Puts the record beside it: it comes first, and what a person read off the unit second.
    fn beside(mut self, rows: &[Row]) -> Self {
        let row = row_at(rows, self.at_min);
        self.ph_probe = row.and_then(|row| row.ph).or(self.ph_probe);
        self.orp_probe_mv = row.and_then(|row| row.orp_mv).or(self.orp_probe_mv);
        self.ph_difference = self.ph_probe.zip(self.ph).map(|(probe, kit)| probe - kit);
        let free = self.free_chlorine_mg_l;
        self.combined_chlorine_mg_l = self.total_mg_l.zip(free).map(|(total, free)| total - free);
        self
    }
}

/// The tests of the day.
pub(super) fn tests(entries: &[Entered], rows: &[Row]) -> Vec<TestMade> {
    let mut made: Vec<TestMade> = Vec::new();
    for entry in entries.iter().filter(|entry| entry.at_min >= 0) {
        let is_test = matches!(
            entry.what,
            What::Test(
                Tested::Ph | Tested::FreeChlorine | Tested::TotalChlorine | Tested::Temperature,
                ..
            ) | What::ShowsPh(_)
                | What::ShowsOrp(_)
        );
        if !is_test {
            continue;
        }
        match made.last_mut() {
            Some(last) if entry.at_min - last.at_min < TEST_MIN => last.add(&entry.what),
            _ => {
                let mut test = TestMade {
                    time: clock_of(entry.at_min),
                    at_min: entry.at_min,
                    ..TestMade::default()
                };
                test.add(&entry.what);
                made.push(test);
            }
        }
    }
    made.into_iter().map(|test| test.beside(rows)).collect()
}
