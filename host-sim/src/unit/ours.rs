//! Our own unit: the controller of the crate `dosewarden` with a clock, a store and a watchdog,
//! wired to the simulated pool as firmware wires it to a board.

use dosewarden::alarm::{AlarmId, FeederAlarm, SiteAlarm};
use dosewarden::guard::units::Millis;
use dosewarden::guard::{Record, Rule, TickClock};
use dosewarden::proof::ProofTests;
use dosewarden::regulate::Standard;
use dosewarden::settings::Settings;
use dosewarden::stock::Stock;
use dosewarden::water_tests::WaterTests;
use dosewarden::{Controller, Obstacle, Outputs, Restraints};

use super::care::CareDesk;
use super::persons::{self, Queue};
use super::probes::Probes;
use super::store::{MS_PER_COPY, Store};
use super::wiring::Wiring;
use super::{ControlUnit, Reply, UnitStatus};
use crate::plant::{Commands, FeederCommand, MAX_FEEDERS, Senses, TwoCopyStore};
use crate::scenario::{CareAct, PersonAct, Scenario, SiteLimits, Work};

/// Buckets of the rolling hour: ten minutes each, and one more.
const HOUR: usize = 7;
/// Buckets of the rolling day: an hour each, and one more.
const DAY: usize = 25;

pub(super) type Ours = Controller<MAX_FEEDERS, 1, HOUR, DAY, Standard>;

/// What the free-running counter shows at the first start, so that every long run wraps it.
const COUNTER_START_MS: u32 = u32::MAX - 3_600_000;

/// Reasons besides the guard's rules, with bits after theirs.
const OWN_REASONS: [&str; 4] = ["other_has_turn", "pump_stops", "output_fault", "hand_dose"];

/// The controller of the crate `dosewarden` as a control unit.
///
/// What it keeps without power is its store: two copies of the guard's record, and what persons
/// entered about the drums.
pub struct DosewardenUnit {
    limits: SiteLimits,
    settings: Settings<MAX_FEEDERS>,
    regulators: [Standard; MAX_FEEDERS],
    cut_timers: [bool; MAX_FEEDERS],
    store: Store,
    stocks: [Stock; MAX_FEEDERS],
    /// Kept whenever it changes, by a store of its own that is not simulated.
    restraints: Restraints<MAX_FEEDERS>,
    wiring: Wiring,
    care: CareDesk,
    controller: Option<Ours>,
    clock: TickClock,
    counter_ms: u32,
    persons: Queue,
    reply: Option<Reply>,
    status: UnitStatus,
    record: Vec<u8>,
    reasons: Vec<String>,
    alarms: Vec<String>,
    feeders: usize,
}

impl DosewardenUnit {
    /// A new unit, its store erased, with a scenario's limits, settings and regulators.
    #[must_use]
    pub fn for_scenario(scenario: &Scenario) -> Self {
        let timetable = scenario.plant.circulation.timetable.clone();
        let regulator = |index: usize| scenario.feeders.get(index).map(|plan| plan.regulator);
        let feeders = scenario.feeders.len();
        let water = scenario.plant.bodies.first();
        let probes = Probes::new(water.map_or(25.0, |body| body.temperature.at(0)));
        Self {
            limits: scenario.limits.clone(),
            settings: scenario.settings,
            regulators: core::array::from_fn(|index| regulator(index).unwrap_or(Standard::Never)),
            cut_timers: core::array::from_fn(|index| {
                scenario
                    .limits
                    .feeder(index)
                    .is_some_and(|spec| spec.cut_timer.is_fitted())
            }),
            store: Store::erased(),
            stocks: [Stock::UNKNOWN; MAX_FEEDERS],
            restraints: Restraints::NONE,
            wiring: Wiring::new(scenario.timetable_known.then_some(timetable), probes),
            care: CareDesk::new(scenario.care),
            controller: None,
            clock: TickClock::new(),
            counter_ms: COUNTER_START_MS,
            persons: Queue::new(),
            reply: None,
            status: UnitStatus::default(),
            record: vec![0; Ours::RECORD_LEN],
            reasons: Rule::ALL
                .iter()
                .map(|rule| rule.name())
                .chain(OWN_REASONS)
                .map(str::to_owned)
                .collect(),
            alarms: alarm_names(scenario),
            feeders,
        }
    }

    /// The controller, while it has power, to look at.
    #[must_use]
    pub fn controller(&self) -> Option<&Controller<MAX_FEEDERS, 1, HOUR, DAY, Standard>> {
        self.controller.as_ref()
    }

    /// The tests of the water that persons entered.
    #[must_use]
    pub fn tests(&self) -> &WaterTests {
        self.wiring.probes.tests()
    }

    /// Its proof tests.
    #[must_use]
    pub fn proof_tests(&self) -> &ProofTests<MAX_FEEDERS> {
        self.care.tests()
    }

    /// The flash that holds the record, for faults of it.
    pub fn flash_mut(&mut self) -> &mut TwoCopyStore {
        self.store.flash_mut()
    }
}

/// Alarms of the site, then of each feeder.
fn alarm_names(scenario: &Scenario) -> Vec<String> {
    let site = SiteAlarm::ALL.iter().map(|alarm| alarm.name().to_owned());
    let of_feeders = scenario.feeders.iter().flat_map(|plan| {
        FeederAlarm::ALL
            .iter()
            .map(|alarm| format!("{}: {}", plan.name, alarm.name()))
    });
    site.chain(of_feeders).collect()
}

/// The bit of an alarm, in the order of [`alarm_names`].
fn alarm_bit(id: AlarmId) -> u64 {
    let at = match id {
        AlarmId::Site(alarm) => usize::from(alarm.number()),
        AlarmId::Feeder(feeder, alarm) => {
            let before = SiteAlarm::COUNT + usize::from(feeder) * FeederAlarm::COUNT;
            before + usize::from(alarm.number())
        }
    };
    1_u64.checked_shl(at as u32).unwrap_or(0)
}

/// Takes the permits of a tick to the contacts. A permit covers one tick: the next one decides
/// anew, and without it everything is off.
fn apply(outputs: &mut Outputs<'_, MAX_FEEDERS>, cut_timers: [bool; MAX_FEEDERS]) -> Commands {
    let runs = [
        outputs.permit::<0>().map(|permit| permit.run_max()),
        outputs.permit::<1>().map(|permit| permit.run_max()),
        outputs.permit::<2>().map(|permit| permit.run_max()),
        outputs.permit::<3>().map(|permit| permit.run_max()),
    ];
    let mut commands = Commands {
        master: outputs.master().is_some(),
        ..Commands::IDLE
    };
    for ((command, run), timer) in commands.feeders.iter_mut().zip(runs).zip(cut_timers) {
        let Some(Millis(run_ms)) = run else {
            continue;
        };
        *command = FeederCommand {
            on: true,
            cut_after_ms: timer.then_some(run_ms),
        };
    }
    commands
}

impl ControlUnit for DosewardenUnit {
    fn power_up(&mut self) {
        let copies = self.store.copies();
        let [first, second] = copies.map(|copy| copy.and_then(|bytes| Record::decode(bytes).ok()));
        let (mut controller, _) = Ours::restore(
            self.limits.clone(),
            self.settings,
            self.regulators,
            first.as_ref(),
            second.as_ref(),
        );
        for (feeder, stock) in self.stocks.iter().enumerate() {
            controller.set_stock(feeder, *stock);
        }
        controller.set_restraints(self.restraints);
        controller.set_care(self.care.settings());
        self.controller = Some(controller);
        self.clock = TickClock::new();
    }

    fn power_down(&mut self) {
        // The power goes at a moment within the tick that nobody chose, most often while a record
        // that was begun in the last tick is being written.
        let moment = self.counter_ms.wrapping_mul(0x9E37_79B1) >> 16;
        self.store.power_cut(moment % (2 * MS_PER_COPY + 20));
        self.wiring.forget();
        self.care.forget();
        self.controller = None;
        self.persons.clear();
        self.status = UnitStatus::default();
    }

    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        self.store.step(dt_ms);
        self.counter_ms = self.counter_ms.wrapping_add(dt_ms);
        let elapsed = self.clock.step(self.counter_ms);
        let is_steady = self.controller.as_ref().is_some_and(|controller| {
            let settle = controller.guard().limits().spec().probe_settle;
            controller.guard().state().settled >= settle
        });
        let saved = self.store.confirmed();
        let mut inputs = self.wiring.read(dt_ms, senses, saved, is_steady);
        inputs.person = self.persons.pop_front();
        let (tests, celsius) = (self.wiring.probes.tests(), senses.water_c);
        inputs.care = self.care.tell(&self.limits, tests, celsius);
        let Some(controller) = &mut self.controller else {
            return Commands::UNPOWERED;
        };
        let mut outputs = controller.tick(elapsed, &inputs);
        let commands = apply(&mut outputs, self.cut_timers);
        if let Some(result) = outputs.act {
            self.reply = Some(persons::refusal(result).map_or(Reply::Done, Reply::Refused));
        }
        if outputs.save && controller.seal_record(&mut self.record).is_ok() {
            self.store.want(&self.record);
            for (feeder, stock) in self.stocks.iter_mut().enumerate() {
                *stock = controller.stock(feeder).unwrap_or(Stock::UNKNOWN);
            }
        }
        self.care.watch(controller, elapsed.millis(), &inputs);
        self.restraints = *controller.restraints();
        self.status = status(controller, self.feeders);
        self.status.ph = Some(inputs.facts.ph.value.0).filter(|_| !senses.ph.open);
        self.status.orp = Some(inputs.facts.orp.value.0).filter(|_| !senses.orp.open);
        commands
    }

    fn person(&mut self, act: &PersonAct) -> Reply {
        match *act {
            PersonAct::EmergencyStop(ms) => self.wiring.stopped_ms = ms,
            PersonAct::ManualFeed { feeder, for_ms }
            | PersonAct::Care {
                act: CareAct::Prime { feeder, for_ms },
                ..
            } => {
                if let Some(held) = self.wiring.held_ms.get_mut(feeder) {
                    *held = for_ms;
                }
            }
            _ => {}
        }
        let Some(controller) = &mut self.controller else {
            return Reply::Refused("the unit has no power".to_owned());
        };
        if let PersonAct::Work { by, work } = *act {
            let told = self.wiring.probes.work(controller, by, work);
            if let (Work::Anchor { .. }, Ok(())) = (work, told) {
                let probes = &self.wiring.probes;
                probes.set_point(&self.limits, &mut self.regulators);
                probes.set_point(&self.limits, controller.regulators_mut());
            }
            return told.map_or_else(|why| Reply::Refused(why.to_string()), |()| Reply::Done);
        }
        if let PersonAct::Care { by, act } = *act
            && let Some(reply) = self.care.take(controller, &mut self.limits, by, act)
        {
            return reply;
        }
        let before = self.persons.len();
        persons::queue(
            act,
            controller.guard().state(),
            &self.limits,
            &mut self.persons,
        );
        match act {
            _ if self.persons.len() > before => Reply::Later,
            PersonAct::Release { .. } => Reply::Refused("no such lockout stands".to_owned()),
            _ => Reply::Done,
        }
    }

    fn late_reply(&mut self) -> Option<Reply> {
        self.reply.take()
    }

    fn status(&self) -> UnitStatus {
        self.status
    }

    fn refusal_names(&self) -> &[String] {
        &self.reasons
    }

    fn alarm_names(&self) -> &[String] {
        &self.alarms
    }
}

/// What the controller shows after a tick.
fn status(controller: &Ours, feeders: usize) -> UnitStatus {
    let mut status = UnitStatus::default();
    let state = controller.guard().state();
    status.needs_person = !state.site_lockouts.is_empty();
    for (feeder, shown) in status.feeders.iter_mut().enumerate().take(feeders) {
        let wanted = controller.wanted(feeder);
        shown.asked = wanted.stands();
        shown.asked_dose = wanted.dose.0;
        status.needs_person |= state
            .feeder_lockouts
            .get(feeder)
            .is_some_and(|own| !own.is_empty());
        for obstacle in controller.why(feeder).into_iter().flatten() {
            shown.refusing |= reason_bit(&obstacle);
        }
    }
    let alarms = controller.alarms();
    let summary = alarms.summary();
    if summary.active > 0 || summary.unacknowledged > 0 {
        for (id, alarm) in alarms.listed() {
            if alarm.is_active() {
                status.alarms |= alarm_bit(id);
            }
            if alarm.calls() {
                status.alarms_new |= alarm_bit(id);
            }
        }
    }
    status
}

/// The bit of a reason, in the order of the unit's names. Nothing asked for is no refusal.
fn reason_bit(obstacle: &Obstacle) -> u64 {
    let own = |at: usize| 1_u64 << (Rule::COUNT + at);
    match obstacle {
        Obstacle::Rule(rule, _) => 1 << rule.index(),
        Obstacle::Lockout(_) => 1 << Rule::NoLockout.index(),
        Obstacle::OtherHasTurn => own(0),
        Obstacle::PumpStops(_) => own(1),
        Obstacle::OutputFault => own(2),
        Obstacle::HandDose(_) | Obstacle::HandDay(_) => own(3),
        Obstacle::Disabled | Obstacle::NotAsked => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_alarm_and_reason_has_a_bit_and_a_name() {
        let unit = DosewardenUnit::for_scenario(&Scenario::first_pool());
        assert_eq!(
            unit.alarm_names().len(),
            SiteAlarm::COUNT + 2 * FeederAlarm::COUNT
        );
        const { assert!(SiteAlarm::COUNT + MAX_FEEDERS * FeederAlarm::COUNT <= 64) };
        assert!(unit.refusal_names().len() <= 64);
        let last = AlarmId::Feeder(1, FeederAlarm::LockedDrive);
        let at = alarm_bit(last).trailing_zeros() as usize;
        assert_eq!(unit.alarm_names()[at], "chlorine: locked_drive");
        let at = reason_bit(&Obstacle::OutputFault).trailing_zeros() as usize;
        assert_eq!(unit.refusal_names()[at], "output_fault");
    }
}
