//! Feeders that do not fit their product, or their probe.

use dosewarden_guard::units::{Dose, MilliPh, Millivolts, Percent, Rate};
use dosewarden_guard::{Cutoff, Fitted, Governor, Limits, LimitsError};

use super::{Change, Site, body, broken, error, fallback, feeder};

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

fn oxidiser_by(site: &mut Site, floor: i32, share: u32) {
    body(site, 1).cutoff = Cutoff::Oxidiser {
        orp: Millivolts(700),
        ph_floor: MilliPh(floor),
        ph_weak: MilliPh(13_000),
        weak_share: Percent(share),
        orp_ph: MilliPh(8500),
        orp_fall: Millivolts(60),
    };
}

fn falling(site: &mut Site, ph: i32, fall: i32) {
    oxidiser_by(site, 6900, 50);
    if let Cutoff::Oxidiser {
        orp_ph, orp_fall, ..
    } = &mut body(site, 1).cutoff
    {
        (*orp_ph, *orp_fall) = (MilliPh(ph), Millivolts(fall));
    }
}

#[test]
fn an_oxidiser_has_a_floor_and_a_share_where_it_is_weak() {
    for (floor, text) in [
        (6499, "cutoff.ph_floor is 6499"),
        (8001, "cutoff.ph_floor is 8001"),
    ] {
        broken!(
            |s| oxidiser_by(s, floor, 100),
            LimitsError::BodyRange { .. },
            text,
            "6500"
        );
    }
    for (share, text) in [
        (0, "cutoff.weak_share is 0"),
        (101, "cutoff.weak_share is 101"),
    ] {
        broken!(
            |s| oxidiser_by(s, 6500, share),
            LimitsError::BodyRange { .. },
            text,
            "1 to 100"
        );
    }
    for (ph, text) in [
        (6900, "cutoff.orp_ph is 6900"),
        (14_001, "cutoff.orp_ph is 14001"),
    ] {
        broken!(
            |s| falling(s, ph, 60),
            LimitsError::BodyRange { .. },
            text,
            "6901 to 14000"
        );
    }
}

/// What two feeders of one product share is looked at figure by figure.
#[test]
fn two_feeders_of_one_oxidiser_agree_in_each_figure() {
    let mut both: Site = crate::site::a_plan().spec();
    oxidiser_by(&mut both, 6900, 50);
    both.feeders[0] = both.feeders[1];
    assert!(Limits::try_new(both).is_ok());
    let others: [Change; 13] = [
        |s| body(s, 1).cycle_cap.0 -= 1,
        |s| body(s, 1).hour_cap.0 -= 1,
        |s| body(s, 1).day_cap.0 -= 1,
        |s| body(s, 1).reduced_share = Percent(99),
        |s| body(s, 1).spread_hold.0 += 1,
        |s| fallback(s).cycle.0 -= 1,
        |s| fallback(s).day.0 -= 1,
        |s| body(s, 1).fallback = Fitted::NotFitted,
        |s| oxidiser_by(s, 6901, 50),
        |s| oxidiser_by(s, 6900, 51),
        |s| falling(s, 8499, 60),
        |s| falling(s, 8500, 61),
        |s| {
            oxidiser_by(s, 6900, 50);
            if let Cutoff::Oxidiser { orp, .. } = &mut body(s, 1).cutoff {
                orp.0 -= 1;
            }
        },
    ];
    for (index, other) in others.into_iter().enumerate() {
        let mut site = both;
        other(&mut site);
        let disagrees = LimitsError::ProductDisagrees {
            first: 0,
            feeder: 1,
        };
        assert_eq!(Limits::try_new(site), Err(disagrees), "{index}");
    }
}

#[test]
fn the_smallest_dose_is_named_with_its_run() {
    // 2.2 s at the caps' rate; a tick of 2 s and 0.3 s for the drive to stop.
    broken!(
        |s| feeder(s, 0).dose_min = Dose(2200),
        LimitsError::DoseTooShort { feeder: 0, .. },
        "feeder 0: dose_min runs ",
        "at least 2300 ms"
    );
}
