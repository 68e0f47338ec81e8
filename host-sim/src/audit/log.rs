//! A log as data: what stood at each row, and what was fed since the row before.
//!
//! A field that is empty is `None`, never no: it makes a rule undecided, not held.

/// What a log has of one feeder.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FeederColumns {
    /// The drive's state at the row.
    pub drive: bool,
    /// Drive-on time since the row before.
    pub on_time: bool,
    /// Amount since the row before.
    pub amount: bool,
    /// The command to the drive at the row.
    pub command: bool,
    /// The level switch of its drum.
    pub level: bool,
}

/// A column of a probe.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ProbeColumns {
    /// Its readings.
    pub value: bool,
    /// Half of the last place that the log writes, pH or mV.
    pub half_place: f64,
    /// Whether the controller trusted it.
    pub ok: bool,
    /// The age of the reading.
    pub age: bool,
    /// A reading that has not changed for so long stands still, ms.
    pub flat_after_ms: Option<f64>,
}

/// What a log has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Columns {
    /// Flow, by a switch, a meter or both.
    pub flow: bool,
    /// Power of the controller.
    pub power: bool,
    /// The time of the day.
    pub time_of_day: bool,
    /// pH.
    pub ph: ProbeColumns,
    /// ORP.
    pub orp: ProbeColumns,
    /// Half of the last place of amounts, uL or mg, one for each feeder.
    pub half_amount: Vec<f64>,
    /// Half of the last place of drive-on times, ms, one for each feeder.
    pub half_on_ms: Vec<f64>,
    /// One for each feeder of the site.
    pub feeders: Vec<FeederColumns>,
}

/// A probe in one row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reading {
    /// pH, or mV.
    pub value: Option<f64>,
    /// Whether the controller trusted it.
    pub ok: Option<bool>,
    /// Its age, ms.
    pub age_ms: Option<f64>,
}

/// A feeder in one row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FeederRow {
    /// Its drive is on.
    pub drive: Option<bool>,
    /// Drive-on time since the row before, ms.
    pub on_ms: Option<f64>,
    /// Amount since the row before, uL or mg.
    pub amount: Option<f64>,
    /// Its drive is commanded to run.
    pub command: Option<bool>,
    /// There is product in its drum.
    pub stock: Option<bool>,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Line of the file, from 1.
    pub line: u64,
    /// Time since the first row, ms.
    pub at_ms: f64,
    /// The time as it is written.
    pub clock: String,
    /// Minute of the day.
    pub minute: Option<u16>,
    /// Water flows, by every witness that the log has.
    pub flow: Option<bool>,
    /// The controller has power.
    pub powered: Option<bool>,
    /// pH.
    pub ph: Reading,
    /// ORP.
    pub orp: Reading,
    /// One for each feeder of the site.
    pub feeders: Vec<FeederRow>,
}

/// A log.
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// Its name, for people.
    pub name: String,
    /// What it has.
    pub columns: Columns,
    /// Rows in the order of time, at least two.
    pub rows: Vec<Row>,
    /// Rows further apart than this, ms, have a gap between them.
    pub gap_ms: f64,
}

impl Log {
    /// The time between two rows that is usual in it, ms: the median.
    #[must_use]
    pub fn usual_ms(&self) -> f64 {
        usual_ms(&self.rows)
    }

    /// From the first row to the last, ms.
    #[must_use]
    pub fn length_ms(&self) -> f64 {
        let ends = self.rows.first().zip(self.rows.last());
        ends.map_or(0.0, |(first, last)| last.at_ms - first.at_ms)
    }
}

/// The median of the times between rows, ms; 0 of fewer than two.
#[must_use]
pub fn usual_ms(rows: &[Row]) -> f64 {
    let pairs = rows.windows(2);
    let mut all: Vec<f64> = pairs.map(|pair| pair[1].at_ms - pair[0].at_ms).collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}
