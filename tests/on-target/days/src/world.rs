//! What the controller is told: water, witnesses and drives that mostly work, and up to three
//! faults with a beginning and an end.
//!
//! Not a model of a pool; the simulator has that. It answers well enough that cycles are permitted,
//! fed, closed and judged, and that each fault is met in the midst of it.

use dosewarden::Inputs;
use dosewarden::guard::units::{
    Body, ClockSeconds, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay,
};
use dosewarden::guard::{Facts, FeederFacts, Health, Inhibits, Reading};

use crate::draw::Draw;

/// What can go wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// Water stands still, and every witness says so.
    FlowLost,
    /// Water stands still, and flow switch and meter say that it flows.
    SwitchStuck,
    /// Flow comes and goes.
    FlowFlickers,
    /// The pH probe is not healthy.
    PhFails,
    /// The ORP probe is not healthy.
    OrpFails,
    /// Readings get old.
    ReadingsAge,
    /// pH jumps by a draw in each tick.
    PhNoise,
    /// The water goes the wrong way under acid.
    WrongWay,
    /// A drive runs against its command.
    DriveRuns,
    /// A drive does not start.
    DriveDead,
    /// Ticks come at odd times: at once, late, far too late.
    OddTicks,
    /// The counter jumps back.
    CounterBack,
    /// The store does not answer.
    StoreSilent,
    /// The store confirms another record than the last.
    StoreStale,
    /// The valves move.
    ValvesMove,
    /// The valves' position is not known.
    ValvesUnknown,
    /// Somebody wants no feed.
    Inhibited,
    /// The drums are empty.
    DrumsEmpty,
    /// The pump is known to stop soon.
    PumpStops,
    /// An output has failed.
    OutputFails,
    /// The real-time clock leaps.
    ClockLeaps,
    /// Nothing is known.
    Blind,
}

const FAULTS: [Fault; 22] = [
    Fault::FlowLost,
    Fault::SwitchStuck,
    Fault::FlowFlickers,
    Fault::PhFails,
    Fault::OrpFails,
    Fault::ReadingsAge,
    Fault::PhNoise,
    Fault::WrongWay,
    Fault::DriveRuns,
    Fault::DriveDead,
    Fault::OddTicks,
    Fault::CounterBack,
    Fault::StoreSilent,
    Fault::StoreStale,
    Fault::ValvesMove,
    Fault::ValvesUnknown,
    Fault::Inhibited,
    Fault::DrumsEmpty,
    Fault::PumpStops,
    Fault::OutputFails,
    Fault::ClockLeaps,
    Fault::Blind,
];

/// A fault and when it stands, in ticks of the day.
#[derive(Clone, Copy, Debug)]
struct Timed {
    fault: Fault,
    from: u32,
    until: u32,
}

/// Everything outside the controller.
#[derive(Clone, Debug)]
pub(crate) struct World {
    faults: [Option<Timed>; 3],
    ph: i32,
    orp: i32,
    body: u8,
    clock_secs: u32,
    minute: u16,
    /// The button for a feed by hand is held.
    button: bool,
    /// What each drive was permitted in the last tick.
    pub(crate) commanded: [bool; 2],
}

impl World {
    pub(crate) fn drawn(draw: &mut Draw, ticks: u32) -> Self {
        let mut faults = [None; 3];
        let count = draw.below(4);
        for (place, _) in faults.iter_mut().zip(0..count) {
            let from = draw.within(ticks >> 3, ticks);
            // Short ones, and ones that stand to the end.
            let length = draw.one_of([1, 3, 20, 90, ticks]);
            *place = Some(Timed {
                fault: draw.one_of(FAULTS),
                from,
                until: from + draw.within(1, length),
            });
        }
        Self {
            faults,
            ph: 7600 + draw.around_zero(350),
            orp: 660 + draw.around_zero(70),
            body: u8::from(draw.once_in(3)),
            clock_secs: 1_000_000 + draw.below(1_000_000),
            minute: draw.one_of([355, 700, 700, 1312]),
            button: false,
            commanded: [false; 2],
        }
    }

    pub(crate) fn has(&self, fault: Fault, tick: u32) -> bool {
        let mut all = self.faults.iter().flatten();
        all.any(|one| one.fault == fault && one.from <= tick && tick < one.until)
    }

    /// Time from the last tick to this one, to add to the counter.
    pub(crate) fn gap_ms(&self, draw: &mut Draw, tick: u32) -> u32 {
        if self.has(Fault::CounterBack, tick) && draw.once_in(3) {
            return draw.within(1, 5000).wrapping_neg();
        }
        if self.has(Fault::OddTicks, tick) {
            return draw.one_of([0, 1, 199, 1999, 2000, 2001, 30_000, 4_000_000, 90_000_000]);
        }
        draw.one_of([200, 500, 999, 1000, 1000, 1000, 1001, 1500, 2000])
    }

    /// Time without power.
    pub(crate) fn off(&mut self, secs: u32) {
        self.clock_secs += secs;
        self.commanded = [false; 2];
    }

    /// Lets the water move on, and says what is seen of it.
    pub(crate) fn inputs(&mut self, draw: &mut Draw, tick: u32, gap_ms: u32) -> Inputs<2> {
        let here = |fault| self.has(fault, tick);
        let still = here(Fault::FlowLost) || here(Fault::SwitchStuck);
        let flickers = here(Fault::FlowFlickers) && draw.once_in(4);
        let flow = !still && !flickers;
        let fed = self
            .commanded
            .map(|on| on && flow && !here(Fault::DriveDead));
        let back = if here(Fault::WrongWay) { 4 } else { -1 };
        let drift = i32::from(draw.once_in(12));
        let noise = if here(Fault::PhNoise) { 300 } else { 2 };
        let (ph_fails, orp_fails) = (here(Fault::PhFails), here(Fault::OrpFails));
        let age = if here(Fault::ReadingsAge) {
            draw.below(9000)
        } else {
            draw.below(400)
        };
        let stuck = here(Fault::SwitchStuck);
        let moves = here(Fault::ValvesMove) && draw.once_in(10);
        let leaps = here(Fault::ClockLeaps) && draw.once_in(5);
        if moves {
            self.body ^= 1;
        }
        self.clock_secs = self.clock_secs.wrapping_add((gap_ms + 500) / 1000);
        if leaps {
            self.clock_secs = self.clock_secs.wrapping_add(draw.below(100_000));
        }
        self.minute = (self.minute + u16::from(draw.once_in(60))) % 1440;
        self.ph += drift + back * i32::from(fed[0]);
        self.orp += i32::from(fed[1]) - drift;
        let ph = Reading::now(MilliPh(self.ph + draw.around_zero(noise)));
        let orp = Reading::now(Millivolts(self.orp + draw.around_zero(2)));
        self.button ^= draw.once_in(20);
        let drives = self.drives(tick, gap_ms, flow);
        let here = |fault| self.has(fault, tick);
        let facts = Facts {
            flow_switch: aged(Reading::now(flow || stuck), age),
            flow_meter: aged(
                Reading::now(FlowMlPerS(if flow || stuck { 4000 } else { 0 })),
                age,
            ),
            pump_run: Reading::now(!still),
            ph: aged(failing(ph, ph_fails, draw), age),
            orp: aged(failing(orp, orp_fails, draw), age),
            body: failing(
                Reading::now(Body(self.body)),
                here(Fault::ValvesUnknown),
                draw,
            ),
            inhibits: if here(Fault::Inhibited) {
                Inhibits::from_bits(1 << draw.below(8))
            } else {
                Inhibits::NONE
            },
            minute: Reading::now(MinuteOfDay(self.minute)),
            clock: Reading::now(ClockSeconds(self.clock_secs)),
            saved: None,
            feeders: drives,
        };
        let mut inputs = Inputs::new(if here(Fault::Blind) {
            Facts::UNKNOWN
        } else {
            facts
        });
        inputs.pump_due = draw.one_of([None, Some(true), Some(true), Some(!still)]);
        self.outside(draw, tick, &mut inputs);
        inputs
    }

    /// What stands outside the facts: a stop of the pump that is known, outputs that have failed.
    fn outside(&self, draw: &mut Draw, tick: u32, inputs: &mut Inputs<2>) {
        if self.has(Fault::PumpStops, tick) {
            inputs.pump_stops_in = Some(Millis(draw.within(0, 90_000)));
        }
        if self.has(Fault::OutputFails, tick) {
            inputs.line_faults = [draw.once_in(2), draw.once_in(2)];
            inputs.master_fault = draw.once_in(4);
        }
    }

    fn drives(&self, tick: u32, gap_ms: u32, flow: bool) -> [FeederFacts; 2] {
        self.commanded.map(|on| {
            let against = self.has(Fault::DriveRuns, tick);
            let runs = (on && !self.has(Fault::DriveDead, tick)) || against;
            FeederFacts {
                feedback: Reading::now(Millis(if runs { gap_ms.min(60_000) } else { 0 })),
                stock: Reading::now(!self.has(Fault::DrumsEmpty, tick)),
                cell_flow: Reading::now(flow),
                hold_to_run: Reading::now(self.button),
            }
        })
    }
}

fn aged<T>(reading: Reading<T>, age_ms: u32) -> Reading<T> {
    Reading {
        age: Millis(age_ms),
        ..reading
    }
}

fn failing<T>(reading: Reading<T>, fails: bool, draw: &mut Draw) -> Reading<T> {
    if !fails {
        return reading;
    }
    Reading {
        health: draw.one_of([
            Health::Failure,
            Health::Failure,
            Health::CheckFunction,
            Health::OutOfSpecification,
            Health::MaintenanceRequired,
        ]),
        ..reading
    }
}
