//! What happens at the front end, in turn: the bytes that the real driver puts on the bus, and the
//! levels of the bias pin.

use std::vec::Vec;

use ads1x1x::{FullScaleRange, TargetAddr};
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction as Set};
use embedded_hal_mock::eh1::i2c::{Mock as Bus, Transaction};

use super::super::spec::tests::GLASS;
use super::super::*;
use crate::guard::units::Millis;

pub(super) const ADDRESS: u8 = 0x48;
/// Registers by the chip's data sheet: conversion 0, configuration 1. The configuration: start (bit
/// 15), input A0 (100), 2.048 V (010), one at a time (1), 8 a second (000), no comparator (00011).
pub(super) const START: [u8; 3] = [1, 0xC5, 0x03];
pub(super) const IDLE: u8 = 0x85;
pub(super) const BUSY: u8 = 0x05;

/// What happens at the front end, in turn. A call of `poll` each 100 ms takes what is written here.
#[derive(Default)]
pub(super) struct Script {
    pub(super) bus: Vec<Transaction>,
    pub(super) pin: Vec<Set>,
    pub(super) polls: u32,
}

impl Script {
    pub(super) fn new() -> Self {
        let mut script = Self::default();
        script.pin.push(Set::set(State::Low));
        script.wait(11); // the bias was just turned off; the tenth poll finds it settled
        script
            .bus
            .push(Transaction::write(ADDRESS, std::vec![1, 0x85, 0x83]));
        script
            .bus
            .push(Transaction::write(ADDRESS, std::vec![1, 0x85, 0x03]));
        script.start()
    }

    pub(super) fn wait(&mut self, polls: u32) {
        self.polls += polls;
    }

    pub(super) fn status(&mut self, status: u8) {
        let answer = std::vec![status, 0x03];
        self.bus
            .push(Transaction::write_read(ADDRESS, std::vec![1], answer));
    }

    pub(super) fn counts(&mut self, raw: i16) {
        let answer = raw.to_be_bytes().to_vec();
        self.bus
            .push(Transaction::write_read(ADDRESS, std::vec![0], answer));
    }

    /// The converter is idle, and is started. Within a poll that was counted already.
    pub(super) fn start(mut self) -> Self {
        self.status(IDLE);
        self.bus.push(Transaction::write(ADDRESS, START.to_vec()));
        self
    }

    /// A poll finds the conversion under way.
    pub(super) fn busy(mut self, polls: u32) -> Self {
        for _ in 0..polls {
            self.wait(1);
            self.status(BUSY);
        }
        self
    }

    /// A poll finds these counts.
    pub(super) fn done(mut self, raw: i16) -> Self {
        self.wait(1);
        self.status(IDLE);
        self.counts(raw);
        self
    }

    /// Conversions, one a poll, in pH 7.
    pub(super) fn good(mut self, conversions: u32) -> Self {
        for _ in 0..conversions {
            self = self.done(PH_7).start();
        }
        self
    }

    /// A poll finds nobody there.
    pub(super) fn nobody(mut self) -> Self {
        self.wait(1);
        let nobody = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address);
        let asked = Transaction::write_read(ADDRESS, std::vec![1], std::vec![0, 0]);
        self.bus.push(asked.with_error(nobody));
        self
    }

    /// The check that follows a conversion: bias on, these counts, bias off, the next conversion.
    pub(super) fn check(mut self, raw: i16, settle_polls: u32) -> Self {
        self.pin.push(Set::set(State::High));
        self.wait(settle_polls);
        self = self.start().done(raw);
        self.pin.push(Set::set(State::Low));
        self.wait(settle_polls);
        self.start()
    }

    /// A whole electrode at 0 mV, checked; the last thing done is the start of a conversion.
    pub(super) fn checked() -> Self {
        Self::new().done(PH_7).check(PH_7 + mv(20), 10)
    }

    pub(super) fn play(self, spec: FrontSpec) -> Played {
        self.play_with(spec, FullScaleRange::Within2_048V)
    }

    pub(super) fn play_with(mut self, spec: FrontSpec, range: FullScaleRange) -> Played {
        self.pin.push(Set::set(State::Low)); // when it is dropped
        let (bus, pin) = (Bus::new(&self.bus), Pin::new(&self.pin));
        let chip = Chip::new_ads1115(bus.clone(), TargetAddr::Gnd);
        let limits = FrontLimits::try_new(spec).unwrap();
        let ads = Ads::new(chip, Input::A0, range);
        let mut front = Front::try_new(ads, pin.clone(), limits).unwrap();
        // Across the wrap of the counter.
        let mut now_ms = u32::MAX - 1234;
        for _ in 0..self.polls {
            now_ms = now_ms.wrapping_add(100);
            front.poll(now_ms);
        }
        Played {
            front: Some(front),
            bus,
            pin,
            now_ms,
        }
    }

    pub(super) fn seen(self) -> FrontReading {
        self.play(GLASS).seen()
    }
}

pub(super) struct Played {
    front: Option<Front<Ads<Bus>, Pin>>,
    pub(super) bus: Bus,
    pub(super) pin: Pin,
    now_ms: u32,
}

impl Played {
    pub(super) fn read_after(&self, ms: u32) -> FrontReading {
        self.front
            .as_ref()
            .unwrap()
            .read(self.now_ms.wrapping_add(ms))
    }

    pub(super) fn seen(mut self) -> FrontReading {
        let seen = self.read_after(0);
        self.close();
        seen
    }

    /// Everything that was written was done.
    pub(super) fn close(&mut self) {
        self.front = None;
        self.bus.done();
        self.pin.done();
    }
}

/// 1250 mV at 62.5 uV a count.
pub(super) const PH_7: i16 = 20_000;

/// Counts for so many millivolts.
pub(super) const fn mv(mv: i16) -> i16 {
    mv * 16
}

pub(super) fn trusted(seen: &FrontReading) -> Option<Microvolts> {
    seen.reading.trusted(Millis(5000))
}
