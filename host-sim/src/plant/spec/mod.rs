//! What a simulated pool is made of: plain data, checked once by [`PlantSpec::validate`].

mod basin;
mod circulation;
mod feeder;

pub use basin::{BasinSpec, CornerSpec, MakeUpSpec, PlasterSpec, TemperatureSpec, WaterSpec};
pub use circulation::{CirculationSpec, FrostSpec, SpeedWindow};
pub use feeder::{DrumDecay, FeederKind, FeederSpec};

use super::interface::MAX_FEEDERS;
use super::valves::ValvesSpec;
use core::fmt;

/// A daily window in minutes from midnight, `from` included and `to` not; one that ends before it
/// begins runs over midnight. 0 to 1440 is the whole day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayWindow {
    /// First minute, 0 to 1439.
    pub from_min: u16,
    /// Minute after the last, 1 to 1440, not `from_min`.
    pub to_min: u16,
}

impl DayWindow {
    /// The whole day.
    pub const ALWAYS: Self = Self {
        from_min: 0,
        to_min: 1440,
    };

    /// Whether `minute` of the day is inside.
    #[must_use]
    pub fn contains(self, minute: u16) -> bool {
        if self.from_min < self.to_min {
            (self.from_min..self.to_min).contains(&minute)
        } else {
            minute >= self.from_min || minute < self.to_min
        }
    }

    /// Length in minutes.
    #[must_use]
    pub fn minutes(self) -> u16 {
        if self.from_min < self.to_min {
            self.to_min - self.from_min
        } else {
            1440 - self.from_min + self.to_min
        }
    }
}

/// A probe in the sample cell.
#[derive(Clone, Debug, PartialEq)]
pub struct ProbeSpec {
    /// Time constant of its first-order lag, s, 0 to 3600.
    pub lag_s: f64,
    /// Standard deviation of its noise, pH or mV, 0 and up.
    pub noise: f64,
    /// Constant error, pH or mV.
    pub offset: f64,
}

/// A whole plant.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantSpec {
    /// Bodies of water, 1 to 8.
    pub bodies: Vec<BasinSpec>,
    /// Valves that select one of them; `None`: there are none.
    pub valves: Option<ValvesSpec>,
    /// Circulation.
    pub circulation: CirculationSpec,
    /// pH probe; noise and offset in pH.
    pub ph_probe: ProbeSpec,
    /// ORP probe; noise and offset in mV.
    pub orp_probe: ProbeSpec,
    /// Time that water takes from the basin to the sample cell at the usual speed, s, 0 to 3600.
    pub sample_delay_s: f64,
    /// Time constant of the water's change in the sample cell while water moves, s, 0 to 3600.
    pub sample_lag_s: f64,
    /// Feeders, 0 to [`MAX_FEEDERS`].
    pub feeders: Vec<FeederSpec>,
    /// A master contact in series with all feeders is fitted.
    pub master: bool,
    /// Hardware dead man: all off when it was not kicked for this long, ms, 1 to 600,000; `None`:
    /// not fitted.
    pub dead_man_ms: Option<u32>,
    /// Minute of the day at the start, 0 to 1439.
    pub start_min: u16,
}

impl Default for PlantSpec {
    /// An invented pool: 95 m3, acid of 9.971 mol/L and hypochlorite of 125 g/L, 60 mL/min each,
    /// starting at midnight.
    fn default() -> Self {
        Self {
            bodies: vec![BasinSpec::default()],
            valves: None,
            circulation: CirculationSpec::default(),
            ph_probe: ProbeSpec {
                lag_s: 15.0,
                noise: 0.005,
                offset: 0.0,
            },
            orp_probe: ProbeSpec {
                lag_s: 60.0,
                noise: 1.0,
                offset: 0.0,
            },
            sample_delay_s: 10.0,
            sample_lag_s: 20.0,
            feeders: vec![
                FeederSpec::new(FeederKind::Acid {
                    ml_per_min: 60.0,
                    mol_per_l: 9.971,
                }),
                FeederSpec::new(FeederKind::Hypochlorite {
                    ml_per_min: 60.0,
                    g_per_l: 125.0,
                }),
            ],
            master: true,
            dead_man_ms: Some(6_000),
            start_min: 0,
        }
    }
}

/// A specification that cannot be built: which field, its value, and what would be right.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantError {
    /// Field, such as `bodies[0].volume_m3`.
    pub field: String,
    /// What it was.
    pub value: String,
    /// What would be right.
    pub wanted: String,
}

impl fmt::Display for PlantError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} is {}; it has to be {}",
            self.field, self.value, self.wanted
        )
    }
}

impl core::error::Error for PlantError {}

const _: () = assert!(MAX_FEEDERS >= 2, "an ordinary pool has two feeders");
