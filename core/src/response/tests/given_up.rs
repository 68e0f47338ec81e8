//! Doses that are given up: water that is another all at once, and a run that never ends.

use super::{Estimate, Verdict, Water};

#[test]
fn water_that_is_another_all_at_once_answers_nothing() {
    let mut water = Water::new(1.0);
    assert_eq!(water.doses(1, 1200).doses(), 1);
    water.dose(50, 0);
    water.wait(600);
    // A whole pH at once: fresh water, and no answer to 50 mL.
    water.ph += 1.0;
    water.shown += 1.0;
    water.wait(1200);
    assert_eq!(water.response.estimate.doses(), 1);
    water.wait(1200);
    water.dose(50, 0);
    water.wait(1200);
    assert_eq!(water.response.estimate.doses(), 2, "the next one counts");
}

#[test]
fn a_cycle_that_runs_for_hours_is_not_held_against_the_water_before_it() {
    for (minutes, doses) in [(20, 1), (241, 0)] {
        let mut water = Water::new(1.0);
        water.wait(1200);
        for _ in 0..minutes {
            water.run_dose(0);
        }
        water.ph -= 0.05;
        water.close_dose(50, 0);
        water.wait(1200);
        assert_eq!(water.response.estimate.doses(), doses, "{minutes} min");
    }
}

#[test]
fn colder_water_is_expected_to_answer_less() {
    let mut water = Water::new(0.7);
    water.warmth_milli = 700;
    let found = water.doses(5, 1300).ratio_milli().unwrap();
    assert!((970..=1030).contains(&found), "{found}");
    let mut water = Water::new(0.7);
    let found = water.doses(5, 1300).ratio_milli().unwrap();
    assert!((670..=730).contains(&found), "{found}");
}

#[test]
fn a_cycle_that_gave_nothing_has_no_answer() {
    let mut water = Water::new(1.0);
    water.wait(1200);
    water.run_dose(0);
    water.close_dose(0, 0);
    water.wait(1200);
    assert_eq!(water.response.estimate.doses(), 0);
}

#[test]
fn forgetting_begins_anew() {
    let mut water = Water::new(2.0);
    assert_eq!(water.doses(4, 1300).verdict(), Verdict::High);
    water.response.forget();
    assert_eq!(water.response.estimate, Estimate::UNKNOWN);
    water.ratio = 1.0;
    assert_eq!(water.doses(4, 1300).verdict(), Verdict::AsConfigured);
}
