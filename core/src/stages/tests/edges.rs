//! A step to where the unit is already, and a rate that is wrong by more than one sign.

use super::*;
use crate::ask::Water;
use crate::stages::Scene;

#[test]
fn to_set_the_stage_in_which_it_is_needs_a_technician_and_no_evidence() {
    let mut bench = unit(SPEC, SETTINGS);
    bench.controller.set_restraints(crate::Restraints::NONE);
    assert_eq!(bench.controller.rung(), Rung::Reduced);
    let needed = ActResult::NeedsAuthority(Authority::Technician);
    assert_eq!(bench.act_as(Authority::Operator, REDUCED).act, Some(needed));
    assert!(done(&bench.act(REDUCED)), "nothing is missing for no step");
    assert_eq!(bench.controller.rung(), Rung::Reduced);
}

#[test]
fn whoever_runs_a_site_whose_stages_need_no_evidence_may_let_it_observe() {
    let mut bench = Bench::usual();
    assert!(done(&bench.act_as(Authority::Operator, Act::Observe)));
    assert_eq!(bench.controller.rung(), Rung::ObserveOnly);
}

#[test]
fn a_rate_that_water_and_drum_name_and_that_water_does_not_answer_to_is_missing_once() {
    let bench = Bench::usual();
    let guard = bench.controller.guard();
    let mut state = *guard.state();
    state.response[ACID].wrong = true;
    let care = Care::UNKNOWN;
    let Fitted::Fitted(settings) = SETTINGS.stages else {
        panic!("fitted");
    };
    let response = |rate_wrong| {
        let scene = Scene {
            limits: guard.limits(),
            state: &state,
            water: Water::of(guard, &bench.inputs),
            care: &care,
            rate_wrong,
        };
        scene.missing(&settings, &Evidence::NONE).response
    };
    assert_eq!(
        [0b00, 0b01, 0b10, 0b11].map(response),
        [0b01, 0b01, 0b11, 0b11]
    );
}

#[test]
fn time_without_a_value_of_a_probe_that_is_fitted_earns_nothing() {
    for ph_is_lost in [true, false] {
        let mut bench = unit(SPEC, SETTINGS);
        bench.run(200);
        if ph_is_lost {
            bench.inputs.facts.ph.health = crate::guard::Health::Failure;
        } else {
            bench.inputs.facts.orp.health = crate::guard::Health::Failure;
        }
        bench.run(2);
        let before = bench.controller.evidence().sound;
        bench.run(30); // shorter than what locks out
        assert_eq!(bench.controller.evidence().sound, before);
    }
}
