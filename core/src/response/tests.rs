//! Made-up water whose answer is known, with and without noise.

mod drift;
mod given_up;

use super::*;
use crate::guard::Mode;
use crate::guard::units::Fitted;

const EXPECTED: ExpectedResponse = ExpectedResponse {
    feeder: 0,
    dose: Dose::from_ml(100),
    moves: 100,
    at: 7400,
    more_per_tenth_percent: 0,
    error_percent: 20,
    settle_s: 300,
    other_dose: Dose::from_ml(400),
    other_raises: 40,
    learns: true,
    water: Fitted::NotFitted,
};

/// Water that drifts, and answers a dose by `ratio` of what is expected within a minute.
struct Water {
    ph: f64,
    shown: f64,
    drift_per_h: f64,
    ratio: f64,
    noise: f64,
    random: u32,
    response: Response,
    product: Product,
    /// Hypochlorite that is booked in the next second.
    other: Dose,
    disturbed: bool,
    warmth_milli: u16,
}

impl Water {
    fn new(ratio: f64) -> Self {
        Self {
            ph: 7.5,
            shown: 7.5,
            drift_per_h: 0.0,
            ratio,
            noise: 0.0,
            random: 1,
            response: Response::START,
            product: Product::Acid,
            other: Dose(0),
            disturbed: false,
            warmth_milli: 1000,
        }
    }

    /// Even between -1 and 1.
    fn chance(&mut self) -> f64 {
        self.random = self
            .random
            .wrapping_mul(1_664_525)
            .wrapping_add(1_013_904_223);
        f64::from(self.random >> 8) / f64::from(1 << 23) - 1.0
    }

    fn second(&mut self, runs: bool, closed: Option<Closed>, ph_known: bool) -> bool {
        self.ph += self.drift_per_h / 3600.0;
        self.shown += (self.ph - self.shown) / 20.0;
        let noise = self.chance() * self.noise;
        let ph = ((self.shown + noise) * 1000.0).round() as i32;
        let seen = Seen {
            elapsed: Millis(1000),
            ph: ph_known.then_some(ph),
            runs,
            closed,
            other: core::mem::take(&mut self.other),
            product: self.product,
            is_disturbed: self.disturbed,
            warmth_milli: self.warmth_milli,
        };
        self.response.step(&seen, &EXPECTED)
    }

    fn wait(&mut self, secs: u32) {
        for _ in 0..secs {
            self.second(false, None, true);
        }
    }

    /// A dose of some mL over a minute, into body `body`.
    fn dose(&mut self, ml: u32, body: u8) {
        self.run_dose(ml);
        self.close_dose(ml, body);
    }

    fn run_dose(&mut self, ml: u32) {
        let sign = if self.product == Product::Acid {
            -1.0
        } else {
            1.0
        };
        for _ in 0..60 {
            self.ph += sign * self.ratio * f64::from(ml) / 1000.0 / 60.0;
            self.second(true, None, true);
        }
    }

    fn close_dose(&mut self, ml: u32, body: u8) {
        let fed = Dose::from_ml(ml);
        let closed = Closed {
            fed,
            charged: fed,
            full: true,
            body: Body(body),
            mode: Mode::Automatic,
        };
        self.second(false, Some(closed), true);
    }

    fn doses(&mut self, count: u32, every_secs: u32) -> Estimate {
        self.wait(1200);
        for _ in 0..count {
            self.dose(50, 0);
            self.wait(every_secs);
        }
        self.response.estimate
    }
}

#[test]
fn without_noise_the_ratio_is_the_water_s() {
    for ratio in [0.15, 0.5, 1.0, 2.0, 6.0] {
        let found = Water::new(ratio).doses(1, 1200);
        let milli = f64::from(found.ratio_milli().unwrap());
        assert!(
            (milli / 1000.0 - ratio).abs() < 0.01 * ratio + 0.01,
            "{ratio}: {milli}"
        );
        assert_eq!(found.doses(), 1);
        assert_eq!(found.verdict(), Verdict::Learning, "one dose says nothing");
    }
}

#[test]
fn drift_is_taken_off_the_step() {
    for drift_per_h in [-0.3, -0.1, 0.19, 0.5] {
        let mut water = Water::new(1.0);
        water.drift_per_h = drift_per_h;
        let found = water.doses(1, 1200).ratio_milli().unwrap();
        assert!(
            (970..=1030).contains(&found),
            "{drift_per_h} an hour: {found}"
        );
    }
}

#[test]
fn hypochlorite_that_comes_beside_a_dose_is_taken_off_and_its_use_is_drift() {
    for (product, sign) in [(Product::Acid, -1.0), (Product::Base, 1.0)] {
        for (before, after) in [(true, false), (false, true), (true, true)] {
            let mut water = Water::new(1.0);
            water.product = product;
            // Used as fast as it is fed; while the dose runs and settles none comes.
            water.drift_per_h = -0.18;
            let feed = |water: &mut Water, is_on: bool| {
                for second in 0..1200 {
                    if is_on && second % 400 < 200 {
                        // 400 mL raise pH by 0.04: 0.36 an hour, half of the time.
                        water.other = Dose(1000);
                        water.ph += 0.0001;
                    }
                    water.second(false, None, true);
                }
            };
            feed(&mut water, before);
            water.dose(50, 0);
            water.wait(300);
            feed(&mut water, after);
            let found = water.response.estimate.ratio_milli().unwrap();
            assert!(
                (970..=1030).contains(&found),
                "{sign} {before} {after}: {found}"
            );
        }
    }
}

#[test]
fn a_base_answers_upwards() {
    let mut water = Water::new(1.0);
    water.product = Product::Base;
    assert!((990..=1010).contains(&water.doses(1, 1200).ratio_milli().unwrap()));
}

#[test]
fn verdicts_by_ratio_within_three_doses_and_what_to_check() {
    let says = |ratio| {
        let mut water = Water::new(ratio);
        water.noise = 0.003;
        let found = water.doses(4, 1500);
        assert_eq!(found.doses(), 4);
        found.verdict()
    };
    assert_eq!(says(-1.0), Verdict::WrongWay);
    assert_eq!(says(0.0), Verdict::NoAnswer);
    assert_eq!(says(0.15), Verdict::Low);
    assert_eq!(says(0.5), Verdict::Low);
    for right in [0.85, 1.0, 1.15] {
        assert_eq!(says(right), Verdict::AsConfigured);
    }
    assert_eq!(says(2.0), Verdict::High);
    assert_eq!(says(6.0), Verdict::FarTooMuch);
    assert_eq!(Verdict::High.checks().first(), Some(&Check::CatchTest));
    assert!(Verdict::High.checks().contains(&Check::AlkalinityTest));
    assert!(Verdict::AsConfigured.checks().is_empty());
    assert!(!Check::Tube.words().is_empty());
}

#[test]
fn noise_that_drowns_the_answers_calls_nothing() {
    let mut water = Water::new(0.6);
    water.noise = 0.2;
    let found = water.doses(6, 1500);
    assert!(!found.verdict().is_wrong(), "{found:?}");
    assert!(found.deviation_milli() > 50, "{found:?}");
}

#[test]
fn doses_at_every_hold_are_judged_in_the_hold() {
    // 10 min from closing to the next dose: 5 to settle, 5 to read.
    let found = Water::new(2.0).doses(5, 600);
    assert_eq!(found.doses(), 4, "the last one waits for its ten minutes");
    assert_eq!(found.verdict(), Verdict::High);
}

#[test]
fn doses_too_near_to_settle_count_as_one() {
    let mut water = Water::new(1.0);
    water.wait(1200);
    for _ in 0..3 {
        water.dose(20, 0);
        water.wait(120);
    }
    assert_eq!(water.response.estimate.doses(), 0);
    water.wait(1200);
    let found = water.response.estimate;
    assert_eq!(found.doses(), 1);
    let ratio = found.ratio_milli().unwrap();
    assert!((980..=1020).contains(&ratio), "{found:?}");
}

#[test]
fn a_gap_or_another_body_judges_nothing() {
    let mut water = Water::new(1.0);
    water.wait(1200);
    water.dose(50, 0);
    water.wait(400);
    water.second(false, None, false);
    water.wait(1500);
    assert_eq!(water.response.estimate.doses(), 0, "pH was lost");
    water.dose(50, 1);
    water.wait(1500);
    assert_eq!(water.response.estimate.doses(), 0, "into the other body");
    water.dose(50, 0);
    water.wait(1500);
    assert_eq!(water.response.estimate.doses(), 1);
}

#[test]
fn what_a_person_disturbs_judges_nothing_whenever_it_begins() {
    for (before_dose, after_dose) in [(true, false), (false, true)] {
        let mut water = Water::new(1.0);
        water.wait(1200);
        water.disturbed = before_dose;
        // Poured by hand: the answer would look like double.
        water.ph -= if before_dose { 0.05 } else { 0.0 };
        water.dose(50, 0);
        water.disturbed = true;
        water.ph -= if after_dose { 0.05 } else { 0.0 };
        water.wait(600);
        water.disturbed = false;
        water.wait(1500);
        assert_eq!(water.response.estimate.doses(), 0);
        water.dose(50, 0);
        water.wait(1500);
        let found = water.response.estimate;
        assert_eq!(found.doses(), 1, "and the next one does");
        assert!((980..=1020).contains(&found.ratio_milli().unwrap()));
    }
}

#[test]
fn what_a_person_disturbs_only_while_a_dose_runs_judges_nothing() {
    let mut water = Water::new(1.0);
    water.wait(1200);
    water.disturbed = true;
    water.run_dose(50);
    water.disturbed = false;
    water.close_dose(50, 0);
    water.wait(1500);
    assert_eq!(water.response.estimate.doses(), 0);
}

#[test]
fn a_small_change_by_a_test_moves_what_is_expected_and_a_large_one_begins_anew() {
    let mut water = Water::new(1.0);
    water.doses(6, 1300);
    water.response.tested(1090);
    let kept = water.response.estimate;
    assert_eq!((kept.doses(), kept.step_milli()), (6, 1090));
    // Water that answers by a tenth less than is expected now.
    let found = water.doses(6, 1300);
    let ratio = found.ratio_milli().unwrap();
    assert!((910..=960).contains(&ratio), "{found:?}");
    water.response.tested(1300);
    assert_eq!(water.response.estimate.doses(), 0);
    assert_eq!(water.response.estimate.learned_milli(), 1300);
    water.response.forget();
    assert_eq!(water.response.estimate.step_milli(), 1300, "tests stand");
    water.ratio = 1.3;
    let found = water.doses(4, 1300);
    let ratio = found.ratio_milli().unwrap();
    assert!((980..=1020).contains(&ratio), "{found:?}");
    let learned = i32::from(found.learned_milli());
    assert!((learned - ratio * 1300 / 1000).abs() <= 2, "{found:?}");
    for (step_milli, most) in [(4000, 2000), (250, 500)] {
        water.response.tested(step_milli);
        assert_eq!(water.response.estimate.learned_milli(), most);
    }
}

#[test]
fn a_change_of_rate_is_found_after_good_doses() {
    let mut water = Water::new(1.0);
    assert_eq!(water.doses(12, 1300).verdict(), Verdict::AsConfigured);
    water.ratio = 2.5;
    let found = water.doses(6, 1300);
    assert_eq!(found.verdict(), Verdict::High, "{found:?}");
}

#[test]
fn one_odd_dose_calls_nothing() {
    let mut water = Water::new(1.0);
    water.noise = 0.003;
    water.doses(6, 1300);
    // Somebody pours a bucket of something while a dose settles.
    water.dose(50, 0);
    water.ph += 0.3;
    water.wait(1300);
    let found = water.response.estimate;
    assert_eq!(found.verdict(), Verdict::AsConfigured, "{found:?}");
    let ratio = found.ratio_milli().unwrap();
    assert!((900..=1100).contains(&ratio), "{found:?}");
}

#[test]
fn what_may_be_learned_is_bounded_and_never_upward_untrusted() {
    let learned = |ratio, noise, doses| {
        let mut water = Water::new(ratio);
        water.noise = noise;
        water.doses(doses, 1300).learned_milli()
    };
    assert_eq!(learned(0.6, 0.0, 2), 1000, "too few doses");
    assert!((600..=800).contains(&learned(0.6, 0.001, 5)));
    assert_eq!(learned(0.15, 0.001, 5), 500, "at most double");
    assert_eq!(learned(6.0, 0.001, 5), 2000, "at least half");
    // No answer is no reason for more.
    assert_eq!(learned(0.0, 0.001, 5), 1000);
    assert_eq!(learned(-1.0, 0.001, 5), 1000);
    assert!(learned(0.85, 0.3, 4) >= 850, "doubtful");
}

#[test]
fn a_dose_moves_weaker_buffered_water_further() {
    let expected = ExpectedResponse {
        more_per_tenth_percent: 20,
        ..EXPECTED
    };
    // exp(0.2 x tenths).
    let by_exp = [0.5488, 0.6703, 0.8187, 1.0, 1.2214, 1.4918, 1.8221];
    for (ph, by_exp) in (7100..).step_by(100).zip(by_exp) {
        let found = expected.of_fed(Dose::from_ml(50), whole(ph), 1000).0 as f64 / 50_000.0;
        assert!((found / by_exp - 1.0).abs() < 0.025, "{ph}: {found}");
    }
    let of = |ph, step_milli| expected.of_fed(Dose::from_ml(50), whole(ph), step_milli).0;
    assert_eq!((of(7400, 1000), of(7400, 1500)), (50_000, 75_000));
    assert!(of(14_000, 1000) > 0 && of(0, 1000) > 0);
}

#[test]
fn the_stated_size_holds() {
    assert!(size_of::<Response>() <= 96, "{}", size_of::<Response>());
}
