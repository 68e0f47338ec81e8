//! A feeder whose product the water answers the wrong way is held until a person has put it right.

use super::*;
use crate::Obstacle;
use crate::guard::{Clear, Reading};
use crate::look::Look;

/// Hypochlorite in the drum of acid, as the simulated pools answer it.
const HYPOCHLORITE: f64 = -0.26;

impl Pool {
    fn is_held(&self) -> bool {
        let why = self.bench.controller.why(0).expect("a feeder");
        let mut obstacles = why.filter(|one| *one == Obstacle::WrongWay);
        obstacles.next().is_some()
    }

    fn until_held(&mut self) {
        for _ in 0..4 * 3600 {
            if self.is_held() {
                return;
            }
            self.tick();
        }
        panic!("{:?}", self.found());
    }
}

fn held() -> Pool {
    let mut pool = Pool::new(HYPOCHLORITE);
    let level = Dose::from_ml(9000);
    pool.bench.act(Act::ReadLevel { feeder: 0, level });
    pool.until_held();
    pool
}

#[test]
fn after_a_few_answers_the_wrong_way_nothing_more_is_fed_and_a_person_is_asked_for() {
    let mut pool = held();
    assert_eq!(pool.found().verdict(), Verdict::WrongWay);
    assert!((3..=6).contains(&pool.cycles), "{} cycles", pool.cycles);
    let cycles = pool.cycles;
    pool.run(10 * 60);
    assert_eq!(pool.cycles, cycles);
    let alarm = AlarmId::Feeder(0, FeederAlarm::RateWrong);
    assert!(pool.bench.alarm(alarm).is_active());
    let mut why = pool.bench.controller.why(0).unwrap();
    let first = why.next().unwrap();
    assert_eq!((first.name(), first.clears()), ("wrong_way", Clear::Person));
    assert_eq!(first.look_at().first(), Some(&Look::Drum));
}

#[test]
fn a_restart_keeps_it_held() {
    let kept = held().found();
    let mut again = Pool::new(1.0);
    again.tick();
    assert!(!again.is_held());
    assert!(again.bench.controller.set_response(0, kept));
    again.run(30);
    assert!(again.is_held());
    assert_eq!(again.cycles, 0);
}

#[test]
fn what_puts_nothing_right_does_not_free_it() {
    let mut pool = held();
    let level = Dose::from_ml(8500);
    for act in [
        Act::AcknowledgeAll,
        Act::Pause(Millis::from_mins(5)),
        Act::Resume,
        Act::ReadLevel { feeder: 0, level },
        Act::HandDose {
            feeder: 0,
            dose: Dose::from_ml(5),
            body: None,
        },
    ] {
        pool.bench.act(act);
        pool.run(30);
        assert!(pool.is_held(), "{act:?}");
    }
    #[cfg(feature = "water")]
    {
        let mut upkeep = Upkeep::restore(Kept::NOTHING);
        let half = UpkeepAct::Test(TestedValue::Alkalinity, MicrogramsPerL::from_mg_l(50));
        let controller = &mut pool.bench.controller;
        let told = controller.upkeep(&mut upkeep, &SETUP, Authority::Technician, half);
        assert_eq!(told, Ok(()));
        pool.run(30);
        assert!(pool.is_held(), "a test of alkalinity");
        assert_eq!(pool.found().doses(), 0);
    }
}

#[test]
fn a_refill_or_rates_entered_anew_free_it_and_it_learns_anew() {
    let amount = Dose::from_ml(500);
    let refill = |pool: &mut Pool| {
        pool.bench.act(Act::Refill { feeder: 0, amount });
    };
    let rates = |pool: &mut Pool| {
        let limits = Limits::try_new(SPEC).unwrap();
        assert_eq!(pool.bench.controller.set_limits(limits), SetLimits::Applied);
    };
    let ways: [&dyn Fn(&mut Pool); 2] = [&refill, &rates];
    for way in ways {
        let mut pool = held();
        pool.run(60);
        pool.ratio = 1.0;
        way(&mut pool);
        assert_eq!(pool.found().verdict(), Verdict::Unproven);
        pool.until_judged(4);
        assert!(!pool.is_held());
        assert_eq!(pool.found().verdict(), Verdict::AsConfigured);
    }
    // Filled with the same again: a few answers, and it is held again.
    let mut pool = held();
    pool.run(60);
    let cycles = pool.cycles;
    refill(&mut pool);
    pool.until_held();
    assert!((3..=6).contains(&(pool.cycles - cycles)));
}

#[test]
fn a_person_who_holds_the_button_feeds() {
    let mut pool = held();
    pool.run(60);
    let dose = Dose::from_ml(8);
    pool.bench.act(Act::FeedByHand { feeder: 0, dose });
    pool.bench.inputs.facts.feeders[0].hold_to_run = Reading::now(true);
    let cycles = pool.cycles;
    pool.run(1);
    assert_eq!(pool.cycles, cycles + 1);
}
