//! A simulated pool with a control unit attached: what an integrator's own test drives.
//!
//! Invariant: each tick has one order. What is due happens, the unit sees the wiring and commands,
//! the plant moves, the judge looks. The same scenario and unit give the same run, bit for bit.

mod between;
mod hands;
mod people;
mod player;
mod proving;
mod supply;
mod visits;

use std::collections::VecDeque;

pub use player::{Ending, LogLine, LogWhat, Tested};

use crate::judge::{Findings, Judge, Witnessed};
use crate::plant::noise::Noise;
use crate::plant::{Commands, Plant, PlantError, PlantFault, Product, Truth};
use crate::scenario::clock::DAY_MS;
use crate::scenario::{Act, Event, PersonAct, Scenario, Supply};
use crate::unit::{ControlUnit, Reply, UnitFault, UnitStatus};
use between::Between;
use hands::Hands;
use people::{in_its_cap, releases};
use player::{Log, Player};
use proving::ProofRound;
use supply::Cuts;

/// So that the tests' errors are not the probes' noise.
const TESTS_SEED: u64 = 0x7E57_0000_0000_0001;

/// A pool, its plant room, a control unit and a judge. A clone goes its own way from there.
#[derive(Clone)]
pub struct SimPool<U> {
    plant: Plant,
    unit: U,
    between: Between,
    judge: Judge,
    player: Player,
    log: Log,
    cuts: Cuts,
    /// Errors of the tests that persons make.
    tests: Noise,
    rains_until: u64,
    /// Proof tests that a person makes one after the other.
    round: Option<ProofRound>,
    tick_ms: u32,
    start_ms: u64,
    powered: bool,
    mains: bool,
    status: UnitStatus,
    /// Acts to which a reply is to come.
    awaited: VecDeque<PersonAct>,
    /// A release, a start of a new unit, or a feed by hand was done in this tick.
    released: bool,
    hands: Hands,
    commands: Commands,
}

impl<U: ControlUnit> SimPool<U> {
    /// The pool of a scenario with `unit` attached; its events will come at their time.
    ///
    /// # Errors
    /// What the plant's specification has wrong; never for a scenario that was read from a file.
    pub fn attach(scenario: &Scenario, unit: U) -> Result<Self, PlantError> {
        let plant = Plant::new(scenario.plant.clone(), scenario.seed)?;
        let feeders = scenario.plant.feeders.len();
        let cells = core::array::from_fn(|at| {
            let feeder = scenario.plant.feeders.get(at);
            feeder.is_some_and(|f| f.kind.product() == Product::GeneratorChlorine)
        });
        Ok(Self {
            between: Between::new(scenario.seed, cells),
            judge: Judge::of(scenario),
            player: Player::new(scenario.events.clone(), feeders),
            log: Log::default(),
            cuts: Cuts::of(scenario),
            tests: Noise::new(scenario.seed ^ TESTS_SEED),
            rains_until: 0,
            round: None,
            tick_ms: scenario.tick_ms,
            start_ms: u64::from(scenario.plant.start_min) * 60_000,
            powered: false,
            mains: true,
            status: UnitStatus::default(),
            awaited: VecDeque::new(),
            released: false,
            hands: Hands::default(),
            commands: Commands::UNPOWERED,
            plant,
            unit,
        })
    }

    /// One tick.
    pub fn tick(&mut self) {
        let clock_ms = self.clock_ms();
        self.play(clock_ms);
        self.switch_power(clock_ms);
        self.commands = if self.powered {
            self.unit.time_passes(self.tick_ms);
            let senses = self.plant.wiring();
            let (unit, last) = (&mut self.unit, &self.commands);
            self.between.tick(unit, self.tick_ms, senses, last)
        } else {
            self.between.rest();
            self.awaited.clear();
            Commands::UNPOWERED
        };
        if let Some(reply) = self.unit.late_reply() {
            if let Some(act) = self.awaited.pop_front() {
                self.replied(clock_ms, &act, &reply);
            }
            self.log.push(clock_ms, LogWhat::Reply(reply));
        }
        self.plant.step(self.tick_ms, &self.commands);
        self.player.see(self.plant.truth());
        self.go_on_proving();
        let before = (self.status.alarms, self.status.needs_person);
        self.status = if self.powered {
            self.unit.status()
        } else {
            UnitStatus::default()
        };
        self.tell_changes(clock_ms, before);
        let witnessed = Witnessed {
            released: core::mem::take(&mut self.released),
            held: self.hands.held(clock_ms),
            stopped: self.hands.stopped(clock_ms),
            fallback: self.hands.is_fallback(),
            stored: self.unit.stored(),
        };
        self.judge
            .look(self.plant.truth(), &self.status, &witnessed);
    }

    /// The unit's answer to an act: what was done stands.
    fn replied(&mut self, clock_ms: u64, act: &PersonAct, reply: &Reply) {
        if *reply == Reply::Done {
            self.released |= releases(act);
            self.hands.done(clock_ms, act);
        }
    }

    /// Lets time pass, in whole ticks.
    pub fn run_for_ms(&mut self, ms: u64) {
        let until = self.now_ms().saturating_add(ms);
        while self.now_ms() < until {
            self.tick();
        }
    }

    /// Lets days pass.
    pub fn run_for_days(&mut self, days: u32) {
        self.run_for_ms(u64::from(days) * DAY_MS);
    }

    fn play(&mut self, clock_ms: u64) {
        while let Some(fault) = self.player.over(clock_ms) {
            match fault {
                Ending::Plant(fault) => self.plant.clear_fault(fault),
                Ending::Unit(fault) => self.unit_is_well(fault),
            }
            self.log.push(clock_ms, LogWhat::FaultEnded(fault));
        }
        if self.rains_until > 0 && clock_ms >= self.rains_until {
            self.rains_until = 0;
            self.plant.set_rain(0.0);
        }
        while let Some(act) = self.player.due(clock_ms) {
            self.act(act);
        }
    }

    /// Makes something happen now.
    pub fn act(&mut self, act: Act) {
        let clock_ms = self.clock_ms();
        self.log.push(clock_ms, LogWhat::Act(act));
        match act {
            Act::PowerCut { supply, for_ms } => {
                let until = clock_ms.saturating_add(for_ms);
                if supply != Supply::Pump {
                    self.cuts.controller_until = self.cuts.controller_until.max(until);
                }
                if supply != Supply::Controller {
                    self.cuts.pump_until = self.cuts.pump_until.max(until);
                }
            }
            Act::Fault { fault, for_ms } => {
                self.plant.set_fault(fault);
                if let Some(for_ms) = for_ms {
                    let end = clock_ms.saturating_add(for_ms);
                    self.player.ends_at(end, Ending::Plant(fault));
                }
            }
            Act::FaultEnds(fault) => self.plant.clear_fault(fault),
            Act::Unit { fault, for_ms } => {
                self.between.set(fault);
                self.plant.set_faulty_elsewhere(true);
                if let Some(for_ms) = for_ms {
                    let end = clock_ms.saturating_add(for_ms);
                    self.player.ends_at(end, Ending::Unit(fault));
                }
            }
            Act::UnitEnds(fault) => self.unit_is_well(fault),
            Act::Inside(fault) => {
                if !self.unit.breaks(fault) {
                    let why = "the unit has nothing of the kind, or did not let it happen";
                    self.log
                        .push(clock_ms, LogWhat::Reply(Reply::Refused(why.to_owned())));
                }
            }
            Act::ProbeOut(id, out) => self.plant.dip(id, out.then(|| in_its_cap(id))),
            Act::QuietRefill(feeder) => self.plant.refill(feeder),
            Act::Person(person) => self.person(clock_ms, &person),
            Act::TurnValves(body) => self.plant.turn_valves(body),
            Act::Visit(visit) => self.visit(clock_ms, &visit),
            Act::Timetable(on) => self.plant.set_timetable(on),
            Act::Closes(closed) => self.plant.set_closed(closed),
            Act::Rain { um, for_ms } => {
                self.rains_until = clock_ms.saturating_add(for_ms);
                self.plant
                    .set_rain(f64::from(um) * 3600.0 / for_ms.max(1) as f64);
            }
        }
    }

    fn unit_is_well(&mut self, fault: UnitFault) {
        self.between.clear(fault);
        self.plant.set_faulty_elsewhere(self.between.is_upset());
    }

    /// Tells of alarms that came and went. Silence without power is not an alarm that went.
    fn tell_changes(&mut self, clock_ms: u64, (alarms, needed_person): (u64, bool)) {
        if !self.powered {
            return;
        }
        let (now, needs_person) = (self.status.alarms, self.status.needs_person);
        if now != alarms {
            for (bit, name) in self.unit.alarm_names().iter().enumerate().take(64) {
                let (is, was) = (now >> bit & 1, alarms >> bit & 1);
                if is > was {
                    self.log.push(clock_ms, LogWhat::AlarmCame(name.clone()));
                } else if is < was {
                    self.log.push(clock_ms, LogWhat::AlarmWent(name.clone()));
                }
            }
        }
        if needs_person != needed_person {
            let what = if needs_person {
                LogWhat::NeedsPerson
            } else {
                LogWhat::NeedsNobody
            };
            self.log.push(clock_ms, what);
        }
    }

    /// More events, to come at their time.
    pub fn add_events(&mut self, more: Vec<Event>) {
        self.player.add(more);
    }

    /// From now on as a scenario with these events would: those whose time is past are left out, and the others take
    /// the place of what is still to come. With the events that it had and new ones the run is the same, bit for bit,
    /// as if all had been there from the start.
    pub fn replace_events(&mut self, mut events: Vec<Event>) {
        if self.now_ms() > 0 {
            // What was due at the start of the last tick was played in it.
            let played_to_ms = self.clock_ms().saturating_sub(u64::from(self.tick_ms));
            events.retain(|event| event.at_ms > played_to_ms);
        }
        events.sort_by_key(|event| event.at_ms);
        self.player.replace(events);
    }

    /// Whether nothing is still to come up to `until_ms` from midnight before day 1, and all power is there.
    #[must_use]
    pub fn is_past_events(&self, until_ms: u64) -> bool {
        self.powered && self.mains && self.player.is_done(until_ms)
    }

    /// A fault begins now, and stands until [`Self::clear_fault`].
    pub fn set_fault(&mut self, fault: PlantFault) {
        self.act(Act::Fault {
            fault,
            for_ms: None,
        });
    }

    /// A fault ends now, whatever its size.
    pub fn clear_fault(&mut self, fault: PlantFault) {
        self.act(Act::FaultEnds(fault));
    }

    /// Power goes now, and comes back after `for_ms`.
    pub fn cut_power(&mut self, supply: Supply, for_ms: u64) {
        self.act(Act::PowerCut { supply, for_ms });
    }

    /// ms since the start.
    #[must_use]
    pub fn now_ms(&self) -> u64 {
        self.plant.truth().now_ms
    }

    /// ms from midnight before day 1.
    #[must_use]
    pub fn clock_ms(&self) -> u64 {
        self.start_ms + self.now_ms()
    }

    /// Length of a tick, ms.
    #[must_use]
    pub fn tick_ms(&self) -> u32 {
        self.tick_ms
    }

    /// What is really so.
    #[must_use]
    pub fn truth(&self) -> &Truth {
        self.plant.truth()
    }

    /// What the unit commanded in the last tick.
    #[must_use]
    pub fn commands(&self) -> &Commands {
        &self.commands
    }

    /// What the unit shows.
    #[must_use]
    pub fn status(&self) -> &UnitStatus {
        &self.status
    }

    /// Whether the unit has power.
    #[must_use]
    pub fn powered(&self) -> bool {
        self.powered
    }

    /// The unit.
    #[must_use]
    pub fn unit(&self) -> &U {
        &self.unit
    }

    /// The unit, to press its buttons.
    pub fn unit_mut(&mut self) -> &mut U {
        &mut self.unit
    }

    /// What happened, in order.
    #[must_use]
    pub fn log(&self) -> &[LogLine] {
        &self.log.lines
    }

    /// Lines that the log had no room for.
    #[must_use]
    pub fn log_dropped(&self) -> u64 {
        self.log.dropped
    }

    /// Events that never came: what they waited for did not happen, or the run ended before.
    pub fn unplayed(&self) -> impl Iterator<Item = &Act> {
        self.player.unplayed()
    }

    /// What the oracles found so far.
    #[must_use]
    pub fn findings(&self) -> Findings {
        self.judge.findings()
    }

    /// Ends the run: what stands open (water that waits to be fed, a dose under way) is judged as
    /// it stands. Ask once, at the end.
    pub fn finish(&mut self) -> Findings {
        self.judge.finish(self.plant.truth());
        self.judge.findings()
    }
}
