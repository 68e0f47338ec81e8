//! A straight line through readings of pH, kept as sums: no reading is stored, and a tick costs a
//! few additions and small products.

use core::num::Saturating;

/// What formulas here are worked out in: it saturates.
pub(super) type Whole = Saturating<i64>;

/// Time counts in steps of 2^12 ms, so that no tick divides.
pub(super) const STEP_BITS: u32 = 12;
/// Steps in a block: 614.4 s.
pub(super) const BLOCK_STEPS: i32 = 150;
/// Length of a block, ms.
pub(super) const BLOCK_MS: u32 = 614_400;
/// Readings further from the first one than this belong to no line, pH x 1000. So no sum leaves its
/// type in a block of 4,500 readings, one each 137 ms.
pub(super) const FAR: i32 = 900;
/// Readings are taken to tell something new only each 16 s (4 steps): in between they repeat what a
/// filter or the probe's own lag made of the last one. Our choice.
const STEPS_EACH: i64 = 4;
/// Least variance of a reading, (pH x 1e6)^2: that of a value told in whole thousandths.
const READING_VARIANCE_MIN: i64 = 83_333;
/// Steps in an hour, times 64: 878.90625 are no whole number.
const STEPS_IN_64_HOURS: i64 = 56_250;

/// Exact.
pub(super) fn whole(value: i32) -> Whole {
    Saturating(i64::from(value))
}

/// Rounded towards 0; nothing by nothing is the largest there is, so that it is trusted least.
#[inline(never)]
pub(super) fn over(value: Whole, by: Whole) -> Whole {
    Saturating(value.0.checked_div(by.0).unwrap_or(i64::MAX))
}

/// Times 2^`bits`.
#[inline(never)]
pub(super) fn up(value: Whole, bits: u32) -> Whole {
    value * Saturating(1_i64.checked_shl(bits).unwrap_or(0))
}

/// By 2^`bits`, rounded down.
#[inline(never)]
pub(super) fn down(value: Whole, bits: u32) -> Whole {
    Saturating(value.0.checked_shr(bits).unwrap_or(0))
}

/// Sums over readings: `t` in steps, `y` in pH x 1000 from a base.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Line {
    t: i32,
    y: i32,
    tt: i32,
    ty: i32,
    yy: u32,
    n: u16,
    /// First and last step of a reading.
    first: u8,
    last: u8,
}

/// What a line comes to. Levels in pH x 1e6 from the base, slopes in pH x 1e6 an hour. Small, since
/// one is kept while a dose waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fit {
    /// Mean of the readings, at [`Sums::at`].
    pub(super) level: i32,
    pub(super) slope: i32,
    pub(super) level_variance: u32,
    /// By 1024.
    pub(super) slope_variance: u32,
}

impl Line {
    pub(super) const EMPTY: Self = Self {
        t: 0,
        y: 0,
        tt: 0,
        ty: 0,
        yy: 0,
        n: 0,
        first: 0,
        last: 0,
    };

    /// Takes a reading; `step` within a block.
    pub(super) fn add(&mut self, step: i32, y: i32) {
        self.n = self.n.saturating_add(1);
        self.t = self.t.saturating_add(step);
        self.y = self.y.saturating_add(y);
        self.tt = self.tt.saturating_add(step.saturating_mul(step));
        self.ty = self.ty.saturating_add(step.saturating_mul(y));
        let square = y.unsigned_abs().saturating_mul(y.unsigned_abs());
        self.yy = self.yy.saturating_add(square);
        let step = u8::try_from(step).unwrap_or(u8::MAX);
        if self.n == 1 {
            self.first = step;
        }
        self.last = step;
    }

    /// Steps from the first reading to the last.
    pub(super) fn steps(&self) -> i32 {
        i32::from(self.last.saturating_sub(self.first))
    }

    /// The line through the readings of this block and of the one before it, in the time of this.
    pub(super) fn with_before(&self, before: &Self) -> Sums {
        let mut sums = before.sums();
        let shift = whole(BLOCK_STEPS);
        // (t - shift)^2 and (t - shift) y, summed.
        sums.tt += sums.n * shift * shift - Saturating(2) * shift * sums.t;
        sums.ty -= shift * sums.y;
        sums.t -= sums.n * shift;
        let own = self.sums();
        Sums {
            n: sums.n + own.n,
            t: sums.t + own.t,
            y: sums.y + own.y,
            tt: sums.tt + own.tt,
            ty: sums.ty + own.ty,
            yy: sums.yy + own.yy,
            steps: sums.steps + own.steps,
        }
    }

    pub(super) fn sums(&self) -> Sums {
        Sums {
            n: whole(i32::from(self.n)),
            t: whole(self.t),
            y: whole(self.y),
            tt: whole(self.tt),
            ty: whole(self.ty),
            yy: Saturating(i64::from(self.yy)),
            steps: whole(self.steps()),
        }
    }
}

/// The sums of one line or of two together, wide enough to work with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sums {
    n: Whole,
    t: Whole,
    y: Whole,
    tt: Whole,
    ty: Whole,
    yy: Whole,
    /// Steps that readings cover.
    steps: Whole,
}

impl Sums {
    /// Step at which a line has its level.
    pub(super) fn at(&self) -> Whole {
        over(self.t, self.n)
    }

    /// Least squares. `None` with fewer than three readings, or all at one time.
    ///
    /// For `k` readings that tell something new, evenly over a time `T`, the level's variance is
    /// `s^2 / k` and the slope's `12 s^2 / (k T^2)`, with `s^2` what the line leaves unexplained
    /// (any textbook on linear regression).
    pub(super) fn fit(&self) -> Option<Fit> {
        let Self { n, t, y, .. } = *self;
        if n.0 < 3 || self.steps.0 < 1 {
            return None;
        }
        // Times n, so that nothing is rounded yet.
        let tt = n * self.tt - t * t;
        let ty = n * self.ty - t * y;
        let yy = n * self.yy - y * y;
        if tt.0 <= 0 {
            return None;
        }
        // In pH x 1000 a step, times 2^16: the quotient comes first, so that no product leaves its
        // type even for the widest readings.
        let slope = over(up(ty, 16), tt);
        let per_hour = down(slope * Saturating(1000 * STEPS_IN_64_HOURS), 22);
        let explained = down(ty * slope, 16);
        let left = over(
            (yy - explained) * Saturating(1_000_000),
            n * (n - Saturating(2)),
        );
        let variance = left.max(Saturating(READING_VARIANCE_MIN));
        let k = over(self.steps, Saturating(STEPS_EACH)).max(Saturating(1));
        let level_variance = over(variance, k);
        let hours_64 = self.steps * self.steps;
        // 12 s^2 / k / (T / 878.9)^2, the square of 878.9 being 772,476.
        let slope_variance = over(level_variance * Saturating(12 * 772_476), hours_64);
        let bound = |value: Whole| u32::try_from(value.0).unwrap_or(u32::MAX);
        let near = |value: Whole| i32::try_from(value.0).unwrap_or(0);
        let (least, most) = (whole(i32::MIN), whole(i32::MAX));
        Some(Fit {
            level: near(over(y * Saturating(1000), n)),
            slope: near(per_hour.clamp(least, most)),
            level_variance: bound(level_variance),
            slope_variance: bound(down(slope_variance, 10)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(steps: core::ops::Range<i32>, y: impl Fn(i32) -> i32) -> Line {
        let mut line = Line::EMPTY;
        for step in steps {
            for _ in 0..4 {
                line.add(step, y(step));
            }
        }
        line
    }

    #[test]
    fn a_straight_line_is_found_exactly() {
        // 2 thousandths of a pH a step: 2 x 878.9 an hour.
        let sums = line(0..101, |step| 2 * step - 50).sums();
        let fit = sums.fit().unwrap();
        assert_eq!((fit.level, sums.at()), (50_000, whole(50)));
        assert_eq!(fit.slope, 1_757_812);
        let variance = u32::try_from(READING_VARIANCE_MIN / 25).unwrap();
        assert_eq!(fit.level_variance, variance, "nothing unexplained");
        // By the formula above in floating point.
        let hours = 100.0 / 878.906_25;
        let expected = 12.0 * f64::from(variance) / (hours * hours) / 1024.0;
        assert!((f64::from(fit.slope_variance) / expected - 1.0).abs() < 1e-3);
    }

    #[test]
    fn scatter_about_the_line_is_its_variance() {
        // One up, one down by 10: a variance of 100 (thousandths squared).
        let fit = line(0..100, |step| 5 * step + 20 * (step % 2) - 10);
        let fit = fit.sums().fit().unwrap();
        let variance = f64::from(fit.level_variance) * 24.0;
        assert!((variance / 1e8 - 1.0).abs() < 0.02, "{variance}");
    }

    #[test]
    fn two_blocks_are_one_line() {
        let before = line(50..150, |step| step);
        let own = line(0..60, |step| step + BLOCK_STEPS);
        let both = own.with_before(&before);
        let fit = both.fit().unwrap();
        assert_eq!(fit.slope, 878_906);
        let alone = own.sums().fit().unwrap();
        assert_eq!(alone.slope, fit.slope);
        assert!(fit.slope_variance < alone.slope_variance / 10);
        // Their mean time: (100 x (99.5 - 150) + 60 x 29.5) / 160 is -20.5.
        assert_eq!(both.at(), whole(-20));
    }

    #[test]
    fn too_little_gives_no_line() {
        assert_eq!(Line::EMPTY.sums().fit(), None);
        assert_eq!(line(7..8, |_| 3).sums().fit(), None, "one moment");
    }

    #[test]
    fn the_widest_readings_of_a_long_block_fit() {
        let mut line = Line::EMPTY;
        for at in 0..4500 {
            line.add(at / 30, if at < 2250 { FAR } else { -FAR });
        }
        assert!(line.yy < u32::MAX && line.tt < i32::MAX && line.ty > i32::MIN);
        assert!(line.sums().fit().unwrap().slope < -1_000_000);
    }

    /// By floats: level, slope an hour, and their variances, for readings over so many steps (any textbook on linear
    /// regression; of readings each 4 steps tell something new).
    fn by_floats(readings: &[(i32, i32)], steps: f64) -> [f64; 4] {
        let n = readings.len() as f64;
        let of = |f: fn(f64, f64) -> f64| -> f64 {
            let all = readings.iter();
            all.map(|(t, y)| f(f64::from(*t), f64::from(*y))).sum()
        };
        let (t, y) = (of(|t, _| t) / n, of(|_, y| y) / n);
        let tt = of(|t, _| t * t) - n * t * t;
        let slope = (of(|t, y| t * y) - n * t * y) / tt;
        let left = of(|_, y| y * y) - n * y * y - slope * slope * tt;
        let level_variance = left / (n - 2.0) * 1e6 / (steps / 4.0).floor();
        let hours = steps * 4.096 / 3600.0;
        let slope_variance = 12.0 * level_variance / (hours * hours);
        let slope = slope * 1000.0 * 3600.0 / 4.096;
        [y * 1000.0, slope, level_variance, slope_variance / 1024.0]
    }

    #[test]
    fn a_fit_of_one_block_and_of_two_is_that_of_least_squares() {
        let y = |t: i32| t / 3 + [7, -4, 11, -9, 2][t.unsigned_abs() as usize % 5];
        let (mut before, mut now) = (Line::EMPTY, Line::EMPTY);
        let earlier: std::vec::Vec<_> = (3..150).map(|t| (t - BLOCK_STEPS, y(t))).collect();
        let later: std::vec::Vec<_> = (0..=80).map(|t| (t, y(t + 150))).collect();
        earlier
            .iter()
            .for_each(|(t, y)| before.add(t + BLOCK_STEPS, *y));
        later.iter().for_each(|(t, y)| now.add(*t, *y));
        let both = [earlier, later.clone()].concat();
        for (sums, exact) in [
            (now.sums(), by_floats(&later, 80.0)),
            (now.with_before(&before), by_floats(&both, 80.0 + 146.0)),
        ] {
            let fit = sums.fit().unwrap();
            let ours = [
                f64::from(fit.level),
                f64::from(fit.slope),
                f64::from(fit.level_variance),
                f64::from(fit.slope_variance),
            ];
            for (ours, exact) in ours.into_iter().zip(exact) {
                assert!((ours / exact - 1.0).abs() < 0.005, "{ours}: {exact}");
            }
        }
    }

    #[test]
    fn two_readings_are_no_line_and_three_are_one() {
        let fit = |steps: &[i32]| {
            let mut line = Line::EMPTY;
            steps.iter().for_each(|step| line.add(*step, 5));
            line.sums().fit()
        };
        assert!(fit(&[0, 9]).is_none() && fit(&[4, 4, 4]).is_none());
        assert!(fit(&[0, 0, 1]).is_some() && fit(&[0, 1, 2, 3]).is_some());
    }
}
