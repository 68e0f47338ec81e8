//! The trace as CSV, one row a minute.

use std::io::Write;

use crate::plant::MAX_FEEDERS;
use crate::pool::SimPool;
use crate::scenario::{Scenario, clock};
use crate::unit::ControlUnit;
use crate::why::tokens;

const ROW_MS: u64 = 60_000;

/// Writes a trace row by row, one a minute.
///
/// | column | what |
/// |---|---|
/// | `clock` | end of the minute, such as `day 2 14:05` |
/// | `seconds` | since the start |
/// | `ph`, `orp_mv`, `free_chlorine_mg_l`, `alkalinity_mg_l` | of the water itself; of two bodies that which is selected |
/// | `ph_shown`, `orp_shown_mv` | what the unit shows; empty if it shows none |
/// | `flow_l_min` | past the injectors, at the end of the minute |
/// | `moving` | 1 if the water moved enough in all of the last tick |
/// | `pump_running`, `powered`, `needs_person` | 1 or 0, at the end of the minute |
/// | `FEEDER_fed_ml` or `FEEDER_fed_g` | fed in this minute |
/// | `FEEDER_on_ms` | drive-on time in this minute |
/// | `FEEDER_asked` | 1 if its regulator asks, at the end of the minute |
/// | `FEEDER_refused_by` | what refuses it then, separated by spaces |
/// | `alarms` | what stands then, separated by spaces |
/// | `FEEDER_phase` | its phase then, such as `spreading`; empty without power, or of a unit that does not say |
/// | `FEEDER_clears` | what stands in its way then, the gravest first, and what clears each, with seconds where there is a time: `spread_hold=after_flow:580`, separated by spaces |
/// | `body` | only with two bodies of water: the one that is selected then |
pub struct Trace<W: Write> {
    out: csv::Writer<W>,
    generators: Vec<bool>,
    /// Names of the bodies, where there are several.
    bodies: Vec<String>,
    fed: [f64; MAX_FEEDERS],
    on_ms: [u64; MAX_FEEDERS],
    next_ms: u64,
    row: Vec<String>,
}

/// Names of the bits of a set.
pub(crate) fn named(bits: u64, names: &[String]) -> String {
    let set = names
        .iter()
        .enumerate()
        .take(64)
        .filter(|(bit, _)| bits >> bit & 1 == 1);
    set.map(|(_, name)| name.replace(' ', "_"))
        .collect::<Vec<_>>()
        .join(" ")
}

impl<W: Write> Trace<W> {
    /// Begins a trace with its line of names.
    ///
    /// # Errors
    /// What writing gives.
    pub fn begin(scenario: &Scenario, out: W) -> Result<Self, csv::Error> {
        let mut out = csv::Writer::from_writer(out);
        let mut names: Vec<String> = [
            "clock",
            "seconds",
            "ph",
            "ph_shown",
            "orp_mv",
            "orp_shown_mv",
            "free_chlorine_mg_l",
            "alkalinity_mg_l",
            "flow_l_min",
            "moving",
            "pump_running",
            "powered",
            "needs_person",
        ]
        .map(str::to_owned)
        .into();
        let mut generators = Vec::new();
        for (feeder, plant) in scenario.feeders.iter().zip(&scenario.plant.feeders) {
            let generator = !plant.kind.product().unit().starts_with("uL");
            let unit = if generator { "g" } else { "ml" };
            names.push(format!("{}_fed_{unit}", feeder.name));
            for rest in ["on_ms", "asked", "refused_by"] {
                names.push(format!("{}_{rest}", feeder.name));
            }
            generators.push(generator);
        }
        names.push("alarms".to_owned());
        for feeder in &scenario.feeders {
            names.extend(["phase", "clears"].map(|rest| format!("{}_{rest}", feeder.name)));
        }
        let bodies = match scenario.bodies.as_slice() {
            [_] => Vec::new(),
            several => several.iter().map(|plan| plan.name.clone()).collect(),
        };
        if !bodies.is_empty() {
            names.push("body".to_owned());
        }
        out.write_record(&names)?;
        let (fed, on_ms) = ([0.0; MAX_FEEDERS], [0; MAX_FEEDERS]);
        Ok(Self {
            out,
            generators,
            bodies,
            fed,
            on_ms,
            next_ms: ROW_MS,
            row: Vec::new(),
        })
    }

    /// Looks at a pool after a tick, and writes a row at the end of each minute.
    ///
    /// # Errors
    /// What writing gives.
    pub fn look<U: ControlUnit>(&mut self, pool: &SimPool<U>) -> Result<(), csv::Error> {
        for (index, feeder) in pool.truth().feeders.iter().enumerate() {
            self.fed[index] += feeder.fed;
            self.on_ms[index] += u64::from(feeder.drive_on_ms);
        }
        if pool.now_ms() < self.next_ms {
            return Ok(());
        }
        self.next_ms = pool.now_ms() + ROW_MS;
        self.write_row(pool)
    }

    fn write_row<U: ControlUnit>(&mut self, pool: &SimPool<U>) -> Result<(), csv::Error> {
        let (truth, status) = (pool.truth(), pool.status());
        let water = truth.bodies.get(truth.body).copied().unwrap_or_default();
        let shown = |value: Option<i32>, unit: f64, digits: usize| {
            value.map_or_else(String::new, |v| format!("{:.digits$}", f64::from(v) / unit))
        };
        let flag = |on: bool| u8::from(on).to_string();
        self.row.clear();
        self.row.extend([
            clock::show(pool.clock_ms()),
            (pool.now_ms() / 1000).to_string(),
            format!("{:.3}", water.ph),
            shown(status.ph, 1000.0, 3),
            format!("{:.1}", water.orp_mv),
            shown(status.orp, 1.0, 0),
            format!("{:.3}", water.free_chlorine_mg_l),
            format!("{:.2}", water.alkalinity_mg_l),
            format!("{:.1}", truth.flow_l_min),
            flag(truth.water_moving),
            flag(truth.pump_running),
            flag(pool.powered()),
            flag(status.needs_person),
        ]);
        for (index, generator) in self.generators.iter().enumerate() {
            let feeder = &status.feeders[index];
            // uL to mL and mg to g.
            let digits = if *generator { 4 } else { 3 };
            self.row
                .push(format!("{:.digits$}", self.fed[index] / 1000.0));
            self.row.push(self.on_ms[index].to_string());
            self.row.push(flag(feeder.asked));
            self.row
                .push(named(feeder.refusing, pool.unit().refusal_names()));
        }
        self.row
            .push(named(status.alarms, pool.unit().alarm_names()));
        for index in 0..self.generators.len() {
            let told = pool.unit().told(index);
            let (phase, clears) = told.map_or_else(Default::default, |told| {
                (told.phase.name().to_owned(), tokens(&told.obstacles))
            });
            self.row.extend([phase, clears]);
        }
        self.row.extend(self.bodies.get(truth.body).cloned());
        self.out.write_record(&self.row)?;
        self.fed = [0.0; MAX_FEEDERS];
        self.on_ms = [0; MAX_FEEDERS];
        Ok(())
    }

    /// Hands on what is still held back of the rows so far.
    ///
    /// # Errors
    /// What writing gives.
    pub fn flush(&mut self) -> Result<(), csv::Error> {
        Ok(self.out.flush()?)
    }

    /// Ends the trace.
    ///
    /// # Errors
    /// What writing gives.
    pub fn end(mut self) -> Result<W, csv::Error> {
        self.out.flush()?;
        self.out
            .into_inner()
            .map_err(|error| csv::Error::from(error.into_error()))
    }
}
