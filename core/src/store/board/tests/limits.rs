//! No image passes what a board's firmware allows.

use super::*;
use crate::guard::units::Rate;
use crate::guard::{FeederLimits, Product};

#[test]
fn no_limit_passes_what_the_board_allows() {
    type Change = fn(&mut Ceilings<2>);
    let cases: [(&str, Change); 9] = [
        ("manual_max", |all| all.manual_max.0 -= 1),
        ("flow_prove", |all| all.flow_prove_min.0 += 1),
        ("tick_gap_max", |all| all.tick_gap_max.0 -= 1),
        ("run_max", |all| {
            all.feeders[1].as_mut().unwrap().run_max.0 -= 1
        }),
        ("rate_any_tube", |all| {
            all.feeders[0].as_mut().unwrap().rate_any_tube_min = Rate::from_ml_per_min(61);
        }),
        ("cycle_cap", |all| {
            all.feeders[0].as_mut().unwrap().cycle_cap.0 -= 1
        }),
        ("hour_cap", |all| {
            all.feeders[0].as_mut().unwrap().hour_cap.0 -= 1
        }),
        ("day_cap", |all| {
            all.feeders[1].as_mut().unwrap().day_cap.0 -= 1
        }),
        ("product", |all| {
            all.feeders[0].as_mut().unwrap().product = Product::Base
        }),
    ];
    let limits = settings().limits;
    assert_eq!(ceilings().hold(&limits), Ok(()));
    for (field, change) in cases {
        let mut all = ceilings();
        change(&mut all);
        let over = all.hold(&limits).unwrap_err();
        assert_eq!(over.field, field);
        let taken = given()
            .1
            .take_up(Authority::Maker, &all, later(1), Own::BLANK);
        assert_eq!(taken, Err(BoardError::Over(over)));
    }
    let none = Ceilings {
        feeders: [None, ceilings().feeders[1]],
        ..ceilings()
    };
    let over = none.hold(&limits).unwrap_err();
    let words = std::string::ToString::to_string(&over);
    assert_eq!(words, "feeder 0: product is not what this board has there");
    let mut spec = SPEC;
    spec.feeders[0] = FeederLimits::Disabled;
    assert_eq!(
        none.hold(&Limits::try_new(spec).unwrap()),
        Ok(()),
        "not in use"
    );
    let mut spec = SPEC;
    (spec.off_credit_max, spec.off_credit_ratio) = (Millis(HOUR_MS), 1);
    let over = ceilings()
        .hold(&Limits::try_new(spec).unwrap())
        .unwrap_err();
    assert_eq!(over.field, "off_credit_max");
}
