//! The relations between one feeder's limits.

use super::check::{Checked, MINUTE_MS, held, index_after};
use super::error::LimitsError;
use super::spec::{BodyLimits, Cutoff, FeederLimits, FeederSpec, Governor, LimitsSpec};
use crate::product::Product;
use crate::units::{DAY_MS, Dose, Fitted, HOUR_MS, Millis, exact, exact_signed};

/// Below pH 6.5 a pool is an imminent hazard (US CDC MAHC 6.6.3.1): no cut-off may be under it.
const PH_FLOOR: i32 = 6500;
/// Above pH 8.0 a pool is an imminent hazard (US CDC MAHC 6.6.3.1): a base stops there at the
/// latest.
const PH_CEILING: i32 = 8000;

/// A probe shows some 60 to 70 mV for a tenfold change (common practice, no source); three of them are a typing error.
const ORP_FALL_MAX_MV: i32 = 200;

const fn ranged(feeder: usize, field: &'static str, value: u32, min: u32, max: u32) -> Checked {
    if value < min || value > max {
        return Err(LimitsError::FeederRange {
            feeder,
            field,
            value,
            min,
            max,
        });
    }
    Ok(())
}

pub(super) const fn check_feeder<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    spec: &FeederSpec<B>,
    feeder: usize,
) -> Checked {
    let suits = match spec.governor {
        Governor::Ph => !spec.product.is_oxidiser(),
        Governor::Orp => spec.product.is_oxidiser(),
        Governor::TimedShare => true,
    };
    if !suits {
        return Err(LimitsError::GovernorMismatch { feeder });
    }
    let fitted = match spec.governor {
        Governor::Ph => site.ph_probe.is_fitted(),
        Governor::Orp => site.orp_probe.is_fitted(),
        Governor::TimedShare => true,
    };
    if !fitted {
        return Err(LimitsError::GovernorNotFitted { feeder });
    }
    if spec.cell_flow_switch.is_fitted() && !matches!(spec.product, Product::GeneratedChlorine) {
        return Err(LimitsError::CellSwitchWithoutCell { feeder });
    }
    held! {
        ranged(feeder, "rate", spec.rate.0, 1, 1_000_000_000);
        ranged(feeder, "rate_tolerance", spec.rate_tolerance.0, 0, 100);
        ranged(feeder, "drive_off", spec.drive_off.0, 0, 10_000);
        ranged(feeder, "dose_min", spec.dose_min.0, 1, u32::MAX);
        ranged(feeder, "slice_max", spec.slice_max.0, spec.dose_min.0, u32::MAX);
        ranged(feeder, "run_max", spec.run_max.0, 1, DAY_MS);
        ranged(feeder, "feedback_clear", spec.feedback_clear.0, 1, HOUR_MS);
    }
    if let Fitted::Fitted(start) = spec.feedback {
        held! { ranged(feeder, "feedback", start.0, 1, MINUTE_MS); }
    }
    let raised = spec.rate.raised_ceil(spec.rate_tolerance);
    if spec.rate_any_tube.0 < raised.0 {
        return Err(LimitsError::AnyTubeBelowRate {
            feeder,
            value: spec.rate_any_tube.0,
            at_least: raised.0,
        });
    }
    check_runs(site, spec, feeder)
}

/// No charge and no bound may be shorter than a tick and the time to stop: it would be refused by
/// no rule, or for ever.
const fn check_runs<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    spec: &FeederSpec<B>,
    feeder: usize,
) -> Checked {
    let grain = if spec.cut_timer.is_fitted() {
        1
    } else {
        site.tick_gap_max.0
    };
    let least = spec.drive_off.0.saturating_add(grain);
    let run = spec.rate_for_caps().run_floor(spec.dose_min);
    if run.0 < least {
        return Err(LimitsError::DoseTooShort {
            feeder,
            run_ms: run.0,
            at_least_ms: least,
        });
    }
    if site.manual_max.0 < least {
        return Err(LimitsError::SiteRange {
            field: "manual_max",
            value: exact(site.manual_max.0),
            min: exact(least),
            max: exact(10 * MINUTE_MS),
        });
    }
    ranged(feeder, "run_max", spec.run_max.0, least, DAY_MS)
}

pub(super) const fn check_body<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    spec: &FeederSpec<B>,
    limits: &BodyLimits,
    feeder: usize,
    body: usize,
) -> Checked {
    held! { check_caps(spec, limits, feeder, body); }
    if limits.spread_hold.0 == 0 {
        return Err(LimitsError::HoldZero { feeder, body });
    }
    if limits.spread_hold.0 > DAY_MS {
        return Err(LimitsError::BodyRange {
            feeder,
            body,
            field: "spread_hold",
            value: exact(limits.spread_hold.0),
            min: 1,
            max: exact(DAY_MS),
        });
    }
    let charge = if spec.slice_max.0 < limits.cycle_cap.0 {
        spec.slice_max
    } else {
        limits.cycle_cap
    };
    let run = spec.rate_for_caps().run_floor(charge);
    let tick = if spec.cut_timer.is_fitted() {
        Millis(0)
    } else {
        site.tick_gap_max
    };
    let more_than_ms = spec.drive_off.0.saturating_add(tick.0);
    if run.0 <= more_than_ms {
        return Err(LimitsError::CycleTooShort {
            feeder,
            body,
            run_ms: run.0,
            more_than_ms,
        });
    }
    held! {
        check_cutoff(spec, &limits.cutoff, feeder, body);
        check_fallback(site, spec, limits, feeder, body);
    }
    Ok(())
}

const fn check_caps<const B: usize>(
    spec: &FeederSpec<B>,
    limits: &BodyLimits,
    feeder: usize,
    body: usize,
) -> Checked {
    let zero = if limits.cycle_cap.0 == 0 {
        Some("cycle_cap")
    } else if limits.hour_cap.0 == 0 {
        Some("hour_cap")
    } else if limits.day_cap.0 == 0 {
        Some("day_cap")
    } else {
        None
    };
    if let Some(field) = zero {
        return Err(LimitsError::CapZero {
            feeder,
            body,
            field,
        });
    }
    let (cycle, hour, day) = (limits.cycle_cap, limits.hour_cap, limits.day_cap);
    held! {
        within(feeder, body, ("cycle_cap", cycle), ("day_cap", day));
        within(feeder, body, ("cycle_cap", cycle), ("hour_cap", hour));
        within(feeder, body, ("hour_cap", hour), ("day_cap", day));
    }
    let share = limits.reduced_share.0;
    if share < 1 || share > 100 {
        let field = "reduced_share";
        return Err(LimitsError::BodyRange {
            feeder,
            body,
            field,
            value: exact(share),
            min: 1,
            max: 100,
        });
    }
    let reduced = cycle.share_floor(limits.reduced_share);
    within(
        feeder,
        body,
        ("dose_min", spec.dose_min),
        ("the reduced cycle_cap", reduced),
    )
}

const fn within(
    feeder: usize,
    body: usize,
    (field, value): (&'static str, Dose),
    (within, at_most): (&'static str, Dose),
) -> Checked {
    if value.0 > at_most.0 {
        let (value, at_most) = (value.0, at_most.0);
        return Err(LimitsError::CapAbove {
            feeder,
            body,
            field,
            value,
            within,
            at_most,
        });
    }
    Ok(())
}

const fn check_cutoff<const B: usize>(
    spec: &FeederSpec<B>,
    cutoff: &Cutoff,
    feeder: usize,
    body: usize,
) -> Checked {
    let (field, value, min, max) = match (spec.product, cutoff) {
        (Product::Acid, Cutoff::AbovePh(ph)) => ("cutoff", ph.0, PH_FLOOR, 9000),
        (Product::Base, Cutoff::BelowPh(ph)) => ("cutoff", ph.0, 6000, PH_CEILING),
        (
            Product::Hypochlorite | Product::GeneratedChlorine,
            Cutoff::Oxidiser {
                orp,
                ph_floor,
                ph_weak,
                weak_share,
                orp_ph,
                orp_fall,
            },
        ) => {
            if ph_floor.0 < PH_FLOOR || ph_floor.0 > PH_CEILING {
                ("cutoff.ph_floor", ph_floor.0, PH_FLOOR, PH_CEILING)
            } else if ph_weak.0 <= ph_floor.0 || ph_weak.0 > 14_000 {
                (
                    "cutoff.ph_weak",
                    ph_weak.0,
                    ph_floor.0.saturating_add(1),
                    14_000,
                )
            } else if weak_share.0 < 1 || weak_share.0 > 100 {
                ("cutoff.weak_share", weak_share.0.cast_signed(), 1, 100)
            } else if orp_ph.0 <= ph_floor.0 || orp_ph.0 > 14_000 {
                (
                    "cutoff.orp_ph",
                    orp_ph.0,
                    ph_floor.0.saturating_add(1),
                    14_000,
                )
            } else if orp_fall.0 < 0 || orp_fall.0 > ORP_FALL_MAX_MV {
                ("cutoff.orp_fall", orp_fall.0, 0, ORP_FALL_MAX_MV)
            } else {
                ("cutoff.orp", orp.0, 1, 1000)
            }
        }
        _ => return Err(LimitsError::CutoffMismatch { feeder, body }),
    };
    if value < min || value > max {
        return Err(LimitsError::BodyRange {
            feeder,
            body,
            field,
            value: exact_signed(value),
            min: exact_signed(min),
            max: exact_signed(max),
        });
    }
    Ok(())
}

const fn check_fallback<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    spec: &FeederSpec<B>,
    limits: &BodyLimits,
    feeder: usize,
    body: usize,
) -> Checked {
    let Fitted::Fitted(caps) = limits.fallback else {
        return Ok(());
    };
    if !matches!(spec.governor, Governor::Orp) || !site.fallback.is_fitted() {
        return Err(LimitsError::FallbackNotPossible { feeder, body });
    }
    if caps.cycle.0 == 0 || caps.day.0 == 0 {
        let field = if caps.cycle.0 == 0 {
            "fallback.cycle"
        } else {
            "fallback.day"
        };
        return Err(LimitsError::CapZero {
            feeder,
            body,
            field,
        });
    }
    held! {
        within(feeder, body, ("fallback.cycle", caps.cycle), ("fallback.day", caps.day));
        within(feeder, body, ("fallback.cycle", caps.cycle), ("cycle_cap", limits.cycle_cap));
        within(feeder, body, ("fallback.day", caps.day), ("day_cap", limits.day_cap));
        within(feeder, body, ("dose_min", spec.dose_min), ("fallback.cycle", caps.cycle));
    }
    Ok(())
}

pub(super) const fn check_agreement<const N: usize, const B: usize>(
    site: &LimitsSpec<N, B>,
    spec: &FeederSpec<B>,
    feeder: usize,
) -> Checked {
    let mut first = 0;
    let mut rest: &[FeederLimits<B>] = &site.feeders;
    while let [one, tail @ ..] = rest {
        if first >= feeder {
            return Ok(());
        }
        if let FeederLimits::Enabled(other) = one
            && other.product.same(spec.product)
            && !super::tighter::same_bodies(other, spec)
        {
            return Err(LimitsError::ProductDisagrees { first, feeder });
        }
        first = index_after(first);
        rest = tail;
    }
    Ok(())
}
