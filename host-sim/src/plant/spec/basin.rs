//! Bodies of water, and what happens to them.

use super::DayWindow;

/// What water is when it comes: at the start, or out of the mains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterSpec {
    /// pH, 5 to 9.5.
    pub ph: f64,
    /// Total alkalinity as CaCO3, cyanurate, borate and OCl- in it, mg/L, 5 to 500.
    pub alkalinity_mg_l: f64,
    /// Calcium hardness as CaCO3, mg/L, 0 to 2000.
    pub calcium_mg_l: f64,
    /// Total dissolved solids, mg/L, 10 to 15,000.
    pub dissolved_mg_l: f64,
    /// Cyanuric acid, mg/L, 0 to 300.
    pub cyanuric_acid_mg_l: f64,
    /// Borate, mg/L of boron, 0 to 100.
    pub borate_mg_l: f64,
    /// Free chlorine, mg/L, 0 to 50.
    pub free_chlorine_mg_l: f64,
}

/// Temperature of the water over the day and the year.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TemperatureSpec {
    /// Mean, C, 1 to 45.
    pub mean_c: f64,
    /// How far the warmest hour of a day is above the day's mean, C, 0 to 10.
    pub day_swing_c: f64,
    /// The warmest minute of the day, 0 to 1439.
    pub warmest_min: u16,
    /// How far the warmest day is above the year's mean, C, 0 to 25.
    pub year_swing_c: f64,
    /// The warmest day, counted from the first, 0 to 365.
    pub warmest_day: u16,
}

impl TemperatureSpec {
    /// The same at all times.
    #[must_use]
    pub const fn steady(mean_c: f64) -> Self {
        Self {
            mean_c,
            day_swing_c: 0.0,
            warmest_min: 960,
            year_swing_c: 0.0,
            warmest_day: 0,
        }
    }

    /// At `clock_ms` from midnight before the first day, C, never under 0.5.
    #[must_use]
    pub fn at(&self, clock_ms: u64) -> f64 {
        const DAY_MS: f64 = 86_400_000.0;
        const YEAR_DAYS: f64 = 365.25;
        let days = clock_ms as f64 / DAY_MS;
        let turn = core::f64::consts::TAU;
        let day = libm::cos(turn * (days - f64::from(self.warmest_min) / 1440.0));
        let year = libm::cos(turn * (days - f64::from(self.warmest_day)) / YEAR_DAYS);
        (self.mean_c + self.day_swing_c * day + self.year_swing_c * year).max(0.5)
    }
}

/// A part of a body that mixes slowly with the rest. Water leaves from the rest and comes back
/// to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CornerSpec {
    /// Its share of the volume, over 0 to 0.5.
    pub share: f64,
    /// Time constant in which it becomes like the rest while the pump runs, min, 1 to 10,000.
    pub exchange_min: f64,
    /// The same while the water stands, min, `exchange_min` to 100,000.
    pub standing_min: f64,
}

/// Water that goes and is made up at once, so that the level stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MakeUpSpec {
    /// What comes out of the mains.
    pub water: WaterSpec,
    /// Evaporation, mm a day, 0 to 30: water goes, what is dissolved stays.
    pub evaporation_mm_day: f64,
    /// Splashed out, backwashed or leaked, L a day, 0 to 100,000: it takes what is dissolved along.
    pub lost_l_day: f64,
}

/// New plaster, from which calcium hydroxide dissolves: alkalinity and half as much calcium.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlasterSpec {
    /// What dissolves on the first day, eq of alkalinity a day, 0 to 10,000. It falls in a straight line
    /// (the shape is our choice).
    pub first_eq_day: f64,
    /// After so many days nothing more does, 1 to 365; 28 is the usual cure (common practice, no
    /// source).
    pub days: f64,
}

/// One body of water and what happens to it.
#[derive(Clone, Debug, PartialEq)]
pub struct BasinSpec {
    /// Volume, m3, 0.2 to 10,000.
    pub volume_m3: f64,
    /// Mean depth, m, 0.2 to 10; the surface is volume / depth.
    pub depth_m: f64,
    /// The water at the start.
    pub water: WaterSpec,
    /// Its temperature.
    pub temperature: TemperatureSpec,
    /// A part that mixes slowly; `None`: all is well mixed.
    pub corner: Option<CornerSpec>,
    /// Gas transfer velocity of CO2, cm/h, 0 to 20; general gas-transfer laws give 0.5 to 8.
    pub co2_transfer_cm_h: f64,
    /// Loss at the height of the day of chlorine that no cyanurate holds, 1/h, 0 to 5. About 1 in an outdoor
    /// pool without cyanuric acid (about 90 % in 2 to 3 h: White 1972, second-hand). What cyanurate holds is taken not to be lost:
    /// with 25 to 50 mg/L of it that comes to a few % an hour, as the same source has it.
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
    /// What goes and is made up; `None`: nothing does.
    pub make_up: Option<MakeUpSpec>,
    /// New plaster; `None`: it is old, or there is none.
    pub plaster: Option<PlasterSpec>,
    /// ORP at 1 mg/L of HOCl, mV, 300 to 900 (common practice, no source).
    pub orp_at_1_mg_l_mv: f64,
    /// ORP gained for ten times the HOCl, mV, 10 to 200 (common practice, no source).
    pub orp_per_decade_mv: f64,
}

impl Default for WaterSpec {
    /// An invented outdoor pool with some cyanuric acid.
    fn default() -> Self {
        Self {
            ph: 7.5,
            alkalinity_mg_l: 100.0,
            calcium_mg_l: 250.0,
            dissolved_mg_l: 1000.0,
            cyanuric_acid_mg_l: 25.0,
            borate_mg_l: 0.0,
            free_chlorine_mg_l: 2.0,
        }
    }
}

impl Default for BasinSpec {
    /// An invented outdoor pool of 95 m3, well mixed, without make-up.
    fn default() -> Self {
        Self {
            volume_m3: 95.0,
            depth_m: 1.5,
            water: WaterSpec::default(),
            temperature: TemperatureSpec::steady(27.0),
            corner: None,
            co2_transfer_cm_h: 2.0,
            sun_peak_per_h: 1.0,
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
            make_up: None,
            plaster: None,
            orp_at_1_mg_l_mv: 800.0,
            orp_per_decade_mv: 70.0,
        }
    }
}
