//! A small scripted pool around the board, in integers, so that it is the same on every board. It
//! sees what the output registers show, not what the controller believes.
//!
//! The script follows the acid pump: in its first run the flow switch opens for some seconds, in its
//! third the circulation pump trips for ten minutes. It is there to show a controller at work, not to
//! judge one; the simulator does that.

use dosewarden::guard::units::{MilliPh, Millis, Millivolts};
use dosewarden::guard::{Action, Authority, Reading, Stage};
use dosewarden::{Act, Person};

use crate::site::TICK_MS;
use crate::unit::Probes;

/// What the output registers show; true is on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Levels {
    /// Acid pump.
    pub acid: bool,
    /// Chlorine pump.
    pub chlorine: bool,
    /// Series contact.
    pub master: bool,
}

impl Levels {
    /// All off.
    pub const OFF: Self = Self {
        acid: false,
        chlorine: false,
        master: false,
    };
}

/// How the world begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Script {
    /// A new unit: a technician begins it, then the circulation pump starts.
    NewUnit,
    /// As that, and then an operator pauses it for an hour.
    Paused,
    /// The power comes back to a unit in use: water flows, nobody is there.
    Running,
    /// As that, and after ten minutes and a bit a technician sets it to the reduced stage.
    Released,
}

impl Script {
    /// Whether the water flows from the first tick on.
    const fn is_running(self) -> bool {
        matches!(self, Self::Running | Self::Released)
    }
}

/// What a second of feed does, 0.5 mL, and what the water does by itself in a tick: thousandths of
/// 0.001 pH or of 1 mV. 120 mL of acid lower it by 0.1 pH, 60 mL of chlorine raise it by 20 mV.
const ACID_A_SECOND: u32 = 417;
const CHLORINE_A_SECOND: u32 = 167;
const PH_RISES_A_TICK: i32 = 8;
const ORP_FALLS_A_TICK: i32 = 3;
/// A probe takes up this share of the difference in a tick.
const PROBE_LAG: i32 = 60;

const BEGUN_MS: u32 = 20_000;
const STAGED_MS: u32 = BEGUN_MS + TICK_MS;
/// When the operator pauses it.
pub const PAUSED_MS: u32 = 40_000;
const RELEASED_MS: u32 = 614_000;
const PUMP_ON_MS: u32 = 60_000;
const FLOW_ON_MS: u32 = 65_000;
/// A start of the acid pump later than this after its last stop is a new run; before, the run goes
/// on.
const NEW_RUN_MS: u32 = 180_000;

/// A pause that the script makes in a run of the acid pump.
struct Pause {
    run: u32,
    after_ms: u32,
    for_ms: u32,
    pump_too: bool,
}

const PAUSES: [Pause; 2] = [
    Pause {
        run: 1,
        after_ms: 20_000,
        for_ms: 20_000,
        pump_too: false,
    },
    Pause {
        run: 3,
        after_ms: 15_000,
        for_ms: 600_000,
        pump_too: true,
    },
];

/// The pool.
#[derive(Clone, Debug)]
pub struct World {
    script: Script,
    now_ms: u32,
    ph: i32,
    orp: i32,
    ph_probe: i32,
    orp_probe: i32,
    acid_on: bool,
    acid_off_ms: u32,
    acid_runs: u32,
    pause_from: Option<u32>,
    paused: usize,
    run_ms: u32,
    acid_ms: u32,
    chlorine_ms: u32,
    dry_ms: u32,
    /// Of acid and chlorine, what the water has not answered yet.
    fresh_ms: (u32, u32),
}

impl World {
    /// A pool at pH 7.62 and 690 mV.
    #[must_use]
    pub const fn new(script: Script) -> Self {
        Self {
            script,
            now_ms: 0,
            ph: 7_620_000,
            orp: 690_000,
            ph_probe: 7_620_000,
            orp_probe: 690_000,
            acid_on: false,
            acid_off_ms: NEW_RUN_MS,
            acid_runs: 0,
            pause_from: None,
            paused: 0,
            run_ms: 0,
            acid_ms: 0,
            chlorine_ms: 0,
            dry_ms: 0,
            fresh_ms: (0, 0),
        }
    }

    /// Lets time pass in which the outputs were so, ms.
    pub fn pass(&mut self, passed_ms: u32, levels: Levels) {
        let acid = levels.acid && levels.master;
        let chlorine = levels.chlorine && levels.master;
        if acid && self.acid_off_ms >= NEW_RUN_MS {
            self.acid_runs = self.acid_runs.saturating_add(1);
            self.run_ms = 0;
        }
        self.acid_on = acid;
        self.acid_off_ms = self.acid_off_ms.saturating_add(passed_ms);
        let (fresh_acid, fresh_chlorine) = &mut self.fresh_ms;
        if acid {
            self.acid_off_ms = 0;
            self.acid_ms = self.acid_ms.saturating_add(passed_ms);
            self.run_ms = self.run_ms.saturating_add(passed_ms);
            *fresh_acid = fresh_acid.saturating_add(passed_ms);
        }
        if chlorine {
            self.chlorine_ms = self.chlorine_ms.saturating_add(passed_ms);
            *fresh_chlorine = fresh_chlorine.saturating_add(passed_ms);
        }
        if (acid || chlorine) && !self.flow() {
            self.dry_ms = self.dry_ms.saturating_add(passed_ms);
        }
    }

    /// A tick begins: the script goes on, and the probes see the water.
    pub fn tick(&mut self) {
        self.now_ms = self.now_ms.saturating_add(TICK_MS);
        let (acid, chlorine) = core::mem::take(&mut self.fresh_ms);
        self.ph = self.ph.saturating_sub(answer(acid, ACID_A_SECOND));
        self.orp = self.orp.saturating_add(answer(chlorine, CHLORINE_A_SECOND));
        self.ph = self.ph.saturating_add(PH_RISES_A_TICK);
        self.orp = self.orp.saturating_sub(ORP_FALLS_A_TICK);
        self.ph_probe = towards(self.ph_probe, self.ph);
        self.orp_probe = towards(self.orp_probe, self.orp);
        self.follow_pauses();
    }

    fn follow_pauses(&mut self) {
        let Some(next) = PAUSES.get(self.paused) else {
            return;
        };
        match self.pause_from {
            Some(from) if self.now_ms.saturating_sub(from) >= next.for_ms => {
                self.pause_from = None;
                self.paused = self.paused.saturating_add(1);
            }
            None if self.acid_runs == next.run && self.run_ms >= next.after_ms => {
                self.pause_from = Some(self.now_ms);
            }
            _ => {}
        }
    }

    fn pause(&self) -> Option<&Pause> {
        self.pause_from.and_then(|_| PAUSES.get(self.paused))
    }

    /// Whether the circulation pump runs.
    #[must_use]
    pub fn pump(&self) -> bool {
        let on = self.script.is_running() || self.now_ms >= PUMP_ON_MS;
        on && !self.pause().is_some_and(|pause| pause.pump_too)
    }

    /// Whether water flows.
    #[must_use]
    pub fn flow(&self) -> bool {
        let on = self.script.is_running() || self.now_ms >= FLOW_ON_MS;
        on && self.pause().is_none()
    }

    /// What the probes say.
    #[must_use]
    pub fn probes(&self) -> Probes {
        Probes {
            ph: Reading::now(MilliPh(self.ph_probe.checked_div(1000).unwrap_or(0))),
            orp: Reading::now(Millivolts(self.orp_probe.checked_div(1000).unwrap_or(0))),
        }
    }

    /// What the water at the pH probe is, pH x 1,000,000.
    #[must_use]
    pub const fn micro_ph(&self) -> i32 {
        self.ph_probe
    }

    /// Who does something in this tick.
    #[must_use]
    pub fn person(&self) -> Option<Person> {
        let (by, act) = match (self.script, self.now_ms) {
            (Script::NewUnit | Script::Paused, BEGUN_MS) => {
                (Authority::Technician, Act::Guard(Action::Initialise))
            }
            (Script::NewUnit | Script::Paused, STAGED_MS) => {
                let full = Action::SetStage(Stage::Full);
                (Authority::Technician, Act::Guard(full))
            }
            (Script::Paused, PAUSED_MS) => (Authority::Operator, Act::Pause(Millis::from_hours(1))),
            (Script::Released, RELEASED_MS) => {
                let reduced = Action::SetStage(Stage::Reduced);
                (Authority::Technician, Act::Guard(reduced))
            }
            _ => return None,
        };
        Some(Person { by, act })
    }

    /// Time since the script began, in whole ticks, ms.
    #[must_use]
    pub const fn now_ms(&self) -> u32 {
        self.now_ms
    }

    /// Time for which product went into the water: acid, chlorine; and into standing water, ms.
    #[must_use]
    pub const fn fed_ms(&self) -> (u32, u32, u32) {
        (self.acid_ms, self.chlorine_ms, self.dry_ms)
    }

    /// Time since the acid pump last started, while it runs, ms.
    #[must_use]
    pub const fn acid_runs_for(&self) -> Option<u32> {
        if self.acid_on {
            Some(self.run_ms)
        } else {
            None
        }
    }
}

fn answer(fed_ms: u32, a_second: u32) -> i32 {
    let whole = fed_ms.saturating_mul(a_second) / 1000;
    i32::try_from(whole).unwrap_or(i32::MAX)
}

fn towards(probe: i32, water: i32) -> i32 {
    let step = water.saturating_sub(probe).checked_div(PROBE_LAG);
    probe.saturating_add(step.unwrap_or(0))
}
