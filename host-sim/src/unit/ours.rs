//! Our own unit, for one body of water or two: the controller of the crate `dosewarden` with a clock, a store and a
//! watchdog, wired to the simulated pool as firmware wires it to a board.

use dosewarden::alarm::AlarmId;
use dosewarden::guard::units::Millis;
use dosewarden::guard::{Limits, Record, Rule, TickClock};
use dosewarden::proof::{InterlockSet, ProofStep};
use dosewarden::regulate::Standard;
use dosewarden::settings::Settings;
use dosewarden::store::KeptRecord;
use dosewarden::{Controller, Outputs};

use super::board::Brought;
use super::canary::Wrong;
use super::care::CareDesk;
use super::kept::KeptFlash;
use super::persons::{self, Queue};
use super::probes::Probes;
use super::shown::{OWN_REASONS, ShownAlarms, alarm_names, show};
use super::store::{MS_PER_COPY, Store};
use super::wiring::Wiring;
use super::{ControlUnit, InsideFault, RateFound, Reply, Told, UnitStatus};
use crate::plant::{Commands, FeederCommand, Senses};
use crate::scenario::{CareAct, PersonAct, Scenario, Work};

/// Buckets of the rolling hour: ten minutes each, and one more.
pub(super) const HOUR: usize = 7;
/// Buckets of the rolling day: an hour each, and one more.
pub(super) const DAY: usize = 25;

pub(super) type Ours<const N: usize, const B: usize> = Controller<N, B, HOUR, DAY, Standard>;

/// What the free-running counter shows at the first start, so that every long run wraps it.
const COUNTER_START_MS: u32 = u32::MAX - 3_600_000;

/// The controller of the crate `dosewarden` as a control unit for so many feeders and bodies.
///
/// What it keeps without power are two stores, of the guard's record and of what persons did and
/// found, and the settings that it was commissioned with: a change of limits is kept at once.
pub(super) struct OurUnit<const N: usize, const B: usize> {
    pub(super) limits: Limits<N, B>,
    /// Those that it was fitted with.
    pub(super) fitted_limits: Limits<N, B>,
    pub(super) settings: Settings<N>,
    pub(super) regulators: [Standard; N],
    pub(super) cut_timers: [bool; N],
    pub(super) store: Store,
    /// Copies of both places that somebody keeps away.
    pub(super) away: [Option<Vec<u8>>; 2],
    /// What persons did and found, and what was learned.
    pub(super) kept: KeptFlash<N>,
    /// The next loss of power finds a write of that under way.
    pub(super) tears_kept: bool,
    pub(super) wiring: Wiring,
    pub(super) care: CareDesk<N>,
    pub(super) controller: Option<Ours<N, B>>,
    pub(super) clock: TickClock,
    pub(super) counter_ms: u32,
    pub(super) persons: Queue,
    pub(super) reply: Option<Reply>,
    pub(super) status: UnitStatus,
    pub(super) shown_alarms: ShownAlarms,
    pub(super) record: Vec<u8>,
    pub(super) reasons: Vec<String>,
    pub(super) alarms: Vec<String>,
    pub(super) feeders: usize,
    pub(super) wrong: Option<Wrong>,
    /// What was brought from another board since the last start.
    pub(super) brought: Option<Box<Brought<N, B>>>,
}

impl<const N: usize, const B: usize> OurUnit<N, B> {
    /// A new unit, its store erased, with these limits, a scenario's settings and regulators.
    pub(super) fn new(
        scenario: &Scenario,
        (limits, settings): (Limits<N, B>, Settings<N>),
        wrong: Option<Wrong>,
    ) -> Self {
        let regulator = |index: usize| scenario.feeders.get(index).map(|plan| plan.regulator);
        let feeders = scenario.feeders.len();
        let water = scenario.plant.bodies.first();
        let probes = Probes::new(water.map_or(25.0, |body| body.temperature.at(0)));
        Self {
            fitted_limits: limits.clone(),
            settings,
            regulators: core::array::from_fn(|index| regulator(index).unwrap_or(Standard::Never)),
            cut_timers: core::array::from_fn(|index| {
                limits
                    .feeder(index)
                    .is_some_and(|spec| spec.cut_timer.is_fitted())
            }),
            limits,
            store: Store::erased(),
            away: [None, None],
            kept: KeptFlash::fitted(KeptRecord {
                upkeep: probes.kept(),
                ..KeptRecord::NEW
            }),
            tears_kept: false,
            wiring: Wiring::of(scenario, probes),
            care: CareDesk::new(scenario.care),
            controller: None,
            clock: TickClock::new(),
            counter_ms: COUNTER_START_MS,
            persons: Queue::new(),
            reply: None,
            status: UnitStatus::default(),
            shown_alarms: ShownAlarms::default(),
            record: vec![0; Ours::<N, B>::RECORD_LEN],
            reasons: Rule::ALL
                .iter()
                .map(|rule| rule.name())
                .chain(OWN_REASONS)
                .map(str::to_owned)
                .collect(),
            alarms: alarm_names(scenario),
            feeders,
            wrong,
            brought: None,
        }
    }
}

/// How long each feeder may run, by its permit of this tick.
pub(super) trait Runs<const N: usize> {
    /// Takes all permits.
    fn runs(&mut self) -> [Option<Millis>; N];
}

impl Runs<2> for Outputs<'_, 2> {
    fn runs(&mut self) -> [Option<Millis>; 2] {
        [
            self.permit::<0>().map(|permit| permit.run_max()),
            self.permit::<1>().map(|permit| permit.run_max()),
        ]
    }
}

impl Runs<4> for Outputs<'_, 4> {
    fn runs(&mut self) -> [Option<Millis>; 4] {
        [
            self.permit::<0>().map(|permit| permit.run_max()),
            self.permit::<1>().map(|permit| permit.run_max()),
            self.permit::<2>().map(|permit| permit.run_max()),
            self.permit::<3>().map(|permit| permit.run_max()),
        ]
    }
}

/// Takes the permits of a tick to the contacts. A permit covers one tick: the next one decides
/// anew, and without it everything is off.
fn apply<'g, const N: usize>(outputs: &mut Outputs<'g, N>, cut_timers: [bool; N]) -> Commands
where
    Outputs<'g, N>: Runs<N>,
{
    let runs = outputs.runs();
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

impl<const N: usize, const B: usize> ControlUnit for OurUnit<N, B>
where
    for<'g> Outputs<'g, N>: Runs<N>,
{
    fn power_up(&mut self) {
        let copies = self.store.copies();
        let [first, second] = copies.map(|copy| {
            let mut record = copy.and_then(|bytes| Record::decode(bytes).ok())?;
            if let Some(wrong) = &self.wrong {
                wrong.on_restart(&mut record);
            }
            Some(record)
        });
        let (mut controller, _) = Ours::<N, B>::restore(
            self.limits.clone(),
            self.settings,
            self.regulators,
            first.as_ref(),
            second.as_ref(),
        );
        let is_new = copies.iter().all(Option::is_none);
        let kept = KeptRecord::to_start(self.kept.load(), is_new);
        kept.put_back(&mut controller);
        // Before its first tick no time without power has passed, but where another board was before.
        let off = match self.brought.take() {
            Some(brought) => {
                brought.note(&mut controller);
                Some(brought.hours_off)
            }
            None => (self.counter_ms != COUNTER_START_MS).then_some(None),
        };
        self.care.start(kept.proofs, off);
        let probes = &mut self.wiring.probes;
        probes.start(kept.upkeep, off);
        probes.set_point(&self.limits, controller.regulators_mut());
        controller.set_care(self.care.settings());
        self.controller = Some(controller);
        self.shown_alarms = ShownAlarms::default();
        self.clock = TickClock::new();
    }

    fn power_down(&mut self) {
        // The power goes at a moment within the tick that nobody chose, most often while a record
        // that was begun in the last tick is being written.
        let moment = self.counter_ms.wrapping_mul(0x9E37_79B1) >> 16;
        let into_ms = moment % (2 * MS_PER_COPY + 20);
        self.store.power_cut(into_ms);
        if core::mem::take(&mut self.tears_kept) {
            self.kept.tear();
        }
        self.kept.power_cut(into_ms);
        self.wiring.forget();
        self.controller = None;
        self.persons.clear();
        self.status = UnitStatus::default();
    }

    fn time_passes(&mut self, true_ms: u32) {
        self.store.time_passes(true_ms);
        self.kept.time_passes(true_ms);
    }

    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        self.store.read_back();
        self.kept.look(dt_ms);
        let mut misread = None;
        if let Some(wrong) = &mut self.wrong {
            wrong.on_read(dt_ms, misread.insert(*senses));
        }
        let senses = misread.as_ref().unwrap_or(senses);
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
            self.kept.look_now();
        }
        if outputs.save && controller.seal_record(&mut self.record).is_ok() {
            self.store.want(&self.record);
        }
        self.care.watch(controller, elapsed.millis(), &inputs);
        if !commands.feeders.iter().any(|one| one.on) && self.kept.is_looking() {
            let (upkeep, proofs) = (self.wiring.probes.upkeep(), self.care.tests());
            self.kept.keep(KeptRecord::of(controller, upkeep, proofs));
        }
        show(
            controller,
            self.feeders,
            &mut self.shown_alarms,
            &mut self.status,
        );
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
        self.kept.look_now();
        if let PersonAct::Work { by, work } = *act {
            let told = self.wiring.probes.work(controller, by, work);
            if let (Work::Anchor { .. }, Ok(())) = (work, told) {
                let probes = &self.wiring.probes;
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
        let alarms = controller.alarms().listed();
        let standing: Vec<AlarmId> = alarms
            .filter(|(_, alarm)| alarm.is_active())
            .map(|(id, _)| id)
            .collect();
        let besides = self.wrong.as_ref().and_then(|wrong| wrong.besides(act));
        for act in [Some(*act), besides].into_iter().flatten() {
            persons::queue(
                &act,
                controller.guard().state(),
                &self.limits,
                &standing,
                &mut self.persons,
            );
        }
        match act {
            _ if self.persons.len() > before => Reply::Later(self.persons.len() - before),
            PersonAct::Release { .. } => Reply::Refused("no such lockout stands".to_owned()),
            _ => Reply::Done,
        }
    }

    fn breaks(&mut self, fault: InsideFault) -> bool {
        self.break_inside(fault)
    }

    fn late_reply(&mut self) -> Option<Reply> {
        self.reply.take()
    }

    fn rate_found(&self, feeder: usize) -> Option<RateFound> {
        let level_error = self.settings.spec().level_errors.get(feeder)?;
        super::rates::found(self.controller.as_ref()?, feeder, level_error.is_fitted())
    }

    fn told(&self, feeder: usize) -> Option<Told> {
        let controller = self.controller.as_ref().filter(|_| feeder < self.feeders)?;
        Some(Told {
            phase: controller.phase(feeder)?,
            obstacles: controller.why(feeder)?.collect(),
        })
    }

    fn stored(&self) -> Option<[Option<&[u8]>; 2]> {
        Some(self.store.copies())
    }

    fn interlocks(&self) -> InterlockSet {
        self.care.interlocks(&self.limits)
    }

    fn proof_waits_for(&self) -> Option<ProofStep> {
        self.care.tests().run().map(|run| run.step())
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
