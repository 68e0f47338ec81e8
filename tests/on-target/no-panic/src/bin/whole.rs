//! Every entry point of the controller: two feeders, two bodies, the shipping buckets, each of the
//! regulators, and the lines of `embedded-hal`.
#![no_std]
#![no_main]

use core::convert::Infallible;

use dosewarden::alarm::{AlarmId, AlarmState, Alarms, FeederAlarm, SiteAlarm};
use dosewarden::event::{Event, EventKind, Events};
use dosewarden::guard::{Record, TickClock, Ticket, Verdict};
use dosewarden::hal::{DriveLine, FlowSwitch, MasterLine};
use dosewarden::machine::rule_of;
use dosewarden::regulate::{Band, Direction, Regulator, SizedDose, Standard, TimedShare};
use dosewarden::stock::Stock;
use dosewarden::{
    Act, Controller, Inputs, Look, Obstacle, Outputs, Phase, Settings, Why, lockout_words, look_at,
    look_at_lockout, rule_words,
};
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use no_panic::{keep, keep_what_panics};

type Pool = Controller<2, 2, 7, 25, Standard>;
/// With regulators of the caller's own, which nothing is known of.
type Open<'a> = Controller<2, 2, 7, 25, &'a mut dyn Regulator>;

/// A pin that is a byte somewhere: what it does is not the library's.
struct Pin {
    level: u8,
}

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.level = 0;
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.level = 1;
        Ok(())
    }
}

impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.level != 0)
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.level == 0)
    }
}

// Iterators do their work only when they are walked.
fn listed(alarms: &Alarms<2>, seen: &mut dyn FnMut(AlarmId, AlarmState)) {
    alarms.listed().for_each(|(id, state)| seen(id, state));
}

fn events(events: &Events, seen: &mut dyn FnMut(&Event)) {
    events.iter().for_each(&mut *seen);
    events.iter().rev().for_each(seen);
}

fn why(pool: &Pool, feeder: usize, seen: &mut dyn FnMut(Obstacle)) {
    if let Some(why) = pool.why(feeder) {
        why.for_each(seen);
    }
}

fn dropped(line: DriveLine<0, Pin>, master: MasterLine<Pin>) {
    drop(line);
    drop(master);
}

fn controller() {
    keep!(
        Pool::restore,
        Pool::tick,
        Pool::seal_record,
        Pool::set_limits,
        Pool::set_settings,
        Pool::why,
        Pool::phase,
        Pool::wanted,
        Pool::guard,
        Pool::alarms,
        Pool::events,
        Pool::events_mut,
        Pool::regulators_mut,
        Pool::stock,
        Pool::set_stock,
        Pool::days_left,
        Open::restore,
        Open::tick,
        why,
        Why::next,
        Why::clone,
    );
}

fn data() {
    keep!(
        TickClock::step,
        Record::<2, 2, 7, 25>::decode,
        Ticket::of,
        Verdict::<2>::explain,
        Inputs::<2>::new,
        Outputs::<2>::permit::<0>,
        Outputs::<2>::permit::<1>,
        Outputs::<2>::master,
        Outputs::<2>::decision,
        Settings::<2>::try_new,
        Settings::<2>::spec,
        Act::kind,
        Act::authority,
        Look::words,
        look_at,
        look_at_lockout,
        rule_of,
        Obstacle::clears,
        Obstacle::look_at,
        Obstacle::name,
        Obstacle::words,
        Phase::name,
        lockout_words,
        rule_words,
    );
}

fn alarms_and_events() {
    keep!(
        Alarms::<2>::state,
        Alarms::<2>::is_latched,
        Alarms::<2>::summary,
        listed,
        AlarmId::name,
        AlarmId::is_safety_trip,
        AlarmState::calls,
        AlarmState::is_active,
        SiteAlarm::number,
        SiteAlarm::name,
        SiteAlarm::is_latching,
        SiteAlarm::lockout,
        FeederAlarm::number,
        FeederAlarm::name,
        FeederAlarm::is_latching,
        FeederAlarm::lockout,
        events,
        Events::take_oldest,
        Events::next_sequence,
        Events::dropped,
        Events::secs,
        EventKind::number,
        Stock::left,
        Stock::days_left,
    );
}

fn regulators() {
    keep!(
        SizedDose::try_new,
        SizedDose::from_demand_per_tenth_ph,
        SizedDose::set_response,
        SizedDose::set_set_point,
        SizedDose::set_point,
        SizedDose::propose,
        TimedShare::try_new,
        TimedShare::propose,
        Band::try_new,
        Band::is_on,
        Band::propose,
        Standard::propose,
        Direction::deficit,
    );
}

fn lines() {
    keep!(
        DriveLine::<0, Pin>::new,
        DriveLine::<0, Pin>::apply,
        DriveLine::<0, Pin>::poll,
        DriveLine::<0, Pin>::is_on,
        DriveLine::<0, Pin>::fault,
        DriveLine::<0, Pin>::clear_fault,
        MasterLine::<Pin>::new,
        MasterLine::<Pin>::apply,
        MasterLine::<Pin>::poll,
        MasterLine::<Pin>::is_on,
        MasterLine::<Pin>::fault,
        MasterLine::<Pin>::clear_fault,
        FlowSwitch::<Pin>::new,
        FlowSwitch::<Pin>::sample,
        FlowSwitch::<Pin>::read,
        dropped,
    );
}

/// Where the program begins; it is linked and never run.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
pub extern "C" fn start() {
    keep_what_panics();
    controller();
    data();
    alarms_and_events();
    regulators();
    lines();
}
