//! Alkalinity that was used between two tests, beside what acid, alkali and fresh water explain.
//!
//! CO2 that leaves moves pH and no alkalinity: what lowers it is acid, and each equivalent by the
//! same. So alkalinity is the second witness of what the acid feeder really gave.

use super::Doubt;
use crate::guard::units::Dose;
use crate::probe::MicrogramsPerL;

/// Hundredths of a microgram of CaCO3 that stand for a microequivalent: 50.04345 mg for a
/// milliequivalent (molar mass of CaCO3, halved).
const UG_PER_MEQ_HUNDREDTHS: i64 = 5_004_345;

/// What is known of the time between two tests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlkalinityBooks {
    /// Volume, L.
    pub volume_l: u32,
    /// First test.
    pub before: MicrogramsPerL,
    /// Second test.
    pub now: MicrogramsPerL,
    /// Standard deviation of a test.
    pub test_error: MicrogramsPerL,
    /// Acid that was fed and poured, milliequivalents.
    pub acid_meq: u32,
    /// Alkali that was fed and poured: bicarbonate, soda, the caustic of hypochlorite.
    pub alkali_meq: u32,
    /// How well acid, alkali and volume are known together, a standard deviation, percent.
    pub error_percent: u8,
    /// Water that was filled in or rained, L; as much went out.
    pub fresh_l: u32,
    /// Its alkalinity.
    pub fresh: MicrogramsPerL,
}

/// What a second test says of the acid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum AlkalinitySays {
    /// What was entered explains it, as well as it is known.
    Closes,
    /// More went than is explained: more acid reached the water than was booked, or from elsewhere.
    MoreAcid,
    /// Less went than is explained: less acid reached the water, or alkalinity came.
    LessAcid,
}

/// Alkalinity that was used; all in micrograms a litre as CaCO3, positive where it falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlkalinityUse {
    /// By the tests.
    pub fell: i32,
    /// By the acid, less the alkali.
    pub by_acid: i32,
    /// By fresh water.
    pub by_water: i32,
    /// Not explained.
    pub unexplained: i32,
    /// Standard deviation of that.
    pub error: u32,
}

fn narrow(value: i64) -> i32 {
    i32::try_from(value).unwrap_or(if value < 0 { i32::MIN } else { i32::MAX })
}

fn squared(value: i64) -> u64 {
    let size = value.unsigned_abs();
    size.saturating_mul(size)
}

impl AlkalinityBooks {
    /// Milliequivalents of acid in so much of it, rounded down.
    #[must_use]
    pub fn acid_meq(fed: Dose, meq_per_l: u32) -> u32 {
        let meq = u64::from(fed.0).saturating_mul(u64::from(meq_per_l)) / 1_000_000;
        u32::try_from(meq).unwrap_or(u32::MAX)
    }

    fn per_l(&self, meq: u32) -> i64 {
        i64::from(meq)
            .saturating_mul(UG_PER_MEQ_HUNDREDTHS)
            .checked_div(i64::from(self.volume_l).saturating_mul(100))
            .unwrap_or(0)
    }

    /// Fall by fresh water that mixes as it comes. Its share, `1 - exp(-x)`, is taken as
    /// `2 x / (2 + x)`: to 0.1 % of the water for a quarter of it.
    fn by_water(&self) -> i64 {
        let fresh = i64::from(self.fresh_l);
        let mean = i64::from(self.before.0).saturating_add(i64::from(self.now.0)) / 2;
        let apart = mean.saturating_sub(i64::from(self.fresh.0));
        let all = i64::from(self.volume_l)
            .saturating_mul(2)
            .saturating_add(fresh);
        apart
            .saturating_mul(fresh.saturating_mul(2))
            .checked_div(all)
            .unwrap_or(0)
    }

    /// What was used and what explains it. `None` for a volume of nothing.
    #[must_use]
    pub fn balance(&self) -> Option<AlkalinityUse> {
        if self.volume_l == 0 {
            return None;
        }
        let fell = i64::from(self.before.0).saturating_sub(i64::from(self.now.0));
        let (acid, alkali) = (self.per_l(self.acid_meq), self.per_l(self.alkali_meq));
        let by_acid = acid.saturating_sub(alkali);
        let by_water = self.by_water();
        let part = |of: i64| of.saturating_mul(i64::from(self.error_percent)) / 100;
        let test = squared(i64::from(self.test_error.0));
        let error = [test, test, squared(part(acid)), squared(part(alkali))]
            .into_iter()
            .chain([squared(part(by_water))])
            .fold(0_u64, u64::saturating_add)
            .isqrt();
        let explained = by_acid.saturating_add(by_water);
        Some(AlkalinityUse {
            fell: narrow(fell),
            by_acid: narrow(by_acid),
            by_water: narrow(by_water),
            unexplained: narrow(fell.saturating_sub(explained)),
            error: u32::try_from(error).unwrap_or(u32::MAX),
        })
    }

    /// A question, where alkalinity rose by more than both tests' errors while acid was fed and
    /// nothing that raises it was entered.
    #[must_use]
    pub fn doubt(&self) -> Option<Doubt> {
        let twice = squared(i64::from(self.test_error.0))
            .saturating_mul(8)
            .isqrt();
        let rose = u64::from(self.now.0.saturating_sub(self.before.0));
        let raised =
            self.alkali_meq > self.acid_meq || (self.fresh_l > 0 && self.fresh > self.before);
        (self.acid_meq > 0 && rose > twice && !raised).then_some(Doubt::AlkalinityRose)
    }
}

impl AlkalinityUse {
    /// Named beyond two standard deviations.
    #[must_use]
    pub fn says(&self) -> AlkalinitySays {
        let bound = i64::from(self.error).saturating_mul(2);
        let unexplained = i64::from(self.unexplained);
        if unexplained > bound {
            AlkalinitySays::MoreAcid
        } else if unexplained < bound.saturating_neg() {
            AlkalinitySays::LessAcid
        } else {
            AlkalinitySays::Closes
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 10,000 US gal, TA 100 to 90.
    const BOOKS: AlkalinityBooks = AlkalinityBooks {
        volume_l: 37_854,
        before: MicrogramsPerL(100_000),
        now: MicrogramsPerL(90_000),
        test_error: MicrogramsPerL(1_000),
        acid_meq: 0,
        alkali_meq: 0,
        error_percent: 10,
        fresh_l: 0,
        fresh: MicrogramsPerL(0),
    };

    #[test]
    fn ten_mg_l_take_a_published_amount_of_acid() {
        // Wojtowicz, J. Swimming Pool Spa Ind. 5(1):39-56 (second-hand): lowering alkalinity by
        // 10 mg/L in 10,000 US gal takes 25.6 US fl oz of 31.45 % acid (9.971 mol/L at 20 C).
        let fed = Dose(757_082); // 25.6 x 29.5735295625 mL
        let acid_meq = AlkalinityBooks::acid_meq(fed, 9971);
        let used = AlkalinityBooks { acid_meq, ..BOOKS }.balance().unwrap();
        assert!((used.by_acid - 10_000).abs() < 50, "{used:?}");
        assert_eq!(used.says(), AlkalinitySays::Closes);
        let twice = AlkalinityBooks {
            acid_meq: acid_meq * 2,
            ..BOOKS
        };
        assert_eq!(twice.balance().unwrap().says(), AlkalinitySays::LessAcid);
        assert_eq!(BOOKS.balance().unwrap().says(), AlkalinitySays::MoreAcid);
    }

    #[test]
    fn bicarbonate_raises_by_its_weight() {
        // 84.0066 g a mole: 1.68 mg/L of it are 1 mg/L as CaCO3 (by molar masses).
        let alkali_meq = (16.787_f64 * 37_854.0 / 84.0066) as u32; // for 10 mg/L
        let books = AlkalinityBooks {
            before: MicrogramsPerL(90_000),
            now: MicrogramsPerL(100_000),
            alkali_meq,
            ..BOOKS
        };
        let used = books.balance().unwrap();
        assert!(used.unexplained.abs() < 30, "{used:?}");
        assert!(books.doubt().is_none());
    }

    #[test]
    fn fresh_water_takes_its_share() {
        let water = |fresh_l, fresh| {
            let books = AlkalinityBooks {
                now: MicrogramsPerL(100_000),
                fresh_l,
                fresh: MicrogramsPerL(fresh),
                ..BOOKS
            };
            books.balance().unwrap().by_water
        };
        // A quarter of the water: 1 - exp(-0.25) is 22.12 %.
        assert!((water(9_463, 0) - 22_200).abs() < 50, "{}", water(9_463, 0));
        assert_eq!(water(9_463, 100_000), 0);
        assert!(water(9_463, 200_000) < -22_000);
    }

    #[test]
    fn the_error_is_that_of_both_tests_and_of_what_was_fed() {
        let error = |acid_meq, test| {
            let books = AlkalinityBooks {
                acid_meq,
                test_error: MicrogramsPerL(test),
                ..BOOKS
            };
            books.balance().unwrap().error
        };
        assert_eq!(error(0, 5_000), 7_071);
        // 30.26 eq are 40 mg/L, of which a tenth is 4.
        assert!(error(30_257, 0).abs_diff(4_000) < 2, "{}", error(30_257, 0));
        assert!(error(30_257, 5_000).abs_diff(8_124) < 3);
        let none = AlkalinityBooks {
            volume_l: 0,
            ..BOOKS
        };
        assert_eq!(none.balance(), None);
    }

    #[test]
    fn a_rise_under_acid_is_asked_about_and_one_that_was_entered_is_not() {
        let doubt = |now, acid_meq, alkali_meq, fresh_l| {
            let books = AlkalinityBooks {
                now: MicrogramsPerL(now),
                test_error: MicrogramsPerL(5_000),
                acid_meq,
                alkali_meq,
                fresh_l,
                fresh: MicrogramsPerL(250_000),
                ..BOOKS
            };
            books.doubt().is_some()
        };
        // Twice the root of two times 5 mg/L is 14.1.
        assert!(doubt(114_200, 100, 0, 0) && !doubt(114_100, 100, 0, 0));
        assert!(!doubt(120_000, 0, 0, 0), "no acid");
        assert!(!doubt(120_000, 100, 101, 0) && !doubt(120_000, 100, 0, 10));
    }

    #[test]
    fn what_raises_it_has_to_be_more_than_the_acid_or_stronger_than_the_water() {
        let rose = AlkalinityBooks {
            before: MicrogramsPerL(100_000),
            now: MicrogramsPerL(114_143),
            test_error: MicrogramsPerL(5_000),
            acid_meq: 100,
            ..BOOKS
        };
        assert!(rose.doubt().is_some());
        let of_error = AlkalinityBooks {
            now: MicrogramsPerL(114_142),
            ..rose
        };
        assert!(of_error.doubt().is_none());
        let alkali = |alkali_meq| AlkalinityBooks { alkali_meq, ..rose };
        assert!(alkali(100).doubt().is_some() && alkali(101).doubt().is_none());
        let fresh = |fresh| AlkalinityBooks {
            fresh_l: 10,
            fresh: MicrogramsPerL(fresh),
            ..rose
        };
        assert!(fresh(100_000).doubt().is_some() && fresh(100_001).doubt().is_none());
    }

    #[test]
    fn two_deviations_are_not_beyond_two_deviations() {
        let says = |unexplained| {
            let used = AlkalinityUse {
                unexplained,
                error: 500,
                ..BOOKS.balance().unwrap()
            };
            used.says()
        };
        assert_eq!(says(1000), AlkalinitySays::Closes);
        assert_eq!(says(1001), AlkalinitySays::MoreAcid);
        assert_eq!(says(-1000), AlkalinitySays::Closes);
        assert_eq!(says(-1001), AlkalinitySays::LessAcid);
    }

    #[test]
    fn figures_of_no_water_end_at_the_bounds_of_a_number() {
        let fell = |before, now| {
            let books = AlkalinityBooks {
                before: MicrogramsPerL(before),
                now: MicrogramsPerL(now),
                ..BOOKS
            };
            books.balance().unwrap().fell
        };
        assert_eq!(fell(u32::MAX, 0), i32::MAX);
        assert_eq!(fell(0, u32::MAX), i32::MIN);
    }
}
