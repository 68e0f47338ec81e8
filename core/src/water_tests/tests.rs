//! Ages, what is due, and what may have fallen by now.

use super::*;
use crate::guard::units::DAY_MS;

const RULE: TestRule = TestedValue::Alkalinity.usual();

fn aged(days: u16, more_ms: u32) -> WaterTest {
    let mut test = WaterTest::new(MicrogramsPerL::from_mg_l(120));
    test.age = Age::from_days(days);
    test.age.pass(Millis(more_ms));
    test
}

#[test]
fn the_lowest_is_that_of_the_day_of_the_next_test_and_goes_on_falling() {
    let lowest = |days, ms| aged(days, ms).lowest_before_next(&RULE).0;
    assert_eq!([lowest(0, 0), lowest(30, 0)], [30_000, 30_000]);
    assert_eq!(lowest(30, 1), 27_000, "a day that has begun counts");
    assert_eq!(
        [lowest(40, 0), lowest(41, 0)],
        [0, 0],
        "never under nothing"
    );
    assert_eq!(
        WaterTest {
            age: Age::UNKNOWN,
            ..aged(0, 0)
        }
        .expected_now(&RULE)
        .0,
        0
    );
}

#[test]
fn overdue_is_past_the_day_not_on_it() {
    assert!(!aged(30, 0).is_overdue(&RULE));
    assert!(aged(30, 1).is_overdue(&RULE));
    assert!(aged(0, 0).due_in_days(&RULE) == 30 && aged(31, 0).due_in_days(&RULE) == 0);
    assert_eq!(aged(0, DAY_MS).due_in_days(&RULE), 29);
}

#[test]
fn each_value_has_a_last_test_of_its_own_and_a_slip_of_the_finger_leaves_it() {
    let mut tests = WaterTests::NONE;
    for (value, mg_l) in TestedValue::ALL.into_iter().zip([80, 30, 3000, 50]) {
        assert_eq!(tests.of(value), None);
        assert_eq!(tests.enter(value, MicrogramsPerL::from_mg_l(mg_l)), Ok(()));
    }
    tests.pass(Millis(DAY_MS));
    for value in TestedValue::ALL {
        let slip = MicrogramsPerL(value.most().0 + 1);
        let max = value.most();
        let refused = TestRange { found: slip, max };
        assert_eq!(tests.enter(value, slip), Err(refused));
        assert_eq!(tests.of(value).map(|test| test.age.days()), Some(1));
    }
    let found = |value| tests.of(value).map(|test| test.found.0);
    assert_eq!(found(TestedValue::Salt), Some(3_000_000));
    assert_eq!(found(TestedValue::Borate), Some(50_000));
}

#[test]
fn what_is_overdue_is_named_also_by_time_without_power() {
    let mut tests = WaterTests::NONE;
    assert_eq!(tests.overdue(TestedValue::usual), None, "never tested");
    for value in [TestedValue::Cyanurate, TestedValue::Alkalinity] {
        assert!(tests.enter(value, MicrogramsPerL::from_mg_l(50)).is_ok());
    }
    tests.pass_off(Some(30 * 24));
    assert_eq!(tests.overdue(TestedValue::usual), None);
    tests.pass(Millis(1));
    let overdue = tests.overdue(TestedValue::usual);
    assert_eq!(overdue, Some(TestedValue::Alkalinity));
}

#[test]
fn a_value_that_is_in_a_set_stays_in_it_if_it_comes_again() {
    let once = TestedSet::NONE.with(TestedValue::Borate);
    assert_eq!(once.with(TestedValue::Borate), once);
}

#[cfg(feature = "store")]
#[test]
fn ages_are_told_in_hours_and_taken_off_and_what_was_found_stands() {
    let mut tests = WaterTests::NONE;
    let found = MicrogramsPerL::from_mg_l(80);
    tests.enter(TestedValue::Alkalinity, found).unwrap();
    let new = tests;
    tests.pass(Millis(DAY_MS * 2));
    let mut hours = tests.hours();
    hours.sort_unstable();
    assert_eq!(hours, [0, 0, 0, 48]);
    assert_eq!(tests.ageless(), new);
    assert_eq!(
        tests
            .ageless()
            .of(TestedValue::Alkalinity)
            .map(|test| test.found),
        Some(found)
    );
}
