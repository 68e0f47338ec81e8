//! An invented pool: acid and chlorine by two equal pumps, one body of water. Every figure is an
//! example; a site gets its own from its water and its hardware.

use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden::guard::{
    BodyLimits, Cutoff, FeederLimits, FeederSpec, Fitted, Governor, Limits, LimitsSpec, Product,
    ResponseLimits, Restart, Restored,
};
use dosewarden::regulate::{Direction, RegulatorError, SizedDose, Standard};
use dosewarden::settings::{AlarmSettings, DrumSettings, RateLimit, SettingsSpec, ValueAlarms};
use dosewarden::store::StoreError;
use dosewarden::{CareSettings, Controller, Settings};

/// A tick, ms. The limits allow a gap of twice that.
pub const TICK_MS: u32 = 1000;

/// How often the main program wakes, to sample the contacts and poll the lines, ms.
pub const WAKE_MS: u32 = 100;

/// How long a contact has to say yes before it counts.
pub const DEBOUNCE: Millis = Millis(300);

/// From the last sign of life of the main program to outputs off, at most, ms: what every board's
/// dead man has to keep. No longer than the largest gap between ticks that the limits allow for, so
/// that a hang feeds no more than the guard has kept back for a late tick.
pub const DEAD_MAN_MS_MAX: u32 = 2000;

/// Oldest value of a probe that counts.
pub const PROBE_AGE_MAX: Millis = Millis(5000);

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
    tick_gap_max: Millis(DEAD_MAN_MS_MAX),
    power_on_delay: Millis::from_secs(30),
    power_on_delay_new_probe: Millis::from_mins(5),
    restart_after_power_loss: Restart::Automatic,
    flow_switch: Fitted::YES,
    flow_meter: Fitted::NotFitted,
    pump_contact: Fitted::YES,
    witness_age_max: Millis(2000),
    flow_prove: Millis::from_secs(30),
    stuck_flow_max: Millis::from_secs(30),
    ph_probe: Fitted::YES,
    orp_probe: Fitted::YES,
    probe_age_max: PROBE_AGE_MAX,
    probe_settle: Millis::from_secs(90),
    probe_failure_max: Millis::from_mins(10),
    body_valves: Fitted::NotFitted,
    purge: Millis::from_secs(45),
    resume_within: Millis::from_mins(3),
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

const SETTINGS: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7000,
            high: 7800,
            dead_band: 50,
            rate: Some(RateLimit {
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

/// Buckets of the day: an hour each and one more; on a board whose RAM is small, two hours each.
pub const DAY: usize = if cfg!(feature = "small") { 13 } else { 25 };

/// The controller of this site.
pub type Pool = Controller<2, 1, 7, DAY>;

/// A record of this site.
pub type PoolRecord = dosewarden::guard::Record<2, 1, 7, DAY>;

/// The controller as it starts, and from what.
pub type RestoredPool = (Pool, Restored);

/// Why the unit does not start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SiteError {
    /// A regulator's figure is out of range.
    Regulator(RegulatorError),
    /// The flash does not fit the records.
    Store(StoreError),
}

/// The limits, checked when this is built: they stay in flash, and are copied once.
pub static CHECKED_LIMITS: Limits<2, 1> = match Limits::try_new(LIMITS) {
    Ok(limits) => limits,
    Err(_) => panic!("a relation between the limits is broken"),
};

/// The settings, checked when this is built.
pub static CHECKED_SETTINGS: Settings<2> = match Settings::try_new(SETTINGS) {
    Ok(settings) => settings,
    Err(_) => panic!("a setting is out of range"),
};

/// No stages: the water here is simulated, and a run of minutes has to feed. A board at a pool says the hours that were planned
/// for its site (`CARE` of `dosewarden plan --rust`), or nothing, and goes by the usual ones.
pub const CARE: CareSettings = CareSettings::NONE;

/// What proposes doses, checked.
pub type Regulators = [Standard; 2];

/// The regulators: acid, then chlorine.
///
/// # Errors
/// The figure that is wrong.
pub fn regulators() -> Result<Regulators, SiteError> {
    let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(120), 100)
        .map_err(SiteError::Regulator)?;
    let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(60), 20)
        .map_err(SiteError::Regulator)?;
    Ok([acid.into(), chlorine.into()])
}
