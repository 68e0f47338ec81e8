//! A pool of our own, for tests and benchmarks outside the crate.
#![allow(dead_code, reason = "each target uses a part")]
#![allow(
    clippy::expect_used,
    reason = "a test that panics has failed, as it should"
)]

use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden::guard::{
    Action, Authority, BodyLimits, Cutoff, Facts, FeederFacts, FeederLimits, FeederSpec, Fitted,
    Governor, Inhibits, Limits, LimitsSpec, Product, Reading, ResponseLimits, Restart, Stage,
    TickClock,
};
use dosewarden::regulate::{Direction, SizedDose, Standard};
use dosewarden::settings::{AlarmSettings, DrumSettings, SettingsSpec, ValueAlarms};
use dosewarden::{Act, CareSettings, Inputs, Person, PoolController, Settings};

const ACID: FeederSpec<1> = FeederSpec {
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

const CHLORINE: FeederSpec<1> = FeederSpec {
    product: Product::Hypochlorite,
    governor: Governor::Orp,
    bodies: [BodyLimits {
        spread_hold: Millis::from_mins(5),
        cutoff: Cutoff::Oxidiser {
            orp: Millivolts(780),
            ph_floor: MilliPh(6900),
            ph_weak: MilliPh(7900),
            weak_share: Percent(50),
            orp_ph: MilliPh(7500),
            orp_fall: Millivolts(60),
        },
        ..ACID.bodies[0]
    }],
    ..ACID
};

const LIMITS: LimitsSpec<2, 1> = LimitsSpec {
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
    response: ResponseLimits {
        wrong_way_max: MilliPh(150),
        answer_max: MilliPh(400),
        answer_min: MilliPh(10),
        unanswered_max: 255,
        probe_cycle_every: Millis::from_hours(4),
    },
    fallback: Fitted::NotFitted,
    off_credit_max: Millis(0),
    off_credit_ratio: 0,
    feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(CHLORINE)],
};

/// Settings with every optional part in use.
pub(crate) const SETTINGS: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7000,
            high: 7800,
            dead_band: 50,
            rate: Some(dosewarden::settings::RateLimit {
                change_max: 300,
                within: Millis::from_mins(10),
            }),
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
    drums: [
        Fitted::Fitted(DrumSettings {
            size: Dose::from_ml(20_000),
            low: Dose::from_ml(2000),
            low_days: 2,
        }),
        Fitted::NotFitted,
    ],
    level_errors: [Fitted::NotFitted; 2],
    response: Fitted::NotFitted,
};

fn regulators() -> [Standard; 2] {
    let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(120), 100);
    let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(60), 20);
    [
        acid.expect("figures of the test").into(),
        chlorine.expect("figures of the test").into(),
    ]
}

/// Everything well, and both products wanted.
pub(crate) fn wanting() -> Inputs<2> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Inputs::new(Facts {
        flow_switch: Reading::now(true),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7600)),
        orp: Reading::now(Millivolts(650)),
        inhibits: Inhibits::NONE,
        feeders: [feeder; 2],
        ..Facts::UNKNOWN
    })
}

/// A controller, its clock, and a store that answers at once.
pub(crate) struct Pool {
    pub(crate) controller: PoolController,
    pub(crate) inputs: Inputs<2>,
    clock: TickClock,
    now_ms: u32,
    record: [u8; 1024],
}

impl Pool {
    /// Begun by a technician, full stage.
    pub(crate) fn begun() -> Self {
        let (mut controller, _) = PoolController::restore(
            Limits::try_new(LIMITS).expect("limits of the test"),
            Settings::try_new(SETTINGS).expect("settings of the test"),
            regulators(),
            None,
            None,
        );
        controller.set_care(CareSettings::NONE);
        let mut pool = Self {
            controller,
            inputs: wanting(),
            clock: TickClock::new(),
            now_ms: 0,
            record: [0; 1024],
        };
        pool.clock.step(0);
        for action in [Action::Initialise, Action::SetStage(Stage::Full)] {
            pool.inputs.person = Some(Person {
                by: Authority::Technician,
                act: Act::Guard(action),
            });
            pool.tick();
        }
        pool.inputs.person = None;
        pool
    }

    /// One second. Whether any feeder had a permit.
    pub(crate) fn tick(&mut self) -> bool {
        self.now_ms = self.now_ms.wrapping_add(1000);
        let elapsed = self.clock.step(self.now_ms);
        let mut outputs = self.controller.tick(elapsed, &self.inputs);
        let fed = outputs.permit::<0>().is_some() | outputs.permit::<1>().is_some();
        if outputs.save {
            self.inputs.facts.saved = self.controller.seal_record(&mut self.record).ok();
        }
        fed
    }
}
