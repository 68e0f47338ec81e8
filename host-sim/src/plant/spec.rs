//! What a simulated pool is made of: plain data, checked once by [`PlantSpec::validate`].

use super::interface::{MAX_FEEDERS, Product};
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

/// One body of water and what happens to it.
#[derive(Clone, Debug, PartialEq)]
pub struct BasinSpec {
    /// Volume, m3, 0.2 to 10,000.
    pub volume_m3: f64,
    /// Mean depth, m, 0.2 to 10; the surface is volume / depth.
    pub depth_m: f64,
    /// Temperature, C, 1 to 45.
    pub temperature_c: f64,
    /// Ionic strength, mol/L, 0.001 to 0.5; 0.0198 is TDS 1000 with Ca 300.
    pub ionic_strength_mol_l: f64,
    /// pH at the start, 5 to 9.5.
    pub ph: f64,
    /// Total alkalinity at the start, mg/L as CaCO3, 5 to 500, OCl- in it.
    pub alkalinity_mg_l: f64,
    /// Free chlorine at the start, mg/L, 0 to 50.
    pub free_chlorine_mg_l: f64,
    /// Gas transfer velocity of CO2, cm/h, 0 to 20; general gas-transfer laws give 0.5 to 8.
    pub co2_transfer_cm_h: f64,
    /// First-order loss of chlorine at the height of the day, 1/h, 0 to 5. About 1 without
    /// cyanuric acid, about 0.05 with 25 to 50 mg/L of it (White 1972, second-hand).
    pub sun_peak_per_h: f64,
    /// Daylight; the loss follows half a sine over it.
    pub daylight: DayWindow,
    /// First-order loss of chlorine day and night, 1/h, 0 to 1.
    pub background_per_h: f64,
    /// Bathers a day, 0 to 10,000, each with a demand of 4.12 g of chlorine (Berg, Fang and Tang
    /// 2019, J. Water Health 17(2):227), spread evenly over `bathing`.
    pub bathers_per_day: f64,
    /// When they come.
    pub bathing: DayWindow,
    /// ORP at 1 mg/L of HOCl, mV, 300 to 900 (common practice, no source).
    pub orp_at_1_mg_l_mv: f64,
    /// ORP gained for ten times the HOCl, mV, 10 to 200 (common practice, no source).
    pub orp_per_decade_mv: f64,
}

impl Default for BasinSpec {
    /// An invented outdoor pool of 95 m3 with some cyanuric acid.
    fn default() -> Self {
        Self {
            volume_m3: 95.0,
            depth_m: 1.5,
            temperature_c: 27.0,
            ionic_strength_mol_l: 0.0198,
            ph: 7.5,
            alkalinity_mg_l: 100.0,
            free_chlorine_mg_l: 2.0,
            co2_transfer_cm_h: 2.0,
            sun_peak_per_h: 0.08,
            daylight: DayWindow {
                from_min: 360,
                to_min: 1200,
            },
            background_per_h: 0.005,
            bathers_per_day: 12.0,
            bathing: DayWindow {
                from_min: 1020,
                to_min: 1200,
            },
            orp_at_1_mg_l_mv: 720.0,
            orp_per_decade_mv: 70.0,
        }
    }
}

/// The circulation pump, the line behind it, and the witnesses of flow.
#[derive(Clone, Debug, PartialEq)]
pub struct CirculationSpec {
    /// When it runs, every day.
    pub timetable: Vec<DayWindow>,
    /// Flow when it runs, L/min, 1 to 100,000.
    pub flow_l_min: f64,
    /// Time constant of the flow's rise, s, 0 to 600.
    pub spin_up_s: f64,
    /// Time constant of the flow's fall, s, 0 to 600.
    pub run_down_s: f64,
    /// Flow below which the water at the injectors counts as standing, L/min, under `flow_l_min`.
    pub feed_min_l_min: f64,
    /// Volume of the line from the injectors to the basin, L, 0.1 to 10,000.
    pub line_volume_l: f64,
    /// Flow at which the flow switch closes, L/min.
    pub switch_make_l_min: f64,
    /// Flow at which it opens again, L/min, not above `switch_make_l_min`.
    pub switch_break_l_min: f64,
    /// A flow meter is fitted.
    pub flow_meter: bool,
    /// A pump-run contact is fitted.
    pub pump_contact: bool,
}

impl Default for CirculationSpec {
    /// 250 L/min from 8:00 to 20:00 through 30 L of line, with flow switch and pump contact.
    fn default() -> Self {
        Self {
            timetable: vec![DayWindow {
                from_min: 480,
                to_min: 1200,
            }],
            flow_l_min: 250.0,
            spin_up_s: 4.0,
            run_down_s: 0.5,
            feed_min_l_min: 90.0,
            line_volume_l: 30.0,
            switch_make_l_min: 130.0,
            switch_break_l_min: 110.0,
            flow_meter: false,
            pump_contact: true,
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

/// What a feeder gives and how fast, as it really is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FeederKind {
    /// A pump of hydrochloric acid.
    Acid {
        /// Rate, mL/min, 0.1 to 100,000.
        ml_per_min: f64,
        /// Strength, mol of HCl a litre, 0.1 to 12.5; 31.45 % at 20 C is 9.971.
        mol_per_l: f64,
    },
    /// A pump of sodium hypochlorite.
    Hypochlorite {
        /// Rate, mL/min, 0.1 to 100,000.
        ml_per_min: f64,
        /// Strength, g of available chlorine (as Cl2) a litre, 1 to 250; 12.5 trade % is 125.
        g_per_l: f64,
    },
    /// A chlorine generator's cell.
    Generator {
        /// Output, g of Cl2 an hour, 0.1 to 100,000.
        g_per_h: f64,
        /// A flow switch of its own is fitted.
        cell_switch: bool,
    },
}

impl FeederKind {
    /// The product.
    #[must_use]
    pub fn product(self) -> Product {
        match self {
            Self::Acid { .. } => Product::Acid,
            Self::Hypochlorite { .. } => Product::Hypochlorite,
            Self::Generator { .. } => Product::GeneratorChlorine,
        }
    }
}

/// A feeder, its drive and its drum.
#[derive(Clone, Debug, PartialEq)]
pub struct FeederSpec {
    /// Product, rate and strength.
    pub kind: FeederKind,
    /// True rate over the rate in `kind`, 0 to 100: what a person entered may be wrong.
    pub rate_factor: f64,
    /// Pull-in time of its contact, ms, 0 to 10,000.
    pub on_delay_ms: u32,
    /// Drop-out time of its contact, ms, 0 to 10,000.
    pub off_delay_ms: u32,
    /// Drive feedback is fitted.
    pub feedback: bool,
    /// Stock at the start, L, 0 to 100,000; ignored for a generator.
    pub drum_l: f64,
    /// A level switch is fitted that says empty below this, L.
    pub level_switch_l: Option<f64>,
}

impl FeederSpec {
    /// A feeder of `kind` with a full drum of 60 L, feedback, no level switch and 50 ms drop-out.
    #[must_use]
    pub fn new(kind: FeederKind) -> Self {
        Self {
            kind,
            rate_factor: 1.0,
            on_delay_ms: 30,
            off_delay_ms: 50,
            feedback: true,
            drum_l: 60.0,
            level_switch_l: None,
        }
    }
}

/// A whole plant.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantSpec {
    /// Bodies of water, 1 to 8.
    pub bodies: Vec<BasinSpec>,
    /// Circulation.
    pub circulation: CirculationSpec,
    /// pH probe; noise and offset in pH.
    pub ph_probe: ProbeSpec,
    /// ORP probe; noise and offset in mV.
    pub orp_probe: ProbeSpec,
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
