//! Random lives: they start healthy, with demands that stand, and then up to three timed faults.
//! Uniform random facts almost never reach a permit.

use proptest::prelude::*;

use crate::directed::{DIRECTED, direct};
use crate::site::{Plan, plans};

/// What goes wrong, for a while. Feeders are numbered; a number too high means the last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    FlowSwitch(Bad),
    FlowMeter(Bad),
    Pump(Bad),
    Cell(Bad),
    /// The water stands, and every witness says so.
    NoFlow,
    Ph(Bad),
    Orp(Bad),
    /// Past the cut-off.
    PhPast,
    OrpPast,
    /// ORP at, or so many mV from, the cut-off that has fallen with a weak pH.
    OrpNear(u8),
    /// Valves in another body, or bad.
    OtherBody,
    Valves(Bad),
    Stock(u8, Bad),
    /// Feedback says on all the time, off all the time, lags, or is bad.
    FeedbackOn(u8),
    FeedbackOff(u8),
    FeedbackLate(u8),
    Feedback(u8, Bad),
    Inhibit(u8),
    HoursOver,
    Minute(Bad),
    /// One tick of this length: 0, or far too long.
    Gap(u16),
    /// Every tick longer than allowed.
    SlowTicks,
    /// The seals, for one tick.
    State,
    Limits,
    /// Power is lost in mid-tick, for so many seconds; which copies survive.
    PowerCut(u16, Copies),
    SaveLate(u8),
    SaveLost,
    /// The water does not answer, or the wrong way.
    Unanswered,
    WrongAnswer,
    /// The demand ends; is in another mode; is small.
    Withdrawn(u8),
    Manual(u8),
    ManualWithout(u8),
    Fallback(u8),
    FallbackWithout(u8),
    /// A person says that a probe is new; sets the reduced, the full stage.
    NewProbe,
    Reduced,
    /// Above `ph_weak`: chlorine is weak.
    PhWeak,
    /// So many seconds without power, as a good clock shows.
    OffCredit(u16),
}

/// How a reading is bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bad {
    No,
    Stale,
    Failed,
    Check,
    Unknown,
}

/// What a power cut leaves of the record that was being written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Copies {
    /// What stood.
    Both,
    /// The first place rotted, or was torn.
    First,
    Second,
    /// The record in the writing reached the first place only, or both.
    Half,
    Whole,
    Neither,
}

/// A fault from a tick on, for so many ticks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Event {
    pub(crate) at: u32,
    pub(crate) ticks: u32,
    pub(crate) fault: Fault,
}

impl Event {
    pub(crate) const fn stands(&self, tick: u32) -> bool {
        tick >= self.at && tick - self.at < self.ticks
    }

    pub(crate) const fn begins(&self, tick: u32) -> bool {
        tick == self.at
    }
}

/// Who asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Demand {
    /// All feeders, all the time.
    All,
    /// All, in turns: a feeder that is refused withdraws.
    Turns,
    One(u8),
}

/// One life.
#[derive(Clone, Debug)]
pub(crate) struct Script {
    pub(crate) plan: Plan,
    pub(crate) demand: Demand,
    pub(crate) tick_ms: u32,
    pub(crate) ticks: u32,
    pub(crate) events: Vec<Event>,
    /// From this tick on a person releases what can be released.
    pub(crate) person_at: u32,
    /// Through the pure step, which lets seals break; else through the guard.
    pub(crate) pure: bool,
}

fn bad() -> impl Strategy<Value = Bad> {
    use Bad::{Check, Failed, No, Stale, Unknown};
    prop_oneof![
        Just(No),
        Just(Stale),
        Just(Failed),
        Just(Check),
        Just(Unknown)
    ]
}

fn copies() -> impl Strategy<Value = Copies> {
    use Copies::{Both, First, Half, Neither, Second, Whole};
    prop_oneof![
        4 => Just(Both),
        1 => Just(First),
        1 => Just(Second),
        2 => Just(Half),
        2 => Just(Whole),
        1 => Just(Neither),
    ]
}

fn readings() -> impl Strategy<Value = Fault> {
    prop_oneof![
        bad().prop_map(Fault::FlowSwitch),
        bad().prop_map(Fault::FlowMeter),
        bad().prop_map(Fault::Pump),
        bad().prop_map(Fault::Cell),
        Just(Fault::NoFlow),
        bad().prop_map(Fault::Ph),
        bad().prop_map(Fault::Orp),
        Just(Fault::PhPast),
        Just(Fault::OrpPast),
        (0..8_u8).prop_map(Fault::OrpNear),
        bad().prop_map(Fault::Valves),
        Just(Fault::OtherBody),
        (0..3_u8, bad()).prop_map(|(f, bad)| Fault::Stock(f, bad)),
        (0..3_u8).prop_map(Fault::FeedbackOn),
        (0..3_u8).prop_map(Fault::FeedbackOff),
        (0..3_u8).prop_map(Fault::FeedbackLate),
        (0..3_u8, bad()).prop_map(|(f, bad)| Fault::Feedback(f, bad)),
        bad().prop_map(Fault::Minute),
    ]
}

fn others() -> impl Strategy<Value = Fault> {
    prop_oneof![
        2 => (0..8_u8).prop_map(Fault::Inhibit),
        1 => Just(Fault::HoursOver),
        2 => prop_oneof![Just(0), 2001..60_000_u16].prop_map(Fault::Gap),
        1 => Just(Fault::SlowTicks),
        2 => Just(Fault::State),
        1 => Just(Fault::Limits),
        4 => (0..4000_u16, copies()).prop_map(|(s, copies)| Fault::PowerCut(s, copies)),
        1 => (1..9_u8).prop_map(Fault::SaveLate),
        1 => Just(Fault::SaveLost),
        1 => Just(Fault::Unanswered),
        2 => Just(Fault::WrongAnswer),
        1 => (0..3_u8).prop_map(Fault::Withdrawn),
        2 => (0..3_u8).prop_map(Fault::Manual),
        1 => (0..3_u8).prop_map(Fault::ManualWithout),
        2 => (0..3_u8).prop_map(Fault::Fallback),
        1 => (0..3_u8).prop_map(Fault::FallbackWithout),
        1 => Just(Fault::NewProbe),
        1 => Just(Fault::Reduced),
        1 => Just(Fault::PhWeak),
        1 => (60..60_000_u16).prop_map(Fault::OffCredit),
    ]
}

/// Any fault.
pub(crate) fn faults() -> impl Strategy<Value = Fault> {
    prop_oneof![readings(), others()]
}

fn events() -> impl Strategy<Value = Vec<Event>> {
    let event = (0..140_u32, 1..40_u32, faults());
    let event = event.prop_map(|(at, ticks, fault)| Event { at, ticks, fault });
    proptest::collection::vec(event, 0..4)
}

fn demands() -> impl Strategy<Value = Demand> {
    prop_oneof![
        2 => Just(Demand::All),
        3 => Just(Demand::Turns),
        2 => (0..3_u8).prop_map(Demand::One),
    ]
}

/// Any life, on any site.
pub(crate) fn lives() -> impl Strategy<Value = Script> {
    let person = prop_oneof![3 => 30..160_u32, 1 => Just(u32::MAX)];
    let rest = (100..500_u32, any::<bool>(), 0..DIRECTED);
    (plans(), demands(), events(), person, rest).prop_map(
        |(plan, demand, events, person_at, (tick_ms, pure, focus))| {
            let mut script = Script {
                plan,
                demand,
                tick_ms: tick_ms * 4,
                ticks: 170,
                events,
                person_at,
                pure,
            };
            direct(&mut script, focus);
            script
        },
    )
}

/// Lives of a day and more: feed, then off time, and again. No other faults.
pub(crate) fn long_lives() -> impl Strategy<Value = Script> {
    let off = prop_oneof![60..5000_u16, 60..60_000_u16];
    let off = off.prop_map(Fault::OffCredit);
    let event = (50..600_u32, off).prop_map(|(at, fault)| Event {
        at,
        ticks: 1,
        fault,
    });
    let events = proptest::collection::vec(event, 1..9);
    (plans(), demands(), events, 300..500_u32).prop_map(|(mut plan, demand, events, tick_ms)| {
        plan.hours = false;
        plan.unanswered_max = 3;
        Script {
            plan,
            demand,
            tick_ms: tick_ms * 4,
            ticks: 600,
            events,
            person_at: 60,
            pure: true,
        }
    })
}

/// Healthy lives, with nothing used up soon.
pub(crate) fn healthy_lives() -> impl Strategy<Value = Script> {
    (plans(), demands(), 100..500_u32, any::<bool>()).prop_map(
        |(mut plan, demand, tick_ms, pure)| {
            plan.hour_cycles = 3;
            plan.unanswered_max = 3;
            Script {
                plan,
                demand,
                tick_ms: tick_ms * 4,
                ticks: 0,
                events: Vec::new(),
                person_at: 0,
                pure,
            }
        },
    )
}
