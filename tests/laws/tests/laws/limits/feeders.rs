//! Feeders that do not fit their product, or their probe.

use dosewarden_guard::units::{MilliPh, Millivolts, Percent, Rate};
use dosewarden_guard::{Cutoff, Fitted, Governor, LimitsError};

use super::{Site, body, broken, error, feeder};

#[test]
fn governors_fit_their_product() {
    broken!(
        |s| feeder(s, 0).governor = Governor::Orp,
        LimitsError::GovernorMismatch { feeder: 0 },
        "governor",
        "acid and base go by Ph"
    );
    broken!(
        |s| s.orp_probe = Fitted::NotFitted,
        LimitsError::GovernorNotFitted { feeder: 1 },
        "feeder 1",
        "not fitted"
    );
}

#[test]
fn cutoffs_fit_their_product() {
    broken!(
        |s| body(s, 0).cutoff = Cutoff::BelowPh(MilliPh(7600)),
        LimitsError::CutoffMismatch { feeder: 0, body: 0 },
        "cutoff",
        "acid needs AbovePh"
    );
    broken!(
        |s| body(s, 0).cutoff = Cutoff::AbovePh(MilliPh(6499)),
        LimitsError::BodyRange { .. },
        "cutoff is 6499",
        "6500"
    );
    broken!(
        |s| oxidiser(s, Millivolts(1001), 7900, 0),
        LimitsError::BodyRange { .. },
        "cutoff.orp is 1001",
        "1000"
    );
    broken!(
        |s| oxidiser(s, Millivolts(700), 6900, 0),
        LimitsError::BodyRange { .. },
        "cutoff.ph_weak is 6900",
        "6901"
    );
    broken!(
        |s| oxidiser(s, Millivolts(700), 7900, -1),
        LimitsError::BodyRange { .. },
        "cutoff.orp_fall is -1",
        "0"
    );
    broken!(
        |s| oxidiser(s, Millivolts(700), 7900, 201),
        LimitsError::BodyRange { .. },
        "cutoff.orp_fall is 201",
        "200"
    );
}

#[test]
fn rates_switches_and_fallback_fit_their_feeder() {
    broken!(
        |s| feeder(s, 0).rate_any_tube = Rate(3_599_999),
        LimitsError::AnyTubeBelowRate { .. },
        "rate_any_tube is 3599999",
        "at least 3600000"
    );
    broken!(
        |s| feeder(s, 0).cell_flow_switch = Fitted::YES,
        LimitsError::CellSwitchWithoutCell { feeder: 0 },
        "cell_flow_switch",
        "has to be not fitted"
    );
    broken!(
        |s| s.fallback = Fitted::NotFitted,
        LimitsError::FallbackNotPossible { feeder: 1, body: 0 },
        "fallback caps need an oxidiser"
    );
}

fn oxidiser(site: &mut Site, orp: Millivolts, ph_weak: i32, orp_fall: i32) {
    body(site, 1).cutoff = Cutoff::Oxidiser {
        orp,
        ph_floor: MilliPh(6900),
        ph_weak: MilliPh(ph_weak),
        weak_share: Percent(100),
        orp_ph: MilliPh(7500),
        orp_fall: Millivolts(orp_fall),
    };
}
