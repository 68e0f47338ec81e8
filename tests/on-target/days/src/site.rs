//! Sites: two feeders, two bodies of water, the shipping buckets.
//!
//! Times are short beside those of a real pool, so that a day of a thousand ticks sees several
//! cycles of both products, holds, purges and bucket ends.

use dosewarden::guard::units::{
    Dose, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay, Percent, Rate,
};
use dosewarden::guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Governor,
    Hours, Limits, LimitsSpec, Product, ResponseLimits, Restart,
};
use dosewarden::regulate::{Band, Direction, Share, SizedDose, Standard, TimedShare};
use dosewarden::settings::{AlarmSettings, DrumSettings, RateLimit, SettingsSpec, ValueAlarms};
use dosewarden::{Controller, Settings};

use crate::draw::Draw;

/// The controller of the largest site that the budgets are for.
pub type Pool = Controller<2, 2, 7, 25>;

const ACID_BODY: BodyLimits = BodyLimits {
    cycle_cap: Dose::from_ml(12),
    hour_cap: Dose::from_ml(120),
    day_cap: Dose::from_ml(600),
    reduced_share: Percent(50),
    spread_hold: Millis::from_secs(60),
    cutoff: Cutoff::AbovePh(MilliPh(7000)),
    fallback: Fitted::NotFitted,
};

const CHLORINE_BODY: BodyLimits = BodyLimits {
    cutoff: Cutoff::Oxidiser {
        orp: Millivolts(780),
        ph_floor: MilliPh(6900),
        ph_weak: MilliPh(7700),
        weak_share: Percent(60),
        orp_ph: MilliPh(7500),
        orp_fall: Millivolts(45),
    },
    fallback: Fitted::Fitted(FallbackCaps {
        cycle: Dose::from_ml(6),
        day: Dose::from_ml(60),
    }),
    ..ACID_BODY
};

const ACID: FeederSpec<2> = FeederSpec {
    product: Product::Acid,
    governor: Governor::Ph,
    rate: Rate::from_ml_per_min(30),
    rate_tolerance: Percent(10),
    rate_any_tube: Rate::from_ml_per_min(60),
    catch_test_on_record: true,
    drive_off: Millis(200),
    feedback: Fitted::Fitted(Millis::from_secs(6)),
    feedback_clear: Millis::from_secs(10),
    cut_timer: Fitted::NotFitted,
    level_switch: Fitted::YES,
    cell_flow_switch: Fitted::NotFitted,
    dose_min: Dose::from_ml(4),
    slice_max: Dose::from_ml(12),
    run_max: Millis::from_mins(3),
    bodies: [
        ACID_BODY,
        BodyLimits {
            cycle_cap: Dose::from_ml(9),
            hour_cap: Dose::from_ml(40),
            ..ACID_BODY
        },
    ],
};

const CHLORINE: FeederSpec<2> = FeederSpec {
    product: Product::Hypochlorite,
    governor: Governor::Orp,
    bodies: [CHLORINE_BODY; 2],
    ..ACID
};

/// Everything that can be fitted is.
pub const SPEC: LimitsSpec<2, 2> = LimitsSpec {
    tick_gap_max: Millis(2000),
    power_on_delay: Millis::from_secs(10),
    power_on_delay_new_probe: Millis::from_secs(40),
    restart_after_power_loss: Restart::Automatic,
    flow_switch: Fitted::YES,
    flow_meter: Fitted::Fitted(FlowMlPerS(500)),
    pump_contact: Fitted::YES,
    witness_age_max: Millis(2000),
    flow_prove: Millis::from_secs(20),
    stuck_flow_max: Millis::from_secs(30),
    ph_probe: Fitted::YES,
    orp_probe: Fitted::YES,
    probe_age_max: Millis(5000),
    probe_settle: Millis::from_secs(30),
    probe_failure_max: Millis::from_mins(1),
    body_valves: Fitted::Fitted(Millis::from_secs(10)),
    purge: Millis::from_secs(15),
    resume_within: Millis::from_secs(30),
    save_max: Millis::from_secs(5),
    manual_max: Millis::from_secs(20),
    hours: Fitted::Fitted(Hours {
        open: MinuteOfDay(360),
        close: MinuteOfDay(1320),
    }),
    response: ResponseLimits {
        wrong_way_max: MilliPh(150),
        answer_max: MilliPh(400),
        answer_min: MilliPh(10),
        unanswered_max: 4,
        probe_cycle_every: Millis::from_hours(1),
    },
    fallback: Fitted::Fitted(FallbackLimits {
        run_max: Millis::from_hours(72),
        test_age_max: Millis::from_hours(1),
        warn_before: Millis::from_hours(71),
    }),
    off_credit_max: Millis::from_hours(2),
    off_credit_ratio: 1,
    feeders: [FeederLimits::Enabled(ACID), FeederLimits::Enabled(CHLORINE)],
};

const DRUM: Fitted<DrumSettings> = Fitted::Fitted(DrumSettings {
    size: Dose::from_ml(20_000),
    low: Dose::from_ml(2000),
    low_days: 2,
});

/// Settings with every part in use.
pub const SETTINGS: SettingsSpec<2> = SettingsSpec {
    alarms: AlarmSettings {
        ph: ValueAlarms {
            low: 7000,
            high: 7800,
            dead_band: 50,
            rate: Some(RateLimit {
                change_max: 300,
                within: Millis::from_mins(2),
            }),
        },
        orp: ValueAlarms {
            low: 600,
            high: 800,
            dead_band: 10,
            rate: Some(RateLimit {
                change_max: 100,
                within: Millis::from_mins(2),
            }),
        },
        on_delay: Millis::from_secs(20),
        off_delay: Millis::from_secs(10),
        demand_unmet_after: Millis::from_mins(4),
        flow_absent_after: Millis::from_hours(1),
    },
    drums: [DRUM; 2],
    level_errors: [Fitted::NotFitted; 2],
    response: Fitted::NotFitted,
};

/// Regulators that size a dose for the deficit.
///
/// # Panics
/// Never: the figures are within their ranges.
#[must_use]
pub fn regulators() -> [Standard; 2] {
    let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(40), 100);
    let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(20), 20);
    [acid.unwrap().into(), chlorine.unwrap().into()]
}

/// A site with some of what can be fitted, for one day.
pub(crate) fn drawn(draw: &mut Draw) -> LimitsSpec<2, 2> {
    let mut spec = SPEC;
    spec.power_on_delay = Millis(draw.within(1, 20_000));
    spec.flow_prove = Millis(draw.within(1000, 30_000));
    spec.probe_settle = Millis(draw.within(1000, 60_000));
    spec.purge = Millis(draw.within(5000, 30_000));
    spec.resume_within = Millis(draw.within(0, 60_000));
    spec.stuck_flow_max = Millis(draw.within(1000, 30_000));
    spec.manual_max = Millis(draw.within(4000, 20_000));
    spec.restart_after_power_loss = draw.one_of([Restart::Automatic, Restart::Person]);
    if draw.once_in(2) {
        spec.flow_meter = Fitted::NotFitted;
    }
    if draw.once_in(3) {
        spec.pump_contact = Fitted::NotFitted;
    }
    if draw.once_in(2) {
        spec.hours = Fitted::NotFitted;
    }
    let (mut acid, mut chlorine) = (ACID, CHLORINE);
    for feeder in [&mut acid, &mut chlorine] {
        if draw.once_in(2) {
            feeder.feedback = Fitted::NotFitted;
        }
        if draw.once_in(3) {
            feeder.cut_timer = Fitted::YES;
        }
        if draw.once_in(3) {
            feeder.level_switch = Fitted::NotFitted;
        }
        feeder.catch_test_on_record = !draw.once_in(4);
        feeder.rate_tolerance = Percent(draw.within(0, 30));
        feeder.run_max = Millis(draw.within(5000, 90_000));
        // A slice may be shorter than a cycle: then a cycle is charged piece by piece.
        feeder.slice_max = Dose(draw.within(4000, 12_000));
        for body in &mut feeder.bodies {
            body.spread_hold = Millis(draw.within(10_000, 120_000));
            body.reduced_share = Percent(draw.within(45, 100));
            if let Fitted::Fitted(caps) = &mut body.fallback {
                caps.day = Dose(draw.within(6000, 20_000));
            }
        }
    }
    if draw.once_in(3) {
        chlorine.product = Product::GeneratedChlorine;
        chlorine.cell_flow_switch = draw.one_of([Fitted::YES, Fitted::NotFitted]);
    }
    if draw.once_in(6) {
        acid.governor = Governor::TimedShare;
    }
    spec.feeders = [FeederLimits::Enabled(acid), FeederLimits::Enabled(chlorine)];
    if draw.once_in(12) {
        spec.feeders[1] = FeederLimits::Disabled;
    }
    spec
}

/// Regulators for one day.
pub(crate) fn drawn_regulators(draw: &mut Draw, spec: &LimitsSpec<2, 2>) -> [Standard; 2] {
    let timed = match spec.feeders[0] {
        FeederLimits::Enabled(acid) => acid.governor == Governor::TimedShare,
        FeederLimits::Disabled => false,
    };
    let [sized_acid, sized_chlorine] = regulators();
    let share = |share| TimedShare::try_new(share, Millis(120_000), Millis(5000), Millis(10_000));
    let fixed = share(Share::Fixed(Percent(draw.within(5, 60))));
    let deficit = share(Share::Deficit {
        direction: Direction::Raises,
        set_point: 720,
        full_at: 100,
        share_max: Percent(draw.within(10, 80)),
    });
    let band = Band::try_new(Direction::Raises, 680, 740, Dose::from_ml(50));
    let acid = if timed {
        fixed.unwrap().into()
    } else {
        sized_acid
    };
    let all = [
        sized_chlorine,
        deficit.unwrap().into(),
        band.unwrap().into(),
    ];
    [acid, draw.one_of(all)]
}

/// Checks limits that this file holds or draws.
///
/// # Panics
/// If a relation is broken: the ranges above are wrong then.
#[must_use]
pub fn limits(spec: LimitsSpec<2, 2>) -> Limits<2, 2> {
    Limits::try_new(spec).unwrap()
}

/// Checked settings.
///
/// # Panics
/// Never: the figures are within their ranges.
#[must_use]
pub fn settings() -> Settings<2> {
    Settings::try_new(SETTINGS).unwrap()
}
