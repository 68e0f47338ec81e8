//! The conditioner, sample by sample.

use super::*;
use crate::guard::Reading;
use crate::guard::units::Millivolts;

/// A probe that is sampled each second, its noise a fixed pattern.
struct Bench {
    conditioner: Conditioner,
    limits: ConditionLimits,
    tick_ms: u32,
    ticks: u32,
    steady: bool,
}

impl Bench {
    fn new(spec: ConditionSpec) -> Self {
        Self {
            conditioner: Conditioner::NEW,
            limits: ConditionLimits::try_new(spec).unwrap(),
            tick_ms: 1000,
            ticks: 0,
            steady: true,
        }
    }

    fn ph() -> Self {
        Self::new(ConditionSpec::PH)
    }

    fn give(&mut self, seen: FrontReading) -> Finding {
        self.ticks += 1;
        let elapsed = Millis(self.tick_ms);
        self.conditioner
            .tick(&self.limits, elapsed, &seen, self.steady)
    }

    fn uv(&mut self, uv: i32) -> Finding {
        self.give(sample(uv, 0, Lead::Intact))
    }

    /// Noisy water at `uv` for so many samples; what was found last.
    fn water(&mut self, uv: i32, samples: u32) -> Finding {
        let mut found = Finding::Fine;
        for _ in 0..samples {
            let noise = [-250, 130, 290, -90, 10][self.ticks as usize % 5];
            found = self.uv(uv + noise);
        }
        found
    }

    /// Samples of `uv` until a finding comes.
    fn until(&mut self, uv: i32, finding: Finding) -> Option<u32> {
        (1..=5000).find(|_| self.uv(uv) == finding)
    }
}

fn sample(uv: i32, age_ms: u32, lead: Lead) -> FrontReading {
    FrontReading {
        reading: Reading {
            value: Microvolts(uv),
            age: Millis(age_ms),
            health: Health::Normal,
        },
        lead,
        fault: None,
    }
}

#[test]
fn a_ramp_is_late_by_the_filter() {
    let mut bench = Bench::ph();
    // 59 uV a second is 0.06 pH a minute.
    for second in 0..300 {
        bench.uv(second * 59);
    }
    let behind = 299 * 59 - bench.conditioner.value().0;
    assert!((behind - 590).abs() < 12, "{behind} uV behind, not 10 s");
}

#[test]
fn a_step_in_unsteady_water_takes_the_filters_time() {
    let mut bench = Bench::ph();
    bench.water(0, 30);
    bench.steady = false;
    for _ in 0..10 {
        bench.uv(50_000);
    }
    let way = bench.conditioner.value().0;
    assert!(
        (30_000..33_000).contains(&way),
        "{way}: 1 - (1 - 1/11)^10 is 61 %"
    );
    assert_eq!(bench.water(50_000, 100), Finding::Fine);
}

#[test]
fn a_spike_moves_nothing_and_ages_the_value() {
    let mut bench = Bench::ph();
    bench.water(-20_000, 60);
    let before = bench.conditioner.value();
    for passed in 1..=4 {
        assert_eq!(bench.uv(150_000), Finding::Fine);
        assert_eq!(bench.conditioner.value(), before);
        assert_eq!(bench.conditioner.age(), Millis(passed * 1000));
    }
    assert_eq!(bench.water(-20_000, 1), Finding::Fine);
    assert_eq!(bench.conditioner.age(), Millis(0));
    // At a tick of 5 s one sample alone is no jump either.
    bench.tick_ms = 5000;
    assert_eq!(bench.uv(150_000), Finding::Fine);
    assert_eq!(bench.uv(150_000), Finding::Jumped);
}

#[test]
fn a_jump_stays_until_it_is_undone_or_a_person_confirms_it() {
    let jumped = || {
        let mut bench = Bench::ph();
        bench.water(-20_000, 60);
        assert_eq!(bench.until(1_000, Finding::Jumped), Some(6));
        assert_eq!(bench.water(1_000, 600), Finding::Jumped);
        bench
    };
    let mut bench = jumped();
    assert_eq!(bench.water(-20_000, 10), Finding::Fine, "it went back");
    let mut bench = jumped();
    bench.conditioner.confirm();
    assert_eq!(bench.water(1_000, 10), Finding::Fine);
    let mut bench = Bench::ph();
    bench.water(-20_000, 60);
    assert_eq!(bench.water(-500, 60), Finding::Fine, "19.5 mV are no jump");
}

#[test]
fn flat_and_short_at_their_times_and_not_before() {
    let mut bench = Bench::ph();
    bench.water(-30_000, 63);
    assert_eq!(bench.until(-30_000, Finding::Flat), Some(601));
    assert_eq!(bench.water(-30_000, 5), Finding::Fine, "noise is back");
    let mut bench = Bench::ph();
    bench.water(0, 63);
    assert_eq!(bench.until(0, Finding::Short), Some(61));
    // One count of the converter, to and fro, is no noise of water.
    let mut bench = Bench::ph();
    let mut found = Finding::Fine;
    for i in 0..700 {
        found = bench.uv(-30_000 + i % 2 * 63);
    }
    assert_eq!(found, Finding::Flat);
}

#[test]
fn samples_given_twice_do_not_count() {
    let mut bench = Bench::ph();
    bench.water(-30_000, 603);
    let noise = bench.conditioner.noise();
    assert!(noise.0 > 200);
    // The same sample, given again and again while it grows old.
    let mut last = Finding::Fine;
    for age_s in 1..=10 {
        last = bench.give(sample(-30_000, age_s * 1000, Lead::Intact));
        assert_eq!(bench.conditioner.age(), Millis(age_s * 1000));
    }
    assert_eq!(last, Finding::Fine);
    assert_eq!(
        bench.give(sample(-30_000, 11_000, Lead::Intact)),
        Finding::Stale
    );
    assert_eq!(bench.conditioner.flat, Millis(0));
    assert_eq!(bench.conditioner.noise(), noise);
}

#[test]
fn noise_comes_and_goes() {
    let mut bench = Bench::ph();
    assert_eq!(bench.water(0, 600), Finding::Fine);
    let mut swing = |by: i32, samples: i32| {
        let mut found = Finding::Fine;
        for i in 0..samples {
            found = bench.uv(if i % 2 == 0 { by } else { -by });
        }
        found
    };
    assert_eq!(
        swing(1400, 600),
        Finding::Fine,
        "2.8 mV from sample to sample"
    );
    assert_eq!(swing(1700, 600), Finding::Noisy, "3.4 mV");
    assert_eq!(swing(100, 600), Finding::Fine);
}

#[test]
fn what_the_circuit_says_comes_first() {
    let of = |lead, fault| {
        let mut bench = Bench::ph();
        bench.water(-20_000, 10);
        let mut seen = sample(-20_000, 0, lead);
        seen.fault = fault;
        bench.give(seen)
    };
    assert_eq!(of(Lead::Open, None), Finding::Open);
    assert_eq!(of(Lead::Short, None), Finding::Short);
    assert_eq!(of(Lead::HighResistance, None), Finding::HighResistance);
    assert_eq!(of(Lead::NotChecked, None), Finding::LeadNotChecked);
    let fault = |fault| of(Lead::Intact, Some(fault));
    assert_eq!(fault(FrontFault::Saturated), Finding::Saturated);
    assert_eq!(fault(FrontFault::OutOfRange), Finding::NotThisElectrode);
    assert_eq!(fault(FrontFault::Bias), Finding::Bias);
    assert_eq!(fault(FrontFault::Future), Finding::FromTheFuture);
    assert_eq!(
        fault(FrontFault::Bus),
        Finding::Fine,
        "one that fails once: age tells"
    );
    let mut bench = Bench::ph();
    let mut seen = sample(0, 10_001, Lead::Intact);
    seen.fault = Some(FrontFault::Bus);
    assert_eq!(bench.give(seen), Finding::Bus);
    assert_eq!(bench.give(FrontReading::NEVER), Finding::NeverRead);
}

#[test]
fn each_electrode_is_known_by_its_potential() {
    let mut ph = Bench::ph();
    assert_eq!(ph.uv(500_000), Finding::Fine);
    assert_eq!(ph.uv(500_001), Finding::NotThisElectrode);
    assert_eq!(
        ph.uv(700_000),
        Finding::NotThisElectrode,
        "ORP on the pH input"
    );
    let mut orp = Bench::new(ConditionSpec::ORP);
    assert_eq!(
        orp.uv(-30_000),
        Finding::NotThisElectrode,
        "pH on the ORP input"
    );
    assert_eq!(orp.uv(99_999), Finding::NotThisElectrode);
    assert_eq!(orp.uv(100_000), Finding::Fine);
}

#[test]
fn after_a_failure_the_filter_starts_anew() {
    let mut bench = Bench::ph();
    bench.water(-20_000, 100);
    bench.give(sample(-20_000, 0, Lead::Open));
    assert_eq!(
        bench.uv(100_000),
        Finding::Fine,
        "not a jump: nothing is known of before"
    );
    assert_eq!(bench.conditioner.value(), Microvolts(100_000));
}

#[test]
fn a_board_without_a_check_of_the_lead_says_so() {
    let spec = ConditionSpec {
        lead: Fitted::NotFitted,
        flat: Fitted::NotFitted,
        low: Millivolts(-400),
        ..ConditionSpec::PH
    };
    let mut bench = Bench::new(spec);
    let seen = sample(-20_000, 0, Lead::NotChecked);
    for _ in 0..2000 {
        assert_eq!(bench.give(seen), Finding::Fine);
    }
}

#[test]
fn as_far_as_a_jump_is_none_and_for_as_long_as_one_lasts_it_is_one() {
    let jump = ConditionSpec::PH.jump.0 * 1000;
    let mut bench = Bench::ph();
    bench.uv(0);
    assert_eq!(bench.uv(jump), Finding::Fine);
    assert!(bench.conditioner.value().0 > 0, "it is in the filter");
    let mut bench = Bench::ph();
    bench.uv(0);
    assert_eq!(bench.uv(5 * jump), Finding::Fine);
    // The first sample that is away is 1 ms of it.
    bench.tick_ms = ConditionSpec::PH.jump_after.0 - 1;
    assert_eq!(bench.uv(5 * jump), Finding::Jumped);
}

#[test]
fn the_filter_s_share_is_made_anew_where_the_time_between_samples_changes_by_more_than_an_eighth() {
    let moved = |tick_ms| {
        let mut bench = Bench::ph();
        bench.uv(0);
        bench.uv(0);
        bench.tick_ms = tick_ms;
        bench.uv(20_000);
        bench.conditioner.value().0
    };
    // 20 mV x 1 s of 11 s.
    let usual = moved(1000);
    assert!((1817..=1819).contains(&usual), "{usual} uV");
    assert_eq!([moved(1125), moved(875)], [usual; 2]);
    assert!(moved(1126) > usual && moved(874) < usual);
}

#[test]
fn noise_begins_past_its_limit_and_ends_at_half_of_it() {
    let limit = ConditionSpec::PH.noise.0;
    let mut bench = Bench::ph();
    let mut after = |change: i32| {
        let mut found = Finding::Fine;
        for _ in 0..1500 {
            bench.uv(0);
            found = bench.uv(change);
        }
        (found, bench.conditioner.noise().0)
    };
    assert_eq!(after(limit), (Finding::Fine, limit));
    assert_eq!(after(limit + 1), (Finding::Noisy, limit + 1));
    assert_eq!(after(limit / 2 + 1), (Finding::Noisy, limit / 2 + 1));
    assert_eq!(after(limit / 2), (Finding::Fine, limit / 2));
}

#[test]
fn what_was_never_read_is_said_to_be_that_whatever_stands_in_its_place() {
    let mut bench = Bench::ph();
    let never = sample(600_000, u32::MAX, Lead::Intact);
    assert_eq!(bench.give(never), Finding::NeverRead);
}

/// By the range, jump and noise that its specification states.
#[test]
fn a_platinum_electrode_has_a_range_a_jump_and_a_noise_of_its_own() {
    for (uv, finding) in [
        (99_999, Finding::NotThisElectrode),
        (100_000, Finding::Fine),
        (1_100_000, Finding::Fine),
        (1_100_001, Finding::NotThisElectrode),
    ] {
        assert_eq!(Bench::new(ConditionSpec::ORP).uv(uv), finding, "{uv} uV");
    }
    let mut bench = Bench::new(ConditionSpec::ORP);
    bench.uv(500_000);
    bench.uv(560_000);
    assert!(bench.conditioner.value().0 > 500_000, "60 mV are no jump");
    let mut bench = Bench::new(ConditionSpec::ORP);
    for _ in 0..1500 {
        assert_eq!(bench.uv(500_000), Finding::Fine);
        assert_eq!(bench.uv(508_000), Finding::Fine);
    }
}
