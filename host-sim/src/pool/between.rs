//! What stands between the plant's wiring and the unit's program, with its faults.
//!
//! Invariant: without a fault it hands on what it gets, and the unit is run once with the true time.

use crate::plant::noise::Noise;
use crate::plant::{Commands, FeederCommand, MAX_FEEDERS, ProbeId, ProbeSense, Senses};
use crate::unit::{ControlUnit, UnitFault};

/// So that its chance is not the plant's.
const SEED: u64 = 0xBE73_EE00_0000_0001;
/// A late tick comes once in so many ms.
const LATE_EVERY_MS: u32 = 60_000;
/// mV for a pH, at 25 C.
const MV_PER_PH: f64 = 59.16;

/// State of the way between.
#[derive(Clone, Debug)]
pub(super) struct Between {
    active: Vec<UnitFault>,
    noise: Noise,
    /// Which feeders are cells.
    cells: [bool; MAX_FEEDERS],
    /// What was read last.
    before: Option<Senses>,
    /// What was gathered while the program did not run, and for how long.
    waiting: Option<Senses>,
    owed_ms: u32,
    /// What each probe shows while its samples stay or come again, with its age, ms.
    held: [Option<(ProbeSense, u32)>; 2],
    frozen: Option<(u16, u32)>,
    /// Share of a ms that a slow or fast counter still owes.
    rest_ms: f64,
    since_late_ms: u32,
    late_left_ms: u32,
    ticks: u32,
    /// What the unit gave last; while nothing is upset, whoever asks has it.
    given: Commands,
    is_calm: bool,
    late: Commands,
}

/// How often the program is run in a tick.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Runs {
    Not,
    Once,
    Twice,
}

impl Between {
    pub(super) fn new(seed: u64, cells: [bool; MAX_FEEDERS]) -> Self {
        Self {
            active: Vec::new(),
            noise: Noise::new(seed ^ SEED),
            cells,
            before: None,
            waiting: None,
            owed_ms: 0,
            held: [None; 2],
            frozen: None,
            rest_ms: 0.0,
            since_late_ms: 0,
            late_left_ms: 0,
            ticks: 0,
            given: Commands::UNPOWERED,
            is_calm: true,
            late: Commands::UNPOWERED,
        }
    }

    pub(super) fn set(&mut self, fault: UnitFault) {
        self.clear(fault);
        self.active.push(fault);
    }

    pub(super) fn clear(&mut self, fault: UnitFault) {
        self.active.retain(|active| !active.same_kind(&fault));
        match fault {
            UnitFault::ClockFrozen => self.frozen = None,
            UnitFault::StampStale(id) | UnitFault::SampleRepeats(id, _) => {
                self.held[at(id)] = None;
            }
            _ => {}
        }
    }

    /// Whether any fault stands.
    pub(super) fn is_upset(&self) -> bool {
        !self.active.is_empty()
    }

    /// The unit has no power: what waited is gone.
    pub(super) fn rest(&mut self) {
        self.waiting = None;
        self.owed_ms = 0;
        self.late_left_ms = 0;
        self.given = Commands::UNPOWERED;
        self.late = Commands::UNPOWERED;
    }

    /// One tick of the unit: what it is shown, whether it runs, and what reaches the drives. `last`: what reached them
    /// in the tick before.
    pub(super) fn tick<U: ControlUnit>(
        &mut self,
        unit: &mut U,
        dt_ms: u32,
        senses: &Senses,
        last: &Commands,
    ) -> Commands {
        if self.active.is_empty() && self.owed_ms == 0 {
            self.is_calm = true;
            return unit.tick(dt_ms, senses);
        }
        if core::mem::take(&mut self.is_calm) {
            self.given = *last;
        }
        self.ticks = self.ticks.wrapping_add(1);
        let read = self.read(dt_ms, senses);
        let seen = match self.waiting.take() {
            Some(waiting) => gathered(&waiting, &read),
            None => read,
        };
        self.owed_ms = self.owed_ms.saturating_add(dt_ms);
        match self.runs(dt_ms) {
            Runs::Not => {
                self.waiting = Some(seen);
                self.given.kick = false;
            }
            runs => {
                let elapsed = self.counted(self.owed_ms);
                self.owed_ms = 0;
                self.given = unit.tick(elapsed, &seen);
                if runs == Runs::Twice {
                    self.given = unit.tick(0, &seen);
                }
            }
        }
        self.driven(self.given)
    }

    /// What the program reads.
    fn read(&mut self, dt_ms: u32, senses: &Senses) -> Senses {
        let mut seen = *senses;
        for at in 0..self.active.len() {
            let fault = self.active[at];
            self.misread(fault, dt_ms, &mut seen);
        }
        self.before = Some(*senses);
        seen
    }

    fn misread(&mut self, fault: UnitFault, dt_ms: u32, seen: &mut Senses) {
        let before = self.before;
        match fault {
            UnitFault::ProbesSwapped => core::mem::swap(&mut seen.ph, &mut seen.orp),
            UnitFault::StampStale(id) => {
                let now = *probe(seen, id);
                let (held, age_ms) = self.held[at(id)].get_or_insert((now, 0));
                *age_ms = age_ms.saturating_add(dt_ms);
                let age_ms = *age_ms;
                *probe(seen, id) = ProbeSense { age_ms, ..*held };
            }
            UnitFault::StampAhead(id) => probe(seen, id).age_ms = u32::MAX - 499,
            UnitFault::SampleRepeats(id, times) => {
                if self.ticks.is_multiple_of(times.max(1)) {
                    self.held[at(id)] = None;
                }
                let now = *probe(seen, id);
                *probe(seen, id) = self.held[at(id)].get_or_insert((now, 0)).0;
            }
            UnitFault::NotANumber(id) => probe(seen, id).millivolts = f64::NAN,
            UnitFault::Overflow(id) => probe(seen, id).millivolts = 1e12,
            UnitFault::WrongUnit(id) => probe(seen, id).millivolts *= 1e-3,
            UnitFault::GroundLoop(mv) if seen.flow_switch => {
                let mv = mv * (1.0 + 0.2 * self.noise.normal());
                seen.ph.millivolts += mv;
                seen.ph.value -= mv / MV_PER_PH;
                seen.orp.millivolts += mv;
                seen.orp.value += mv;
            }
            UnitFault::CellBubbles(mv) => {
                let given = self.given.feeders.iter().zip(self.cells);
                if given
                    .into_iter()
                    .any(|(command, is_cell)| is_cell && command.on)
                {
                    seen.orp.millivolts -= mv;
                    seen.orp.value -= mv;
                }
            }
            UnitFault::InputsTorn => {
                if let (true, Some(before)) = (self.noise.chance(30), before) {
                    seen.flow_switch = before.flow_switch;
                    seen.feeders = before.feeders;
                    seen.ph = before.ph;
                }
            }
            UnitFault::ClockAhead(minutes) => {
                let minute = i32::from(seen.clock_minute) + minutes;
                seen.clock_minute = minute.rem_euclid(1440) as u16;
                seen.clock_s = seen.clock_s.saturating_add_signed(60 * minutes);
            }
            UnitFault::ClockUnknown => {
                seen.clock_minute = u16::MAX;
                seen.clock_s = u32::MAX;
            }
            UnitFault::ClockFrozen => {
                let now = (seen.clock_minute, seen.clock_s);
                (seen.clock_minute, seen.clock_s) = *self.frozen.get_or_insert(now);
            }
            UnitFault::DrivesSwapped => seen.feeders.swap(0, 1),
            _ => {}
        }
    }

    fn runs(&mut self, dt_ms: u32) -> Runs {
        let mut runs = Runs::Once;
        for fault in &self.active {
            match *fault {
                UnitFault::Hung => runs = Runs::Not,
                UnitFault::TickSkipped(each) if self.ticks.is_multiple_of(each.max(2)) => {
                    runs = Runs::Not;
                }
                UnitFault::TickDoubled if runs == Runs::Once => runs = Runs::Twice,
                UnitFault::TickLate(ms) => {
                    self.since_late_ms += dt_ms;
                    if self.since_late_ms >= LATE_EVERY_MS {
                        self.since_late_ms = 0;
                        self.late_left_ms = ms;
                    }
                    if self.late_left_ms > 0 {
                        self.late_left_ms = self.late_left_ms.saturating_sub(dt_ms);
                        runs = Runs::Not;
                    }
                }
                _ => {}
            }
        }
        runs
    }

    /// What the unit's counter shows of so much true time.
    fn counted(&mut self, true_ms: u32) -> u32 {
        let rate = self.active.iter().find_map(|fault| match *fault {
            UnitFault::CounterRate(rate) => Some(rate),
            UnitFault::CounterStands => Some(0.0),
            _ => None,
        });
        let Some(rate) = rate else {
            return true_ms;
        };
        let exact = f64::from(true_ms) * rate + self.rest_ms;
        let whole = exact.floor();
        self.rest_ms = exact - whole;
        whole as u32
    }

    /// What reaches the drives.
    fn driven(&mut self, given: Commands) -> Commands {
        let mut out = given;
        for fault in &self.active {
            match *fault {
                UnitFault::PulseMissed(each) if self.ticks.is_multiple_of(each.max(2)) => {
                    out.feeders = [FeederCommand::OFF; MAX_FEEDERS];
                }
                UnitFault::CommandLate => {
                    // Supply and dead man are not commands.
                    let (powered, kick) = (out.powered, out.kick);
                    core::mem::swap(&mut out, &mut self.late);
                    (out.powered, out.kick) = (powered, kick);
                }
                UnitFault::DrivesSwapped => out.feeders.swap(0, 1),
                _ => {}
            }
        }
        out
    }
}

const fn at(id: ProbeId) -> usize {
    match id {
        ProbeId::Ph => 0,
        ProbeId::Orp => 1,
    }
}

fn probe(senses: &mut Senses, id: ProbeId) -> &mut ProbeSense {
    match id {
        ProbeId::Ph => &mut senses.ph,
        ProbeId::Orp => &mut senses.orp,
    }
}

/// The worst of two readings of the witnesses, the sum of drive-on times, and else the later one.
fn gathered(earlier: &Senses, later: &Senses) -> Senses {
    let mut all = *later;
    all.flow_switch &= earlier.flow_switch;
    let flows = earlier.flow_ml_s.zip(later.flow_ml_s);
    all.flow_ml_s = flows.map(|(a, b)| a.min(b));
    let both = |a: Option<bool>, b: Option<bool>| a.zip(b).map(|(a, b)| a && b);
    all.pump_contact = both(earlier.pump_contact, later.pump_contact);
    for (all, earlier) in all.feeders.iter_mut().zip(&earlier.feeders) {
        let sum = all.drive_on_ms.zip(earlier.drive_on_ms);
        all.drive_on_ms = sum.map(|(a, b)| a.saturating_add(b));
        all.cell_flow = both(all.cell_flow, earlier.cell_flow);
    }
    all
}
