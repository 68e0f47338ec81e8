//! What the committed images hold. Written out in full: an image is compared with it field by field.

use dosewarden::CareSettings;
use dosewarden::guard::units::{
    Dose, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay, Percent, Rate,
};
use dosewarden::guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Governor,
    Hours, Limits, LimitsSpec, Product, ResponseLimits, Restart,
};
use dosewarden::probe::{CentiCelsius, MicrogramsPerL};
use dosewarden::proof::ProofSettings;
use dosewarden::regulate::{Allowance, Direction, Share};
use dosewarden::response::{BufferingWater, ExpectedResponse};
use dosewarden::settings::{
    AlarmSettings, DrumSettings, RateLimit, Settings, SettingsSpec, ValueAlarms,
};
use dosewarden::stages::StageSettings;
use dosewarden::store::{RegulatorSpec, SettingsImage};
use dosewarden::water_tests::{TestRule, TestedValue};

const ACID: FeederSpec<1> = FeederSpec {
    product: Product::Acid,
    governor: Governor::Ph,
    rate: Rate::from_ml_per_min(31),
    rate_tolerance: Percent(11),
    rate_any_tube: Rate::from_ml_per_min(62),
    catch_test_on_record: true,
    drive_off: Millis(210),
    feedback: Fitted::Fitted(Millis(1900)),
    feedback_clear: Millis(10_100),
    cut_timer: Fitted::NotFitted,
    level_switch: Fitted::YES,
    cell_flow_switch: Fitted::NotFitted,
    dose_min: Dose::from_ml(6),
    slice_max: Dose::from_ml(44),
    run_max: Millis::from_mins(3),
    bodies: [BodyLimits {
        cycle_cap: Dose::from_ml(46),
        hour_cap: Dose::from_ml(181),
        day_cap: Dose::from_ml(902),
        reduced_share: Percent(51),
        spread_hold: Millis::from_mins(11),
        cutoff: Cutoff::AbovePh(MilliPh(7010)),
        fallback: Fitted::NotFitted,
    }],
};

const CHLORINE: FeederSpec<1> = FeederSpec {
    product: Product::Hypochlorite,
    governor: Governor::Orp,
    catch_test_on_record: false,
    feedback: Fitted::NotFitted,
    bodies: [BodyLimits {
        cutoff: Cutoff::Oxidiser {
            orp: Millivolts(781),
            ph_floor: MilliPh(6910),
            ph_weak: MilliPh(7920),
            weak_share: Percent(52),
            orp_ph: MilliPh(7500),
            orp_fall: Millivolts(53),
        },
        fallback: Fitted::Fitted(FallbackCaps {
            cycle: Dose::from_ml(20),
            day: Dose::from_ml(203),
        }),
        ..ACID.bodies[0]
    }],
    ..ACID
};

pub(crate) const LIMITS: LimitsSpec<2, 1> = LimitsSpec {
    tick_gap_max: Millis(2000),
    power_on_delay: Millis::from_secs(31),
    power_on_delay_new_probe: Millis::from_mins(5),
    restart_after_power_loss: Restart::Person,
    flow_switch: Fitted::YES,
    flow_meter: Fitted::Fitted(FlowMlPerS(2100)),
    pump_contact: Fitted::YES,
    witness_age_max: Millis(1990),
    flow_prove: Millis::from_secs(61),
    stuck_flow_max: Millis::from_secs(32),
    ph_probe: Fitted::YES,
    orp_probe: Fitted::YES,
    probe_age_max: Millis(5100),
    probe_settle: Millis::from_secs(93),
    probe_failure_max: Millis::from_mins(12),
    body_valves: Fitted::NotFitted,
    purge: Millis::from_secs(45),
    resume_within: Millis::from_secs(64),
    save_max: Millis::from_secs(6),
    manual_max: Millis::from_secs(20),
    hours: Fitted::Fitted(Hours {
        open: MinuteOfDay(480),
        close: MinuteOfDay(1260),
    }),
    response: ResponseLimits {
        wrong_way_max: MilliPh(151),
        answer_max: MilliPh(402),
        answer_min: MilliPh(13),
        unanswered_max: 7,
        probe_cycle_every: Millis::from_hours(4),
    },
    fallback: Fitted::Fitted(FallbackLimits {
        run_max: Millis::from_hours(72),
        test_age_max: Millis::from_hours(1),
        warn_before: Millis::from_hours(5),
    }),
    off_credit_max: Millis::from_hours(16),
    off_credit_ratio: 2,
    feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(CHLORINE)],
};

pub(crate) const SETTINGS: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7001,
            high: 7802,
            dead_band: 53,
            rate: Some(RateLimit {
                change_max: 304,
                within: Millis::from_mins(10),
            }),
        },
        orp: ValueAlarms {
            low: 605,
            high: 806,
            dead_band: 17,
            rate: None,
        },
        on_delay: Millis::from_mins(8),
        off_delay: Millis::from_mins(1),
        demand_unmet_after: Millis::from_hours(4),
        flow_absent_after: Millis::from_hours(20),
    },
    drums: [
        Fitted::Fitted(DrumSettings {
            size: Dose::from_ml(20_009),
            low: Dose::from_ml(2010),
            low_days: 2,
        }),
        Fitted::NotFitted,
    ],
    level_errors: [Fitted::NotFitted; 2],
    response: Fitted::NotFitted,
};

/// How rates are checked in the committed image of version 3.
pub(crate) const LEVEL_ERRORS: [Fitted<Dose>; 2] = [
    Fitted::Fitted(Dose::from_ml(310)),
    Fitted::Fitted(Dose::from_ml(520)),
];
pub(crate) const RESPONSE: Fitted<ExpectedResponse> = Fitted::Fitted(ExpectedResponse {
    feeder: 0,
    dose: Dose::from_ml(357),
    moves: 101,
    at: 7402,
    more_per_tenth_percent: 18,
    error_percent: 21,
    settle_s: 540,
    other_dose: Dose::from_ml(1003),
    other_raises: 46,
    learns: true,
    water: Fitted::Fitted(BufferingWater {
        alkalinity_mg_l: 92,
        cyanuric_acid_mg_l: 33,
        borate_mg_l: 4,
        tds_mg_l: 1300,
        temperature_c: 29,
    }),
});

/// Regulators of the committed image of version 2.
pub(crate) const REGULATORS: [RegulatorSpec; 2] = [
    RegulatorSpec::SizedDose {
        direction: Direction::Lowers,
        set_point: 7401,
        dead_band: 52,
        dose: Dose::from_ml(123),
        moves: 104,
    },
    RegulatorSpec::TimedShare {
        share: Share::Deficit {
            direction: Direction::Raises,
            set_point: 725,
            full_at: 66,
            share_max: Percent(47),
        },
        period: Millis::from_mins(38),
        on_min: Millis::from_secs(39),
        off_min: Millis::from_secs(40),
    },
];

/// And its regulators.
pub(crate) const WITH_CURE: [RegulatorSpec; 2] = [
    RegulatorSpec::CureSchedule {
        direction: Direction::Lowers,
        set_point: 7401,
        dead_band: 52,
        dose: Dose::from_ml(123),
        moves: 104,
        allowance: Allowance {
            usual: Dose::from_ml(305),
            first_day: Dose::from_ml(807),
            ceiling: Dose::from_ml(909),
            days: 27,
        },
        age_days: 5,
    },
    REGULATORS[1],
];

/// And its care.
const CARE: CareSettings = CareSettings {
    stages: Fitted::Fitted(StageSettings {
        begins_observing: true,
        observe_hours: 9,
        reduced_hours: 310,
    }),
    cold_below: Fitted::Fitted(CentiCelsius(1010)),
};
const PROOF: Fitted<ProofSettings> = Fitted::Fitted(ProofSettings {
    every_days: 91,
    emergency_stop: true,
    master_contact: false,
});
const RULES: [TestRule; 4] = [
    rule(3100, 31),
    rule(501, 61),
    rule(40_100, 32),
    rule(502, 62),
];

const fn rule(falls: u32, every_days: u16) -> TestRule {
    TestRule {
        falls_per_day: MicrogramsPerL(falls),
        every_days,
    }
}

/// As version 3 can hold it.
pub(crate) fn checked_image() -> SettingsImage<2, 1> {
    let settings = SettingsSpec {
        level_errors: LEVEL_ERRORS,
        response: RESPONSE,
        ..SETTINGS
    };
    SettingsImage {
        settings: Settings::try_new(settings).unwrap(),
        care: CARE,
        proof: PROOF,
        tests: RULES,
        ..image(WITH_CURE)
    }
}

/// The same as an image before version 4 gives it: no cut-off falls.
pub(crate) fn before_the_fall(image: SettingsImage<2, 1>) -> SettingsImage<2, 1> {
    let mut limits = LIMITS;
    let FeederLimits::Enabled(chlorine) = &mut limits.feeders[1] else {
        panic!("chlorine is in use");
    };
    let Cutoff::Oxidiser {
        orp_ph, orp_fall, ..
    } = &mut chlorine.bodies[0].cutoff
    else {
        panic!("it goes by ORP");
    };
    (*orp_ph, *orp_fall) = (MilliPh(14_000), Millivolts(0));
    SettingsImage {
        limits: Limits::try_new(limits).unwrap(),
        ..image
    }
}

pub(crate) fn image(regulators: [RegulatorSpec; 2]) -> SettingsImage<2, 1> {
    SettingsImage {
        limits: Limits::try_new(LIMITS).unwrap(),
        settings: Settings::try_new(SETTINGS).unwrap(),
        regulators,
        care: CareSettings::NONE,
        proof: Fitted::NotFitted,
        tests: TestedValue::USUAL,
    }
}
