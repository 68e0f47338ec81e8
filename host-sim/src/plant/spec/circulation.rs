//! Circulation, and the flow that it makes.

use super::DayWindow;

/// When the circulation pump runs at another speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedWindow {
    /// When; outside the timetable it stands all the same.
    pub window: DayWindow,
    /// Flow at that speed, L/min, 1 to 100,000. It may be less than the flow switch needs.
    pub flow_l_min: f64,
}

/// Runs of the pump outside of its timetable, so that cold pipes do not freeze. A thermostat makes them; no
/// controller is told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrostSpec {
    /// While the water is colder than this, C, 0 to 15.
    pub below_c: f64,
    /// How long each run is, min, 1 to `every_min`.
    pub runs_min: u16,
    /// From the start of one to the start of the next, counted from midnight, min, 1 to 1440.
    pub every_min: u16,
}

impl FrostSpec {
    /// Whether it runs the pump at this minute of the day in water of this temperature.
    #[must_use]
    pub fn runs(&self, minute: u16, celsius: f64) -> bool {
        celsius < self.below_c && minute % self.every_min.max(1) < self.runs_min
    }
}

/// The circulation pump, the line behind it, and the witnesses of flow.
#[derive(Clone, Debug, PartialEq)]
pub struct CirculationSpec {
    /// When it runs, every day.
    pub timetable: Vec<DayWindow>,
    /// Runs against frost besides; `None`: none.
    pub frost: Option<FrostSpec>,
    /// Flow when it runs, L/min, 1 to 100,000.
    pub flow_l_min: f64,
    /// Windows in which it runs at another speed; the first that contains the minute counts.
    pub speeds: Vec<SpeedWindow>,
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
            frost: None,
            flow_l_min: 250.0,
            speeds: Vec::new(),
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
