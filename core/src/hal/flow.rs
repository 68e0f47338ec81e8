//! A flow switch: slow to say flow, quick to say none.

use embedded_hal::digital::InputPin;

use super::Wiring;
use crate::guard::units::Millis;
use crate::guard::{Health, Reading};

/// A switch, debounced on the way on only. What it tells is the worst since it was last asked:
/// one sample without flow makes the whole tick one without flow.
#[derive(Debug)]
pub struct FlowSwitch<P> {
    pin: P,
    wiring: Wiring,
    debounce: Millis,
    /// When flow began to be seen without a break.
    since: Option<u32>,
    /// Flow, debounced, at the last sample.
    on: bool,
    /// Flow in every sample since it was last asked.
    all_on: bool,
    /// The pin failed since it was last asked.
    failed: bool,
    sampled: Option<u32>,
}

impl<P: InputPin> FlowSwitch<P> {
    /// Takes the pin. Flow has to be seen for `debounce` without a break before it counts.
    pub const fn new(pin: P, wiring: Wiring, debounce: Millis) -> Self {
        Self {
            pin,
            wiring,
            debounce,
            since: None,
            on: false,
            all_on: false,
            failed: false,
            sampled: None,
        }
    }

    /// Looks at the pin. Call it several times a tick, at most 24 days apart; `now_ms` may wrap.
    pub fn sample(&mut self, now_ms: u32) {
        let seen = match self.wiring {
            Wiring::ActiveHigh => self.pin.is_high(),
            Wiring::ActiveLow => self.pin.is_low(),
        };
        let flow = match seen {
            Ok(flow) => {
                self.sampled = Some(now_ms);
                flow
            }
            Err(_) => {
                self.failed = true;
                false
            }
        };
        if flow {
            let since = *self.since.get_or_insert(now_ms);
            // Once on, it stays on: the counter may come round.
            self.on = self.on || now_ms.wrapping_sub(since) >= self.debounce.0;
        } else {
            self.since = None;
            self.on = false;
        }
        self.all_on &= self.on;
    }

    /// What it has seen since it was last asked, for [`Facts`](crate::guard::Facts): flow only if
    /// every sample said flow. As old as the last good sample; unknown before the first.
    pub fn read(&mut self, now_ms: u32) -> Reading<bool> {
        let value = self.all_on;
        let failed = core::mem::take(&mut self.failed);
        self.all_on = self.on;
        let Some(sampled) = self.sampled else {
            return Reading::unknown(false);
        };
        Reading {
            value,
            age: Millis(now_ms.wrapping_sub(sampled)),
            health: if failed {
                Health::Failure
            } else {
                Health::Normal
            },
        }
    }

    /// Gives the pin back.
    pub fn release(self) -> P {
        self.pin
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use embedded_hal_mock::eh1::MockError;
    use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

    /// A switch whose pin shows these levels, one a sample; `None` is a failing pin.
    fn switch(levels: &[Option<bool>], wiring: Wiring) -> FlowSwitch<Mock> {
        let all: std::vec::Vec<Transaction> = levels
            .iter()
            .map(|level| match level {
                Some(true) => Transaction::get(State::High),
                Some(false) => Transaction::get(State::Low),
                None => Transaction::get(State::Low)
                    .with_error(MockError::Io(std::io::ErrorKind::Other)),
            })
            .collect();
        FlowSwitch::new(Mock::new(&all), wiring, Millis(200))
    }

    #[test]
    fn it_is_slow_to_say_flow_and_quick_to_say_none() {
        let levels = [true, true, true, true, false, true, true, true].map(Some);
        let mut flow = switch(&levels, Wiring::ActiveHigh);
        let mut at = |now_ms| {
            flow.sample(now_ms);
            flow.read(now_ms).value
        };
        assert!(!at(0) && !at(199), "not for 200 ms yet");
        // In the tick in which flow is first proven, some samples were without it.
        assert!(!at(200));
        assert!(at(300));
        assert!(!at(400), "one sample without");
        assert!(!at(500) && !at(700) && at(800));
        flow.release().done();
    }

    #[test]
    fn one_sample_without_flow_makes_the_tick_one_without() {
        let levels = [true, true, true, false, true, true].map(Some);
        let mut flow = switch(&levels, Wiring::ActiveHigh);
        flow.sample(0);
        flow.sample(250);
        flow.read(250);
        for now_ms in [500, 750] {
            flow.sample(now_ms);
        }
        flow.sample(1000);
        flow.sample(1210);
        let seen = flow.read(1210);
        assert!(!seen.value, "it came back, but was away");
        assert_eq!((seen.age, seen.health), (Millis(0), Health::Normal));
        assert!(flow.read(1300).value);
        flow.release().done();
    }

    #[test]
    fn active_low_and_the_wrap_of_the_counter() {
        let levels = [Some(false); 4];
        let mut flow = switch(&levels, Wiring::ActiveLow);
        for now_ms in [u32::MAX - 99, 50, 99, 100] {
            flow.sample(now_ms);
            flow.read(now_ms);
        }
        assert!(flow.read(100).value);
        flow.release().done();
    }

    #[test]
    fn a_failing_pin_is_told_and_a_silent_switch_grows_old() {
        let mut flow = switch(
            &[Some(true), Some(true), None, Some(true)],
            Wiring::ActiveHigh,
        );
        assert_eq!(flow.read(0), Reading::unknown(false));
        flow.sample(0);
        flow.sample(300);
        flow.sample(400);
        let seen = flow.read(450);
        assert!(!seen.value && seen.health == Health::Failure);
        assert_eq!(seen.age, Millis(150), "of the last good sample");
        flow.sample(500);
        let seen = flow.read(5000);
        assert!(!seen.value && seen.health == Health::Normal);
        assert_eq!(seen.age, Millis(4500));
        flow.release().done();
    }
}
