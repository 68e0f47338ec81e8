//! What the record tells of the day beside its probes: what was fed, what alarmed, where it has gaps.

use super::record::Row;
use super::{Fed, Record, Stood, clock_of};
use crate::plan::Site;

pub(super) fn gap((from, to): &(i64, i64)) -> Stood {
    Stood {
        what: "probes not recorded".to_owned(),
        from: clock_of(*from),
        to: clock_of(*to),
    }
}

pub(super) fn fed(site: &Site, rows: &[Row]) -> Vec<Fed> {
    let day = |row: &&Row| (1..=1440).contains(&row.at_min);
    let all = site.feeders.iter().enumerate().map(|(at, feeder)| {
        let own = rows.iter().filter(day).filter_map(|row| row.fed[at]);
        let amounts: Vec<f64> = own.collect();
        Fed {
            feeder: feeder.name.clone(),
            amount: (!amounts.is_empty()).then(|| amounts.iter().sum()),
            unit: if feeder.is_liquid() { "mL" } else { "g" },
        }
    });
    all.collect()
}

pub(super) fn alarms(record: &Record, rows: &[Row]) -> Option<Vec<Stood>> {
    let names = record.alarms.as_ref()?;
    let mut stood = Vec::new();
    for (at, name) in names.iter().enumerate() {
        let mut from = None;
        let mut last = 0;
        let day = rows.iter().filter(|row| (0..=1440).contains(&row.at_min));
        for row in day {
            match (from, row.alarms.contains(&at)) {
                (None, true) => from = Some(row.at_min),
                (Some(since), false) => {
                    stood.push((since, last, name));
                    from = None;
                }
                _ => {}
            }
            last = row.at_min;
        }
        stood.extend(from.map(|since| (since, last, name)));
    }
    stood.sort();
    let shown = stood.into_iter().map(|(from, to, name)| Stood {
        what: name.clone(),
        from: clock_of(from),
        to: clock_of(to),
    });
    Some(shown.collect())
}
