//! How the water answers acid or base: after each dose the slope of pH before it, the slope after
//! its hold, and the step between them, against the step that the dose should have made.
//!
//! Invariants
//! - Nothing here feeds. A regulator may take what was learned, within bounds; the guard's caps
//!   stand. `response_sane` in the guard judges single doses by itself; this judges the rate.
//! - A verdict that names a rate needs [`DOSES_MIN`] doses and a ratio beyond its bound by twice its
//!   standard deviation. Nothing is called by default.
//! - No reading is stored: a line is seven sums. Divisions by a variable come at the end of a dose,
//!   never in every tick.
//!
//! # The ratio
//! `ratio = (pH before - pH after, drift taken off) / (moves x fed / dose)`, with `moves` taken from
//! the pH at which it was worked out to that of the middle of the step, from straight lines
//! through the readings of the last 10 to 20 minutes before the first drop and of the 10 minutes
//! after the time to settle (or up to the next dose). Drift is the mean of both slopes,
//! weighted by their variance. The variance of a step is that of both levels, of the drift over the
//! time between them, and of a change of drift at an unknown moment in between,
//! `(slope before - slope after)^2 / 12`. Doses that come before the last one could settle count as
//! one with it.
//!
//! The running estimate is a mean weighted by variance, with forgetting: about the last dozen doses
//! count, fewer where they are precise. It is a mean of ratios and not of their logarithms, since a
//! step can be nil or the wrong way and has no logarithm then. A dose off by more than three
//! deviations counts for less, and three in a row begin the estimate anew.
//!
//! # What else begins it anew, and what is no evidence
//! - Anew: a refill of the feeder's drum or a level that shows one, new limits, another expectation in
//!   the settings, a buffer for the pH probe or another one, the release of a lockout by response,
//!   drive or run time, opening up after a winter; a test of alkalinity, cyanurate or borate by which
//!   a dose should move the water otherwise by over a tenth ([`Estimate::step_milli`]). After anything
//!   else, call [`Controller::forget_response`](crate::Controller::forget_response).
//! - No evidence: a dose that waits, or begins, while any inhibit stands (paused, laid up, service,
//!   backwash), a dose by hand of any product spreads, or pH is not trusted; and one that waits when
//!   the pH probe is trimmed, confirmed, taken out or put back.
//!
//! # Measured
//! On three simulated sites (`host-sim/tests/response`, table in `evidence.txt`), 20 seeds each: real
//! rates of 0.15, 0.5, 2 and 6 times the entered one are named after 3 doses mostly, 6 at most. With
//! the right rate and weekly visits, a year of the two pools gave no false call: ratios from 0.82 to
//! 1.28 in 1,029 and 2,197 doses; a year of the spa, whose jets lift pH, gave no false call (0.69 to
//! 1.32 in 9,198 doses). Noise of the probe was 0.005 pH.
//!
//! # What it cannot do
//! - **ORP steps cannot judge chlorine.** ORP answers to the logarithm of HOCl, so an hour's feed can
//!   be 4 mV, less than pH, sun and the probe's own wander make of it. Chlorine is judged by the day
//!   and by the drum: [`Reconciled`](crate::stock::Reconciled).
//! - It sees product over water. Half the alkalinity looks like nearly twice the rate, so the first
//!   thing to check may be a water test; a drum of half strength looks like half the rate.
//! - Hypochlorite raises pH when it comes: what was fed meanwhile is taken off by
//!   [`ExpectedResponse::other_raises`]. It lowers pH again when it is used; that is drift here.
//! - Only the first body of water is followed, and one feeder of a site.

#[cfg(feature = "water")]
mod buffering;
mod estimate;
mod expected;
mod fitted;
mod line;

pub use estimate::{Check, DOSES_MIN, Estimate, Verdict};
pub use expected::{BufferingWater, ExpectedResponse};

use core::num::Saturating;

use crate::guard::units::{Body, Dose, Millis};
use crate::guard::{Closed, Product};
use line::{BLOCK_MS, FAR, Fit, Line, STEP_BITS, Whole, down, over, up, whole};

/// Shortest line that is worth anything, steps of 4.096 s: two minutes.
const STEPS_MIN: i32 = 30;
/// A dose that could not be judged for this long is given up.
const WAIT_MAX: Millis = Millis::from_hours(4);
/// Variance of a slope besides noise, (pH x 1e6 an hour)^2: drift that wanders by 0.01 pH an hour
/// is everyday. Our choice.
const SLOPE_VARIANCE: i64 = 100_000_000;

/// Where the feeder stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    /// Readings are taken.
    Watching,
    /// A dose runs.
    Dosing,
    /// It has to spread: so much is left.
    Settling(Millis),
}

/// A dose that waits for its answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Pending {
    before: Fit,
    /// From the moment of the line before's level until now.
    since: Millis,
    /// Base of the line before against which its level counts.
    fed: Dose,
    /// Hypochlorite that was fed meanwhile.
    other: Dose,
    base: i16,
}

/// What came before the block: never both, which saves the memory of one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Before {
    /// The last block of readings, while no dose waits.
    Block(Line),
    Dose(Pending),
}

impl Before {
    const NOTHING: Self = Self::Block(Line::EMPTY);
}

/// Follows the answers of the water to one feeder: 92 bytes at most, on any target.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Response {
    part: Part,
    /// First reading of the lines, pH x 1000.
    base: Option<i16>,
    before: Before,
    block: Line,
    /// Age of the block.
    age: Millis,
    estimate: Estimate,
}

/// What the response sees of a feeder in one tick.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub(crate) elapsed: Millis,
    /// pH x 1000, if it is trusted and water has moved past the probe for long enough.
    pub(crate) ph: Option<i32>,
    /// The drive has a permit.
    pub(crate) runs: bool,
    pub(crate) closed: Option<Closed>,
    /// Hypochlorite booked in this tick.
    pub(crate) other: Dose,
    pub(crate) product: Product,
    /// Something else moves pH, or the probe: a person poured, or works on the plant.
    pub(crate) is_disturbed: bool,
}

impl Response {
    pub(crate) const START: Self = Self {
        part: Part::Watching,
        base: None,
        before: Before::NOTHING,
        block: Line::EMPTY,
        age: Millis(0),
        estimate: Estimate::UNKNOWN,
    };

    pub(crate) const fn estimate(&self) -> &Estimate {
        &self.estimate
    }

    /// The drum, the rate or the water is another now.
    pub(crate) fn forget(&mut self) {
        self.estimate.forget();
        self.disturb();
    }

    /// What is read now is not to be compared with what was read before.
    pub(crate) fn disturb(&mut self) {
        self.before = Before::NOTHING;
        self.begin_lines();
    }

    fn begin_lines(&mut self) {
        self.base = None;
        self.give_up_block();
        self.block = Line::EMPTY;
        self.age = Millis(0);
    }

    fn give_up_block(&mut self) {
        if let Before::Block(_) = self.before {
            self.before = Before::NOTHING;
        }
    }

    /// The dose that waits, if one does.
    fn pending(&mut self) -> Option<&mut Pending> {
        match &mut self.before {
            Before::Dose(pending) => Some(pending),
            Before::Block(_) => None,
        }
    }

    /// One tick. True if the verdict changed.
    pub(crate) fn step(&mut self, seen: &Seen, expected: &ExpectedResponse) -> bool {
        let before = self.estimate.verdict();
        // What comes while the answer is read is in half of its readings.
        let half = u32::from(matches!(self.part, Part::Watching));
        let other = seen.other.0.checked_shr(half).unwrap_or(0);
        if let Some(pending) = self.pending() {
            pending.since.0 = pending.since.0.saturating_add(seen.elapsed.0);
            pending.other.0 = pending.other.0.saturating_add(other);
            if pending.since > WAIT_MAX {
                self.before = Before::NOTHING;
            }
        }
        if seen.is_disturbed {
            self.disturb();
        }
        if seen.runs && !matches!(self.part, Part::Dosing) {
            self.open(seen.product, expected);
        }
        if let Some(closed) = seen.closed {
            self.close(closed, expected.settle());
        }
        match (seen.ph.filter(|_| !seen.is_disturbed), self.part) {
            // Water stands, or nothing is known of it: what comes is another water.
            (None, Part::Watching | Part::Settling(_)) => self.disturb(),
            (_, Part::Dosing) => {}
            (_, Part::Settling(left)) => {
                let left = Millis(left.0.saturating_sub(seen.elapsed.0));
                self.part = if left.0 == 0 {
                    Part::Watching
                } else {
                    Part::Settling(left)
                };
            }
            (Some(ph), Part::Watching) => self.read(ph, seen, expected),
        }
        before != self.estimate.verdict()
    }

    fn read(&mut self, ph: i32, seen: &Seen, expected: &ExpectedResponse) {
        let own = i16::try_from(ph).unwrap_or(i16::MAX);
        let y = ph.saturating_sub(i32::from(*self.base.get_or_insert(own)));
        if y.saturating_abs() > FAR {
            self.disturb();
            return;
        }
        let step = i32::try_from(self.age.0 >> STEP_BITS).unwrap_or(0);
        self.block.add(step, y);
        self.age.0 = self.age.0.saturating_add(seen.elapsed.0);
        if self.age.0 >= BLOCK_MS {
            self.judge(seen.product, expected);
            self.before = Before::Block(core::mem::replace(&mut self.block, Line::EMPTY));
            self.age.0 = self.age.0.saturating_sub(BLOCK_MS);
        }
    }

    /// The first drop of a dose.
    fn open(&mut self, product: Product, expected: &ExpectedResponse) {
        self.part = Part::Dosing;
        if self.block.steps() >= STEPS_MIN {
            self.judge(product, expected);
        }
        // A dose that could not settle counts as one with this.
        if let Before::Block(last_block) = &self.before {
            let sums = self.block.with_before(last_block);
            let long = self.block.steps().saturating_add(last_block.steps());
            if let (Some(before), Some(base), true) = (sums.fit(), self.base, long >= STEPS_MIN) {
                let now = i32::try_from(self.age.0 >> STEP_BITS).unwrap_or(0);
                let steps = (whole(now) - sums.at()).max(Saturating(0));
                let since = u32::try_from(steps.0).unwrap_or(0) << STEP_BITS;
                self.before = Before::Dose(Pending {
                    before,
                    since: Millis(since),
                    base,
                    fed: Dose(0),
                    other: Dose(0),
                });
            }
        }
        self.begin_lines();
    }

    /// A cycle was booked.
    fn close(&mut self, closed: Closed, settle: Millis) {
        if let Some(pending) = self.pending() {
            pending.fed.0 = pending.fed.0.saturating_add(closed.fed.0);
            if closed.body != Body(0) {
                self.before = Before::NOTHING;
            }
        }
        // Of a cycle that gave nothing there is nothing to spread.
        if self.part == Part::Dosing {
            self.part = Part::Settling(settle);
        }
    }

    /// The answer is there: takes it into the estimate.
    fn judge(&mut self, product: Product, expected: &ExpectedResponse) {
        let Before::Dose(pending) = self.before else {
            return;
        };
        self.before = Before::NOTHING;
        let sums = self.block.sums();
        let (Some(after), Some(base)) = (sums.fit(), self.base) else {
            return;
        };
        if pending.fed.0 == 0 {
            return;
        }
        let before = pending.before;
        let bases = (whole(i32::from(pending.base)), whole(i32::from(base)));
        let now = whole(i32::try_from(self.age.0 >> STEP_BITS).unwrap_or(0));
        let back = up((now - sums.at()).max(Saturating(0)), STEP_BITS);
        let between_ms = Saturating(i64::from(pending.since.0)) - back;
        let drift = Drift::of(&before, &after);
        let moved =
            whole(after.level) - whole(before.level) + (bases.1 - bases.0) * Saturating(1000);
        let (drifted, variance) = drift.over(between_ms.max(Saturating(0)));
        let levels = u64::from(before.level_variance).saturating_add(after.level_variance.into());
        let variance = variance + Saturating(i64::try_from(levels).unwrap_or(i64::MAX));
        let step = moved - drifted;
        let step = if product == Product::Acid {
            Saturating(0) - step
        } else {
            step
        };
        // pH in the middle of the step, x 1000.
        let levels = whole(before.level) + whole(after.level);
        let middle = down(bases.0 + bases.1, 1) + over(levels, Saturating(2000));
        let step_milli = self.estimate.step_milli();
        let wanted = expected.of_fed(pending.fed, middle, step_milli);
        let other = expected.of_other(pending.other, middle, step_milli);
        let step = if product == Product::Acid {
            step + other
        } else {
            step - other
        };
        if wanted.0 > 0 {
            let error = i32::from(expected.error_percent);
            self.estimate.take(wanted, step, variance, error);
        }
    }
}

/// How pH would have gone without the dose.
struct Drift {
    slope: Whole,
    variance: Whole,
}

impl Drift {
    fn of(before: &Fit, after: &Fit) -> Self {
        let of = |fit: &Fit| up(Saturating(i64::from(fit.slope_variance)), 10);
        let own = Saturating(SLOPE_VARIANCE);
        let (b, a) = (of(before) + own, of(after) + own);
        // The weight of the slope before, in 1/1024.
        let weight = over(up(a, 10), a + b);
        let (sb, sa) = (whole(before.slope), whole(after.slope));
        let slope = sa + down((sb - sa) * weight, 10);
        let off = sb - sa;
        // Of a mean weighted so: a b / (a + b). And of a change at an unknown moment.
        let variance = down(b, 10) * weight + over(off * off, Saturating(12));
        Self { slope, variance }
    }

    /// How far pH drifts in so long, and the variance of that.
    fn over(&self, ms: Whole) -> (Whole, Whole) {
        // Hours times 1024: 3,515.625 ms each.
        let hours = over(ms * Saturating(8), Saturating(28_125));
        let drifted = down(self.slope * hours, 10);
        (drifted, down(down(self.variance, 10) * hours * hours, 10))
    }
}

#[cfg(test)]
mod tests;
