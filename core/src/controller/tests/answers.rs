//! The water's answers through the controller: who hears of a wrong rate, and what is no evidence.

mod unanswered;
#[cfg(feature = "water")]
mod warmth;
mod wrong_way;

use super::*;
use crate::alarm::{AlarmId, FeederAlarm};
use crate::bench::Shown;
use crate::guard::Remedy;
use crate::guard::units::Body;
#[cfg(feature = "water")]
use crate::probe::{MicrogramsPerL, ProbeKind};
use crate::response::{BufferingWater, Estimate, ExpectedResponse, Verdict};
use crate::stock::DrumVerdict;
#[cfg(feature = "water")]
use crate::upkeep::{Kept, Upkeep, UpkeepAct, tests::SETUP};
#[cfg(feature = "water")]
use crate::water_tests::TestedValue;

pub(super) const EXPECTED: ExpectedResponse = ExpectedResponse {
    feeder: 0,
    dose: Dose::from_ml(120),
    moves: 100,
    at: 7400,
    more_per_tenth_percent: 0,
    error_percent: 20,
    settle_s: 60,
    other_dose: Dose(1),
    other_raises: 0,
    learns: true,
    water: Fitted::Fitted(BufferingWater {
        alkalinity_mg_l: 100,
        cyanuric_acid_mg_l: 0,
        borate_mg_l: 0,
        tds_mg_l: 1000,
        temperature_c: 25,
    }),
};

fn settings(response: Fitted<ExpectedResponse>) -> Settings<2> {
    let spec = crate::settings::SettingsSpec {
        level_errors: [Fitted::Fitted(Dose::from_ml(10)); 2],
        response,
        ..SETTINGS_SPEC
    };
    Settings::try_new(spec).unwrap()
}

/// Made-up water that rises by itself and answers acid at once.
struct Pool {
    bench: Bench,
    ph: f64,
    ratio: f64,
    /// mV. At 720 no chlorine is wanted.
    orp: i32,
    cycles: u32,
}

impl Pool {
    fn new(ratio: f64) -> Self {
        let mut bench = Bench::usual();
        bench
            .controller
            .set_settings(settings(Fitted::Fitted(EXPECTED)));
        while bench.controller.events_mut().take_oldest().is_some() {}
        Self {
            bench,
            ph: 7600.0,
            ratio,
            orp: 720,
            cycles: 0,
        }
    }

    fn tick(&mut self) -> Shown {
        self.ph += 120.0 / 3600.0;
        self.bench.water(self.ph.round() as i32, self.orp);
        let shown = self.bench.tick();
        if let Some(closed) = shown.decision.feeders[0].closed {
            self.ph -= self.ratio * f64::from(closed.fed.0) / 1200.0;
            self.cycles += u32::from(closed.fed.0 > 0);
        }
        shown
    }

    fn run(&mut self, mins: u32) {
        for _ in 0..mins * 60 {
            self.tick();
        }
    }

    fn found(&self) -> Estimate {
        self.bench.controller.response(0).expect("it is followed")
    }

    /// Until so many doses were judged since the estimate last began.
    fn until_judged(&mut self, doses: u8) {
        for _ in 0..4 * 3600 {
            if self.found().doses() >= doses {
                return;
            }
            self.tick();
        }
        panic!("{:?}", self.found());
    }

    /// Until a cycle more has closed.
    fn until_closed(&mut self) {
        let before = self.cycles;
        for _ in 0..3600 {
            if self.cycles > before {
                return;
            }
            self.tick();
        }
        panic!("no cycle");
    }

    fn told(&self) -> Vec<Verdict> {
        let events = self.bench.controller.events().iter();
        let verdicts = events.filter_map(|event| match event.kind {
            EventKind::Answers { verdict, .. } => Some(verdict),
            _ => None,
        });
        verdicts.collect()
    }
}

#[test]
fn a_wrong_rate_is_an_event_and_an_alarm_until_a_refill() {
    let mut pool = Pool::new(2.0);
    pool.bench.act(Act::ReadLevel {
        feeder: 0,
        level: Dose::from_ml(9000),
    });
    pool.until_judged(3);
    let ratio = pool.found().ratio_milli().unwrap();
    assert!((1950..=2050).contains(&ratio), "{ratio}");
    assert_eq!(pool.found().verdict(), Verdict::High);
    assert_eq!(pool.told(), [Verdict::High]);
    pool.run(6);
    let alarm = AlarmId::Feeder(0, FeederAlarm::RateWrong);
    assert!(pool.bench.alarm(alarm).is_active());
    assert_eq!(pool.bench.controller.response(1), None);
    let amount = Dose::from_ml(500);
    pool.bench.act(Act::Refill { feeder: 0, amount });
    assert_eq!(pool.found(), Estimate::UNKNOWN);
    assert_eq!(pool.told().last(), Some(&Verdict::Learning));
}

#[test]
fn a_dose_is_divided_by_what_was_learned_only_where_the_settings_say_so() {
    for (learns, ml) in [(true, 36), (false, 45)] {
        let mut pool = Pool::new(2.0);
        let expected = ExpectedResponse { learns, ..EXPECTED };
        let fitted = settings(Fitted::Fitted(expected));
        pool.bench.controller.set_settings(fitted);
        pool.until_judged(4);
        pool.bench.water(7300, 720);
        pool.bench.run(900);
        // 60 over the set point is 72 mL by the settings, over the cap of 45.
        pool.bench.water(7460, 720);
        pool.bench.tick();
        let wanted = pool.bench.controller.wanted(0).dose;
        let off = wanted.0.abs_diff(Dose::from_ml(ml).0);
        assert!(off < 1500, "{learns}: {wanted:?}");
    }
}

#[test]
fn a_dose_by_hand_of_any_product_and_a_pause_are_no_evidence() {
    let hand = |feeder| Act::HandDose {
        feeder,
        dose: Dose::from_ml(40),
        body: None,
    };
    let pause = Act::Pause(Millis::from_mins(5));
    for disturbs in [hand(0), hand(1), pause, Act::LayUp] {
        let mut pool = Pool::new(1.0);
        pool.until_judged(2);
        pool.until_closed();
        let doses = pool.found().doses();
        pool.bench.act(disturbs);
        // As if what was poured had moved it.
        pool.ph -= 30.0;
        pool.run(5);
        if disturbs == Act::LayUp {
            pool.bench.act(Act::OpenUp);
            assert_eq!(pool.found().doses(), 0, "another water after a winter");
            continue;
        }
        pool.until_closed();
        assert_eq!(pool.found().doses(), doses, "{disturbs:?}");
        pool.until_judged(doses + 1);
        let ratio = pool.found().ratio_milli().unwrap();
        assert!((950..=1050).contains(&ratio), "{disturbs:?}: {ratio}");
    }
}

#[test]
fn a_cycle_that_begins_while_a_dose_by_hand_spreads_is_no_evidence() {
    let mut pool = Pool::new(1.0);
    pool.until_judged(2);
    pool.until_closed();
    let (doses, cycles) = (pool.found().doses(), pool.cycles);
    // Chlorine by hand again and again: acid goes on.
    while pool.cycles == cycles {
        pool.bench.act(Act::HandDose {
            feeder: 1,
            dose: Dose::from_ml(1),
            body: None,
        });
        pool.run(1);
    }
    pool.until_closed();
    assert_eq!(pool.found().doses(), doses);
    pool.until_judged(doses + 1);
}

#[test]
fn a_dose_by_hand_into_another_body_disturbs_no_answer_of_the_first() {
    let mut pool = Pool::new(1.0);
    pool.until_judged(2);
    pool.until_closed();
    let doses = pool.found().doses();
    let body = Some(Body(0));
    let dose = Dose::from_ml(1);
    pool.bench.act(Act::HandDose {
        feeder: 1,
        dose,
        body,
    });
    // As if the site had two.
    pool.bench.controller.around.restraints.by_hand[1].body = Some(Body(1));
    // Its water does not move, so it never spreads.
    pool.until_judged(doses + 1);
}

#[test]
fn an_inhibit_is_no_evidence_and_another_probe_or_a_release_begins_anew() {
    let mut pool = Pool::new(1.0);
    pool.until_judged(3);
    pool.until_closed();
    let doses = pool.found().doses();
    pool.bench.inputs.facts.inhibits = Inhibits::SERVICE;
    pool.run(1);
    pool.bench.inputs.facts.inhibits = Inhibits::NONE;
    pool.until_closed();
    assert_eq!(pool.found().doses(), doses);
    let kept = pool.found();
    pool.bench.act(Act::Guard(Action::NewProbe));
    assert_eq!(pool.found(), Estimate::UNKNOWN);
    assert!(pool.bench.controller.set_response(0, kept));
    assert!(!pool.bench.controller.set_response(1, kept));
    assert_eq!(pool.found(), kept);
    let not_standing = Act::Guard(Action::Release {
        lockout: Lockout::Response,
        feeder: 0,
        pool_empty: true,
        remedy: Some(Remedy::WaterTested),
    });
    pool.bench.act(not_standing);
    assert_eq!(pool.found(), kept, "nothing was released");
    assert!(pool.bench.controller.forget_response(0));
    assert!(
        !pool.bench.controller.forget_response(1),
        "chlorine's are not followed"
    );
    assert_eq!(pool.found(), Estimate::UNKNOWN);
}

#[test]
fn a_rate_that_the_drum_calls_wrong_keeps_from_full_caps() {
    let mut pool = Pool::new(2.0);
    for level_ml in [9000, 8000] {
        pool.bench.act(Act::ReadLevel {
            feeder: 0,
            level: Dose::from_ml(level_ml),
        });
        pool.until_judged(4);
    }
    assert_eq!(pool.bench.controller.drum_verdict(0), DrumVerdict::High);
    let stages = crate::CareSettings {
        stages: Fitted::Fitted(crate::stages::StageSettings {
            begins_observing: false,
            observe_hours: 0,
            reduced_hours: 0,
        }),
        cold_below: Fitted::NotFitted,
    };
    pool.bench.controller.set_care(stages);
    let full = Act::Guard(Action::SetStage(crate::guard::Stage::Full));
    pool.bench
        .act(Act::Guard(Action::SetStage(crate::guard::Stage::Reduced)));
    match pool.bench.act(full).act {
        Some(crate::ActResult::StageNeeds(needs)) => assert_eq!(needs.response, 0b1),
        other => panic!("{other:?}"),
    }
}

#[test]
fn rates_and_expectations_entered_anew_begin_anew() {
    let mut pool = Pool::new(2.0);
    for level_ml in [9000, 8000] {
        pool.bench.act(Act::ReadLevel {
            feeder: 0,
            level: Dose::from_ml(level_ml),
        });
        pool.until_judged(4);
    }
    assert_eq!(pool.bench.controller.drum_verdict(0), DrumVerdict::High);
    let kept = pool.found();
    let same = settings(Fitted::Fitted(EXPECTED));
    pool.bench.controller.set_settings(same);
    assert_eq!(pool.found(), kept);
    pool.bench.water(7300, 720);
    pool.bench.run(900);
    let limits = Limits::try_new(SPEC).unwrap();
    assert_eq!(
        pool.bench.controller.set_limits(limits),
        SetLimits::Applied,
        "every cycle is closed"
    );
    assert_eq!(pool.found(), Estimate::UNKNOWN);
    let by_drum = pool.bench.controller.drum_verdict(0);
    assert_eq!(by_drum, DrumVerdict::Unclear);
    pool.bench.controller.set_response(0, kept);
    let other = ExpectedResponse {
        moves: 110,
        ..EXPECTED
    };
    let other = settings(Fitted::Fitted(other));
    pool.bench.controller.set_settings(other);
    assert_eq!(pool.found(), Estimate::UNKNOWN);
}

#[cfg(feature = "water")]
#[test]
fn upkeep_begins_anew_gives_up_a_dose_or_moves_what_is_expected() {
    let mut pool = Pool::new(1.0);
    let mut upkeep = Upkeep::restore(Kept::NOTHING);
    let mut told = |pool: &mut Pool, act| {
        let controller = &mut pool.bench.controller;
        controller.upkeep(&mut upkeep, &SETUP, Authority::Technician, act)
    };
    pool.until_judged(3);
    pool.until_closed();
    let kept = pool.found();
    assert_eq!(told(&mut pool, UpkeepAct::Confirm(ProbeKind::Orp)), Ok(()));
    assert_eq!(told(&mut pool, UpkeepAct::TakeOut(ProbeKind::Ph)), Ok(()));
    assert_eq!(pool.found(), kept);
    pool.until_closed();
    assert_eq!(pool.found().doses(), kept.doses(), "that dose was given up");
    let test = |value, mg_l| UpkeepAct::Test(value, MicrogramsPerL::from_mg_l(mg_l));
    let salt = test(TestedValue::Salt, 4000);
    assert_eq!(told(&mut pool, salt), Ok(()));
    let little = test(TestedValue::Alkalinity, 95);
    assert_eq!(told(&mut pool, little), Ok(()));
    let found = pool.found();
    assert_eq!(found.doses(), kept.doses(), "a small change");
    assert!((1040..=1065).contains(&found.step_milli()), "{found:?}");
    let half = test(TestedValue::Alkalinity, 50);
    assert_eq!(told(&mut pool, half), Ok(()));
    assert_eq!(
        (pool.found().doses(), pool.found().verdict()),
        (0, Verdict::Learning)
    );
    assert!((1950..=2050).contains(&pool.found().learned_milli()));
    pool.until_judged(1);
    let swap = UpkeepAct::Replace(ProbeKind::Ph);
    assert_eq!(told(&mut pool, swap), Ok(()));
    assert_eq!(pool.found().doses(), 0);
    let refused = test(TestedValue::Alkalinity, 501);
    assert!(told(&mut pool, refused).is_err());
    assert!(pool.found().step_milli() > 1900, "refused: nothing changed");
}
