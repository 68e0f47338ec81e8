//! The relations between limits. `const`, so a site can be checked when it is built.

use super::check_feeder::{check_agreement, check_body, check_feeder};
use super::error::LimitsError;
use super::spec::{BodyLimits, FeederLimits, LimitsSpec};
use crate::units::{DAY_MS, Fitted, HOUR_MS, MinuteOfDay, exact, exact_signed};

pub(super) const MINUTE_MS: u32 = 60_000;
const FALLBACK_MAX_MS: u32 = 72 * HOUR_MS;

pub(super) type Checked = Result<(), LimitsError>;

const fn site(field: &'static str, value: u32, min: u32, max: u32) -> Checked {
    signed(field, exact(value), exact(min), exact(max))
}

const fn signed(field: &'static str, value: i64, min: i64, max: i64) -> Checked {
    if value < min || value > max {
        return Err(LimitsError::SiteRange {
            field,
            value,
            min,
            max,
        });
    }
    Ok(())
}

const fn from_byte(value: u8) -> u32 {
    u32::from_be_bytes([0, 0, 0, value])
}

const fn from_minute(minute: MinuteOfDay) -> u32 {
    let [high, low] = minute.0.to_be_bytes();
    u32::from_be_bytes([0, 0, high, low])
}

/// `?` cannot be used in a `const fn`.
macro_rules! held {
    ($($check:expr;)*) => {
        $(if let Err(error) = $check { return Err(error); })*
    };
}
pub(super) use held;

pub(super) const fn check<const N: usize, const B: usize>(spec: &LimitsSpec<N, B>) -> Checked {
    held! {
        check_site(spec);
        check_optional(spec);
    }
    let mut feeder = 0;
    let mut rest: &[FeederLimits<B>] = &spec.feeders;
    while let [first, tail @ ..] = rest {
        if let FeederLimits::Enabled(one) = first {
            held! {
                check_feeder(spec, one, feeder);
                check_agreement(spec, one, feeder);
            }
            let mut body = 0;
            let mut bodies: &[BodyLimits] = &one.bodies;
            while let [limits, more @ ..] = bodies {
                held! { check_body(spec, one, limits, feeder, body); }
                body = index_after(body);
                bodies = more;
            }
        }
        feeder = index_after(feeder);
        rest = tail;
    }
    Ok(())
}

pub(super) const fn index_after(index: usize) -> usize {
    index.saturating_add(1)
}

const fn check_site<const N: usize, const B: usize>(spec: &LimitsSpec<N, B>) -> Checked {
    if !spec.flow_switch.is_fitted() && !spec.flow_meter.is_fitted() {
        return Err(LimitsError::NoFlowWitness);
    }
    if B == 0 {
        return Err(LimitsError::NoBody);
    }
    if B > 1 && !spec.body_valves.is_fitted() {
        return Err(LimitsError::BodiesWithoutValves { bodies: B });
    }
    if spec.power_on_delay_new_probe.0 < spec.power_on_delay.0 {
        return Err(LimitsError::NewProbeWaitShorter {
            value: spec.power_on_delay_new_probe.0,
            at_least: spec.power_on_delay.0,
        });
    }
    held! {
        site("tick_gap_max", spec.tick_gap_max.0, 200, 5000);
        site("power_on_delay", spec.power_on_delay.0, 1, HOUR_MS);
        site("power_on_delay_new_probe", spec.power_on_delay_new_probe.0, 1, DAY_MS);
        site("witness_age_max", spec.witness_age_max.0, 1, spec.tick_gap_max.0);
        site("flow_prove", spec.flow_prove.0, 1, HOUR_MS);
        site("stuck_flow_max", spec.stuck_flow_max.0, 1, 10 * MINUTE_MS);
        site("probe_age_max", spec.probe_age_max.0, 1, 5 * MINUTE_MS);
        site("probe_settle", spec.probe_settle.0, 1, HOUR_MS);
        site("probe_failure_max", spec.probe_failure_max.0, 1, DAY_MS);
        site("purge", spec.purge.0, 1, HOUR_MS);
        site("resume_within", spec.resume_within.0, 0, HOUR_MS);
        site("save_max", spec.save_max.0, 1, 10 * MINUTE_MS);
        site("manual_max", spec.manual_max.0, 1, 10 * MINUTE_MS);
        site("off_credit_max", spec.off_credit_max.0, 0, DAY_MS);
        site("off_credit_ratio", from_byte(spec.off_credit_ratio), 0, 4);
    }
    Ok(())
}

const fn check_optional<const N: usize, const B: usize>(spec: &LimitsSpec<N, B>) -> Checked {
    if let Fitted::Fitted(threshold) = spec.flow_meter {
        held! { site("flow_meter", threshold.0, 1, 1_000_000); }
    }
    if let Fitted::Fitted(steady) = spec.body_valves {
        held! { site("body_valves", steady.0, 1, HOUR_MS); }
    }
    if let Fitted::Fitted(hours) = spec.hours {
        if hours.open.0 == hours.close.0 {
            return Err(LimitsError::HoursEmpty {
                minute: hours.open.0,
            });
        }
        held! {
            site("hours.open", from_minute(hours.open), 0, 1439);
            site("hours.close", from_minute(hours.close), 0, 1439);
        }
    }
    if let Fitted::Fitted(fallback) = spec.fallback {
        held! {
            site("fallback.run_max", fallback.run_max.0, 1, FALLBACK_MAX_MS);
            site("fallback.test_age_max", fallback.test_age_max.0, 1, DAY_MS);
            site("fallback.warn_before", fallback.warn_before.0, 0, fallback.run_max.0);
        }
    }
    let response = &spec.response;
    let (smallest, largest) = (response.answer_min.0, response.answer_max.0);
    held! {
        signed("response.wrong_way_max", exact_signed(response.wrong_way_max.0), 1, 2000);
        signed("response.answer_min", exact_signed(smallest), 1, 2000);
        signed("response.answer_max", exact_signed(largest), 1, 2000);
        site("response.unanswered_max", from_byte(response.unanswered_max), 1, 255);
        site("response.probe_cycle_every", response.probe_cycle_every.0, HOUR_MS, DAY_MS);
    }
    if largest <= smallest {
        return Err(LimitsError::AnswerRange {
            min: smallest,
            max: largest,
        });
    }
    Ok(())
}
