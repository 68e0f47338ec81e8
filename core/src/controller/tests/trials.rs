//! What only trials do to a controller.

use crate::bench::Bench;
use crate::guard::{Authority, Rule};
use crate::{Act, Inputs};

#[test]
fn a_fork_goes_on_as_its_controller_would() {
    let mut bench = Bench::usual();
    bench.water(7600, 720);
    bench.until(5, |shown| shown.feeds(0));
    let mut fork = bench.controller.fork();
    let inputs: Inputs<2> = bench.inputs;
    let elapsed = {
        let mut clock = crate::guard::TickClock::new();
        clock.step(0);
        clock.step(1000)
    };
    let there = *fork.tick(elapsed, &inputs).decision();
    assert!(there.feeders[0].run.0 > 0);
    assert_eq!(bench.tick().decision, there);
    assert_eq!(bench.controller.guard().state(), fork.guard().state());
}

#[test]
fn a_state_that_changed_by_itself_locks_in_the_next_tick() {
    let mut bench = Bench::usual();
    bench
        .controller
        .upset_state(|state| state.line.purged.0 ^= 1);
    let decision = bench.tick().decision;
    assert!(decision.feeders[0].vetoes.has(Rule::StateSealed));
}

#[test]
fn an_act_of_the_guard_needs_what_the_guard_asks_for() {
    let begin = Act::Guard(crate::guard::Action::Initialise);
    assert_eq!(begin.authority(), Authority::Technician);
}
