//! One tick of the unit: what stands on the front page of the crate `dosewarden`, with names.

use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::guard::{Facts, Inhibits, Reading, Restored, TickClock};
use dosewarden::hal::{DriveLine, FlowSwitch, LineFault, MasterLine, Wiring};
use dosewarden::store::KeepError;
use dosewarden::{Inputs, Person, Phase};
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::keeper::Keeper;
use crate::records::Records;
use crate::site::{DEBOUNCE, Pool, RestoredPool};

/// The three outputs. High is on, and each has a pull-down: a reset feeds nothing.
#[derive(Debug)]
pub struct OutputPins<O> {
    /// Acid pump.
    pub acid: O,
    /// Chlorine pump.
    pub chlorine: O,
    /// Series contact.
    pub master: O,
}

/// The witnesses of flow. A closed contact pulls its pin low and the pin has a pull-up, so that a
/// wire that has come off says "no flow".
#[derive(Debug)]
pub struct Contacts<I> {
    flow: FlowSwitch<I>,
    pump: FlowSwitch<I>,
}

impl<I: InputPin> Contacts<I> {
    /// Takes the pins.
    pub const fn new(flow: I, pump: I) -> Self {
        Self {
            flow: FlowSwitch::new(flow, Wiring::ActiveLow, DEBOUNCE),
            pump: FlowSwitch::new(pump, Wiring::ActiveLow, DEBOUNCE),
        }
    }

    /// Looks at both. Each time that the program wakes.
    pub fn sample(&mut self, now_ms: u32) {
        self.flow.sample(now_ms);
        self.pump.sample(now_ms);
    }

    /// The worst of each since this was last asked. Once a tick.
    pub fn read(&mut self, now_ms: u32) -> Witnesses {
        Witnesses {
            flow: self.flow.read(now_ms),
            pump: self.pump.read(now_ms),
        }
    }
}

/// What the contacts said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Witnesses {
    /// Flow switch.
    pub flow: Reading<bool>,
    /// Auxiliary contact of the circulation pump's contactor.
    pub pump: Reading<bool>,
}

impl Witnesses {
    /// Nobody has looked.
    pub const UNKNOWN: Self = Self {
        flow: Reading::unknown(false),
        pump: Reading::unknown(false),
    };
}

/// What the probes said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Probes {
    /// pH.
    pub ph: Reading<MilliPh>,
    /// ORP.
    pub orp: Reading<Millivolts>,
}

impl Probes {
    /// Nobody has measured.
    pub const UNKNOWN: Self = Self {
        ph: Reading::unknown(MilliPh(0)),
        orp: Reading::unknown(Millivolts(0)),
    };
}

/// The three lines.
#[derive(Debug)]
pub struct Lines<O: OutputPin> {
    acid: DriveLine<0, O>,
    chlorine: DriveLine<1, O>,
    master: MasterLine<O>,
}

impl<O: OutputPin> Lines<O> {
    /// Turns all outputs off: before anything that can fail.
    pub fn off(pins: OutputPins<O>) -> Self {
        Self {
            acid: DriveLine::new(pins.acid, Wiring::ActiveHigh),
            chlorine: DriveLine::new(pins.chlorine, Wiring::ActiveHigh),
            master: MasterLine::new(pins.master, Wiring::ActiveHigh),
        }
    }
}

/// The unit: controller, lines, both records.
#[derive(Debug)]
pub struct Unit<'r, O: OutputPin, F, K = F> {
    pool: &'r mut Pool,
    found: Restored,
    acid: DriveLine<0, O>,
    chlorine: DriveLine<1, O>,
    master: MasterLine<O>,
    clock: TickClock,
    records: &'r mut Records<F>,
    keeper: &'r mut Keeper<K>,
}

impl<'r, O: OutputPin, F: NorFlash, K: NorFlash> Unit<'r, O, F, K> {
    /// Puts it together, and what persons did back. Controller and records stay where they are: each is
    /// large beside the stack of a small board.
    pub fn new(
        lines: Lines<O>,
        (pool, found): &'r mut RestoredPool,
        records: &'r mut Records<F>,
        keeper: &'r mut Keeper<K>,
    ) -> Self {
        keeper.put_back(pool, records.is_new());
        Self {
            pool,
            found: *found,
            acid: lines.acid,
            chlorine: lines.chlorine,
            master: lines.master,
            clock: TickClock::new(),
            records,
            keeper,
        }
    }

    /// What was found at the start.
    pub const fn found(&self) -> Restored {
        self.found
    }

    /// One tick: judges, drives the lines, and begins to write a record if one is asked for.
    ///
    /// `now_ms` is the board's free-running counter; it may wrap.
    // Not inlined: what it needs would lie on the stack while the unit starts.
    #[inline(never)]
    pub fn tick(
        &mut self,
        now_ms: u32,
        witnesses: Witnesses,
        probes: Probes,
        person: Option<Person>,
    ) -> [Phase; 2] {
        let mut inputs = Inputs::new(Facts {
            flow_switch: witnesses.flow,
            pump_run: witnesses.pump,
            ph: probes.ph,
            orp: probes.orp,
            inhibits: Inhibits::NONE,
            saved: self.records.confirmed(),
            ..Facts::UNKNOWN
        });
        inputs.person = person;
        let faults = [self.acid.fault(), self.chlorine.fault()];
        inputs.line_faults = faults.map(|fault: Option<LineFault>| fault.is_some());
        inputs.master_fault = self.master.fault().is_some();
        let mut outputs = self.pool.tick(self.clock.step(now_ms), &inputs);
        self.acid.apply(outputs.permit::<0>(), now_ms);
        self.chlorine.apply(outputs.permit::<1>(), now_ms);
        self.master.apply(outputs.master(), now_ms);
        let phases = outputs.phases;
        if outputs.save {
            self.records.begin(self.pool);
        }
        phases
    }

    /// Turns off what no permit covers any more. Each time that the program wakes.
    pub fn poll(&mut self, now_ms: u32) {
        self.acid.poll(now_ms);
        self.chlorine.poll(now_ms);
        self.master.poll(now_ms);
    }

    /// Goes one step further with a record that is being written. Each time that the program wakes.
    pub fn keep(&mut self) {
        let feeding = self.is_feeding();
        self.records.step(feeding);
    }

    const fn is_feeding(&self) -> bool {
        self.acid.is_on() || self.chlorine.is_on()
    }

    /// Saves what persons did and found, if it is due. After each tick: in one that feeds it waits,
    /// since the save blocks. `clock`: the board's counter, ms.
    ///
    /// # Errors
    /// It was not saved: say so. It is tried again.
    pub fn keep_acts(&mut self, clock: impl Fn() -> u32) -> Result<(), KeepError> {
        if self.is_feeding() {
            return Ok(());
        }
        self.keeper.look(self.pool, clock)
    }

    /// The rules that refused each feeder in the last tick, as the bits of their set.
    #[must_use]
    pub fn vetoes(&self) -> [u32; 2] {
        let decision = self.pool.guard().decision();
        decision.feeders.map(|feeder| feeder.vetoes.bits())
    }

    /// The controller, to look at.
    #[must_use]
    pub const fn pool(&self) -> &Pool {
        self.pool
    }

    /// The controller, to take events out.
    pub const fn pool_mut(&mut self) -> &mut Pool {
        self.pool
    }

    /// The store, to look at.
    #[must_use]
    pub const fn records(&self) -> &Records<F> {
        self.records
    }

    /// What keeps the acts of persons, to look at.
    #[must_use]
    pub const fn keeper(&self) -> &Keeper<K> {
        self.keeper
    }
}
