//! Doses that are given up: water that is another all at once, and a run that never ends.

use super::Water;

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
fn a_cycle_that_gave_nothing_has_no_answer() {
    let mut water = Water::new(1.0);
    water.wait(1200);
    water.run_dose(0);
    water.close_dose(0, 0);
    water.wait(1200);
    assert_eq!(water.response.estimate.doses(), 0);
}
