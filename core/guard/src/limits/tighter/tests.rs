//! Which limits are no looser than others: each figure one step either way, and what is no figure.

use super::*;
use crate::product::Product;
use crate::test_site::SPEC;
use crate::units::{Dose, MilliPh, Millis};

type Site = LimitsSpec<2, 1>;

/// Each figure has room for a step either way.
const SITE: Site = LimitsSpec {
    witness_age_max: Millis(1500),
    ..SPEC
};
/// Moves one figure by 1 in its unit: up, or down.
type Nudge = fn(&mut Site, i32);

fn feeder(site: &mut Site, which: usize) -> &mut FeederSpec<1> {
    match &mut site.feeders[which] {
        FeederLimits::Enabled(spec) => spec,
        FeederLimits::Disabled => panic!("both are in use"),
    }
}

fn body(site: &mut Site, which: usize) -> &mut BodyLimits {
    &mut feeder(site, which).bodies[0]
}

fn step(figure: &mut u32, by: i32) {
    *figure = figure.checked_add_signed(by).expect("it has room");
}

fn ph(cutoff: &mut Cutoff, by: i32) {
    match cutoff {
        Cutoff::AbovePh(ph) | Cutoff::BelowPh(ph) => ph.0 += by,
        Cutoff::Oxidiser { .. } => panic!("it goes by ORP"),
    }
}

/// Of what goes by ORP: its ORP, its floor, where it is weak, and the share there; where its ORP falls, and by how much.
fn oxidiser(site: &mut Site, by: [i32; 6]) {
    let Cutoff::Oxidiser {
        orp,
        ph_floor,
        ph_weak,
        weak_share,
        orp_ph,
        orp_fall,
    } = &mut body(site, 1).cutoff
    else {
        panic!("it goes by ORP");
    };
    orp.0 += by[0];
    ph_floor.0 += by[1];
    ph_weak.0 += by[2];
    step(&mut weak_share.0, by[3]);
    orp_ph.0 += by[4];
    orp_fall.0 += by[5];
}

fn fallback(site: &mut Site, cycle: i32, day: i32) {
    let Fitted::Fitted(caps) = &mut body(site, 1).fallback else {
        panic!("it has fallback");
    };
    step(&mut caps.cycle.0, cycle);
    step(&mut caps.day.0, day);
}

/// More of it is no looser.
const UP: [(&str, Nudge); 10] = [
    ("power_on_delay", |s, by| step(&mut s.power_on_delay.0, by)),
    ("power_on_delay_new_probe", |s, by| {
        step(&mut s.power_on_delay_new_probe.0, by);
    }),
    ("flow_prove", |s, by| step(&mut s.flow_prove.0, by)),
    ("probe_settle", |s, by| step(&mut s.probe_settle.0, by)),
    ("purge", |s, by| step(&mut s.purge.0, by)),
    ("feedback_clear", |s, by| {
        step(&mut feeder(s, 0).feedback_clear.0, by);
    }),
    ("spread_hold", |s, by| {
        step(&mut body(s, 1).spread_hold.0, by);
    }),
    ("acid's cut-off", |s, by| ph(&mut body(s, 0).cutoff, by)),
    ("ph_floor", |s, by| oxidiser(s, [0, by, 0, 0, 0, 0])),
    ("orp_fall", |s, by| oxidiser(s, [0, 0, 0, 0, 0, by])),
];

/// Less of it is no looser.
const DOWN: [(&str, Nudge); 18] = [
    ("witness_age_max", |s, by| {
        step(&mut s.witness_age_max.0, by);
    }),
    ("stuck_flow_max", |s, by| step(&mut s.stuck_flow_max.0, by)),
    ("probe_age_max", |s, by| step(&mut s.probe_age_max.0, by)),
    ("probe_failure_max", |s, by| {
        step(&mut s.probe_failure_max.0, by);
    }),
    ("resume_within", |s, by| step(&mut s.resume_within.0, by)),
    ("manual_max", |s, by| step(&mut s.manual_max.0, by)),
    ("off_credit_max", |s, by| step(&mut s.off_credit_max.0, by)),
    ("slice_max", |s, by| step(&mut feeder(s, 0).slice_max.0, by)),
    ("run_max", |s, by| step(&mut feeder(s, 1).run_max.0, by)),
    ("cycle_cap", |s, by| step(&mut body(s, 0).cycle_cap.0, by)),
    ("hour_cap", |s, by| step(&mut body(s, 1).hour_cap.0, by)),
    ("day_cap", |s, by| step(&mut body(s, 0).day_cap.0, by)),
    ("reduced_share", |s, by| {
        step(&mut body(s, 0).reduced_share.0, by);
    }),
    ("orp and ph_weak", |s, by| oxidiser(s, [by, 0, by, 0, 0, 0])),
    ("weak_share", |s, by| oxidiser(s, [0, 0, 0, by, 0, 0])),
    ("orp_ph", |s, by| oxidiser(s, [0, 0, 0, 0, by, 0])),
    ("fallback.cycle", |s, by| fallback(s, by, 0)),
    ("fallback.day", |s, by| fallback(s, 0, by)),
];

fn limits(site: &Site) -> Limits<2, 1> {
    Limits::try_new(*site).unwrap()
}

fn moved(nudge: Nudge, by: i32) -> Limits<2, 1> {
    let mut site = SITE;
    nudge(&mut site, by);
    limits(&site)
}

#[test]
fn one_figure_a_step_either_way() {
    let old = limits(&SITE);
    assert!(old.no_looser_than(&old));
    for (figures, tighter) in [(&UP[..], 1), (&DOWN[..], -1)] {
        for (name, nudge) in figures {
            assert!(moved(*nudge, tighter).no_looser_than(&old), "{name}");
            assert!(!moved(*nudge, -tighter).no_looser_than(&old), "{name}");
        }
    }
    let weak: Nudge = |site, by| oxidiser(site, [0, 0, by, 0, 0, 0]);
    let orp: Nudge = |site, by| oxidiser(site, [by, 0, 0, 0, 0, 0]);
    assert!(!moved(weak, 1).no_looser_than(&old));
    assert!(!moved(orp, 1).no_looser_than(&old));
}

#[test]
fn a_base_stops_at_a_lower_ph_or_the_same() {
    let base = |by| {
        let mut site = SITE;
        feeder(&mut site, 0).product = Product::Base;
        body(&mut site, 0).cutoff = Cutoff::BelowPh(MilliPh(7800 + by));
        limits(&site)
    };
    assert!(base(-1).no_looser_than(&base(0)) && base(0).no_looser_than(&base(0)));
    assert!(!base(1).no_looser_than(&base(0)));
    // Another product is no figure, whatever its cut-off.
    assert!(!base(0).no_looser_than(&limits(&SITE)));
}

#[test]
fn what_is_no_figure_differs_in_both_directions() {
    let old = limits(&SITE);
    let others: [Nudge; 7] = [
        |s, _| feeder(s, 0).rate.0 += 1,
        |s, _| feeder(s, 0).rate.0 -= 1,
        |s, _| feeder(s, 0).dose_min = Dose::from_ml(6),
        |s, _| feeder(s, 1).drive_off = Millis(300),
        |s, _| s.save_max = Millis(4000),
        |s, _| s.response.unanswered_max = 2,
        |s, _| s.feeders[1] = FeederLimits::Disabled,
    ];
    for (index, other) in others.into_iter().enumerate() {
        let new = moved(other, 0);
        assert!(!new.no_looser_than(&old), "{index}");
        assert!(!old.no_looser_than(&new), "{index}");
    }
}

#[test]
fn fallback_may_go_and_may_not_come() {
    let without = moved(|site, _| body(site, 1).fallback = Fitted::NotFitted, 0);
    let old = limits(&SITE);
    assert!(without.no_looser_than(&old) && without.no_looser_than(&without));
    assert!(!old.no_looser_than(&without));
}

#[test]
fn a_feeder_out_of_use_has_nothing_to_loosen() {
    let mut site = SITE;
    site.feeders[0] = FeederLimits::Disabled;
    let old = limits(&site);
    assert!(old.no_looser_than(&old));
    site.purge.0 += 1;
    let longer = limits(&site);
    assert!(longer.no_looser_than(&old) && !old.no_looser_than(&longer));
}
