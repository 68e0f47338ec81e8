//! Guard, controller, alarms and events as a board uses them: two feeders, two bodies, the shipping
//! buckets.
#![no_std]
#![no_main]

use days::site::{Pool, SETTINGS, SPEC};
use dosewarden::guard::units::Dose;
use dosewarden::guard::{Limits, Record, TickClock, Ticket};
use dosewarden::regulate::{Direction, SizedDose, Standard};
use dosewarden::{Inputs, Settings};
use size::{from_board, to_board};

/// Checked when it is built.
const LIMITS: Limits<2, 2> = match Limits::try_new(SPEC) {
    Ok(limits) => limits,
    Err(_) => panic!("the limits are broken"),
};
/// Checked when it is built.
const CHECKED: Settings<2> = match Settings::try_new(SETTINGS) {
    Ok(settings) => settings,
    Err(_) => panic!("the settings are broken"),
};

fn regulators() -> Option<[Standard; 2]> {
    let acid = SizedDose::try_new(Direction::Lowers, 7400, 50, Dose::from_ml(40), 100);
    let chlorine = SizedDose::try_new(Direction::Raises, 720, 10, Dose::from_ml(20), 20);
    Some([acid.ok()?.into(), chlorine.ok()?.into()])
}

/// Where it begins.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
#[allow(clippy::empty_loop, reason = "never run: what it takes is measured")]
pub extern "C" fn start() -> ! {
    let Some(regulators) = regulators() else {
        loop {}
    };
    let mut record = from_board([0; Pool::RECORD_LEN]);
    let first = Record::decode(&record).ok();
    let (mut pool, found) =
        Pool::restore(LIMITS, CHECKED, regulators, first.as_ref(), first.as_ref());
    to_board(found);
    let mut clock = TickClock::new();
    loop {
        // With what persons do in it.
        let mut inputs = from_board(Inputs::UNKNOWN);
        inputs.facts.saved = Ticket::of(&record);
        let elapsed = clock.step(from_board(0));
        let mut outputs = pool.tick(elapsed, &inputs);
        to_board((
            outputs.permit::<0>(),
            outputs.permit::<1>(),
            outputs.master(),
        ));
        to_board((outputs.phases, outputs.alarms, outputs.act));
        if outputs.save {
            to_board(pool.seal_record(&mut record));
        }
        for feeder in 0..2 {
            pool.why(feeder).into_iter().flatten().for_each(to_board);
        }
        pool.alarms().listed().for_each(to_board);
        while let Some(event) = pool.events_mut().take_oldest() {
            to_board(event);
        }
    }
}
