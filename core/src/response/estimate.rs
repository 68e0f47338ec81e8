//! The running estimate of real over configured feed, and what it says.

use core::num::Saturating;

use super::line::{Whole, down, over, up, whole};

/// Steps that one dose may be off by besides the noise: how well it mixed, who bathed. 12 % of it,
/// a standard deviation. Our choice; the simulated pools scatter by less.
const SCATTER_PERCENT: i64 = 12;
/// By how much the estimate is taken to wander from dose to dose, (thousandths)^2: 3 %, so that
/// about the last dozen doses count.
const WANDER: i64 = 900;
/// Of an estimate that nothing is known of. So large that the first dose decides.
const VARIANCE_MAX: u32 = 100_000_000;
/// Doses without which nothing is called.
pub const DOSES_MIN: u8 = 3;
/// This many doses in a row that do not fit the estimate, and it begins anew with the last.
const ODD_MAX: u8 = 3;

/// Ratio below which, by all that is known, water does not answer: a tenth.
const NONE_BELOW: i32 = 100;
/// Ratio above which feed is far too much: four times.
const FAR_ABOVE: i32 = 4000;
/// Ratio below which water answers the wrong way: as far under nothing as [`NONE_BELOW`] is over it.
/// Hypochlorite of 120 g/L in the drum of 14.5 % acid is -0.26 at alkalinity 90 mg/L in the simulated pool, -0.15
/// at 110 with borate; an empty drum 0.05 to -0.04.
const WRONG_WAY_BELOW: i32 = -100;
/// Half way, by ratio, from right to half or double: the square root of 2.
const HALF_WAY: i32 = 1414;
/// A test that changes what is expected by over a tenth begins the estimate anew. Our choice: less
/// than that is the test's own error.
#[cfg(any(feature = "water", test))]
const STEP_CHANGES: u16 = 10;
/// Ratios are kept within this.
const RATIO_MAX: i64 = 20_000;

/// What the doses so far say about the feeder's real rate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Verdict {
    /// Not enough doses yet, or they do not tell.
    #[default]
    Learning,
    /// Nearer to what is configured than to half or double.
    AsConfigured,
    /// Too little: half of what is configured, or less.
    Low,
    /// Too much: double, or more.
    High,
    /// Water does not answer.
    NoAnswer,
    /// Water answers four times as strongly as configured, or more.
    FarTooMuch,
    /// Water answers the wrong way.
    WrongWay,
    /// As [`Verdict::Learning`], after a product that water did not answer, or answered the wrong way.
    Unproven,
}

/// What a person looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Check {
    /// Catch what the pump gives in a minute, and enter it.
    CatchTest,
    /// The drum: is there any, and is it what the settings name, in that strength.
    Drum,
    /// The tube: its size, wear, air in it, the injector's valve.
    Tube,
    /// Alkalinity, and cyanuric acid and borate: they set how far a dose moves pH.
    AlkalinityTest,
    /// The probe: does it answer at all, and the right way.
    Probe,
}

impl Check {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::CatchTest => "catch what the pump gives in a minute, and enter that rate",
            Self::Drum => "look at the drum: its level, product and strength",
            Self::Tube => "look at the tube and the injector: size, wear, air, blockage",
            Self::AlkalinityTest => "test alkalinity, cyanuric acid and borate",
            Self::Probe => "check the pH probe in a buffer",
        }
    }
}

impl Verdict {
    /// Whether the real rate is named as wrong by half or more.
    #[must_use]
    pub const fn is_wrong(self) -> bool {
        !matches!(self, Self::Learning | Self::AsConfigured | Self::Unproven)
    }

    /// Whether water should have answered and did not, or nothing is proven since: what is fed may be anything.
    #[must_use]
    pub const fn is_unanswered(self) -> bool {
        matches!(self, Self::NoAnswer | Self::WrongWay | Self::Unproven)
    }

    /// What a person should check, the likeliest first.
    #[must_use]
    pub const fn checks(self) -> &'static [Check] {
        match self {
            Self::Learning | Self::AsConfigured | Self::Unproven => &[],
            Self::Low => &[
                Check::CatchTest,
                Check::Tube,
                Check::Drum,
                Check::AlkalinityTest,
            ],
            Self::High | Self::FarTooMuch => &[
                Check::CatchTest,
                Check::AlkalinityTest,
                Check::Tube,
                Check::Drum,
            ],
            Self::NoAnswer => &[Check::Drum, Check::Tube, Check::Probe, Check::CatchTest],
            Self::WrongWay => &[Check::Drum, Check::Probe],
        }
    }
}

/// Real feed over configured feed, as the water's answers show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Estimate {
    ratio: i32,
    variance: u32,
    doses: u8,
    /// Doses in a row that did not fit.
    odd: u8,
    verdict: Verdict,
    /// By what a regulator divides its dose, thousandths.
    learned: u16,
    /// The step to be expected by tests of the water, over that of the settings, thousandths.
    step: u16,
}

impl Default for Estimate {
    fn default() -> Self {
        Self::UNKNOWN
    }
}

impl Estimate {
    /// No dose was followed.
    pub const UNKNOWN: Self = Self {
        ratio: 1000,
        variance: VARIANCE_MAX,
        doses: 0,
        odd: 0,
        verdict: Verdict::Learning,
        learned: 1000,
        step: 1000,
    };

    /// Whether every figure is in the range in which it is kept.
    #[cfg(feature = "store")]
    pub(crate) fn is_sound(&self) -> bool {
        i64::from(self.ratio.unsigned_abs()) <= RATIO_MAX
            && self.variance <= VARIANCE_MAX
            && (500..=2000).contains(&self.learned)
            && (250..=4000).contains(&self.step)
    }

    /// The ratio in thousandths: 500 is half of what is configured. `None` before the first dose.
    #[must_use]
    pub const fn ratio_milli(&self) -> Option<i32> {
        if self.doses == 0 {
            None
        } else {
            Some(self.ratio)
        }
    }

    /// Standard deviation of the ratio from noise and scatter, thousandths. How well the expected
    /// answer is known comes on top.
    #[must_use]
    pub const fn deviation_milli(&self) -> u32 {
        root(self.variance)
    }

    /// Doses that were followed to their end, up to 255.
    #[must_use]
    pub const fn doses(&self) -> u8 {
        self.doses
    }

    /// What they say.
    #[must_use]
    pub const fn verdict(&self) -> Verdict {
        self.verdict
    }

    /// By what a regulator may divide a dose that was sized by the expected answer, in thousandths,
    /// 500 to 2000; 1000: as configured. It is the product of what the answers show and of
    /// [`Estimate::step_milli`]. Answers take it below 1000, so to larger doses, only when they show
    /// so beyond twice their deviation, and never by more than they show beyond that; and never
    /// when the water does not answer or answers the wrong way.
    #[must_use]
    pub fn learned_milli(&self) -> u16 {
        let both = u32::from(self.learned).saturating_mul(u32::from(self.step));
        u16::try_from((both / 1000).clamp(500, 2000)).unwrap_or(1000)
    }

    /// How far a dose should move the water by the last tests of it, over how far it was to move it
    /// by the settings, thousandths, 250 to 4000.
    #[must_use]
    pub const fn step_milli(&self) -> u16 {
        self.step
    }

    /// A test of the water says how far a dose should move it. A small change moves what is expected
    /// of the next doses. A larger one begins the estimate anew: nobody knows since when the water
    /// is so, and which doses met it. A test each day of a water that changes slowly so never keeps
    /// a wrong rate from being named. That the water answers the wrong way stands: no test says what
    /// is in a drum.
    #[cfg(any(feature = "water", test))]
    pub(super) fn tested(&mut self, step_milli: u16) {
        if step_milli.abs_diff(self.step) > self.step / STEP_CHANGES {
            let was = self.verdict;
            self.forget();
            if was == Verdict::WrongWay {
                self.verdict = was;
            }
        }
        self.step = step_milli;
    }

    /// Something has changed: the drum, the rate, the water. What was found so far is a guess at
    /// what comes, and nothing is called before new doses say so. Tests of the water stand.
    pub(super) fn forget(&mut self) {
        let verdict = if self.verdict.is_unanswered() {
            Verdict::Unproven
        } else {
            Verdict::Learning
        };
        *self = Self {
            step: self.step,
            verdict,
            ..Self::UNKNOWN
        };
    }

    /// Takes a dose: `expected` and `step` are how far pH should have and has moved, in the
    /// direction of the product, pH x 1e6; `variance` that of the step.
    pub(super) fn take(&mut self, expected: Whole, step: Whole, variance: Whole, error: i32) {
        let thousand = Saturating(1000);
        let bound = Saturating(RATIO_MAX);
        let seen = over(step * thousand, expected).clamp(Saturating(0) - bound, bound);
        let noise = over(variance * thousand, expected) * thousand;
        let noise = over(noise, expected);
        let size = down(abs(seen) + abs(whole(self.before(seen))), 1);
        let scatter = over(size * Saturating(SCATTER_PERCENT), Saturating(100));
        let mut of_dose = (noise + scatter * scatter).max(Saturating(1));
        let own = Saturating(i64::from(self.variance)) + Saturating(WANDER);
        let off = seen - whole(self.ratio);
        let fits = Saturating(9) * (own + of_dose);
        if self.doses == 0 || off * off <= fits {
            self.odd = 0;
        } else if self.odd.saturating_add(1) >= ODD_MAX {
            // Something has changed. What was called stands until the new doses say otherwise.
            let verdict = self.verdict;
            self.forget();
            self.verdict = verdict;
        } else {
            // What lies further out than three deviations counts for less, by as much.
            of_dose *= over(off * off, fits) + Saturating(1);
            self.odd = self.odd.saturating_add(1);
        }
        let both = own + of_dose;
        let moved = down(off * over(up(own, 10), both), 10);
        let ratio = if self.doses == 0 {
            seen
        } else {
            whole(self.ratio) + moved
        };
        let left = if self.doses == 0 {
            of_dose
        } else {
            over(own * of_dose, both)
        };
        self.ratio = i32::try_from(ratio.0).unwrap_or(0);
        self.variance = u32::try_from(left.0)
            .unwrap_or(VARIANCE_MAX)
            .min(VARIANCE_MAX);
        self.doses = self.doses.saturating_add(1);
        self.verdict = self.judged(error);
        self.learned = self.learn();
    }

    /// The ratio so far, or the first one seen.
    fn before(&self, seen: Whole) -> i32 {
        if self.doses == 0 {
            i32::try_from(seen.0).unwrap_or(0)
        } else {
            self.ratio
        }
    }

    /// Whether the ratio is below `bound` by twice its deviation at least.
    fn surely_below(&self, bound: i32) -> bool {
        let off = whole(bound) - whole(self.ratio);
        let four = Saturating(4) * Saturating(i64::from(self.variance));
        off.0 > 0 && off * off > four
    }

    fn surely_above(&self, bound: i32) -> bool {
        let off = whole(self.ratio) - whole(bound);
        let four = Saturating(4) * Saturating(i64::from(self.variance));
        off.0 > 0 && off * off > four
    }

    /// `error`: how well the expected answer is known, percent.
    fn judged(&self, error: i32) -> Verdict {
        if self.doses < DOSES_MIN {
            return self.verdict;
        }
        let high = HALF_WAY.max(error.saturating_mul(20).saturating_add(1000));
        let low = 1_000_000_i32.checked_div(high).unwrap_or(0);
        let stays = |was: bool, surely: bool, still: bool| surely || (was && still);
        let was = self.verdict;
        let is_answered = self.surely_above(NONE_BELOW);
        if self.surely_below(WRONG_WAY_BELOW) {
            Verdict::WrongWay
        } else if stays(
            matches!(was, Verdict::NoAnswer | Verdict::WrongWay),
            self.surely_below(NONE_BELOW),
            !is_answered,
        ) {
            Verdict::NoAnswer
        } else if was == Verdict::Unproven && !is_answered {
            was
        } else if self.surely_above(FAR_ABOVE) {
            Verdict::FarTooMuch
        } else if stays(
            matches!(was, Verdict::Low | Verdict::NoAnswer | Verdict::WrongWay),
            self.surely_below(low),
            self.ratio < low,
        ) {
            Verdict::Low
        } else if stays(
            matches!(was, Verdict::High | Verdict::FarTooMuch),
            self.surely_above(high),
            self.ratio > high,
        ) {
            Verdict::High
        } else if self.surely_above(low) && self.surely_below(high) {
            Verdict::AsConfigured
        } else {
            Verdict::Learning
        }
    }

    fn learn(&self) -> u16 {
        if self.doses < DOSES_MIN || self.verdict.is_unanswered() {
            return 1000;
        }
        // The larger of what may be: the smaller dose.
        let twice = i32::try_from(self.deviation_milli()).unwrap_or(i32::MAX);
        let most = self.ratio.saturating_add(twice.saturating_mul(2));
        let learned = if self.ratio >= 1000 {
            self.ratio
        } else {
            most.min(1000)
        };
        u16::try_from(learned.clamp(500, 2000)).unwrap_or(1000)
    }
}

fn abs(value: Whole) -> Whole {
    Saturating(value.0.saturating_abs())
}

/// The square root, rounded down, digit by digit. `u32::isqrt` leaves a path to a panic at
/// `opt-level = "s"`.
const fn root(value: u32) -> u32 {
    let (mut left, mut root, mut bit) = (value, 0_u32, 1_u32 << 30);
    while bit != 0 {
        let step = root.saturating_add(bit);
        root >>= 1;
        if left >= step {
            left = left.saturating_sub(step);
            root = root.saturating_add(bit);
        }
        bit >>= 2;
    }
    root
}

#[cfg(test)]
mod tests;
