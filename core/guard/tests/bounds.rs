//! A limit that is just at its bound is right; one step past it is not, and the error names the bound.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::site::{ACID, CHLORINE, SPEC};
use dosewarden_guard::units::{DAY_MS, Dose, HOUR_MS, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden_guard::{
    BodyLimits, Cutoff, FeederLimits, FeederSpec, Fitted, Limits, LimitsError, LimitsSpec,
};

fn site(change: impl FnOnce(&mut LimitsSpec<2, 1>)) -> Result<(), LimitsError> {
    let mut spec = SPEC;
    change(&mut spec);
    Limits::try_new(spec).map(drop)
}

fn acid(change: impl FnOnce(&mut FeederSpec<1>)) -> Result<(), LimitsError> {
    let mut acid = ACID;
    change(&mut acid);
    site(|spec| spec.feeders[0] = FeederLimits::Enabled(acid))
}

fn chlorine(cutoff: Cutoff) -> Result<(), LimitsError> {
    let mut chlorine = CHLORINE;
    chlorine.bodies[0].cutoff = cutoff;
    site(|spec| spec.feeders[1] = FeederLimits::Enabled(chlorine))
}

#[test]
fn a_new_probe_may_wait_as_long_as_any_other() {
    let wait = |more| site(|spec| spec.power_on_delay_new_probe.0 = spec.power_on_delay.0 + more);
    assert_eq!((wait(0), wait(1)), (Ok(()), Ok(())));
}

#[test]
fn a_feeders_figure_may_be_its_largest() {
    let tolerance = |percent| {
        acid(|spec| {
            spec.rate_tolerance = Percent(percent);
            spec.rate_any_tube = Rate(2 * spec.rate.0 + spec.rate.0 / 100);
        })
    };
    assert_eq!(tolerance(100), Ok(()));
    let error = LimitsError::FeederRange {
        feeder: 0,
        field: "rate_tolerance",
        value: 101,
        min: 0,
        max: 100,
    };
    assert_eq!(tolerance(101), Err(error));
}

#[test]
fn a_manual_feed_may_be_a_tick_and_the_time_to_stop() {
    let least = SPEC.tick_gap_max.0 + ACID.drive_off.0;
    assert_eq!(site(|spec| spec.manual_max = Millis(least)), Ok(()));
    let error = LimitsError::SiteRange {
        field: "manual_max",
        value: i64::from(least) - 1,
        min: i64::from(least),
        max: i64::from(HOUR_MS / 6),
    };
    let shorter = site(|spec| spec.manual_max = Millis(least - 1));
    assert_eq!(shorter, Err(error));
}

#[test]
fn fallback_lasts_three_days_at_most() {
    let lasts = |hours, more| {
        site(|spec| {
            if let Fitted::Fitted(fallback) = &mut spec.fallback {
                fallback.run_max = Millis(hours * HOUR_MS + more);
            }
        })
    };
    assert_eq!(lasts(72, 0), Ok(()));
    let error = LimitsError::SiteRange {
        field: "fallback.run_max",
        value: i64::from(72 * HOUR_MS) + 1,
        min: 1,
        max: i64::from(72 * HOUR_MS),
    };
    assert_eq!(lasts(72, 1), Err(error));
}

#[test]
fn what_a_body_has_may_be_its_smallest_and_its_largest() {
    let with = |change: fn(&mut BodyLimits)| {
        acid(|spec| {
            // A hundredth of it is the smallest dose still.
            spec.bodies[0].cycle_cap = Dose(100 * spec.dose_min.0);
            spec.bodies[0].hour_cap = spec.bodies[0].cycle_cap;
            change(&mut spec.bodies[0]);
        })
    };
    assert_eq!(with(|body| body.spread_hold = Millis(DAY_MS)), Ok(()));
    assert!(with(|body| body.spread_hold = Millis(DAY_MS + 1)).is_err());
    assert_eq!(with(|body| body.reduced_share = Percent(1)), Ok(()));
    assert!(with(|body| body.reduced_share = Percent(0)).is_err());
    assert_eq!(with(|body| body.reduced_share = Percent(100)), Ok(()));
    assert!(with(|body| body.reduced_share = Percent(101)).is_err());
    assert_eq!(
        with(|body| body.cutoff = Cutoff::AbovePh(MilliPh(6500))),
        Ok(())
    );
    assert!(with(|body| body.cutoff = Cutoff::AbovePh(MilliPh(6499))).is_err());
    assert_eq!(
        with(|body| body.cutoff = Cutoff::AbovePh(MilliPh(9000))),
        Ok(())
    );
    assert!(with(|body| body.cutoff = Cutoff::AbovePh(MilliPh(9001))).is_err());
}

/// ORP, floor, weak from, share there, the pH of the ORP, its fall.
fn oxidiser([orp, floor, weak, share, orp_ph, fall]: [i32; 6]) -> Cutoff {
    Cutoff::Oxidiser {
        orp: Millivolts(orp),
        ph_floor: MilliPh(floor),
        ph_weak: MilliPh(weak),
        weak_share: Percent(share.unsigned_abs()),
        orp_ph: MilliPh(orp_ph),
        orp_fall: Millivolts(fall),
    }
}

#[test]
fn each_figure_of_an_oxidisers_cutoff_may_be_its_smallest_and_its_largest() {
    let smallest = [1, 6500, 6501, 1, 6501, 0];
    let largest = [1000, 8000, 14_000, 100, 14_000, 200];
    let past = [
        (smallest, -1, [0, 1, 2, 3, 4, 5].as_slice()),
        (largest, 1, &[0, 1, 2, 3, 4, 5]),
    ];
    for (bound, outwards, held) in past {
        assert_eq!(chlorine(oxidiser(bound)), Ok(()));
        for index in held {
            let mut past = bound;
            past[*index] += outwards;
            assert!(chlorine(oxidiser(past)).is_err(), "{index}: {past:?}");
        }
    }
}

#[test]
fn an_error_names_the_feeder_that_is_wrong_also_the_third() {
    let mut third = CHLORINE;
    third.slice_max = Dose(0);
    let spec = LimitsSpec {
        tick_gap_max: SPEC.tick_gap_max,
        power_on_delay: SPEC.power_on_delay,
        power_on_delay_new_probe: SPEC.power_on_delay_new_probe,
        restart_after_power_loss: SPEC.restart_after_power_loss,
        flow_switch: SPEC.flow_switch,
        flow_meter: SPEC.flow_meter,
        pump_contact: SPEC.pump_contact,
        witness_age_max: SPEC.witness_age_max,
        flow_prove: SPEC.flow_prove,
        stuck_flow_max: SPEC.stuck_flow_max,
        ph_probe: SPEC.ph_probe,
        orp_probe: SPEC.orp_probe,
        probe_age_max: SPEC.probe_age_max,
        probe_settle: SPEC.probe_settle,
        probe_failure_max: SPEC.probe_failure_max,
        body_valves: Fitted::NotFitted,
        purge: SPEC.purge,
        resume_within: SPEC.resume_within,
        save_max: SPEC.save_max,
        manual_max: SPEC.manual_max,
        hours: SPEC.hours,
        response: SPEC.response,
        fallback: SPEC.fallback,
        off_credit_max: SPEC.off_credit_max,
        off_credit_ratio: SPEC.off_credit_ratio,
        feeders: [
            FeederLimits::Enabled(ACID),
            FeederLimits::Disabled,
            FeederLimits::Enabled(third),
        ],
    };
    let error = Limits::try_new(spec).map(drop).unwrap_err();
    assert!(
        matches!(
            error,
            LimitsError::FeederRange {
                feeder: 2,
                field: "slice_max",
                ..
            }
        ),
        "{error}"
    );
}
