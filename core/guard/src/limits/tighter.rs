//! Whether one set of limits is no looser than another. Tightening applies at once; loosening waits
//! until every feeder has stopped.

use super::Limits;
use super::spec::{BodyLimits, Cutoff, FeederLimits, FeederSpec, LimitsSpec};
use crate::units::Fitted;

impl<const N: usize, const B: usize> Limits<N, B> {
    /// Whether these limits differ from `old` in nothing but figures, and no figure is looser.
    /// A changed rate counts as looser in either direction: it closes the cycle.
    #[must_use]
    pub fn no_looser_than(&self, old: &Self) -> bool {
        let (new, old) = (self.spec(), old.spec());
        site_no_looser(new, old)
            && new
                .feeders
                .iter()
                .zip(old.feeders.iter())
                .all(|pair| match pair {
                    (FeederLimits::Disabled, FeederLimits::Disabled) => true,
                    (FeederLimits::Enabled(new), FeederLimits::Enabled(old)) => {
                        feeder_no_looser(new, old)
                    }
                    _ => false,
                })
    }
}

fn site_no_looser<const N: usize, const B: usize>(
    new: &LimitsSpec<N, B>,
    old: &LimitsSpec<N, B>,
) -> bool {
    let as_old = LimitsSpec {
        power_on_delay: old.power_on_delay,
        power_on_delay_new_probe: old.power_on_delay_new_probe,
        witness_age_max: old.witness_age_max,
        flow_prove: old.flow_prove,
        stuck_flow_max: old.stuck_flow_max,
        probe_age_max: old.probe_age_max,
        probe_settle: old.probe_settle,
        probe_failure_max: old.probe_failure_max,
        purge: old.purge,
        resume_within: old.resume_within,
        manual_max: old.manual_max,
        off_credit_max: old.off_credit_max,
        feeders: old.feeders,
        ..*new
    };
    as_old == *old
        && new.power_on_delay >= old.power_on_delay
        && new.power_on_delay_new_probe >= old.power_on_delay_new_probe
        && new.witness_age_max <= old.witness_age_max
        && new.flow_prove >= old.flow_prove
        && new.stuck_flow_max <= old.stuck_flow_max
        && new.probe_age_max <= old.probe_age_max
        && new.probe_settle >= old.probe_settle
        && new.probe_failure_max <= old.probe_failure_max
        && new.purge >= old.purge
        && new.resume_within <= old.resume_within
        && new.manual_max <= old.manual_max
        && new.off_credit_max <= old.off_credit_max
}

fn feeder_no_looser<const B: usize>(new: &FeederSpec<B>, old: &FeederSpec<B>) -> bool {
    let as_old = FeederSpec {
        slice_max: old.slice_max,
        run_max: old.run_max,
        feedback_clear: old.feedback_clear,
        bodies: old.bodies,
        ..*new
    };
    as_old == *old
        && new.slice_max <= old.slice_max
        && new.run_max <= old.run_max
        && new.feedback_clear >= old.feedback_clear
        && new
            .bodies
            .iter()
            .zip(old.bodies.iter())
            .all(|(new, old)| body_no_looser(new, old))
}

fn body_no_looser(new: &BodyLimits, old: &BodyLimits) -> bool {
    let fallback = match (new.fallback, old.fallback) {
        (Fitted::NotFitted, _) => true,
        (Fitted::Fitted(new), Fitted::Fitted(old)) => new.cycle <= old.cycle && new.day <= old.day,
        (Fitted::Fitted(_), Fitted::NotFitted) => false,
    };
    fallback
        && new.cycle_cap <= old.cycle_cap
        && new.hour_cap <= old.hour_cap
        && new.day_cap <= old.day_cap
        && new.reduced_share <= old.reduced_share
        && new.spread_hold >= old.spread_hold
        && cutoff_no_looser(new.cutoff, old.cutoff)
}

fn cutoff_no_looser(new: Cutoff, old: Cutoff) -> bool {
    match (new, old) {
        (Cutoff::AbovePh(new), Cutoff::AbovePh(old)) => new >= old,
        (Cutoff::BelowPh(new), Cutoff::BelowPh(old)) => new <= old,
        (
            Cutoff::Oxidiser {
                orp,
                ph_floor,
                ph_weak,
                weak_share,
                orp_ph,
                orp_fall,
            },
            Cutoff::Oxidiser {
                orp: old_orp,
                ph_floor: old_floor,
                ph_weak: old_weak,
                weak_share: old_share,
                orp_ph: old_ph,
                orp_fall: old_fall,
            },
        ) => {
            orp <= old_orp
                && ph_floor >= old_floor
                && ph_weak <= old_weak
                && weak_share <= old_share
                && orp_ph <= old_ph
                && orp_fall >= old_fall
        }
        _ => false,
    }
}

/// Whether two feeders have the same limits in all bodies. `const`, for the check of a site.
pub(super) const fn same_bodies<const B: usize>(one: &FeederSpec<B>, two: &FeederSpec<B>) -> bool {
    let mut left: &[BodyLimits] = &one.bodies;
    let mut right: &[BodyLimits] = &two.bodies;
    while let ([first, left_tail @ ..], [second, right_tail @ ..]) = (left, right) {
        if !same_body(first, second) {
            return false;
        }
        (left, right) = (left_tail, right_tail);
    }
    true
}

const fn same_body(one: &BodyLimits, two: &BodyLimits) -> bool {
    let cutoff = match (one.cutoff, two.cutoff) {
        (Cutoff::AbovePh(a), Cutoff::AbovePh(b)) | (Cutoff::BelowPh(a), Cutoff::BelowPh(b)) => {
            a.0 == b.0
        }
        (
            Cutoff::Oxidiser {
                orp: a,
                ph_floor: b,
                ph_weak: c,
                weak_share: d,
                orp_ph: i,
                orp_fall: k,
            },
            Cutoff::Oxidiser {
                orp: e,
                ph_floor: f,
                ph_weak: g,
                weak_share: h,
                orp_ph: j,
                orp_fall: l,
            },
        ) => a.0 == e.0 && b.0 == f.0 && c.0 == g.0 && d.0 == h.0 && i.0 == j.0 && k.0 == l.0,
        _ => false,
    };
    let fallback = match (one.fallback, two.fallback) {
        (Fitted::NotFitted, Fitted::NotFitted) => true,
        (Fitted::Fitted(a), Fitted::Fitted(b)) => a.cycle.0 == b.cycle.0 && a.day.0 == b.day.0,
        _ => false,
    };
    cutoff
        && fallback
        && one.cycle_cap.0 == two.cycle_cap.0
        && one.hour_cap.0 == two.hour_cap.0
        && one.day_cap.0 == two.day_cap.0
        && one.reduced_share.0 == two.reduced_share.0
        && one.spread_hold.0 == two.spread_hold.0
}

#[cfg(test)]
mod tests;
