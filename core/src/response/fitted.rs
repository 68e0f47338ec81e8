//! The response of the feeder for which the settings fit one, and what becomes of it.

use super::warmth::both;
use super::{Estimate, ExpectedResponse, Response, Seen, Verdict, Warmth};
use crate::around::Around;
use crate::ask::Held;
use crate::event::EventKind;
use crate::guard::units::{Dose, Fitted, MilliPh, Millis, Rate};
use crate::guard::{Action, Decision, Governor, Inhibits, Limits, Lockout, Product, Rule};
use crate::probe::ProbeKind;
use crate::settings::Settings;
use crate::stock::{DrumVerdict, Reconciled};
use crate::under::settings_crc;
use crate::upkeep::UpkeepAct;
use crate::water_tests::WaterTests;

impl<const N: usize> Around<N> {
    fn expected(&self) -> Option<&ExpectedResponse> {
        match &self.settings.spec().response {
            Fitted::Fitted(expected) => Some(expected),
            Fitted::NotFitted => None,
        }
    }

    fn follows(&self, feeder: usize) -> bool {
        self.expected()
            .is_some_and(|expected| usize::from(expected.feeder) == feeder)
    }

    /// What the answers to a feeder's doses show. `None` if they are not followed.
    pub(crate) fn answers(&self, feeder: usize) -> Option<&Estimate> {
        self.follows(feeder).then(|| self.response.estimate())
    }

    /// The feeder whose regulator may divide a dose by what was learned, and by what.
    pub(crate) fn learned(&self) -> Option<(usize, u16)> {
        let expected = self.expected().filter(|expected| expected.learns)?;
        let learned = self.response.estimate().learned_milli();
        let learned = both(learned, self.warmth.milli()).clamp(500, 2000);
        Some((usize::from(expected.feeder), learned))
    }

    /// The feeder that is held for what water made of its product, and why: one that it answers the wrong way
    /// until a person has put it right; one that it does not answer until chlorine is wanted, since in its drum
    /// may be hypochlorite; one that is unproven since, while the water is past the cut-off of chlorine.
    pub(crate) fn held_by_answers<const B: usize>(
        &self,
        limits: &Limits<N, B>,
        decision: &Decision<N>,
    ) -> Option<(usize, Held)> {
        let feeder = usize::from(self.expected()?.feeder);
        let why = match self.response.estimate().verdict() {
            Verdict::WrongWay => Held::WrongWay,
            Verdict::NoAnswer if self.bars_chlorine(limits, decision, true) => Held::Unanswered,
            Verdict::Unproven if self.bars_chlorine(limits, decision, false) => Held::Unanswered,
            _ => return None,
        };
        Some((feeder, why))
    }

    /// Whether every feeder of chlorine by ORP is past its cut-off, or asks for nothing if it has to; by what was
    /// asked and decided last. False where there is no such feeder: nothing shows then how much the water has.
    fn bars_chlorine<const B: usize>(
        &self,
        limits: &Limits<N, B>,
        decision: &Decision<N>,
        has_to_ask: bool,
    ) -> bool {
        let rows = (0..N).zip(self.asks.iter()).zip(decision.feeders.iter());
        let mut barred = rows.filter_map(|((feeder, ask), row)| {
            let spec = limits.feeder(feeder)?;
            let is_own = spec.product.is_oxidiser() && spec.governor == Governor::Orp;
            let is_past = row.vetoes.has(Rule::InsideCutoff);
            is_own.then(|| is_past || (has_to_ask && !ask.wants()))
        });
        barred.next() == Some(true) && barred.all(|barred| barred)
    }

    /// Whether a feeder's rate is named as wrong, by the water or by the drum.
    pub(crate) fn rate_wrong(&self, feeder: usize) -> bool {
        let by_drum = self.drum_verdicts.get(feeder).copied().unwrap_or_default();
        let by_water = self.answers(feeder).map(Estimate::verdict);
        by_drum.is_wrong() || by_water.is_some_and(Verdict::is_wrong)
    }

    /// The same of all feeders, as bits.
    pub(crate) fn rates_wrong(&self) -> u8 {
        let wrong = (0..N.min(8)).filter(|feeder| self.rate_wrong(*feeder));
        let bit = |feeder: usize| {
            u32::try_from(feeder)
                .ok()
                .and_then(|at| 1_u8.checked_shl(at))
        };
        wrong.fold(0, |bits, feeder| bits | bit(feeder).unwrap_or(0))
    }

    /// Follows the answers, after the judgement. `inhibits`: all that stand.
    pub(crate) fn follow_answers<const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        decision: &Decision<N>,
        (ph, inhibits): (Option<MilliPh>, Inhibits),
        elapsed: Millis,
    ) {
        let Some(expected) = self.expected().copied() else {
            return;
        };
        let feeder = usize::from(expected.feeder);
        let row = decision.feeders.get(feeder);
        let (Some(row), Some(product)) = (row, limits.product(feeder)) else {
            return;
        };
        if product.is_oxidiser() {
            return;
        }
        let rows = (0..N).zip(decision.feeders.iter());
        let other = rows.fold(0, |sum: u32, (feeder, row)| {
            let spec = limits.feeder(feeder).filter(|_| row.run.0 > 0);
            let liquid = spec.filter(|spec| spec.product == Product::Hypochlorite);
            let on = Millis(row.run.0.min(elapsed.0));
            sum.saturating_add(liquid.map_or(0, |spec| spec.rate.dose_ceil(on).0))
        });
        let mut by_hand = self.restraints.by_hand.iter();
        // Into the first body, whose answers these are.
        let poured = by_hand.any(|one| one.spreads_for.0 > 0 && one.counts_in(Some(0)));
        let seen = Seen {
            elapsed,
            ph: ph.map(|ph| ph.0),
            runs: row.run.0 > 0,
            closed: row.closed,
            other: Dose(other),
            product,
            is_disturbed: poured || !inhibits.is_empty(),
            warmth_milli: self.warmth.milli(),
        };
        if self.response.step(&seen, &expected) {
            self.tell_answers();
        }
    }

    fn tell_answers(&mut self) {
        let estimate = self.response.estimate();
        let feeder = self.expected().map_or(u8::MAX, |expected| expected.feeder);
        self.events.push(EventKind::Answers {
            feeder,
            verdict: estimate.verdict(),
            ratio_milli: estimate.ratio_milli().unwrap_or(1000),
        });
    }

    /// A feeder's drum, rate or water is another now. False if its answers are not followed.
    pub(crate) fn forget_answers(&mut self, feeder: usize) -> bool {
        let followed = self.follows(feeder);
        if followed {
            self.changed(Response::forget);
        }
        followed
    }

    /// Whatever is followed, what was learned of it holds no more.
    pub(crate) fn forget_all_answers(&mut self) {
        self.changed(Response::forget);
    }

    /// Rates were entered anew: neither the water nor a drum has said anything of them.
    pub(crate) fn note_rates(&mut self) {
        (0..N).for_each(|feeder| self.set_drum_says(feeder, DrumVerdict::Unclear));
        self.forget_all_answers();
    }

    /// Does something to the response, and tells it if the verdict is another then.
    fn changed(&mut self, change: impl FnOnce(&mut Response)) {
        let before = self.response.estimate().verdict();
        change(&mut self.response);
        if self.response.estimate().verdict() != before {
            self.tell_answers();
        }
    }

    /// A person did something to a probe, or tested the water.
    pub(crate) fn note_upkeep(&mut self, act: &UpkeepAct, tests: &WaterTests) {
        if matches!(
            act,
            UpkeepAct::InBuffer(..) | UpkeepAct::Trim(_) | UpkeepAct::Replace(ProbeKind::Ph)
        ) {
            // What a kit agreed with was another reading.
            self.restraints.evidence.kit_agreed = false;
        }
        if self.expected().is_none() {
            return;
        }
        match act {
            // The first one too: the ratios to come are by another slope.
            UpkeepAct::InBuffer(..) | UpkeepAct::Replace(ProbeKind::Ph) => {
                self.changed(Response::forget);
            }
            // What it shows moves, and the ratio does not.
            UpkeepAct::Trim(_)
            | UpkeepAct::ClearTrim
            | UpkeepAct::TakeOut(ProbeKind::Ph)
            | UpkeepAct::PutBack(ProbeKind::Ph)
            | UpkeepAct::Confirm(ProbeKind::Ph) => self.response.disturb(),
            UpkeepAct::Test(..) => self.note_tests(tests),
            UpkeepAct::TakeOut(ProbeKind::Orp)
            | UpkeepAct::PutBack(ProbeKind::Orp)
            | UpkeepAct::Confirm(ProbeKind::Orp)
            | UpkeepAct::Replace(ProbeKind::Orp)
            | UpkeepAct::CheckReference(..)
            | UpkeepAct::Anchor(..) => {}
        }
    }

    #[cfg(feature = "water")]
    fn note_tests(&mut self, tests: &WaterTests) {
        let step_milli = self
            .expected()
            .and_then(|expected| expected.step_milli(tests));
        if let Some(step_milli) = step_milli {
            self.changed(|response| response.tested(step_milli));
        }
    }

    /// Nothing to work it out with.
    #[cfg(not(feature = "water"))]
    const fn note_tests(&mut self, _: &WaterTests) {}

    /// The guard did what a person wanted: a probe is new, or what had locked a feeder is mended.
    pub(crate) fn note_guard_act(&mut self, action: &Action) {
        match *action {
            Action::NewProbe => {
                self.restraints.evidence.kit_agreed = false;
                self.forget_all_answers();
            }
            Action::Initialise => self.restraints.evidence.kit_agreed = false,
            Action::Release {
                lockout: Lockout::Response | Lockout::Drive | Lockout::RunTime,
                feeder,
                ..
            } => {
                self.forget_answers(feeder);
            }
            _ => {}
        }
    }

    /// A level was read: keeps what it says of the rate. A reading that says nothing changes
    /// nothing: a second one right after a refill must not hide what the first one found.
    pub(crate) fn note_level(&mut self, feeder: usize, found: &Reconciled) {
        let level_error = match self.settings.spec().level_errors.get(feeder) {
            Some(Fitted::Fitted(level_error)) => *level_error,
            _ => return,
        };
        let says = found.verdict(level_error);
        if found.booked > Dose(0) && says != DrumVerdict::Unclear {
            self.set_drum_says(feeder, says);
        }
    }

    /// What a drum says of a rate, told if it is another.
    fn set_drum_says(&mut self, feeder: usize, verdict: DrumVerdict) {
        if let Some(own) = self.drum_verdicts.get_mut(feeder)
            && core::mem::replace(own, verdict) != verdict
        {
            let feeder = u8::try_from(feeder).unwrap_or(u8::MAX);
            self.events.push(EventKind::DrumSays { feeder, verdict });
        }
    }

    /// Other settings: what was found under those before holds no more where they say otherwise, and
    /// that is told.
    pub(crate) fn take_settings(&mut self, settings: Settings<N>) {
        let (before, now) = (*self.settings.spec(), settings.spec());
        if before.response != now.response {
            // Tests of the water counted against the one of the settings before.
            self.changed(|response| *response = Response::START);
            self.warmth = Warmth::UNKNOWN;
        }
        let both = before.level_errors.iter().zip(now.level_errors.iter());
        for (feeder, (before, now)) in (0..N).zip(both) {
            if before != now {
                self.set_drum_says(feeder, DrumVerdict::Unclear);
            }
        }
        self.settings = settings;
    }

    /// What a feeder's answers are followed under. `None` if they are not.
    pub(crate) fn answers_under(&self, feeder: usize, rate: Rate) -> Option<u32> {
        let expected = self.expected().filter(|_| self.follows(feeder))?;
        Some(settings_crc((expected, rate)))
    }

    /// What a feeder's drum is judged under.
    pub(crate) fn drum_under(&self, feeder: usize, rate: Rate) -> u32 {
        let level_errors = &self.settings.spec().level_errors;
        settings_crc((level_errors.get(feeder), rate))
    }
}

impl Response {
    /// What a dose should do by tests of the water.
    #[cfg(any(feature = "water", test))]
    pub(crate) fn tested(&mut self, step_milli: u16) {
        self.estimate.tested(step_milli);
        self.disturb();
    }

    /// Puts back what was learned before a restart.
    pub(crate) fn restore(&mut self, estimate: Estimate) {
        self.estimate = estimate;
    }
}
