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
//! through the readings of the last 10 to 20 minutes before the first drop and of the 10 minutes after the time to
//! settle (or up to the next dose). Drift is the mean of both slopes, weighted by their variance. The variance of a step is
//! that of both levels, of the drift over the time between them, and of a change of drift at an unknown moment,
//! `(slope before - slope after)^2 / 12`. Doses that come before the last one could settle count with it.
//!
//! Hypochlorite raises pH when it is fed and lowers it again when it is used. What feeds it waits
//! while acid runs, so the drift beside a dose holds feed that the dose did not meet. So every reading
//! is taken without what hypochlorite has raised since the lines began: the drift is that of the
//! water alone, its use among it.
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
//! # The wrong way
//! A feeder that the water answers the wrong way beyond doubt ([`Verdict::WrongWay`]) asks for nothing more
//! ([`Obstacle::WrongWay`](crate::Obstacle::WrongWay)): its drum may hold another product, or the probe be wrong. That stands through
//! restarts until something of the first line above is done and entered, as a rule a drum that was rinsed and filled
//! ([`Act::Refill`](crate::Act::Refill)). A test of the water frees nothing; a person may feed by hand.
//! No answer ([`Verdict::is_unanswered`]): 120 g/L of hypochlorite, a quarter of 14.5 % acid the wrong way, is under a tenth of
//! 31.45 %, and of any at pH 8.5. So such a feeder begins a cycle only while a feeder by ORP asks for chlorine inside its cut-off
//! ([`Obstacle::Unanswered`](crate::Obstacle::Unanswered)), its next drum none past that cut-off until doses are answered. The guard's
//! probing cycles go on, since somebody may fill an empty drum and enter nothing; without a feeder by ORP they go on anyhow.
//!
//! # Measured
//! On four simulated sites (`host-sim/tests/lived/response`, table in `evidence.txt`), 20 seeds each: real
//! rates of 0.15, 0.5, 2 and 6 times the entered one are named after 3 or 4 doses mostly, 5 at most.
//! With the right rate and weekly visits, a year of the two pools gave no false call: ratios from 0.90
//! to 1.21 in 1,029 and 2,197 doses; nor did a year of two spas, one with jets that lift pH (0.80 to
//! 1.11 in 9,198 doses), one with 30 bathers a day in 4 m3, whose alkalinity sinks by a quarter from
//! visit to visit (0.81 to 1.30 in 7,614 doses). Noise of the probe was 0.005 pH.
//!
//! # What it cannot do
//! - **ORP steps cannot judge chlorine.** ORP answers to the logarithm of HOCl, so an hour's feed can
//!   be 4 mV, less than pH, sun and the probe's own wander make of it. Chlorine is judged by the day
//!   and by the drum: [`Reconciled`](crate::stock::Reconciled).
//! - It sees product over water. Half the alkalinity looks like nearly twice the rate, so the first
//!   thing to check may be a water test; a drum of half strength looks like half the rate.
//! - Colder water answers less: at 8 C by 73 % of what it does at 26 C (alkalinity 90 mg/L, cyanuric acid 30 mg/L). Without
//!   a sensor ([`Care::temperature`](crate::Care::temperature)), or the feature `water`, that looks like a lower rate.
//! - What hypochlorite raises is taken off by [`ExpectedResponse::other_raises`], at the rate that is
//!   configured for its feeder: if that is wrong, a good part of its error is in the ratio.
//! - Only the first body of water is followed, and one feeder of a site.

#[cfg(feature = "water")]
mod buffering;
mod estimate;
mod expected;
mod fitted;
mod line;
mod warmth;

pub use estimate::{Check, DOSES_MIN, Estimate, Verdict};
use expected::RAISES_BITS;
pub use expected::{BufferingWater, ExpectedResponse};
pub(crate) use warmth::Warmth;

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
    fed: Dose,
    /// Of the line before, against which its level counts.
    base: i16,
    /// pH x 1000 at the first drop.
    ph: i16,
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

/// Follows the answers of the water to one feeder: 96 bytes at most, on any target.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Response {
    part: Part,
    /// First reading of the lines, pH x 1000.
    base: Option<i16>,
    /// Hypochlorite fed since the lines began, or since those before a dose that waits.
    other: Dose,
    /// By how much it raises pH, pH x 1000 a uL x 2^[`RAISES_BITS`].
    raises: u32,
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
    /// Hypochlorite fed in this tick.
    pub(crate) other: Dose,
    pub(crate) product: Product,
    /// Something else moves pH, or the probe: a person poured, or works on the plant.
    pub(crate) is_disturbed: bool,
    /// How far a dose moves water that is so warm, over how far at the temperature of the settings, thousandths.
    pub(crate) warmth_milli: u16,
}

impl Response {
    pub(crate) const START: Self = Self {
        part: Part::Watching,
        base: None,
        other: Dose(0),
        raises: 0,
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
        if let Before::Block(_) = self.before {
            self.other = Dose(0);
        }
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
        self.other.0 = self.other.0.saturating_add(seen.other.0);
        if let Some(pending) = self.pending() {
            pending.since.0 = pending.since.0.saturating_add(seen.elapsed.0);
            if pending.since > WAIT_MAX {
                self.before = Before::NOTHING;
            }
        }
        if seen.is_disturbed {
            self.disturb();
        }
        if seen.runs && !matches!(self.part, Part::Dosing) {
            self.open(seen, expected);
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
        if self.base.is_none() && matches!(self.before, Before::Block(_)) {
            self.raises = expected.raises(whole(ph), self.step_milli(seen));
        }
        let base = i32::from(*self.base.get_or_insert(own));
        let y = ph.saturating_sub(base).saturating_sub(self.raised());
        if y.saturating_abs() > FAR {
            self.disturb();
            return;
        }
        let step = i32::try_from(self.age.0 >> STEP_BITS).unwrap_or(0);
        self.block.add(step, y);
        self.age.0 = self.age.0.saturating_add(seen.elapsed.0);
        if self.age.0 >= BLOCK_MS {
            self.judge(own, seen, expected);
            self.before = Before::Block(core::mem::replace(&mut self.block, Line::EMPTY));
            self.age.0 = self.age.0.saturating_sub(BLOCK_MS);
        }
    }

    /// What hypochlorite has raised, pH x 1000.
    fn raised(&self) -> i32 {
        let raised = u64::from(self.other.0).saturating_mul(u64::from(self.raises));
        i32::try_from(raised.checked_shr(RAISES_BITS).unwrap_or(0)).unwrap_or(i32::MAX)
    }

    /// The first drop of a dose.
    fn open(&mut self, seen: &Seen, expected: &ExpectedResponse) {
        self.part = Part::Dosing;
        let ph = seen.ph.and_then(|ph| i16::try_from(ph).ok()).or(self.base);
        if let (Some(ph), true) = (ph, self.block.steps() >= STEPS_MIN) {
            self.judge(ph, seen, expected);
        }
        // A dose that could not settle counts as one with this.
        if let Before::Block(last_block) = &self.before {
            let sums = self.block.with_before(last_block);
            let long = self.block.steps().saturating_add(last_block.steps());
            let line = sums.fit().filter(|_| long >= STEPS_MIN);
            if let (Some(before), Some(base), Some(ph)) = (line, self.base, ph) {
                let now = i32::try_from(self.age.0 >> STEP_BITS).unwrap_or(0);
                let steps = (whole(now) - sums.at()).max(Saturating(0));
                let since = u32::try_from(steps.0).unwrap_or(0) << STEP_BITS;
                self.before = Before::Dose(Pending {
                    before,
                    since: Millis(since),
                    base,
                    ph,
                    fed: Dose(0),
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

    fn step_milli(&self, seen: &Seen) -> u16 {
        warmth::both(self.estimate.step_milli(), seen.warmth_milli)
    }

    /// The answer is there, at this pH x 1000: takes it into the estimate.
    fn judge(&mut self, ph: i16, seen: &Seen, expected: &ExpectedResponse) {
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
        let step = if seen.product == Product::Acid {
            Saturating(0) - step
        } else {
            step
        };
        // In the middle of the step.
        let middle = down(whole(i32::from(pending.ph)) + whole(i32::from(ph)), 1);
        let wanted = expected.of_fed(pending.fed, middle, self.step_milli(seen));
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
