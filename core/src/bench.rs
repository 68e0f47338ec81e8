//! A site, settings and a controller with its store and its time, for tests.

use crate::alarm::{AlarmId, AlarmState};
use crate::guard::units::{Dose, Fitted, MilliPh, Millis, Millivolts, Percent, Rate};
use crate::guard::{
    Action, Authority, BodyLimits, Cutoff, Decision, Facts, FallbackCaps, FallbackLimits,
    FeederFacts, FeederLimits, FeederSpec, Governor, Inhibits, Limits, LimitsSpec, Product,
    Reading, Record, ResponseLimits, Restart, Stage, TickClock, Ticket,
};
use crate::regulate::{Direction, SizedDose, Standard};
use crate::settings::{AlarmSettings, DrumSettings, Settings, SettingsSpec, ValueAlarms};
use crate::{Act, ActResult, CareSettings, Inputs, Person, Phase, PoolController};

pub(crate) const ACID: FeederSpec<1> = FeederSpec {
    product: Product::Acid,
    governor: Governor::Ph,
    rate: Rate::from_ml_per_min(30),
    rate_tolerance: Percent(10),
    rate_any_tube: Rate::from_ml_per_min(60),
    catch_test_on_record: true,
    drive_off: Millis(200),
    feedback: Fitted::NotFitted,
    feedback_clear: Millis(10_000),
    cut_timer: Fitted::NotFitted,
    level_switch: Fitted::NotFitted,
    cell_flow_switch: Fitted::NotFitted,
    dose_min: Dose::from_ml(5),
    slice_max: Dose::from_ml(45),
    run_max: Millis::from_mins(3),
    bodies: [BodyLimits {
        cycle_cap: Dose::from_ml(45),
        hour_cap: Dose::from_ml(180),
        day_cap: Dose::from_ml(900),
        reduced_share: Percent(50),
        spread_hold: Millis::from_mins(10),
        cutoff: Cutoff::AbovePh(MilliPh(7000)),
        fallback: Fitted::NotFitted,
    }],
};

pub(crate) const CHLORINE: FeederSpec<1> = FeederSpec {
    product: Product::Hypochlorite,
    governor: Governor::Orp,
    rate: Rate::from_ml_per_min(60),
    rate_any_tube: Rate::from_ml_per_min(120),
    bodies: [BodyLimits {
        cycle_cap: Dose::from_ml(60),
        hour_cap: Dose::from_ml(400),
        day_cap: Dose::from_ml(3000),
        reduced_share: Percent(50),
        spread_hold: Millis::from_mins(5),
        cutoff: Cutoff::Oxidiser {
            orp: Millivolts(780),
            ph_floor: MilliPh(6900),
            ph_weak: MilliPh(7900),
            weak_share: Percent(50),
            orp_ph: MilliPh(7500),
            orp_fall: Millivolts(60),
        },
        fallback: Fitted::Fitted(FallbackCaps {
            cycle: Dose::from_ml(20),
            day: Dose::from_ml(200),
        }),
    }],
    slice_max: Dose::from_ml(60),
    ..ACID
};

pub(crate) const SPEC: LimitsSpec<2, 1> = LimitsSpec {
    tick_gap_max: Millis(2000),
    power_on_delay: Millis::from_secs(30),
    power_on_delay_new_probe: Millis::from_mins(5),
    restart_after_power_loss: Restart::Automatic,
    flow_switch: Fitted::YES,
    flow_meter: Fitted::NotFitted,
    pump_contact: Fitted::YES,
    witness_age_max: Millis(2000),
    flow_prove: Millis::from_secs(60),
    stuck_flow_max: Millis::from_secs(30),
    ph_probe: Fitted::YES,
    orp_probe: Fitted::YES,
    probe_age_max: Millis(5000),
    probe_settle: Millis::from_secs(90),
    probe_failure_max: Millis::from_mins(10),
    body_valves: Fitted::NotFitted,
    purge: Millis::from_secs(45),
    resume_within: Millis::from_secs(60),
    save_max: Millis::from_secs(5),
    manual_max: Millis::from_secs(20),
    hours: Fitted::NotFitted,
    // Water that does not move is what the tests have: a large limit keeps `response_sane` quiet.
    response: ResponseLimits {
        wrong_way_max: MilliPh(150),
        answer_max: MilliPh(400),
        answer_min: MilliPh(1),
        unanswered_max: 255,
        probe_cycle_every: Millis::from_hours(4),
    },
    fallback: Fitted::Fitted(FallbackLimits {
        run_max: Millis::from_hours(72),
        test_age_max: Millis::from_hours(1),
        warn_before: Millis::from_hours(4),
    }),
    off_credit_max: Millis(0),
    off_credit_ratio: 0,
    feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(CHLORINE)],
};

const DRUM: Fitted<DrumSettings> = Fitted::Fitted(DrumSettings {
    size: Dose::from_ml(20_000),
    low: Dose::from_ml(2000),
    low_days: 2,
});

pub(crate) const SETTINGS_SPEC: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7000,
            high: 7800,
            dead_band: 50,
            rate: None,
        },
        orp: ValueAlarms {
            low: 600,
            high: 800,
            dead_band: 10,
            rate: None,
        },
        on_delay: Millis::from_mins(5),
        off_delay: Millis::from_mins(1),
        demand_unmet_after: Millis::from_hours(4),
        flow_absent_after: Millis::from_hours(20),
    },
    drums: [DRUM; 2],
    level_errors: [Fitted::NotFitted; 2],
    response: Fitted::NotFitted,
};

pub(crate) fn regulators() -> [Standard; 2] {
    let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(120), 100);
    let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(60), 20);
    [acid.unwrap().into(), chlorine.unwrap().into()]
}

/// Everything well: water flows, pH is high and ORP low.
pub(crate) fn healthy() -> Facts<2> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Facts {
        flow_switch: Reading::now(true),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7600)),
        orp: Reading::now(Millivolts(650)),
        inhibits: Inhibits::NONE,
        feeders: [feeder; 2],
        ..Facts::UNKNOWN
    }
}

/// What one tick showed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shown {
    pub(crate) decision: Decision<2>,
    pub(crate) phases: [Phase; 2],
    pub(crate) act: Option<ActResult>,
    pub(crate) save: bool,
}

impl Shown {
    pub(crate) fn feeds(&self, feeder: usize) -> bool {
        self.decision.feeders[feeder].run.0 > 0
    }
}

/// A controller, its clock and two copies of its record.
pub(crate) struct Bench {
    pub(crate) controller: PoolController,
    pub(crate) inputs: Inputs<2>,
    pub(crate) copies: [Option<std::vec::Vec<u8>>; 2],
    /// Whether the store works.
    pub(crate) saves: bool,
    clock: TickClock,
    pub(crate) now_ms: u32,
}

impl Bench {
    pub(crate) fn start(
        spec: LimitsSpec<2, 1>,
        regulators: [Standard; 2],
        copies: [Option<std::vec::Vec<u8>>; 2],
    ) -> Self {
        let mut bench = Self::untold(spec, regulators, copies);
        bench.controller.set_care(CareSettings::NONE);
        bench
    }

    /// Nobody has set what its stages need.
    pub(crate) fn untold(
        spec: LimitsSpec<2, 1>,
        regulators: [Standard; 2],
        copies: [Option<std::vec::Vec<u8>>; 2],
    ) -> Self {
        let read = |copy: &Option<std::vec::Vec<u8>>| {
            copy.as_deref()
                .and_then(|bytes| Record::<2, 1, 7, 25>::decode(bytes).ok())
        };
        let (controller, _) = PoolController::restore(
            Limits::try_new(spec).unwrap(),
            Settings::try_new(SETTINGS_SPEC).unwrap(),
            regulators,
            read(&copies[0]).as_ref(),
            read(&copies[1]).as_ref(),
        );
        let mut clock = TickClock::new();
        clock.step(0);
        Self {
            controller,
            inputs: Inputs::new(healthy()),
            copies,
            saves: true,
            clock,
            now_ms: 0,
        }
    }

    /// A new unit, begun by a technician and in the full stage.
    pub(crate) fn begun(spec: LimitsSpec<2, 1>, regulators: [Standard; 2]) -> Self {
        let mut bench = Self::start(spec, regulators, [None, None]);
        let done = bench.act(Act::Guard(Action::Initialise)).act;
        assert_eq!(done, Some(ActResult::Done));
        bench.act(Act::Guard(Action::SetStage(Stage::Full)));
        bench
    }

    /// Begun, and past every hold, with nothing asked for meanwhile.
    pub(crate) fn ready(spec: LimitsSpec<2, 1>, regulators: [Standard; 2]) -> Self {
        let mut bench = Self::begun(spec, regulators);
        bench.water(7400, 720);
        bench.run(700);
        bench.water(7600, 650);
        bench
    }

    pub(crate) fn usual() -> Self {
        Self::ready(SPEC, regulators())
    }

    pub(crate) fn water(&mut self, ph: i32, orp: i32) {
        self.inputs.facts.ph = Reading::now(MilliPh(ph));
        self.inputs.facts.orp = Reading::now(Millivolts(orp));
    }

    pub(crate) fn tick(&mut self) -> Shown {
        self.now_ms = self.now_ms.wrapping_add(1000);
        let elapsed = self.clock.step(self.now_ms);
        let mut outputs = self.controller.tick(elapsed, &self.inputs);
        let master = outputs.master().is_some();
        assert_eq!(master, outputs.decision().master, "the contact's permit");
        let shown = Shown {
            decision: *outputs.decision(),
            phases: outputs.phases,
            act: outputs.act,
            save: outputs.save,
        };
        if shown.save && self.saves {
            let mut bytes = std::vec![0; PoolController::<Standard>::RECORD_LEN];
            self.controller.seal_record(&mut bytes).unwrap();
            self.inputs.facts.saved = Ticket::of(&bytes);
            self.copies = [Some(bytes.clone()), Some(bytes)];
        }
        shown
    }

    pub(crate) fn act(&mut self, act: Act) -> Shown {
        self.act_as(Authority::Technician, act)
    }

    pub(crate) fn act_as(&mut self, by: Authority, act: Act) -> Shown {
        self.inputs.person = Some(Person { by, act });
        let shown = self.tick();
        self.inputs.person = None;
        shown
    }

    pub(crate) fn run(&mut self, secs: u32) {
        for _ in 0..secs {
            self.tick();
        }
    }

    /// Ticks until something holds; how many ticks it took.
    pub(crate) fn until(&mut self, most: u32, holds: impl Fn(&Shown) -> bool) -> u32 {
        for ticks in 1..=most {
            if holds(&self.tick()) {
                return ticks;
            }
        }
        panic!("not within {most} ticks: {:#?}", self.tick());
    }

    pub(crate) fn alarm(&self, id: AlarmId) -> AlarmState {
        self.controller.alarms().state(id).unwrap()
    }
}
