//! A site of our own: one body, acid by pH and hypochlorite by ORP.
#![allow(dead_code, reason = "each test target uses a part")]

use dosewarden_guard::units::{Dose, FlowMlPerS, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden_guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Governor,
    Limits, LimitsSpec, Product, ResponseLimits, Restart,
};

/// Acid: 30 mL/min, 45 mL a cycle.
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

/// Hypochlorite: 60 mL/min, 60 mL a cycle.
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

/// The site as somebody writes it down.
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
    response: ResponseLimits {
        wrong_way_max: MilliPh(150),
        answer_max: MilliPh(400),
        answer_min: MilliPh(10),
        unanswered_max: 3,
        probe_cycle_every: Millis::from_hours(4),
    },
    fallback: Fitted::Fitted(FallbackLimits {
        run_max: Millis::from_hours(72),
        test_age_max: Millis::from_hours(1),
        warn_before: Millis::from_hours(4),
    }),
    off_credit_max: Millis::from_hours(16),
    off_credit_ratio: 2,
    feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(CHLORINE)],
};

/// Checked when this is built.
pub(crate) const LIMITS: Limits<2, 1> = match Limits::try_new(SPEC) {
    Ok(limits) => limits,
    Err(_) => panic!("the site's limits are broken"),
};

/// A threshold, for sites with a meter.
pub(crate) const METER: Fitted<FlowMlPerS> = Fitted::Fitted(FlowMlPerS(2000));
