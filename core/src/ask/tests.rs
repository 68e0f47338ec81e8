//! What is asked of the guard.

use super::*;
use crate::bench::{ACID, Bench, CHLORINE, SPEC, healthy, regulators};
use crate::guard::units::Body;
use crate::guard::{Closed, Reading};

/// What one feeder is asked for, of a site as it is at power-on but for this.
fn at_a_desk<T>(
    change: impl FnOnce(&mut State<2, 1, 7, 25>, &mut Inputs<2>),
    ask: impl FnOnce(&Desk<'_, 2, 1, 7, 25>) -> T,
) -> T {
    let (mut state, mut inputs) = (State::POWER_ON, Inputs::new(healthy()));
    change(&mut state, &mut inputs);
    ask(&Desk {
        limits: &Limits::try_new(SPEC).unwrap(),
        state: &state,
        inputs: &inputs,
        water: Water {
            ph: None,
            orp: None,
        },
        elapsed: Millis(1000),
    })
}

/// A cycle was booked in this tick.
fn booked(mode: Mode, fed: u32) -> FeederDecision {
    let mut row = FeederDecision::DISABLED;
    row.closed = Some(Closed {
        fed: Dose(fed),
        charged: Dose(fed),
        full: true,
        body: Body(0),
        mode,
    });
    row
}

#[test]
fn water_is_known_only_once_it_has_moved_past_the_probes_for_long_enough() {
    let known = |bench: &Bench| {
        let water = Water::of(bench.controller.guard(), &bench.inputs);
        (water.ph.is_some(), water.orp.is_some())
    };
    let fresh = Bench::start(SPEC, regulators(), [None, None]);
    assert_eq!(known(&fresh), (false, false));
    assert_eq!(known(&Bench::usual()), (true, true));
}

#[test]
fn the_next_dose_of_fallback_waits_for_one_that_was_fed_and_for_no_other() {
    let due = |row| {
        at_a_desk(
            |state, _| state.fallback_left = Millis::from_hours(1),
            |desk| desk.fallback(&CHLORINE, 0, &row, &mut Asking::START.clone()),
        )
    };
    assert_eq!(due(booked(Mode::Fallback, 1)), Some(Dose(0)));
    assert_eq!(due(booked(Mode::Fallback, 0)), Some(Dose::from_ml(20)));
    assert_eq!(due(booked(Mode::Manual, 1)), Some(Dose::from_ml(20)));
}

#[test]
fn a_feed_by_hand_ends_with_a_cycle_of_its_own_that_was_fed_and_with_no_other() {
    let hand = |row| {
        at_a_desk(
            |_, inputs| inputs.facts.feeders[0].hold_to_run = Reading::now(true),
            |desk| {
                let mut asking = Asking {
                    by_hand: Some(ByHand::new(Dose(7))),
                    ..Asking::START
                };
                let dose = desk.by_hand(0, &row, &mut asking);
                (dose, asking.by_hand.is_some())
            },
        )
    };
    assert_eq!(hand(booked(Mode::Manual, 1)), (None, false));
    assert_eq!(hand(booked(Mode::Manual, 0)), (Some(Dose(7)), true));
    assert_eq!(hand(booked(Mode::Automatic, 1)), (Some(Dose(7)), true));
}

#[test]
fn before_a_pump_stop_the_smallest_dose_is_asked_for_if_it_just_fits() {
    // Purge 45 s, a late tick 2 s, the off delay 0.2 s, and 2 s to feed in.
    let stop = Millis(49_200);
    let fits = ACID.rate_for_caps().dose_ceil(Millis(2000));
    let asked = |least| {
        let mut ask = Ask {
            dose: Dose::from_ml(45),
            ..Ask::NOTHING
        };
        at_a_desk(
            |_, inputs| inputs.pump_stops_in = Some(stop),
            |desk| desk.hold_back(0, &ACID, &FeederDecision::DISABLED, least, &mut ask),
        );
        (ask.held, ask.dose)
    };
    assert_eq!(asked(fits), (None, fits));
    let more = Dose(fits.0 + 1);
    assert_eq!(asked(more).0, Some(Held::PumpStops(stop)));
}

#[test]
fn doses_of_fallback_are_spread_over_the_day() {
    assert_eq!(
        spread_ceil(Dose::from_ml(20), Dose::from_ml(200)),
        Millis(DAY_MS / 10)
    );
    assert_eq!(spread_ceil(Dose(1), Dose(7)), Millis(12_342_858));
    assert_eq!(spread_ceil(Dose(1), Dose(0)), Millis(DAY_MS));
}
