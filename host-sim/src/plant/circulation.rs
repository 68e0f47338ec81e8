//! The circulation pump, the flow it makes, and the switches that report it.

use super::fault::PlantFault;
use super::noise::Noise;
use super::spec::CirculationSpec;

/// Faults of the water path and its witnesses.
#[derive(Clone, Debug)]
struct Upset {
    tripped: bool,
    flow_factor: f64,
    switch: Option<bool>,
    chatters: bool,
    contact: Option<bool>,
}

impl Default for Upset {
    fn default() -> Self {
        Self {
            tripped: false,
            flow_factor: 1.0,
            switch: None,
            chatters: false,
            contact: None,
        }
    }
}

/// State of the water path.
#[derive(Clone, Debug)]
pub(super) struct Circulation {
    spec: CirculationSpec,
    upset: Upset,
    /// Flow at the speed that is set now.
    full_l_min: f64,
    rise: f64,
    fall: f64,
    running: bool,
    flow_l_min: f64,
    lowest_l_min: f64,
    falling: bool,
    switch: bool,
    worst_switch: bool,
    worst_contact: bool,
}

/// The share of a first-order change that happens in `dt_ms`; all of it when `tau_s` is 0.
pub(super) fn approach(dt_ms: u32, tau_s: f64) -> f64 {
    if tau_s <= 0.0 {
        return 1.0;
    }
    -libm::expm1(-f64::from(dt_ms) / 1000.0 / tau_s)
}

impl Circulation {
    /// Water at rest; `spec` has been validated.
    pub(super) fn new(spec: &CirculationSpec) -> Self {
        Self {
            spec: spec.clone(),
            upset: Upset::default(),
            full_l_min: spec.flow_l_min,
            rise: 1.0,
            fall: 1.0,
            running: false,
            flow_l_min: 0.0,
            lowest_l_min: 0.0,
            falling: false,
            switch: false,
            worst_switch: false,
            worst_contact: false,
        }
    }

    pub(super) fn set_faults(&mut self, active: &[PlantFault]) {
        let mut upset = Upset::default();
        for fault in active {
            match *fault {
                PlantFault::CirculationTripped => upset.tripped = true,
                PlantFault::FlowReduced(factor) => upset.flow_factor = factor.clamp(0.0, 1.0),
                PlantFault::FlowSwitchStuckOn => upset.switch = Some(true),
                PlantFault::FlowSwitchStuckOff => upset.switch = Some(false),
                PlantFault::FlowSwitchChatters => upset.chatters = true,
                PlantFault::PumpContactStuckOn => upset.contact = Some(true),
                PlantFault::PumpContactStuckOff => upset.contact = Some(false),
                _ => {}
            }
        }
        self.upset = upset;
    }

    pub(super) fn set_step(&mut self, dt_ms: u32) {
        self.rise = approach(dt_ms, self.spec.spin_up_s);
        self.fall = approach(dt_ms, self.spec.run_down_s);
    }

    /// Whether the timetable asks for the pump at `minute`. Its speed follows the clock too.
    pub(super) fn due(&mut self, minute: u16) -> bool {
        let speed = self.spec.speeds.iter().find(|s| s.window.contains(minute));
        self.full_l_min = speed.map_or(self.spec.flow_l_min, |speed| speed.flow_l_min);
        self.spec.timetable.iter().any(|w| w.contains(minute))
    }

    /// One step; gives the litres that moved.
    pub(super) fn step(&mut self, dt_ms: u32, powered: bool, noise: &mut Noise) -> f64 {
        let ran = self.running;
        self.running = powered && !self.upset.tripped;
        let target = if self.running {
            self.full_l_min * self.upset.flow_factor
        } else {
            0.0
        };
        let before = self.flow_l_min;
        let share = if target > before {
            self.rise
        } else {
            self.fall
        };
        self.flow_l_min += (target - before) * share;
        if target == 0.0 && self.flow_l_min < 1e-3 {
            self.flow_l_min = 0.0;
        }
        self.lowest_l_min = before.min(self.flow_l_min);
        self.falling = self.flow_l_min < before;
        self.read_witnesses(ran, noise);
        // A straight line between the two ends: the error is in when, not in what moves on.
        0.5 * (before + self.flow_l_min) * f64::from(dt_ms) / 60_000.0
    }

    fn read_witnesses(&mut self, ran: bool, noise: &mut Noise) {
        let was = self.switch;
        let threshold = if was {
            self.spec.switch_break_l_min
        } else {
            self.spec.switch_make_l_min
        };
        self.switch = self.flow_l_min >= threshold;
        let chattered = self.upset.chatters && noise.chance(33);
        self.worst_switch = self
            .upset
            .switch
            .unwrap_or(was && self.switch && !chattered);
        self.worst_contact = self.upset.contact.unwrap_or(ran && self.running);
    }

    pub(super) fn running(&self) -> bool {
        self.running
    }

    /// Flow at the end of the step, L/min.
    pub(super) fn flow_l_min(&self) -> f64 {
        self.flow_l_min
    }

    /// The flow fell in the step.
    pub(super) fn falling(&self) -> bool {
        self.falling
    }

    /// Enough flow for feeding in all of the step.
    pub(super) fn moving(&self) -> bool {
        self.lowest_l_min >= self.spec.feed_min_l_min
    }

    /// Whether a healthy switch of the same setting says flow (a generator's own).
    pub(super) fn true_switch(&self) -> bool {
        self.lowest_l_min >= self.spec.switch_break_l_min
    }

    pub(super) fn flow_switch(&self) -> bool {
        self.worst_switch
    }

    pub(super) fn flow_ml_s(&self) -> Option<f64> {
        self.spec
            .flow_meter
            .then_some(self.lowest_l_min * 1000.0 / 60.0)
    }

    pub(super) fn pump_contact(&self) -> Option<bool> {
        self.spec.pump_contact.then_some(self.worst_contact)
    }
}

#[cfg(test)]
mod tests {
    use super::super::spec::{DayWindow, SpeedWindow};
    use super::*;

    fn started() -> (Circulation, Noise) {
        let mut water = Circulation::new(&CirculationSpec::default());
        let mut noise = Noise::new(3);
        water.set_step(1000);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        (water, noise)
    }

    #[test]
    fn runs_up_and_reports() {
        let (water, _) = started();
        assert!((water.flow_l_min() - 250.0).abs() < 0.01);
        assert!(water.flow_switch() && water.moving());
        assert_eq!(water.pump_contact(), Some(true));
        assert_eq!(water.flow_ml_s(), None);
    }

    #[test]
    fn a_stop_is_seen_in_the_step_in_which_it_happens() {
        let (mut water, mut noise) = started();
        water.step(1000, false, &mut noise);
        assert!(!water.moving() && !water.flow_switch());
        assert_eq!(water.pump_contact(), Some(false));
    }

    #[test]
    fn the_switch_makes_above_and_breaks_below() {
        let (mut water, mut noise) = started();
        // 120 L/min is between break (110) and make (130): stays closed, would not close.
        water.set_faults(&[PlantFault::FlowReduced(120.0 / 250.0)]);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        assert!(water.flow_switch());
        water.set_faults(&[PlantFault::FlowReduced(0.1)]);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        assert!(!water.flow_switch());
        water.set_faults(&[PlantFault::FlowReduced(120.0 / 250.0)]);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        assert!(!water.flow_switch() && water.moving());
    }

    #[test]
    fn stuck_witnesses_lie() {
        let (mut water, mut noise) = started();
        water.set_faults(&[
            PlantFault::CirculationTripped,
            PlantFault::FlowSwitchStuckOn,
        ]);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        assert!(water.flow_switch() && !water.moving() && !water.running());
        assert_eq!(water.pump_contact(), Some(false));
        water.set_faults(&[
            PlantFault::FlowSwitchStuckOff,
            PlantFault::PumpContactStuckOff,
        ]);
        for _ in 0..60 {
            water.step(1000, true, &mut noise);
        }
        assert!(!water.flow_switch() && water.moving());
        assert_eq!(water.pump_contact(), Some(false));
    }

    #[test]
    fn a_slow_speed_may_be_too_slow_for_the_switch() {
        let slow = SpeedWindow {
            window: DayWindow {
                from_min: 600,
                to_min: 660,
            },
            flow_l_min: 100.0,
        };
        let mut water = Circulation::new(&CirculationSpec {
            speeds: vec![slow],
            ..CirculationSpec::default()
        });
        let mut noise = Noise::new(3);
        water.set_step(1000);
        for (minute, flow, switch) in [(599, 250.0, true), (600, 100.0, false), (660, 250.0, true)]
        {
            assert!(water.due(minute));
            for _ in 0..60 {
                water.step(1000, true, &mut noise);
            }
            assert!((water.flow_l_min() - flow).abs() < 0.01);
            assert!(water.moving() && water.flow_switch() == switch, "{minute}");
        }
    }

    #[test]
    fn chatter_drops_out_and_comes_back() {
        let (mut water, mut noise) = started();
        water.set_faults(&[PlantFault::FlowSwitchChatters]);
        let on = (0..300)
            .filter(|_| {
                water.step(1000, true, &mut noise);
                water.flow_switch()
            })
            .count();
        assert!((150..250).contains(&on), "{on}");
    }
}
