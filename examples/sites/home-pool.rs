// Limits and settings of Fernleigh Garden Pool, as planned. Made by `dosewarden plan`; checked when it is built:
//     const LIMITS: Limits<2, 1> = match Limits::try_new(SPEC) { Ok(limits) => limits, Err(_) => panic!() };
//     const SET: Settings<2> = match Settings::try_new(SETTINGS) { Ok(settings) => settings, Err(_) => panic!() };
//     let (mut pool, _) = Controller::restore(LIMITS, SET, ..); pool.set_care(CARE); // stages, cold water
use dosewarden::CareSettings;
use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts, Percent, Rate};
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
    flow_meter: Fitted::NotFitted,
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
            rate: Rate(1560000),
            rate_tolerance: Percent(10),
            rate_any_tube: Rate(3000000),
            catch_test_on_record: true,
            drive_off: Millis(200),
            feedback: Fitted::Fitted(Millis(2_000)),
            feedback_clear: Millis(60_000),
            cut_timer: Fitted::NotFitted,
            level_switch: Fitted::YES,
            cell_flow_switch: Fitted::NotFitted,
            dose_min: Dose(5000),
            slice_max: Dose(277986),
            run_max: Millis(807000),
            bodies: [BodyLimits {
                cycle_cap: Dose(277986),
                hour_cap: Dose(511416),
                day_cap: Dose(3142977),
                reduced_share: Percent(50),
                spread_hold: Millis(1800000),
                cutoff: Cutoff::AbovePh(MilliPh(7300)),
                fallback: Fitted::NotFitted,
            }],
        }),
        // chlorine
        FeederLimits::Enabled(FeederSpec {
            product: Product::Hypochlorite,
            governor: Governor::Orp,
            rate: Rate(1470000),
            rate_tolerance: Percent(10),
            rate_any_tube: Rate(3000000),
            catch_test_on_record: true,
            drive_off: Millis(200),
            feedback: Fitted::Fitted(Millis(2_000)),
            feedback_clear: Millis(60_000),
            cut_timer: Fitted::NotFitted,
            level_switch: Fitted::YES,
            cell_flow_switch: Fitted::NotFitted,
            dose_min: Dose(5000),
            slice_max: Dose(256354),
            run_max: Millis(790000),
            bodies: [BodyLimits {
                cycle_cap: Dose(256354),
                hour_cap: Dose(1019319),
                day_cap: Dose(1019319),
                reduced_share: Percent(88),
                spread_hold: Millis(900000),
                cutoff: Cutoff::Oxidiser {
                    orp: Millivolts(730),
                    ph_floor: MilliPh(6_800),
                    ph_weak: MilliPh(7_900),
                    weak_share: Percent(50),
                    orp_ph: MilliPh(7500),
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
            low: 7250,
            high: 7800,
            dead_band: 50,
            rate: None,
        },
        orp: ValueAlarms {
            low: 674,
            high: 745,
            dead_band: 5,
            rate: None,
        },
        on_delay: Millis(600_000),
        off_delay: Millis(120_000),
        demand_unmet_after: Millis(10_800_000),
        flow_absent_after: Millis(39600000),
    },
    drums: [
        // acid
        Fitted::Fitted(DrumSettings {
            size: Dose(20000000),
            low: Dose(2000000),
            low_days: 3,
        }),
        // chlorine
        Fitted::Fitted(DrumSettings {
            size: Dose(40000000),
            low: Dose(4000000),
            low_days: 3,
        }),
    ],
    level_errors: [
        Fitted::Fitted(Dose(300000)),
        Fitted::Fitted(Dose(600000)),
    ],
    // acid
    response: Fitted::Fitted(ExpectedResponse {
        feeder: 0,
        dose: Dose(423786),
        moves: 100,
        at: 7500,
        more_per_tenth_percent: 17,
        error_percent: 20,
        settle_s: 609,
        other_dose: Dose(1025416),
        other_raises: 97,
        learns: true,
        water: Fitted::Fitted(BufferingWater {
            alkalinity_mg_l: 90,
            cyanuric_acid_mg_l: 30,
            borate_mg_l: 0,
            tds_mg_l: 900,
            temperature_c: 26,
        }),
    }),
};

/// What the stages need, and under what temperature nothing is fed.
pub const CARE: CareSettings = CareSettings {
    stages: Fitted::Fitted(StageSettings {
        begins_observing: true,
        observe_hours: 14,
        reduced_hours: 42,
    }),
    cold_below: Fitted::Fitted(CentiCelsius(1000)),
};

/// Proof tests of the interlocks. Say here whether an emergency stop is wired.
pub const PROOF: ProofSettings = ProofSettings {
    every_days: 90,
    emergency_stop: false,
    master_contact: true,
};

/// Tests of alkalinity.
pub const ALKALINITY: TestRule = TestRule {
    every_days: 30,
    ..TestedValue::Alkalinity.usual()
};

/// Tests of cyanurate.
pub const CYANURATE: TestRule = TestRule {
    every_days: 60,
    ..TestedValue::Cyanurate.usual()
};