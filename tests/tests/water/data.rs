//! Rows of the reference files.

use std::collections::BTreeMap;

pub(crate) const STATES: &str = include_str!("../../data/water/states.csv");
pub(crate) const PHREEQC_TABLE: &str = include_str!("../../data/water/phreeqc_table.csv");
pub(crate) const ACID_DEMAND: &str = include_str!("../../data/water/acid_demand.csv");
pub(crate) const ACID_DEMAND_CYA: &str = include_str!("../../data/water/acid_demand_cya.csv");
pub(crate) const OVERFEED: &str = include_str!("../../data/water/overfeed.csv");
pub(crate) const HOCL_PERCENT: &str = include_str!("../../data/water/hocl_percent.csv");
pub(crate) const DENSITIES: &str = include_str!("../../data/water/densities.csv");
pub(crate) const CONSTANTS: &str = include_str!("../../data/water/constants.csv");

/// A row by the names of its columns.
pub(crate) struct Row(BTreeMap<String, String>);

impl Row {
    #[track_caller]
    pub(crate) fn text(&self, name: &str) -> &str {
        self.0
            .get(name)
            .unwrap_or_else(|| panic!("no column {name}"))
    }

    #[track_caller]
    pub(crate) fn get(&self, name: &str) -> f64 {
        self.text(name)
            .parse()
            .unwrap_or_else(|e| panic!("{name}: {e}"))
    }
}

/// All rows of a file; none is an error.
#[track_caller]
pub(crate) fn rows(text: &str) -> Vec<Row> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(text.as_bytes());
    let rows = reader.deserialize().map(|row| Row(row.expect("a row")));
    let rows: Vec<Row> = rows.collect();
    assert!(!rows.is_empty(), "an empty file");
    rows
}
