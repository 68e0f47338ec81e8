//! The round of conversions, down to the bytes that the real driver puts on the bus.

mod scales;
mod script;

use ads1x1x::{FullScaleRange, TargetAddr};
use embedded_hal::i2c::{ErrorKind, NoAcknowledgeSource};
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock as Pin, State, Transaction as Set};
use embedded_hal_mock::eh1::i2c::{Mock as Bus, Transaction};

use super::spec::tests::{GLASS, METAL};
use super::*;
use crate::guard::Health;
use crate::guard::Reading;
use crate::guard::units::Millivolts;
use crate::guard::units::{Fitted, Millis};
use script::{ADDRESS, IDLE, PH_7, START, Script, mv, trusted};

#[test]
fn a_whole_electrode_is_trusted_after_its_check() {
    let seen = Script::new().seen();
    assert_eq!(seen.reading, Reading::unknown(Microvolts(0)));
    // One conversion, and the bias comes on: a value, but nobody has checked the lead.
    let mut first = Script::new().busy(1).done(PH_7 + mv(100));
    first.pin.push(Set::set(State::High));
    let seen = first.seen();
    assert_eq!((seen.lead, seen.fault), (Lead::NotChecked, None));
    assert_eq!(seen.reading.value, Microvolts(100_000));
    assert_eq!(seen.reading.age, Millis(200), "since it was started");
    assert_eq!(seen.reading.health, Health::CheckFunction);

    let seen = Script::checked().done(PH_7 - mv(59)).start().seen();
    assert_eq!((seen.lead, seen.fault), (Lead::Intact, None));
    assert_eq!(trusted(&seen), Some(Microvolts(-59_000)));
    assert_eq!(seen.reading.age, Millis(100));
}

#[test]
fn a_check_makes_no_value_young() {
    let seen = Script::checked().seen();
    assert_eq!(
        seen.reading.value,
        Microvolts(0),
        "of before the check, without the bias"
    );
    // One conversion without the bias, ten polls of settling, one with, ten more.
    assert_eq!(seen.reading.age, Millis(100 + 1000 + 100 + 1000));
    assert_eq!(seen.lead, Lead::Intact);
}

#[test]
fn the_lead_is_judged_by_how_far_the_input_moves() {
    let lead = |before: i16, with: i16| Script::new().done(before).check(with, 10).seen().lead;
    // Between 3 and 150 mV; open at 700 mV.
    assert_eq!(lead(PH_7, PH_7 + mv(3)), Lead::Intact);
    assert_eq!(lead(PH_7, PH_7 + mv(150)), Lead::Intact);
    assert_eq!(lead(PH_7, PH_7 + mv(3) - 1), Lead::Short);
    assert_eq!(lead(PH_7, PH_7 - mv(200)), Lead::Short, "the wrong way");
    assert_eq!(lead(PH_7, PH_7 + mv(150) + 1), Lead::HighResistance);
    assert_eq!(lead(PH_7, PH_7 + mv(700) - 1), Lead::HighResistance);
    assert_eq!(lead(PH_7, PH_7 + mv(700)), Lead::Open);
    assert_eq!(lead(PH_7, i16::MAX), Lead::Open);
    // A lead that floats at the bias already does not move, and is open all the same.
    assert_eq!(lead(PH_7 + mv(790), PH_7 + mv(790)), Lead::Open);
    assert_eq!(lead(i16::MAX, i16::MAX), Lead::Open);
    assert_eq!(
        lead(i16::MAX, PH_7),
        Lead::NotChecked,
        "nothing to compare with"
    );
    assert_eq!(lead(PH_7, i16::MIN), Lead::NotChecked);
}

#[test]
fn a_lead_that_is_not_whole_is_not_trusted_however_good_its_value() {
    let health = |with| {
        let seen = Script::new()
            .done(PH_7)
            .check(with, 10)
            .done(PH_7)
            .start()
            .seen();
        assert_eq!(
            (seen.reading.value, seen.reading.age),
            (Microvolts(0), Millis(100))
        );
        (seen.lead, seen.reading.health)
    };
    assert_eq!(health(PH_7 + mv(750)), (Lead::Open, Health::Failure));
    assert_eq!(health(PH_7), (Lead::Short, Health::Failure));
    assert_eq!(
        health(PH_7 + mv(200)),
        (Lead::HighResistance, Health::OutOfSpecification)
    );
    assert_eq!(health(i16::MIN), (Lead::NotChecked, Health::CheckFunction));
    assert_eq!(health(PH_7 + mv(20)), (Lead::Intact, Health::Normal));
}

#[test]
fn the_next_check_finds_the_lead_mended() {
    let script = Script::new().done(PH_7).check(PH_7 + mv(750), 10).good(89);
    let spec = FrontSpec {
        check_every: Millis::from_secs(10),
        ..GLASS
    };
    let mut mended = script
        .done(PH_7)
        .check(PH_7 + mv(20), 10)
        .done(PH_7)
        .start()
        .play(spec);
    let seen = mended.read_after(0);
    assert_eq!(
        (seen.lead, trusted(&seen)),
        (Lead::Intact, Some(Microvolts(0)))
    );
    // A check does not stand for ever: 1200 ms ago now, 20 s at most.
    assert_eq!(mended.read_after(20_000 - 1100).lead, Lead::Intact);
    assert_eq!(mended.read_after(20_000 - 1099).lead, Lead::NotChecked);
    mended.close();
}

#[test]
fn a_check_compares_with_the_conversion_before_it_and_with_no_older_one() {
    let spec = FrontSpec {
        check_every: Millis::from_secs(10),
        ..GLASS
    };
    let script = Script::checked().good(89).done(i16::MAX);
    let seen = script.check(PH_7 + mv(20), 10).play(spec).seen();
    assert_eq!(seen.lead, Lead::NotChecked);
}

#[test]
fn a_chip_that_does_not_answer_leaves_the_value_to_age() {
    let good = || Script::checked().done(PH_7).start();
    let seen = good().nobody().nobody().seen();
    assert_eq!(seen.fault, Some(FrontFault::Bus));
    assert_eq!(
        (seen.reading.age, seen.reading.health),
        (Millis(300), Health::Normal)
    );
    // It answers again: what the conversion from before says is thrown away, a new one started.
    let mut back = good().nobody().done(PH_7 + mv(300));
    back.status(IDLE);
    back.bus.push(Transaction::write(ADDRESS, START.to_vec()));
    let seen = back.done(PH_7 + mv(1)).start().seen();
    assert_eq!((seen.fault, trusted(&seen)), (None, Some(Microvolts(1000))));
    assert_eq!(seen.reading.age, Millis(100));
    // It stays away: no younger, and a failure once it is too old for the guard.
    let mut away = good().nobody().play(GLASS);
    assert_eq!(away.read_after(4800).reading.health, Health::Normal);
    assert_eq!(away.read_after(4800).reading.age, Millis(5000));
    assert_eq!(away.read_after(4801).reading.health, Health::Failure);
    away.close();
}

#[test]
fn a_start_that_is_not_taken_is_tried_again() {
    let nobody = ErrorKind::NoAcknowledge(NoAcknowledgeSource::Data);
    let fails = || {
        let mut script = Script::checked().done(PH_7);
        script.status(IDLE);
        let start = Transaction::write(ADDRESS, START.to_vec());
        script.bus.push(start.with_error(nobody));
        script
    };
    let seen = fails().seen();
    assert_eq!(seen.fault, Some(FrontFault::Bus));
    assert_eq!(seen.reading.age, Millis(100));
    // The chip may have taken it: one conversion is thrown away before the next counts.
    let mut again = fails();
    again.wait(1);
    let mut again = again.start().done(PH_7 + mv(300));
    again.status(IDLE);
    again.bus.push(Transaction::write(ADDRESS, START.to_vec()));
    let seen = again.done(PH_7 + mv(1)).start().seen();
    assert_eq!((seen.fault, trusted(&seen)), (None, Some(Microvolts(1000))));
}

#[test]
fn a_late_conversion_is_no_reading() {
    let good = || Script::checked().done(PH_7).start();
    let seen = good().busy(3).seen();
    assert_eq!((seen.fault, seen.reading.age), (None, Millis(400)));
    let seen = good().busy(4).seen();
    assert_eq!(
        (seen.fault, seen.reading.age),
        (Some(FrontFault::Late), Millis(500))
    );
    // Still busy: not started anew, and not younger. Whenever it is done, it is thrown away.
    for polls in 15..20 {
        let mut late = good().busy(4).busy(polls).done(PH_7 + mv(300));
        late.status(IDLE);
        late.bus.push(Transaction::write(ADDRESS, START.to_vec()));
        let seen = late.seen();
        assert_eq!(seen.reading.value, Microvolts(0));
        assert_eq!(seen.fault, Some(FrontFault::Late));
        assert_eq!(seen.reading.age, Millis(600 + 100 * polls));
    }
}

#[test]
fn a_converter_at_its_stop_and_a_missing_electrode_are_failures_at_once() {
    for (raw, fault) in [
        (i16::MAX, FrontFault::Saturated),
        (i16::MIN, FrontFault::Saturated),
        (PH_7 + mv(500) + 1, FrontFault::OutOfRange),
        (PH_7 - mv(500) - 1, FrontFault::OutOfRange),
        (0, FrontFault::OutOfRange), // the chip lost its power on the way
        (-1, FrontFault::OutOfRange), // the data line is stuck high
    ] {
        let seen = Script::checked().done(raw).start().seen();
        assert_eq!(
            (seen.fault, seen.reading.health),
            (Some(fault), Health::Failure),
            "{raw}"
        );
        assert_eq!(seen.reading.value, Microvolts(0), "of before");
        assert_eq!(seen.reading.age, Millis(2300), "no younger");
    }
    for (off, uv) in [(500, 500_000), (-500, -500_000)] {
        let seen = Script::checked().done(PH_7 + mv(off)).start().seen();
        assert_eq!(trusted(&seen), Some(Microvolts(uv)));
    }
    let seen = Script::checked()
        .done(i16::MAX)
        .start()
        .done(PH_7)
        .start()
        .seen();
    assert_eq!((seen.fault, trusted(&seen)), (None, Some(Microvolts(0))));
}

#[test]
fn a_check_whose_conversion_is_lost_turns_the_bias_off_and_comes_again() {
    let mut lost = Script::new().done(PH_7);
    lost.pin.push(Set::set(State::High));
    lost.wait(10);
    lost = lost.start().nobody();
    lost.pin.push(Set::set(State::Low));
    lost.wait(10);
    // The conversion that ran with the bias on is thrown away.
    lost.status(IDLE);
    lost.counts(PH_7 + mv(20));
    let again = lost
        .start()
        .done(PH_7 + mv(2))
        .check(PH_7 + mv(22), 10)
        .done(PH_7)
        .start();
    let seen = again.seen();
    assert_eq!(
        (seen.lead, trusted(&seen)),
        (Lead::Intact, Some(Microvolts(0)))
    );
}

#[test]
fn the_bias_is_off_before_anybody_polls() {
    let mut none = Script::default();
    none.pin.push(Set::set(State::Low));
    assert_eq!(none.seen().reading, Reading::unknown(Microvolts(0)));
}

#[test]
fn a_bias_that_may_be_on_is_a_failure() {
    let bad = || MockError::Io(std::io::ErrorKind::Other);
    // It cannot be turned off after a check: tried at each poll, and nothing is converted.
    let mut stuck = Script::new().done(PH_7);
    stuck.pin.push(Set::set(State::High));
    stuck.wait(10);
    stuck = stuck.start().done(PH_7 + mv(20));
    for _ in 0..4 {
        stuck.pin.push(Set::set(State::Low).with_error(bad()));
    }
    stuck.wait(3);
    let seen = stuck.seen();
    assert_eq!(
        (seen.fault, seen.reading.health),
        (Some(FrontFault::Bias), Health::Failure)
    );
    assert_eq!(seen.reading.age, Millis(1500));
    // It cannot be turned on: a failure until a check was made.
    let dead = || {
        let mut dead = Script::new().done(PH_7);
        let fails = Set::set(State::High).with_error(bad());
        dead.pin.extend([fails, Set::set(State::Low)]);
        dead.wait(10);
        dead.start().done(PH_7)
    };
    let mut unchecked = dead();
    unchecked.pin.push(Set::set(State::High));
    let seen = unchecked.seen();
    assert_eq!(
        (seen.fault, seen.reading.health),
        (Some(FrontFault::Bias), Health::Failure)
    );
    let seen = dead().check(PH_7 + mv(20), 10).done(PH_7).start().seen();
    assert_eq!((seen.fault, trusted(&seen)), (None, Some(Microvolts(0))));
}

#[test]
fn age_stops_at_the_end_of_its_range() {
    let mut long = Script::checked().done(PH_7).start().play(GLASS);
    assert_eq!(long.read_after(u32::MAX).reading.age, Millis(u32::MAX));
    assert_eq!(long.read_after(u32::MAX).lead, Lead::NotChecked);
    long.close();
}

#[test]
fn a_metal_electrode_has_bounds_of_its_own() {
    // 4.096 V: 125 uV a count, 500 mV at 0 mV of the electrode; settles in one poll.
    const START: [u8; 3] = [1, 0xC3, 0x03];
    let at = |mv: i16| (500 + mv) * 8;
    let lead = |with: i16| {
        let mut script = Script::default();
        script.pin.push(Set::set(State::Low));
        script.wait(2);
        script
            .bus
            .push(Transaction::write(ADDRESS, std::vec![1, 0x83, 0x83]));
        script
            .bus
            .push(Transaction::write(ADDRESS, std::vec![1, 0x83, 0x03]));
        let start = |script: &mut Script| {
            script.status(IDLE);
            script.bus.push(Transaction::write(ADDRESS, START.to_vec()));
        };
        start(&mut script);
        script = script.done(at(700));
        script.pin.push(Set::set(State::High));
        script.wait(1);
        start(&mut script);
        script = script.done(with);
        script.pin.push(Set::set(State::Low));
        script.play_with(METAL, FullScaleRange::Within4_096V).seen()
    };
    assert_eq!(lead(at(700)).lead, Lead::Intact, "a short cannot be told");
    assert_eq!(lead(at(720)).lead, Lead::Intact);
    assert_eq!(lead(at(721)).lead, Lead::HighResistance);
    assert_eq!(lead(at(1500)).lead, Lead::Open);
    assert_eq!(lead(at(700)).reading.value.to_millivolts(), Millivolts(700));
    assert_eq!(METAL.moves_min_mv, Fitted::NotFitted);
}

#[test]
fn the_converters_full_scale_is_the_stated_one() {
    let (mut bus, mut pin) = (Bus::new(&[]), Pin::new(&[]));
    let chip = Chip::new_ads1115(bus.clone(), TargetAddr::Gnd);
    let ads = Ads::new(chip, Input::A0, FullScaleRange::Within4_096V);
    let limits = FrontLimits::try_new(GLASS).unwrap();
    let told = Front::try_new(ads, pin.clone(), limits).map(|_| ());
    let wrong = FrontError::FullScale {
        stated_mv: 2048,
        set_mv: 4096,
    };
    assert_eq!(told, Err(wrong));
    bus.done();
    pin.done();
}
