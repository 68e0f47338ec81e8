//! Pause, lay-up and doses by hand, at a controller in full health.

use crate::bench::{Bench, Shown};
use crate::event::EventKind;
use crate::guard::Authority;
use crate::guard::units::{Body, DAY_MS, Dose, HOUR_MS, Millis};
use crate::restraint::{PAUSE_MAX, Restraints};
use crate::{Act, ActResult, Obstacle};

const ACID: usize = 0;
const CHLORINE: usize = 1;

/// Both products are wanted.
fn wanting() -> Bench {
    let mut bench = Bench::usual();
    bench.water(7800, 600);
    bench
}

fn fed(bench: &mut Bench, secs: u32) -> [bool; 2] {
    let mut fed = [false; 2];
    for _ in 0..secs {
        let shown = bench.tick();
        for (feeder, fed) in fed.iter_mut().enumerate() {
            *fed |= shown.feeds(feeder);
        }
    }
    fed
}

fn done(shown: &Shown) -> bool {
    shown.act == Some(ActResult::Done)
}

fn kinds(bench: &Bench) -> std::vec::Vec<EventKind> {
    let events = bench.controller.events().iter();
    events.map(|event| event.kind).collect()
}

#[test]
fn a_pause_ends_feed_at_once_and_itself_at_its_end() {
    let mut bench = wanting();
    bench.until(600, |shown| shown.feeds(ACID));
    let shown = bench.act_as(Authority::Owner, Act::Pause(Millis::from_mins(30)));
    assert!(done(&shown) && !shown.feeds(ACID));
    assert_eq!(fed(&mut bench, 1790), [false; 2]);
    assert!(!kinds(&bench).contains(&EventKind::PauseEnded));
    assert_ne!(fed(&mut bench, 1200), [false; 2], "it resumes");
    assert!(bench.controller.restraints() == &Restraints::NONE);
}

#[test]
fn a_pause_is_told_when_it_ends_and_is_bounded() {
    let mut bench = wanting();
    for time in [Millis(0), Millis(PAUSE_MAX.0 + 1)] {
        let shown = bench.act(Act::Pause(time));
        assert_eq!(shown.act, Some(ActResult::PauseAtMost(PAUSE_MAX)));
    }
    assert!(done(&bench.act(Act::Pause(PAUSE_MAX))));
    assert!(done(&bench.act(Act::Pause(Millis(5000)))));
    let left = bench.controller.restraints().paused;
    assert!(
        left.0 > DAY_MS - 10_000,
        "a shorter one does not cut it: {left:?}"
    );
    let shown = bench.act_as(Authority::Owner, Act::Resume);
    let needed = ActResult::NeedsAuthority(Authority::Operator);
    assert_eq!(shown.act, Some(needed));
    assert!(done(&bench.act(Act::Resume)));
    assert_eq!(bench.act(Act::Resume).act, Some(ActResult::AlreadySo));
    assert!(done(&bench.act(Act::Pause(Millis(5000)))));
    bench.run(10);
    assert!(kinds(&bench).contains(&EventKind::PauseEnded));
}

#[test]
fn laid_up_feeds_nothing_until_a_technician_opens_up_also_across_a_restart() {
    let mut bench = wanting();
    assert!(done(&bench.act_as(Authority::Operator, Act::LayUp)));
    assert_eq!(bench.act(Act::LayUp).act, Some(ActResult::AlreadySo));
    assert_eq!(fed(&mut bench, 4 * HOUR_MS / 1000), [false; 2]);
    let kept = *bench.controller.restraints();
    bench.controller.set_restraints(Restraints::NONE);
    bench.controller.set_restraints(kept);
    assert_eq!(fed(&mut bench, 600), [false; 2]);
    let shown = bench.act_as(Authority::Operator, Act::OpenUp);
    let needed = ActResult::NeedsAuthority(Authority::Technician);
    assert_eq!(shown.act, Some(needed));
    assert!(done(&bench.act(Act::OpenUp)));
    assert_ne!(fed(&mut bench, 1200), [false; 2]);
}

#[test]
fn a_dose_by_hand_holds_its_product_and_what_orp_governs_until_it_has_spread() {
    let mut bench = wanting();
    bench.until(600, |shown| shown.feeds(CHLORINE) || shown.feeds(ACID));
    let poured = Act::HandDose {
        feeder: ACID,
        dose: Dose::from_ml(100),
        body: None,
    };
    assert!(done(&bench.act_as(Authority::Owner, poured)));
    let logged = EventKind::HandDose {
        feeder: 0,
        dose: Dose::from_ml(100),
    };
    assert!(kinds(&bench).contains(&logged));
    assert_eq!(fed(&mut bench, 590), [false; 2], "acid's hold is 10 min");
    for feeder in [ACID, CHLORINE] {
        let mut why = bench.controller.why(feeder).expect("a feeder");
        assert!(why.any(|one| matches!(one, Obstacle::HandDose(_))));
    }
    // Water that stands does not spread it.
    bench.inputs.facts.flow_switch.value = false;
    bench.inputs.facts.pump_run.value = false;
    bench.run(3600);
    let left = bench.controller.restraints().by_hand[ACID].spreads_for;
    assert!(left.0 > 0);
    bench.inputs.facts.flow_switch.value = true;
    bench.inputs.facts.pump_run.value = true;
    assert_ne!(fed(&mut bench, 1800), [false; 2]);
}

#[test]
fn chlorine_by_hand_does_not_hold_acid() {
    let mut bench = wanting();
    let poured = Act::HandDose {
        feeder: CHLORINE,
        dose: Dose::from_ml(100),
        body: None,
    };
    assert!(done(&bench.act(poured)));
    assert!(fed(&mut bench, 290)[ACID]);
}

#[test]
fn doses_by_hand_count_towards_the_day() {
    let mut bench = wanting();
    let poured = |ml| Act::HandDose {
        feeder: ACID,
        dose: Dose::from_ml(ml),
        body: None,
    };
    assert_eq!(bench.act(poured(0)).act, Some(ActResult::NoDose));
    let nobody = Act::HandDose {
        feeder: 2,
        dose: Dose(1),
        body: None,
    };
    assert_eq!(bench.act(nobody).act, Some(ActResult::NoSuchFeeder));
    assert!(done(&bench.act(poured(500))));
    assert!(
        done(&bench.act(poured(399))),
        "all but 1 mL of the day's 900"
    );
    assert!(!fed(&mut bench, 3 * HOUR_MS / 1000)[ACID]);
    let mut why = bench.controller.why(ACID).expect("a feeder");
    assert!(why.any(|one| matches!(one, Obstacle::HandDay(_))));
    assert!(fed(&mut bench, 22 * HOUR_MS / 1000)[ACID], "a day later");
}

#[test]
fn what_nobody_asks_for_is_held_by_no_dose_by_hand() {
    let mut bench = Bench::usual();
    let poured = Act::HandDose {
        feeder: ACID,
        dose: Dose::from_ml(100),
        body: None,
    };
    bench.water(7400, 720);
    assert!(done(&bench.act(poured)));
    bench.run(5);
    let mut why = bench.controller.why(ACID).expect("a feeder");
    assert!(!why.any(|one| matches!(one, Obstacle::HandDose(_))));
}

#[test]
fn a_day_that_the_feeder_used_itself_is_not_held_by_a_dose_by_hand() {
    let mut bench = wanting();
    bench.until(6 * HOUR_MS / 1000, |shown| {
        shown.decision.feeders[ACID]
            .vetoes
            .has(crate::guard::Rule::DayCap)
    });
    bench.run(700); // past its hold
    let mut why = bench.controller.why(ACID).expect("a feeder");
    assert!(!why.any(|one| matches!(one, Obstacle::HandDay(_))));
}

#[test]
fn what_a_dose_by_hand_leaves_of_the_day_is_fed_down_to_the_smallest_dose() {
    let least = wanting().controller.around.asking[ACID].least;
    for (left, is_fed) in [(least, true), (Dose(least.0 - 1), false)] {
        let mut bench = wanting();
        let dose = Dose(Dose::from_ml(900).0 - left.0);
        assert!(done(&bench.act(Act::HandDose {
            feeder: ACID,
            dose,
            body: None
        })));
        assert_eq!(fed(&mut bench, HOUR_MS / 1000)[ACID], is_fed, "{left:?}");
    }
}

fn into(body: Option<u8>, ml: u32) -> Act {
    Act::HandDose {
        feeder: ACID,
        dose: Dose::from_ml(ml),
        body: body.map(Body),
    }
}

#[test]
fn a_dose_into_another_body_holds_nothing_here_and_spreads_only_there() {
    let mut bench = wanting();
    assert_eq!(bench.act(into(Some(1), 5)).act, Some(ActResult::NoSuchBody));
    assert!(done(&bench.act(into(Some(0), 1000))));
    // As if the site had two, and it had gone into the other.
    bench.controller.around.restraints.by_hand[ACID].body = Some(Body(1));
    let spreads = |bench: &Bench| bench.controller.restraints().by_hand[ACID].spreads_for;
    let left = spreads(&bench);
    assert_eq!(fed(&mut bench, 1800), [true; 2]);
    assert_eq!(spreads(&bench), left, "no water of that body has moved");
    bench.controller.around.restraints.by_hand[ACID].body = Some(Body(0));
    assert_eq!(fed(&mut bench, left.0 / 1000 - 10), [false; 2]);
    assert!(spreads(&bench) < Millis(20_000), "here it has");
}

#[test]
fn doses_into_two_bodies_or_into_nobody_knows_which_count_against_each() {
    use crate::guard::Limits;
    let limits = Limits::try_new(crate::bench::SPEC).expect("sound");
    let pour = |own: &mut Restraints<2>, body: Option<u8>| {
        let poured = (Dose::from_ml(10), body.map(Body));
        assert!(own.dosed(&limits, Some(0), ACID, poured));
    };
    for (first, then, of) in [
        (Some(0), Some(0), Some(Body(0))),
        (Some(1), Some(1), Some(Body(1))),
        (Some(0), Some(1), None),
        (Some(1), None, None),
        (None, Some(1), None),
    ] {
        let mut own = Restraints::NONE;
        pour(&mut own, first);
        assert_eq!(own.by_hand[ACID].body, first.map(Body), "{first:?}");
        pour(&mut own, then);
        let both = own.by_hand[ACID];
        assert_eq!((both.body, both.dose), (of, Dose::from_ml(20)), "{then:?}");
        let counts = [Some(0), Some(1), None].map(|here| both.counts_in(here));
        let of = of.map(|body| body.0);
        assert_eq!(counts, [of != Some(1), of != Some(0), true]);
    }
    // What is left of another body's hold is not cut short.
    let mut own = Restraints::NONE;
    pour(&mut own, Some(1));
    own.by_hand[ACID].spreads_for = Millis(DAY_MS);
    pour(&mut own, Some(0));
    assert_eq!(own.by_hand[ACID].spreads_for, Millis(DAY_MS));
    // A day later nothing of it counts.
    own.pass(Millis(DAY_MS), false, Some(0));
    pour(&mut own, Some(0));
    assert_eq!(own.by_hand[ACID].body, Some(Body(0)));
}

#[test]
fn what_was_kept_of_a_body_that_the_site_has_not_counts_against_each() {
    let mut bench = wanting();
    assert!(done(&bench.act(into(Some(0), 1000))));
    let mut kept = *bench.controller.restraints();
    kept.by_hand[ACID].body = Some(Body(1));
    bench.controller.set_restraints(kept);
    assert_eq!(bench.controller.restraints().by_hand[ACID].body, None);
    assert_eq!(fed(&mut bench, 500), [false; 2]);
}
