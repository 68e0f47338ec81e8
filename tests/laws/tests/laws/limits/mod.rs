//! Every relation between limits, broken by the smallest change of a good site: the error names it,
//! and its text names the field, the value and what would be right.

mod feeders;
mod ranges;

use dosewarden_guard::units::{Dose, MilliPh, Millis, MinuteOfDay, Percent, Rate};
use dosewarden_guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Hours,
    Limits, LimitsError, LimitsSpec, Product,
};

use crate::check;
use crate::site::{a_plan, plans};

type Site = LimitsSpec<2, 1>;
type Change = fn(&mut Site);

fn feeder(site: &mut Site, which: usize) -> &mut FeederSpec<1> {
    match &mut site.feeders[which] {
        FeederLimits::Enabled(one) => one,
        FeederLimits::Disabled => panic!("both are in use"),
    }
}

fn body(site: &mut Site, which: usize) -> &mut BodyLimits {
    &mut feeder(site, which).bodies[0]
}

fn error(change: impl FnOnce(&mut Site)) -> LimitsError {
    let mut site = a_plan().spec();
    assert!(Limits::try_new(site).is_ok());
    change(&mut site);
    Limits::try_new(site).expect_err("the change breaks a relation")
}

/// The variant fits, and the text holds all these parts.
macro_rules! broken {
    ($change:expr, $variant:pat, $($part:expr),+) => {{
        let error = error($change);
        assert!(matches!(error, $variant), "{error:?}");
        let text = error.to_string();
        $(assert!(text.contains($part), "`{text}` does not say `{}`", $part);)+
    }};
}
pub(crate) use broken;

#[test]
fn the_value_is_named_as_it_was_given() {
    broken!(
        |s| s.off_credit_ratio = 200,
        LimitsError::SiteRange { .. },
        "off_credit_ratio",
        "200"
    );
    let hours = |open, close| {
        Fitted::Fitted(Hours {
            open: MinuteOfDay(open),
            close: MinuteOfDay(close),
        })
    };
    broken!(
        |s| s.hours = hours(60, 5000),
        LimitsError::SiteRange { .. },
        "hours",
        "5000"
    );
    broken!(
        |s| s.hours = hours(1440, 60),
        LimitsError::SiteRange { .. },
        "hours",
        "1440"
    );
    broken!(
        |s| s.response.wrong_way_max = MilliPh(-150),
        _,
        "wrong_way_max",
        "-150"
    );
    broken!(|s| s.response.answer_min = MilliPh(0), _, "answer_min", "0");
    broken!(
        |s| body(s, 0).cutoff = Cutoff::AbovePh(MilliPh(-5)),
        _,
        "cutoff",
        "-5"
    );
}

#[test]
fn a_site_needs_a_witness_of_flow() {
    let none = |site: &mut Site| {
        site.flow_switch = Fitted::NotFitted;
        site.flow_meter = Fitted::NotFitted;
        site.pump_contact = Fitted::YES;
    };
    broken!(
        none,
        LimitsError::NoFlowWitness,
        "flow_switch",
        "flow_meter",
        "at least one"
    );
}

#[test]
fn relations_of_the_site() {
    broken!(
        |s| s.power_on_delay_new_probe = Millis(1),
        LimitsError::NewProbeWaitShorter { .. },
        "power_on_delay_new_probe is 1 ms",
        "at least power_on_delay, 2000"
    );
    let hours = Hours {
        open: MinuteOfDay(300),
        close: MinuteOfDay(300),
    };
    broken!(
        |s| s.hours = Fitted::Fitted(hours),
        LimitsError::HoursEmpty { minute: 300 },
        "hours",
        "300",
        "differ"
    );
    broken!(
        |s| s.response.answer_max = s.response.answer_min,
        LimitsError::AnswerRange { .. },
        "answer_max is 20",
        "above answer_min, 20"
    );
    let mut two: LimitsSpec<2, 2> = a_plan().spec();
    two.body_valves = Fitted::NotFitted;
    let error = Limits::try_new(two).unwrap_err();
    assert_eq!(error, LimitsError::BodiesWithoutValves { bodies: 2 });
    assert!(
        error
            .to_string()
            .contains("body_valves is not fitted with 2 bodies")
    );
    let none: LimitsSpec<2, 0> = a_plan().spec();
    let error = Limits::try_new(none).unwrap_err();
    assert_eq!(error, LimitsError::NoBody);
    assert!(error.to_string().contains("at least one"));
    let long = |s: &mut Site, run_max| {
        s.fallback = Fitted::Fitted(FallbackLimits {
            run_max,
            test_age_max: Millis::from_hours(1),
            warn_before: Millis(0),
        });
    };
    broken!(
        |s| long(s, Millis::from_hours(73)),
        LimitsError::SiteRange { .. },
        "fallback.run_max is 262800000",
        "259200000"
    );
}

#[test]
fn caps_are_never_zero_and_never_above_a_longer_one() {
    let zero: [(Change, &str); 5] = [
        (|s| body(s, 0).cycle_cap = Dose(0), "cycle_cap is 0"),
        (|s| body(s, 0).hour_cap = Dose(0), "hour_cap is 0"),
        (|s| body(s, 0).day_cap = Dose(0), "day_cap is 0"),
        (|s| fallback(s).cycle = Dose(0), "fallback.cycle is 0"),
        (|s| fallback(s).day = Dose(0), "fallback.day is 0"),
    ];
    for (change, text) in zero {
        broken!(
            change,
            LimitsError::CapZero { .. },
            text,
            "at least 1",
            "disable the feeder"
        );
    }
    let above: [(Change, &str, &str); 5] = [
        (
            |s| body(s, 0).day_cap = Dose(9999),
            "cycle_cap is 10300",
            "above day_cap; it has to be at most 9999",
        ),
        (
            |s| body(s, 0).hour_cap = Dose(9999),
            "cycle_cap is 10300",
            "above hour_cap; it has to be at most 9999",
        ),
        (
            |s| body(s, 0).hour_cap.0 = 1_000_000,
            "hour_cap is 1000000",
            "above day_cap",
        ),
        (
            |s| fallback(s).cycle = Dose(10_301),
            "fallback.cycle is 10301",
            "above cycle_cap",
        ),
        (
            |s| feeder(s, 0).dose_min = Dose(9000),
            "dose_min is 9000",
            "reduced cycle_cap",
        ),
    ];
    for (change, text, right) in above {
        broken!(change, LimitsError::CapAbove { .. }, text, right);
    }
}

fn fallback(site: &mut Site) -> &mut FallbackCaps {
    match &mut body(site, 1).fallback {
        Fitted::Fitted(caps) => caps,
        Fitted::NotFitted => panic!("the plan has a fallback"),
    }
}

#[test]
fn a_hold_is_never_zero() {
    broken!(
        |s| body(s, 0).spread_hold = Millis(0),
        LimitsError::HoldZero { feeder: 0, body: 0 },
        "feeder 0, body 0: spread_hold is 0",
        "at least 1 ms"
    );
    broken!(
        |s| body(s, 1).spread_hold = Millis(86_400_001),
        LimitsError::BodyRange {
            feeder: 1,
            body: 0,
            field: "spread_hold",
            ..
        },
        "spread_hold is 86400001",
        "86400000"
    );
    for share in [0, 101] {
        let text = format!("reduced_share is {share}; it has to be 1 to 100");
        broken!(
            |s| body(s, 0).reduced_share = Percent(share),
            LimitsError::BodyRange { .. },
            &text
        );
    }
}

#[test]
fn a_cycle_is_longer_than_what_is_kept_back() {
    let short = |s: &mut Site| {
        let one = feeder(s, 0);
        one.dose_min = Dose(2300);
        one.slice_max = Dose(2300);
    };
    // A tick of 2 s, and 0.3 s for the drive to stop.
    broken!(
        short,
        LimitsError::CycleTooShort {
            run_ms: 2300,
            more_than_ms: 2300,
            ..
        },
        "runs 2300 ms",
        "more than 2300 ms"
    );
}

/// A charge that is too short for a permit would be refused by no rule, for ever.
#[test]
fn the_smallest_dose_is_worth_a_run() {
    let short: [Change; 4] = [
        // 2.2 s, of which a tick of 2 s and 0.3 s for the drive to stop are kept back.
        |s| feeder(s, 0).dose_min = Dose(2200),
        |s| {
            feeder(s, 0).dose_min = Dose(1);
            body(s, 0).reduced_share = Percent(2);
        },
        |s| feeder(s, 0).run_max = Millis(2200),
        |s| s.manual_max = Millis(2200),
    ];
    for change in short {
        error(change);
    }
}

#[test]
fn two_feeders_of_one_product_agree() {
    let mut site: Site = a_plan().spec();
    site.feeders[1] = site.feeders[0];
    assert!(Limits::try_new(site).is_ok());
    feeder(&mut site, 1).rate = Rate(2_900_000);
    assert!(Limits::try_new(site).is_ok(), "rates may differ");
    body(&mut site, 1).spread_hold = Millis(26_000);
    let error = Limits::try_new(site).unwrap_err();
    assert_eq!(
        error,
        LimitsError::ProductDisagrees {
            first: 0,
            feeder: 1
        }
    );
    assert!(
        error
            .to_string()
            .contains("feeder 1: bodies differ from those of feeder 0")
    );
    assert_eq!(feeder(&mut site, 1).product, Product::Acid);
}

#[test]
fn what_the_generators_make_is_valid() {
    check(plans(), |plan| {
        let valid = match plan.bodies {
            1 => Limits::<3, 1>::try_new(plan.spec()).map(drop),
            _ => Limits::<2, 2>::try_new(plan.spec()).map(drop),
        };
        valid.map_err(|error| error.to_string())
    });
}
