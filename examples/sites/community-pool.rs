// Limits and settings of Harrowmere Community Pool, as planned. Made by `dosewarden plan`; checked when it is built:
//     const LIMITS: Limits<2, 1> = match Limits::try_new(SPEC) { Ok(limits) => limits, Err(_) => panic!() };
//     const SET: Settings<2> = match Settings::try_new(SETTINGS) { Ok(settings) => settings, Err(_) => panic!() };
//     let (mut pool, _) = Controller::restore(LIMITS, SET, ..); pool.set_care(CARE); // stages, cold water
use dosewarden::CareSettings;
use dosewarden::guard::units::{Dose, FlowMlPerS, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden::guard::{
    BodyLimits, Cutoff, FeederLimits, FeederSpec, Fitted, Governor, LimitsSpec, Product, ResponseLimits, Restart,
};
use dosewarden::probe::CentiCelsius;
use dosewarden::proof::ProofSettings;
use dosewarden::response::{BufferingWater, ExpectedResponse};
use dosewarden::settings::{AlarmSettings, DrumSettings, SettingsSpec, ValueAlarms};
use dosewarden::stages::StageSettings;
use dosewarden::water_tests::{TestRule, TestedValue};

/// What bounds the feed.
pub const SPEC: LimitsSpec<2, 1> = LimitsSpec {
    tick_gap_max: Millis(2_000),
    power_on_delay: Millis(120_000),
    power_on_delay_new_probe: Millis(3_600_000),
    restart_after_power_loss: Restart::Automatic,
    flow_switch: Fitted::YES,
    flow_meter: Fitted::Fitted(FlowMlPerS(17000)),
    pump_contact: Fitted::YES,
    witness_age_max: Millis(2_000),
    flow_prove: Millis(60_000),
    stuck_flow_max: Millis(30_000),
    ph_probe: Fitted::YES,
    orp_probe: Fitted::YES,
    probe_age_max: Millis(10_000),
    probe_settle: Millis(300000),
    probe_failure_max: Millis(1_800_000),
    body_valves: Fitted::NotFitted,
    purge: Millis(60000),
    resume_within: Millis(120_000),
    save_max: Millis(10_000),
    manual_max: Millis(60_000),
    hours: Fitted::NotFitted,
    response: ResponseLimits {
        wrong_way_max: MilliPh(150),
        answer_max: MilliPh(350),
        answer_min: MilliPh(5),
        unanswered_max: 8,
        probe_cycle_every: Millis(7_200_000),
    },
    fallback: Fitted::NotFitted,
    off_credit_max: Millis(0),
    off_credit_ratio: 0,
    feeders: [
        // acid
        FeederLimits::Enabled(FeederSpec {
            product: Product::Acid,
            governor: Governor::Ph,
            rate: Rate(8100000),
            rate_tolerance: Percent(10),
            rate_any_tube: Rate(16000000),
            catch_test_on_record: true,
            drive_off: Millis(200),
            feedback: Fitted::Fitted(Millis(2_000)),
            feedback_clear: Millis(60_000),
            cut_timer: Fitted::NotFitted,
            level_switch: Fitted::YES,
            cell_flow_switch: Fitted::NotFitted,
            dose_min: Dose(20000),
            slice_max: Dose(1029109),
            run_max: Millis(577000),
            bodies: [BodyLimits {
                cycle_cap: Dose(1029109),
                hour_cap: Dose(1886477),
                day_cap: Dose(9044129),
                reduced_share: Percent(50),
                spread_hold: Millis(1800000),
                cutoff: Cutoff::AbovePh(MilliPh(7200)),
                fallback: Fitted::NotFitted,
            }],
        }),
        // chlorine
        FeederLimits::Enabled(FeederSpec {
            product: Product::Hypochlorite,
            governor: Governor::Orp,
            rate: Rate(12180000),
            rate_tolerance: Percent(10),
            rate_any_tube: Rate(24000000),
            catch_test_on_record: true,
            drive_off: Millis(200),
            feedback: Fitted::Fitted(Millis(2_000)),
            feedback_clear: Millis(60_000),
            cut_timer: Fitted::NotFitted,
            level_switch: Fitted::YES,
            cell_flow_switch: Fitted::NotFitted,
            dose_min: Dose(40000),
            slice_max: Dose(1600000),
            run_max: Millis(597000),
            bodies: [BodyLimits {
                cycle_cap: Dose(1600000),
                hour_cap: Dose(6400000),
                day_cap: Dose(9763200),
                reduced_share: Percent(84),
                spread_hold: Millis(900000),
                cutoff: Cutoff::Oxidiser {
                    orp: Millivolts(780),
                    ph_floor: MilliPh(6_800),
                    ph_weak: MilliPh(7_900),
                    weak_share: Percent(50),
                    orp_ph: MilliPh(7400),
                    orp_fall: Millivolts(60),
                },
                fallback: Fitted::NotFitted,
            }],
        }),
    ],
};

/// Alarms, drums, and how the feeders' real rates are checked.
pub const SETTINGS: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7150,
            high: 7700,
            dead_band: 50,
            rate: None,
        },
        orp: ValueAlarms {
            low: 731,
            high: 797,
            dead_band: 5,
            rate: None,
        },
        on_delay: Millis(600_000),
        off_delay: Millis(120_000),
        demand_unmet_after: Millis(10_800_000),
        flow_absent_after: Millis(7200000),
    },
    drums: [
        // acid
        Fitted::Fitted(DrumSettings {
            size: Dose(200000000),
            low: Dose(20000000),
            low_days: 3,
        }),
        // chlorine
        Fitted::Fitted(DrumSettings {
            size: Dose(200000000),
            low: Dose(20000000),
            low_days: 3,
        }),
    ],
    level_errors: [
        Fitted::Fitted(Dose(3000000)),
        Fitted::Fitted(Dose(3000000)),
    ],
    // acid
    response: Fitted::Fitted(ExpectedResponse {
        feeder: 0,
        dose: Dose(1376070),
        moves: 100,
        at: 7400,
        more_per_tenth_percent: 18,
        error_percent: 20,
        settle_s: 621,
        other_dose: Dose(6400000),
        other_raises: 50,
        learns: true,
        water: Fitted::Fitted(BufferingWater {
            alkalinity_mg_l: 100,
            cyanuric_acid_mg_l: 0,
            borate_mg_l: 0,
            tds_mg_l: 1100,
            temperature_c: 28,
        }),
    }),
};

/// What the stages need, and under what temperature nothing is fed.
pub const CARE: CareSettings = CareSettings {
    stages: Fitted::Fitted(StageSettings {
        begins_observing: true,
        observe_hours: 24,
        reduced_hours: 72,
    }),
    cold_below: Fitted::Fitted(CentiCelsius(1000)),
};

/// Proof tests of the interlocks. Say here whether an emergency stop is wired.
pub const PROOF: ProofSettings = ProofSettings {
    every_days: 30,
    emergency_stop: false,
    master_contact: true,
};

/// Tests of alkalinity.
pub const ALKALINITY: TestRule = TestRule {
    every_days: 7,
    ..TestedValue::Alkalinity.usual()
};

/// Tests of cyanurate.
pub const CYANURATE: TestRule = TestRule {
    every_days: 60,
    ..TestedValue::Cyanurate.usual()
};