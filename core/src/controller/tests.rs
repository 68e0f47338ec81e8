//! The controller whole: hands, fallback, drums, reasons, events and records.

mod answers;
#[cfg(feature = "store")]
mod kept;
mod own;
mod reasons;
#[cfg(feature = "serde")]
mod told;
#[cfg(feature = "upset")]
mod trials;

use std::vec::Vec;

use crate::bench::{ACID, Bench, CHLORINE, SETTINGS_SPEC, SPEC, regulators};
use crate::event::{EventKind, Found};
use crate::guard::units::{Dose, Fitted, Millis, Percent};
use crate::guard::{
    Action, Authority, Facts, FeederLimits, FeederSpec, Governor, Health, Inhibits, Limits,
    LimitsSpec, Lockout, Mode, SetLimits,
};
use crate::regulate::{Share, TimedShare};
use crate::settings::Settings;
use crate::stock::Stock;
use crate::{Act, ActResult, Inputs};

fn by_hand(feeder: usize, ml: u32) -> Act {
    Act::FeedByHand {
        feeder,
        dose: Dose::from_ml(ml),
    }
}

fn hold(bench: &mut Bench, held: bool) {
    bench.inputs.facts.feeders[0].hold_to_run.value = held;
}

#[test]
fn a_hand_feed_needs_the_announcement_and_the_button() {
    let mut bench = Bench::usual();
    bench.water(7400, 720);
    hold(&mut bench, true);
    for _ in 0..30 {
        assert!(!bench.tick().feeds(0), "the button alone does nothing");
    }
    hold(&mut bench, false);
    let act = by_hand(0, 20);
    assert_eq!(
        bench.act_as(Authority::Owner, act).act,
        Some(ActResult::NeedsAuthority(Authority::Operator))
    );
    assert_eq!(
        bench.act_as(Authority::Operator, act).act,
        Some(ActResult::Done)
    );
    for _ in 0..10 {
        assert!(
            !bench.tick().feeds(0),
            "the announcement alone does nothing"
        );
    }
    hold(&mut bench, true);
    bench.until(4, |shown| shown.feeds(0));
    assert_eq!(bench.controller.wanted(0).mode, Mode::Manual);
    bench.run(5);
    hold(&mut bench, false);
    assert!(!bench.tick().feeds(0), "released");
    hold(&mut bench, true);
    for _ in 0..700 {
        assert!(!bench.tick().feeds(0), "over; it has to be announced again");
    }
}

#[test]
fn an_announced_hand_feed_lapses() {
    let mut bench = Bench::usual();
    bench.water(7400, 720);
    bench.act(by_hand(0, 20));
    bench.run(61);
    hold(&mut bench, true);
    for _ in 0..20 {
        assert!(!bench.tick().feeds(0));
    }
    assert_eq!(bench.act(by_hand(0, 0)).act, Some(ActResult::NoDose));
    assert_eq!(bench.act(by_hand(2, 5)).act, Some(ActResult::NoSuchFeeder));
}

#[test]
fn a_hand_feed_ends_after_its_dose_with_the_button_still_held() {
    let mut bench = Bench::usual();
    bench.water(7400, 720);
    bench.act(by_hand(0, 8));
    hold(&mut bench, true);
    let mut fed = 0;
    for _ in 0..1500 {
        let shown = bench.tick();
        fed += shown.decision.feeders[0].closed.map_or(0, |end| end.fed.0);
    }
    assert!(fed > 0 && fed <= 8000, "{fed} uL");
}

#[test]
fn fallback_is_spread_over_the_day_and_only_a_person_enters_it() {
    let mut bench = Bench::usual();
    bench.water(7400, 650);
    bench.inputs.facts.orp.health = Health::CheckFunction;
    for _ in 0..3600 {
        assert!(!bench.tick().feeds(1), "the probe alone enters nothing");
    }
    let enter = Act::Guard(Action::EnterFallback {
        test_age: Millis(0),
    });
    assert_eq!(bench.act(enter).act, Some(ActResult::Done));
    bench.until(10, |shown| shown.feeds(1));
    let mut doses = Vec::new();
    for second in 0..6 * 3600_u32 {
        if let Some(end) = bench.tick().decision.feeders[1].closed {
            assert_eq!(end.mode, Mode::Fallback);
            doses.push((second, end.fed.0));
        }
    }
    // 200 mL a day in doses of 20: one each 2.4 h.
    assert_eq!(doses.len(), 3, "{doses:?}");
    assert!(doses.iter().all(|(_, fed)| *fed <= 20_000));
    assert!(doses[1].0 - doses[0].0 >= 8640, "{doses:?}");
    bench.inputs.facts.orp.health = Health::Normal;
    bench.run(10);
    assert_eq!(
        bench.controller.wanted(1).mode,
        Mode::Fallback,
        "a person leaves it"
    );
    bench.act(Act::Guard(Action::LeaveFallback));
    bench.until(400, |shown| shown.feeds(1));
    assert_eq!(bench.controller.wanted(1).mode, Mode::Automatic);
}

#[test]
fn a_timed_share_needs_no_probe() {
    let mut spec = SPEC;
    let blind = FeederSpec {
        governor: Governor::TimedShare,
        ..CHLORINE
    };
    let mut blind = blind;
    blind.bodies[0].fallback = Fitted::NotFitted;
    spec.feeders[1] = FeederLimits::Enabled(blind);
    spec.orp_probe = Fitted::NotFitted;
    let share = TimedShare::try_new(
        Share::Fixed(Percent(4)),
        Millis::from_mins(15),
        Millis::from_secs(20),
        Millis::from_mins(5),
    );
    let mut bench = Bench::ready(spec, [regulators()[0], share.unwrap().into()]);
    bench.water(7400, 0);
    bench.inputs.facts.orp = Facts::<2>::UNKNOWN.orp;
    let mut fed = 0;
    for _ in 0..7200 {
        let shown = bench.tick();
        fed += shown.decision.feeders[1].closed.map_or(0, |end| end.fed.0);
    }
    // 4 % of 2 h at 60 mL/min are 288 mL, less what is kept back for ticks.
    assert!((250_000..=290_000).contains(&fed), "{fed} uL");
}

#[test]
fn what_was_fed_leaves_the_drum_also_across_a_restart() {
    let mut bench = Bench::usual();
    let level = Act::ReadLevel {
        feeder: 0,
        level: Dose::from_ml(10_000),
    };
    assert_eq!(bench.act(level).act, Some(ActResult::Done));
    bench.until(200, |shown| shown.decision.feeders[0].closed.is_some());
    let left = bench.controller.stock(0).and_then(|stock| stock.left());
    let fed = Dose::from_ml(10_000).0 - left.unwrap().0;
    assert!((40_000..=45_000).contains(&fed), "{fed} uL");
    assert!(bench.controller.days_left(0).unwrap() > 200);
    // The next dose is cut by a loss of power: its whole charge counts as fed.
    let earlier = bench.copies[0].clone();
    bench.until(700, |shown| shown.feeds(0));
    let kept = bench.controller.stock(0).unwrap();
    let charged = bench.controller.guard().decision().feeders[0].charged;
    let [later, same] = bench.copies;
    // Of two that differ the later one counts, in whichever place it stands.
    for copies in [
        [later.clone(), same],
        [later.clone(), earlier.clone()],
        [earlier, later],
    ] {
        let mut again = Bench::start(SPEC, regulators(), copies);
        assert!(again.controller.set_stock(0, kept));
        assert!(!again.controller.set_stock(9, Stock::UNKNOWN));
        let left = again.controller.stock(0).and_then(|stock| stock.left());
        assert_eq!(left, Some(Dose(10_000_000 - fed - charged.0)));
    }
}

#[test]
fn a_drum_s_level_shows_a_wrong_rate_in_the_events() {
    let mut bench = Bench::usual();
    let level = |ml| Act::ReadLevel {
        feeder: 0,
        level: Dose::from_ml(ml),
    };
    bench.act(level(10_000));
    bench.until(200, |shown| shown.decision.feeders[0].closed.is_some());
    bench.act(level(9900));
    let found = bench.controller.events().iter().rev().find_map(|event| {
        if let EventKind::Reconciled { real, booked, .. } = event.kind {
            Some((real, booked))
        } else {
            None
        }
    });
    let (real, booked) = found.unwrap();
    assert_eq!(real, Dose::from_ml(100));
    assert!(booked < Dose::from_ml(46));
}

#[test]
fn a_start_and_a_cycle_leave_events() {
    let mut bench = Bench::begun(SPEC, regulators());
    let first = bench.controller.events_mut().take_oldest().unwrap();
    assert_eq!(
        first.kind,
        EventKind::Started {
            found: Found::Lost,
            open_cycles: 0,
            limits_changed: false
        }
    );
    let mut bench = Bench::usual();
    let from = bench.controller.events().next_sequence();
    bench.until(300, |shown| shown.decision.feeders[0].closed.is_some());
    bench.run(2);
    let numbers: Vec<u16> = bench
        .controller
        .events()
        .iter()
        .filter(|event| event.sequence >= from)
        .map(|event| event.kind.number())
        .collect();
    for number in [2, 3, 4] {
        assert!(numbers.contains(&number), "{numbers:?}");
    }
    assert!(
        numbers.len() < 16,
        "one cycle does not fill the ring: {numbers:?}"
    );
}

#[test]
fn lockouts_and_acts_leave_events() {
    let mut bench = Bench::usual();
    bench.inputs.facts.inhibits = Inhibits::EMERGENCY_STOP;
    bench.run(2);
    bench.inputs.facts.inhibits = Inhibits::NONE;
    bench.tick();
    bench.act(Act::Guard(Action::Release {
        lockout: Lockout::EmergencyStop,
        feeder: 0,
        pool_empty: true,
        remedy: None,
    }));
    bench.tick();
    let kinds: Vec<EventKind> = bench.controller.events().iter().map(|e| e.kind).collect();
    let lockout = Lockout::EmergencyStop;
    let feeder = None;
    assert!(kinds.contains(&EventKind::LockedOut { feeder, lockout }));
    assert!(kinds.contains(&EventKind::Released { feeder, lockout }));
    assert!(kinds.iter().any(|kind| matches!(
        kind,
        EventKind::Person {
            by: Authority::Technician,
            done: true,
            ..
        }
    )));
}

#[test]
fn the_guard_s_refusal_of_an_act_is_handed_back() {
    let mut bench = Bench::usual();
    let again = bench.act(Act::Guard(Action::Initialise)).act;
    assert_eq!(
        again,
        Some(ActResult::Guard(crate::guard::ActionResult::NotLost))
    );
    let owner = bench.act_as(Authority::Owner, Act::Guard(Action::Initialise));
    assert_eq!(
        owner.act,
        Some(ActResult::NeedsAuthority(Authority::Technician))
    );
    assert_eq!(bench.tick().act, None);
}

#[test]
fn a_record_is_sealed_once_and_not_again_until_it_is_confirmed() {
    let mut bench = Bench::usual();
    bench.saves = false;
    bench.until(5, |shown| shown.save);
    let mut bytes = [0; 1024];
    let ticket = bench.controller.seal_record(&mut bytes).unwrap();
    for _ in 0..3 {
        let shown = bench.tick();
        assert!(shown.decision.save && !shown.save, "it waits");
        assert!(!shown.feeds(0));
    }
    bench.inputs.facts.saved = Some(ticket);
    assert!(bench.tick().feeds(0));
    assert!(bench.controller.seal_record(&mut [0; 8]).is_err());
}

#[test]
fn limits_that_loosen_wait_and_the_smallest_dose_follows() {
    let mut bench = Bench::usual();
    bench.until(5, |shown| shown.feeds(0));
    let mut coarse = ACID;
    coarse.dose_min = Dose::from_ml(20);
    let spec = LimitsSpec {
        feeders: [FeederLimits::Enabled(coarse), SPEC.feeders[1]],
        ..SPEC
    };
    let limits = Limits::try_new(spec).unwrap();
    assert_eq!(
        bench.controller.set_limits(limits.clone()),
        SetLimits::ClosingFirst
    );
    bench.run(3);
    assert_eq!(bench.controller.set_limits(limits), SetLimits::Applied);
    bench.water(7460, 720);
    bench.run(700);
    assert_eq!(bench.controller.wanted(0).dose, Dose::from_ml(45));
    bench
        .controller
        .set_settings(Settings::try_new(SETTINGS_SPEC).unwrap());
}

#[test]
fn a_controller_without_facts_asks_nothing_and_feeds_nothing() {
    let mut bench = Bench::usual();
    bench.inputs = Inputs::UNKNOWN;
    for _ in 0..100 {
        let shown = bench.tick();
        assert!(!shown.feeds(0) && !shown.feeds(1));
    }
    assert_eq!(bench.controller.wanted(0).dose, Dose(0));
}
