//! Lines, with a pin that checks what is done to it.

use super::*;

use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};

use crate::bench::{SPEC, healthy};
use crate::guard::units::Dose;
use crate::guard::{Action, FeedRequest, Guard, Limits, Mode, PersonAction, Stage, TickClock};

const ON: State = State::High;
const OFF: State = State::Low;

fn pin(steps: &[(State, bool)]) -> Mock {
    let all: std::vec::Vec<Transaction> = steps
        .iter()
        .map(|(state, works)| {
            let step = Transaction::set(*state);
            if *works {
                step
            } else {
                step.with_error(MockError::Io(std::io::ErrorKind::Other))
            }
        })
        .collect();
    Mock::new(&all)
}

fn works(steps: &[State]) -> Mock {
    let all: std::vec::Vec<(State, bool)> = steps.iter().map(|state| (*state, true)).collect();
    pin(&all)
}

fn output(pin: &Mock, wiring: Wiring) -> Output<Mock, NoTimer> {
    Output::new(pin.clone(), NoTimer, wiring)
}

#[test]
fn off_at_birth_on_with_a_permit_off_without() {
    let mut pin = works(&[OFF, ON, OFF, OFF]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    line.apply(Some(2000), 0);
    assert!(line.cover.is_some() && line.poll(1999));
    line.apply(None, 1000);
    assert!(line.cover.is_none());
    drop(line);
    pin.done();
}

#[test]
fn active_low_is_the_other_way_round() {
    let mut pin = works(&[ON, OFF, ON, ON]); // high is off
    let mut line = output(&pin, Wiring::ActiveLow);
    line.apply(Some(2000), 0);
    line.apply(None, 1000);
    drop(line);
    pin.done();
}

#[test]
fn off_when_the_permit_lapses_also_across_the_wrap() {
    for start in [0, u32::MAX - 500] {
        let mut pin = works(&[OFF, ON, OFF, OFF]);
        let mut line = output(&pin, Wiring::ActiveHigh);
        line.apply(Some(1000), start);
        assert!(line.poll(start.wrapping_add(999)));
        assert!(!line.poll(start.wrapping_add(1000)), "start {start}");
        drop(line);
        pin.done();
    }
}

#[test]
fn off_when_dropped_while_on() {
    let mut pin = works(&[OFF, ON, OFF]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    line.apply(Some(1000), 0);
    drop(line);
    pin.done();
}

#[test]
fn a_permit_for_no_time_is_none() {
    let mut pin = works(&[OFF, OFF, OFF]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    line.apply(Some(0), 0);
    assert!(line.cover.is_none());
    drop(line);
    pin.done();
}

#[test]
fn a_pin_that_cannot_be_turned_on_is_turned_off_and_out_of_use() {
    let mut pin = pin(&[
        (OFF, true),
        (ON, false),
        (OFF, true),
        (OFF, true),
        (OFF, true),
    ]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    line.apply(Some(1000), 0);
    assert_eq!(line.fault, Some(LineFault::PinOn));
    line.apply(Some(1000), 10); // a permit does not help
    assert!(line.cover.is_none());
    drop(line);
    pin.done();
}

#[test]
fn a_pin_that_cannot_be_turned_off_is_tried_again_at_every_call() {
    let mut pin = pin(&[
        (OFF, true),
        (ON, true),
        (OFF, false), // no permit
        (OFF, false),
        (OFF, false), // poll
        (OFF, false),
        (OFF, false), // with a permit all the same
        (OFF, true),
        (OFF, true), // drop
    ]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    line.apply(Some(1000), 0);
    line.apply(None, 100);
    assert_eq!(line.fault, Some(LineFault::PinOff));
    line.poll(200);
    line.apply(Some(1000), 300);
    assert!(line.cover.is_none());
    drop(line);
    pin.done();
}

#[test]
fn a_pin_that_fails_at_birth_is_out_of_use_until_a_technician_clears_it() {
    let mut pin = pin(&[
        (OFF, false),
        (OFF, false),
        (OFF, true), // cleared
        (ON, true),
        (OFF, true), // drop
    ]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    assert_eq!(line.fault, Some(LineFault::PinOff));
    assert!(!line.clear_fault(Authority::Operator));
    assert!(line.clear_fault(Authority::Technician));
    line.apply(Some(1000), 0);
    assert!(line.cover.is_some());
    drop(line);
    pin.done();
}

#[test]
fn a_fault_that_still_stands_is_not_cleared() {
    let mut pin = pin(&[
        (OFF, false),
        (OFF, false),
        (OFF, false),
        (OFF, false),
        (OFF, true),
    ]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    assert!(!line.clear_fault(Authority::Maker));
    assert_eq!(line.fault, Some(LineFault::PinOff));
    drop(line);
    pin.done();
}

/// A timer that writes down what is done to it.
#[derive(Default)]
struct Noted {
    calls: std::vec::Vec<Option<u32>>,
    arm_fails: bool,
    disarm_fails: bool,
}

impl CutTimer for &mut Noted {
    type Error = ();

    fn arm(&mut self, run_ms: u32) -> Result<(), ()> {
        self.calls.push(Some(run_ms));
        if self.arm_fails { Err(()) } else { Ok(()) }
    }

    fn disarm(&mut self) -> Result<(), ()> {
        self.calls.push(None);
        if self.disarm_fails { Err(()) } else { Ok(()) }
    }
}

#[test]
fn the_timer_is_set_before_the_pin_and_freed_after_it() {
    let mut pin = works(&[OFF, ON, ON, OFF, OFF]);
    let mut timer = Noted::default();
    let mut line = Output::new(pin.clone(), &mut timer, Wiring::ActiveHigh);
    line.apply(Some(2000), 0);
    line.apply(Some(700), 1000);
    line.apply(None, 2000);
    drop(line);
    pin.done();
    assert_eq!(timer.calls, [Some(2000), Some(700), None]);
}

#[test]
fn without_its_timer_an_output_is_not_turned_on() {
    let mut pin = works(&[OFF, OFF, OFF]);
    let mut timer = Noted {
        arm_fails: true,
        ..Noted::default()
    };
    let mut line = Output::new(pin.clone(), &mut timer, Wiring::ActiveHigh);
    line.apply(Some(2000), 0);
    assert_eq!(line.fault, Some(LineFault::Timer));
    drop(line);
    pin.done();
    assert_eq!(timer.calls, [Some(2000), None]);
}

#[test]
fn a_timer_that_cannot_be_freed_is_a_fault() {
    let mut pin = works(&[OFF, ON, OFF, OFF, OFF]);
    let mut timer = Noted {
        disarm_fails: true,
        ..Noted::default()
    };
    let mut line = Output::new(pin.clone(), &mut timer, Wiring::ActiveHigh);
    line.apply(Some(2000), 0);
    line.apply(None, 100);
    assert_eq!(line.fault, Some(LineFault::Timer));
    line.apply(Some(2000), 200);
    drop(line);
    pin.done();
}

#[test]
fn while_the_pin_cannot_be_turned_off_its_timer_stays_set() {
    let mut pin = pin(&[
        (OFF, true),
        (ON, true),
        (OFF, false),
        (OFF, false),
        (OFF, true),
    ]);
    let mut timer = Noted::default();
    let mut line = Output::new(pin.clone(), &mut timer, Wiring::ActiveHigh);
    line.apply(Some(2000), 0);
    line.apply(None, 100);
    assert_eq!(line.timer.calls, [Some(2000)]);
    drop(line);
    pin.done();
    assert_eq!(timer.calls, [Some(2000), None]);
}

#[test]
fn lines_take_the_permits_of_a_real_guard() {
    let limits = Limits::try_new(SPEC).unwrap();
    let (mut guard, _) = Guard::<2, 1, 7, 25>::restore(limits, None, None);
    let mut clock = TickClock::new();
    let mut drive_pin = Mock::new(&[]);
    let mut master_pin = Mock::new(&[]);
    let mut facts = healthy();
    let request = FeedRequest {
        dose: Dose::from_ml(45),
        mode: Mode::Automatic,
    };
    let actions = [Action::Initialise, Action::SetStage(Stage::Full)];
    clock.step(0);
    let mut ran = 0;
    for second in 1..=800_u32 {
        let now_ms = second * 1000;
        let action = actions
            .get(usize::try_from(second).unwrap() - 1)
            .map(|action| PersonAction {
                by: Authority::Technician,
                action: *action,
            });
        let requests = [request, FeedRequest::NONE];
        let mut verdict = guard.judge(clock.step(now_ms), facts, requests, action);
        let (permit, master) = (verdict.permit::<0>(), verdict.master());
        let expected = if permit.is_some() { ON } else { OFF };
        ran += u32::from(permit.is_some());
        drive_pin.update_expectations(&[
            Transaction::set(OFF),
            Transaction::set(expected),
            Transaction::set(OFF),
        ]);
        master_pin.update_expectations(&[
            Transaction::set(OFF),
            Transaction::set(expected),
            Transaction::set(OFF),
        ]);
        let mut drive = DriveLine::<0, _>::new(drive_pin.clone(), Wiring::ActiveHigh);
        let mut contact = MasterLine::new(master_pin.clone(), Wiring::ActiveHigh);
        drive.apply(permit, now_ms);
        contact.apply(master, now_ms);
        assert_eq!(drive.is_on(), expected == ON);
        assert_eq!(contact.is_on(), expected == ON);
        drop((drive, contact));
        drive_pin.done();
        master_pin.done();
        if guard.decision().save {
            let mut bytes = [0; 2048];
            facts.saved = guard.seal_record(&mut bytes).ok();
        }
    }
    assert!(ran > 60, "{ran} ticks with a permit");
}

#[test]
fn a_line_that_could_not_be_turned_on_says_so_until_a_technician_has_seen_to_it() {
    let steps = [OFF; 4];
    let (mut drive_pin, mut master_pin) = (works(&steps), works(&steps));
    let mut drive = DriveLine::<0, _>::new(drive_pin.clone(), Wiring::ActiveHigh);
    let mut master = MasterLine::new(master_pin.clone(), Wiring::ActiveHigh);
    drive.output.failed(LineFault::PinOn);
    master.output.failed(LineFault::PinOn);
    assert_eq!(
        (drive.fault(), master.fault()),
        (Some(LineFault::PinOn), Some(LineFault::PinOn))
    );
    // Polled, it is turned off once more.
    assert!(!drive.poll(10) && !master.poll(10));
    assert!(!drive.clear_fault(Authority::Operator) && !master.clear_fault(Authority::Operator));
    assert!(drive.clear_fault(Authority::Technician) && master.clear_fault(Authority::Technician));
    assert_eq!((drive.fault(), master.fault()), (None, None));
    drop((drive, master));
    drive_pin.done();
    master_pin.done();
}

#[test]
fn of_two_faults_the_first_stands_unless_the_pin_cannot_be_turned_off() {
    let mut pin = works(&[OFF, OFF]);
    let mut line = output(&pin, Wiring::ActiveHigh);
    let mut shown = |fault| {
        line.failed(fault);
        line.fault
    };
    assert_eq!(shown(LineFault::Timer), Some(LineFault::Timer));
    assert_eq!(shown(LineFault::PinOn), Some(LineFault::Timer));
    assert_eq!(shown(LineFault::PinOff), Some(LineFault::PinOff));
    assert_eq!(shown(LineFault::Timer), Some(LineFault::PinOff));
    drop(line);
    pin.done();
}
