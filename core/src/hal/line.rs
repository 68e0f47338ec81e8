//! Outputs that only a permit turns on.

use embedded_hal::digital::OutputPin;

use super::Wiring;
use super::timer::{CutTimer, NoTimer};
use crate::guard::{Authority, MasterPermit, Permit};

/// Why a line is out of use. Stays until a person clears it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LineFault {
    /// The pin could not be turned on.
    PinOn,
    /// The pin could not be turned off: it may still be on, and is tried again at every call.
    PinOff,
    /// The cut timer could not be set or reached.
    Timer,
}

/// Time that a permit covers.
#[derive(Clone, Copy, Debug)]
struct Cover {
    from_ms: u32,
    run_ms: u32,
}

impl Cover {
    /// Across the wrap of the counter.
    const fn has_lapsed(self, now_ms: u32) -> bool {
        now_ms.wrapping_sub(self.from_ms) >= self.run_ms
    }
}

/// The output itself.
#[derive(Debug)]
struct Output<P: OutputPin, T: CutTimer> {
    pin: P,
    timer: T,
    wiring: Wiring,
    /// What covers it; `None`: off, as far as is known.
    cover: Option<Cover>,
    armed: bool,
    fault: Option<LineFault>,
}

impl<P: OutputPin, T: CutTimer> Output<P, T> {
    fn new(pin: P, timer: T, wiring: Wiring) -> Self {
        let mut output = Self {
            pin,
            timer,
            wiring,
            cover: None,
            armed: false,
            fault: None,
        };
        output.off();
        output
    }

    fn set(&mut self, on: bool) -> Result<(), P::Error> {
        match (self.wiring, on) {
            (Wiring::ActiveHigh, true) | (Wiring::ActiveLow, false) => self.pin.set_high(),
            (Wiring::ActiveHigh, false) | (Wiring::ActiveLow, true) => self.pin.set_low(),
        }
    }

    /// The first fault is kept, but for one: a pin that cannot be turned off is what a person has
    /// to know.
    fn failed(&mut self, fault: LineFault) {
        if self.fault.is_none() || fault == LineFault::PinOff {
            self.fault = Some(fault);
        }
    }

    /// Turns it off, and tries once more if that fails. The timer is left set until the pin is off:
    /// it may be what still cuts it.
    fn off(&mut self) {
        self.cover = None;
        if self.set(false).is_err() {
            self.failed(LineFault::PinOff);
            if self.set(false).is_err() {
                return;
            }
        }
        if self.armed {
            self.armed = false;
            if self.timer.disarm().is_err() {
                self.failed(LineFault::Timer);
            }
        }
    }

    fn apply(&mut self, run_ms: Option<u32>, now_ms: u32) {
        let Some(run_ms) = run_ms.filter(|run_ms| *run_ms > 0 && self.fault.is_none()) else {
            self.off();
            return;
        };
        // The timer first: an output is not turned on without what cuts it.
        self.armed = true;
        if self.timer.arm(run_ms).is_err() {
            self.failed(LineFault::Timer);
            self.off();
            return;
        }
        if self.set(true).is_err() {
            self.failed(LineFault::PinOn);
            self.off();
            return;
        }
        self.cover = Some(Cover {
            from_ms: now_ms,
            run_ms,
        });
    }

    fn poll(&mut self, now_ms: u32) -> bool {
        let lapsed = self.cover.is_some_and(|cover| cover.has_lapsed(now_ms));
        if lapsed || self.fault.is_some() {
            self.off();
        }
        self.cover.is_some()
    }

    fn clear_fault(&mut self, by: Authority) -> bool {
        if by < Authority::Technician {
            return false;
        }
        self.fault = None;
        self.off();
        self.fault.is_none()
    }
}

impl<P: OutputPin, T: CutTimer> Drop for Output<P, T> {
    fn drop(&mut self) {
        self.off();
    }
}

/// The drive of feeder `F`: takes the permit of that feeder and of no other.
#[derive(Debug)]
pub struct DriveLine<const F: usize, P: OutputPin, T: CutTimer = NoTimer> {
    output: Output<P, T>,
}

impl<const F: usize, P: OutputPin> DriveLine<F, P> {
    /// Takes the pin and turns it off.
    pub fn new(pin: P, wiring: Wiring) -> Self {
        Self::with_timer(pin, wiring, NoTimer)
    }
}

impl<const F: usize, P: OutputPin, T: CutTimer> DriveLine<F, P, T> {
    /// Takes the pin and the timer that cuts it, and turns it off.
    pub fn with_timer(pin: P, wiring: Wiring, timer: T) -> Self {
        Self {
            output: Output::new(pin, timer, wiring),
        }
    }

    /// On with a permit, for as long as it covers; off without one. Once a tick.
    ///
    /// `now_ms` is the counter's value that was given to the
    /// [`TickClock`](crate::guard::TickClock) in this tick; it may wrap.
    pub fn apply(&mut self, permit: Option<Permit<'_, F>>, now_ms: u32) {
        let run = permit.map(|permit| permit.run_max().0);
        self.output.apply(run, now_ms);
    }

    /// Turns it off if its permit has lapsed, and tries again if it could not be turned off.
    /// Call it more often than ticks, as from a timer's interrupt. True if it is on.
    pub fn poll(&mut self, now_ms: u32) -> bool {
        self.output.poll(now_ms)
    }

    /// Whether it is on, as far as it was told; a cut by the timer is not seen here.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.output.cover.is_some()
    }

    /// Why it is out of use, if it is. Report it in
    /// [`Inputs::line_faults`](crate::Inputs::line_faults).
    #[must_use]
    pub const fn fault(&self) -> Option<LineFault> {
        self.output.fault
    }

    /// A person, a technician at least, has seen to it. True if the line is in use again: if it
    /// could be turned off.
    pub fn clear_fault(&mut self, by: Authority) -> bool {
        self.output.clear_fault(by)
    }
}

/// The contact in series that cuts all feeders.
#[derive(Debug)]
pub struct MasterLine<P: OutputPin, T: CutTimer = NoTimer> {
    output: Output<P, T>,
}

impl<P: OutputPin> MasterLine<P> {
    /// Takes the pin and turns it off.
    pub fn new(pin: P, wiring: Wiring) -> Self {
        Self::with_timer(pin, wiring, NoTimer)
    }
}

impl<P: OutputPin, T: CutTimer> MasterLine<P, T> {
    /// Takes the pin and the timer that cuts it, and turns it off.
    pub fn with_timer(pin: P, wiring: Wiring, timer: T) -> Self {
        Self {
            output: Output::new(pin, timer, wiring),
        }
    }

    /// On with a permit, for as long as it covers; off without one. Once a tick, as
    /// [`DriveLine::apply`].
    pub fn apply(&mut self, permit: Option<MasterPermit<'_>>, now_ms: u32) {
        let run = permit.map(|permit| permit.run_max().0);
        self.output.apply(run, now_ms);
    }

    /// As [`DriveLine::poll`].
    pub fn poll(&mut self, now_ms: u32) -> bool {
        self.output.poll(now_ms)
    }

    /// Whether it is on, as far as it was told.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.output.cover.is_some()
    }

    /// Why it is out of use, if it is. Report it in
    /// [`Inputs::master_fault`](crate::Inputs::master_fault).
    #[must_use]
    pub const fn fault(&self) -> Option<LineFault> {
        self.output.fault
    }

    /// As [`DriveLine::clear_fault`].
    pub fn clear_fault(&mut self, by: Authority) -> bool {
        self.output.clear_fault(by)
    }
}

#[cfg(test)]
mod tests;
