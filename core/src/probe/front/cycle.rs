//! The round of conversions and checks.

use embedded_hal::digital::OutputPin;

use super::convert::{Counts, counts};
use super::{Adc, FrontError, FrontFault, FrontLimits, FrontReading, FrontSpec, Lead, Microvolts};
use crate::guard::units::Millis;
use crate::guard::{Health, Reading};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// A conversion is to be started.
    Start,
    Convert,
    /// The bias was turned on.
    SettleOn,
    ConvertBiased,
    /// The bias was turned off.
    SettleOff,
    /// It could not be turned off.
    BiasStuck,
}

/// The front end of one probe: a converter, and the pin that turns on the bias (high is on).
///
/// One converter for each probe: two probes on one chip share a ground, and a current from one
/// reference electrode to the other shifts both.
#[derive(Debug)]
pub struct Front<A: Adc, P: OutputPin> {
    adc: A,
    bias: P,
    spec: FrontSpec,
    step: Step,
    /// Time in this step.
    in_step: Millis,
    seen_ms: Option<u32>,
    /// The last good value, and the time since its conversion was started.
    value: Option<Microvolts>,
    age: Millis,
    /// What the last conversion said, healthy or not: a check compares with it.
    before: Option<Microvolts>,
    fault: Option<FrontFault>,
    bias_failed: bool,
    lead: Lead,
    since_check: Millis,
}

/// More time passes.
fn pass(age: &mut Millis, passed_ms: u32) {
    age.0 = age.0.saturating_add(passed_ms);
}

impl<A: Adc, P: OutputPin> Front<A, P> {
    /// Takes the converter and the pin, and turns the bias off.
    ///
    /// # Errors
    /// If the converter is set to another full scale than the limits say.
    pub fn try_new(adc: A, bias: P, limits: FrontLimits) -> Result<Self, FrontError> {
        let spec = *limits.spec();
        if adc.full_scale_mv() != spec.full_scale_mv {
            return Err(FrontError::FullScale {
                stated_mv: spec.full_scale_mv,
                set_mv: adc.full_scale_mv(),
            });
        }
        let mut front = Self {
            adc,
            bias,
            spec,
            step: Step::BiasStuck,
            in_step: Millis(0),
            seen_ms: None,
            value: None,
            age: Millis(u32::MAX),
            before: None,
            fault: None,
            bias_failed: false,
            lead: Lead::NotChecked,
            since_check: Millis(u32::MAX),
        };
        front.turn_off();
        Ok(front)
    }

    /// Goes on by at most one conversion; never waits. Call it at least every `poll_max`, at most
    /// 49 days apart; `now_ms` may wrap.
    pub fn poll(&mut self, now_ms: u32) {
        let passed_ms = self.unseen(now_ms);
        self.seen_ms = Some(now_ms);
        pass(&mut self.age, passed_ms);
        pass(&mut self.since_check, passed_ms);
        pass(&mut self.in_step, passed_ms);
        match self.step {
            Step::Start => self.start(Step::Convert),
            Step::Convert => {
                if let Some(raw) = self.finish() {
                    self.take(raw);
                    self.go_on();
                }
            }
            Step::SettleOn if self.in_step >= self.spec.settle => self.start(Step::ConvertBiased),
            Step::ConvertBiased => {
                if let Some(raw) = self.finish() {
                    self.judge(raw);
                    self.turn_off();
                }
            }
            Step::SettleOff if self.in_step >= self.spec.settle => self.start(Step::Convert),
            Step::SettleOn | Step::SettleOff => {}
            Step::BiasStuck => self.turn_off(),
        }
    }

    /// What the probe says now. Once a tick, after [`Front::poll`].
    #[must_use]
    pub fn read(&self, now_ms: u32) -> FrontReading {
        let mut age = self.age;
        let mut since_check = self.since_check;
        pass(&mut age, self.unseen(now_ms));
        pass(&mut since_check, self.unseen(now_ms));
        let lead = if since_check.0 > self.spec.check_every.0.saturating_mul(2) {
            Lead::NotChecked
        } else {
            self.lead
        };
        let fault = if self.bias_failed {
            Some(FrontFault::Bias)
        } else {
            self.fault
        };
        let reading = match self.value {
            None => Reading::unknown(Microvolts(0)),
            Some(value) => Reading {
                value,
                age,
                health: self.health(age, lead, fault),
            },
        };
        FrontReading {
            reading,
            lead,
            fault,
        }
    }

    /// A bus that fails once is seen by the age alone: the guard says how old is too old.
    fn health(&self, age: Millis, lead: Lead, fault: Option<FrontFault>) -> Health {
        use FrontFault::{Bias, OutOfRange, Saturated};
        if age > self.spec.age_max || matches!(fault, Some(Saturated | OutOfRange | Bias)) {
            return Health::Failure;
        }
        match lead {
            Lead::Open | Lead::Short => Health::Failure,
            Lead::NotChecked => Health::CheckFunction,
            Lead::HighResistance => Health::OutOfSpecification,
            Lead::Intact => Health::Normal,
        }
    }

    fn unseen(&self, now_ms: u32) -> u32 {
        self.seen_ms.map_or(0, |seen| now_ms.wrapping_sub(seen))
    }

    fn enter(&mut self, step: Step) {
        self.step = step;
        self.in_step = Millis(0);
    }

    /// After a conversion without the bias: a check if one is due, else the next conversion.
    fn go_on(&mut self) {
        if self.since_check < self.spec.check_every {
            self.start(Step::Convert);
        } else if self.bias.set_high().is_ok() {
            self.enter(Step::SettleOn);
        } else {
            self.bias_failed = true;
            self.turn_off();
        }
    }

    /// Starts a conversion, or comes back to it at the next call.
    fn start(&mut self, then: Step) {
        let biased = then == Step::ConvertBiased;
        match self.adc.start() {
            Ok(true) => self.enter(then),
            Ok(false) => self.lost(FrontFault::Late, biased),
            Err(_) => self.lost(FrontFault::Bus, biased),
        }
    }

    /// The counts, if they are there.
    fn finish(&mut self) -> Option<i16> {
        let biased = self.step == Step::ConvertBiased;
        match self.adc.finish() {
            Ok(Some(raw)) => return Some(raw),
            Ok(None) if self.in_step <= self.spec.convert_max => {}
            Ok(None) => self.lost(FrontFault::Late, biased),
            Err(_) => self.lost(FrontFault::Bus, biased),
        }
        None
    }

    /// A conversion is lost. With the bias on, the check is given up, and due again after the next
    /// good conversion: the bias does not stay on for a bus that is not there.
    fn lost(&mut self, fault: FrontFault, biased: bool) {
        self.fault = Some(fault);
        if biased {
            self.turn_off();
        } else {
            self.enter(Step::Start);
        }
    }

    fn turn_off(&mut self) {
        if self.bias.set_low().is_ok() {
            self.enter(Step::SettleOff);
        } else {
            self.bias_failed = true;
            self.enter(Step::BiasStuck);
        }
    }

    fn take(&mut self, raw: i16) {
        let Counts::Within(uv) = counts(raw, A::COUNTS_MAX, &self.spec) else {
            self.before = None;
            self.fault = Some(FrontFault::Saturated);
            return;
        };
        self.before = Some(uv);
        if uv < microvolts(self.spec.low_mv) || uv > microvolts(self.spec.high_mv) {
            self.fault = Some(FrontFault::OutOfRange);
            return;
        }
        self.fault = None;
        self.value = Some(uv);
        self.age = self.in_step;
    }

    /// What the input did when the bias came on.
    fn judge(&mut self, raw: i16) {
        let spec = &self.spec;
        self.lead = match (counts(raw, A::COUNTS_MAX, spec), self.before) {
            (Counts::High, _) => Lead::Open,
            (Counts::Within(uv), _) if uv >= microvolts(spec.open_at_mv) => Lead::Open,
            (Counts::Within(Microvolts(uv)), Some(Microvolts(before))) => {
                let moved = Microvolts(uv.saturating_sub(before));
                let least = spec.moves_min_mv.get().map(microvolts);
                if moved > microvolts(spec.moves_max_mv) {
                    Lead::HighResistance
                } else if least.is_some_and(|least| moved < least) {
                    Lead::Short
                } else {
                    Lead::Intact
                }
            }
            (Counts::Within(_), None) | (Counts::Low, _) => Lead::NotChecked,
        };
        self.since_check = Millis(0);
        self.bias_failed = false;
    }
}

fn microvolts(mv: i32) -> Microvolts {
    Microvolts(mv.saturating_mul(1000))
}

impl<A: Adc, P: OutputPin> Drop for Front<A, P> {
    /// Nobody would turn the bias off later.
    fn drop(&mut self) {
        let _nobody_to_tell = self.bias.set_low();
    }
}
