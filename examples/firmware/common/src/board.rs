//! What a board gives, and the plain loop on it.

use core::fmt;

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::diary::{Clock, Diary};
use crate::keeper::Keeper;
use crate::records::Records;
use crate::site::{CARE, RestoredPool, SiteError, TICK_MS, regulators};
use crate::unit::{Contacts, Lines, OutputPins, Probes, Unit};
use crate::world::{Levels, Script, World};

/// A board: its counter, its dead man, and what stands around it.
pub trait Board {
    /// The counter, ms; it may wrap. A counter of the hardware: time passes also while interrupts are
    /// lost.
    fn now_ms(&self) -> u32;

    /// Sleeps until the counter next reaches a multiple of [`WAKE_MS`], or something else wakes the
    /// core.
    ///
    /// [`WAKE_MS`]: crate::site::WAKE_MS
    fn wait(&mut self);

    /// Tells the dead man that the main program is alive. Called in one place, at the end of the
    /// loop.
    fn feed_dead_man(&mut self);

    /// What the output registers show.
    fn levels(&self) -> Levels;

    /// Stands for the wires of the contacts: closes or opens them.
    fn set_contacts(&mut self, flow: bool, pump: bool);

    /// Says a line to whoever watches.
    fn say(&mut self, line: fmt::Arguments<'_>);
}

/// Five pins.
#[derive(Debug)]
pub struct Pins<O, I> {
    /// Outputs.
    pub outputs: OutputPins<O>,
    /// Contact of the flow switch.
    pub flow: I,
    /// Auxiliary contact of the pump's contactor.
    pub pump: I,
}

/// Flash of the board: a place for each of the two records. Of one chip, two ranges.
#[derive(Debug)]
pub struct Flash<F, K = F> {
    /// For the guard's record.
    pub records: F,
    /// For what persons did and found.
    pub kept: K,
}

/// The whole firmware: starts from flash, then loops until the script has run for `for_ms`. `look`
/// is called at the end of each tick.
///
/// # Errors
/// A figure of the site that is wrong; the outputs are then off.
// Not inlined: the unit is large beside 16 KiB, and a caller that runs it twice would hold two.
#[inline(never)]
pub fn run<B: Board, O: OutputPin, I: InputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    pins: Pins<O, I>,
    flash: Flash<F, K>,
    script: Script,
    for_ms: u32,
    look: impl FnMut(&mut B, &World),
) -> Result<bool, SiteError> {
    run_with(board, pins, flash, script, for_ms, Straight, look)
}

/// As [`run`], with probes of another kind.
///
/// # Errors
/// As [`run`].
pub fn run_with<B: Board, O: OutputPin, I: InputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    pins: Pins<O, I>,
    flash: Flash<F, K>,
    script: Script,
    for_ms: u32,
    source: impl ProbeSource,
    look: impl FnMut(&mut B, &World),
) -> Result<bool, SiteError> {
    let lines = Lines::off(pins.outputs);
    let contacts = Contacts::new(pins.flow, pins.pump);
    let mut records = Records::new(flash.records);
    records.fit().map_err(SiteError::Store)?;
    let mut restored = records.restore(regulators()?);
    restored.0.set_care(CARE);
    let started = (&mut restored, &mut records, flash.kept);
    let world = World::new(script);
    go_round(
        board,
        (lines, contacts),
        started,
        (world, for_ms),
        source,
        look,
    )
}

// Not inlined: what it holds would lie on the stack while the guard's records are read, which is the
// deepest place.
#[inline(never)]
fn go_round<B: Board, O: OutputPin, I: InputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    (lines, mut contacts): (Lines<O>, Contacts<I>),
    (restored, records, kept): (&mut RestoredPool, &mut Records<F>, K),
    (mut world, for_ms): (World, u32),
    mut source: impl ProbeSource,
    mut look: impl FnMut(&mut B, &World),
) -> Result<bool, SiteError> {
    let mut keeper = Keeper::new(kept, board.now_ms());
    keeper.fit().map_err(SiteError::Store)?;
    let mut unit = Unit::new(lines, restored, records, &mut keeper);
    let mut diary = Diary::new();
    say_found(board, &unit);
    let mut schedule = Schedule::new(board.now_ms());
    while world.now_ms() < for_ms {
        let levels = board.levels();
        board.wait();
        let now_ms = board.now_ms();
        world.pass(schedule.passed(now_ms), levels);
        let tick = schedule.is_due(now_ms);
        if tick {
            world.tick();
            board.set_contacts(world.flow(), world.pump());
        }
        contacts.sample(now_ms);
        source.sample(now_ms, &world);
        unit.poll(now_ms);
        unit.keep();
        if tick {
            let witnesses = contacts.read(now_ms);
            let probes = source.read(now_ms, &world);
            let phases = unit.tick(now_ms, witnesses, probes, world.person());
            source.note(&world, |line| board.say(line));
            diary.note(&world, board.levels(), phases, &mut unit, |line| {
                board.say(line);
            });
            let kept = unit.keep_acts(|| board.now_ms());
            if let Err(error) = kept {
                let at = Clock(world.now_ms());
                board.say(format_args!("{at}   what persons did is not kept: {error}"));
            }
            look(board, &world);
        }
        board.feed_dead_man();
    }
    Ok(diary.close(&world, &unit, |line| board.say(line)))
}

/// Where the loop has the probes' values from.
pub trait ProbeSource {
    /// Each time that the program wakes.
    fn sample(&mut self, now_ms: u32, world: &World);

    /// Once a tick, after [`ProbeSource::sample`].
    fn read(&mut self, now_ms: u32, world: &World) -> Probes;

    /// Says what changed in this tick, if anything did.
    fn note(&mut self, world: &World, say: impl FnMut(fmt::Arguments<'_>));
}

/// No probes: the world says what they would.
#[derive(Clone, Copy, Debug)]
pub struct Straight;

impl ProbeSource for Straight {
    fn sample(&mut self, _now_ms: u32, _world: &World) {}

    fn read(&mut self, _now_ms: u32, world: &World) -> Probes {
        world.probes()
    }

    fn note(&mut self, _world: &World, _say: impl FnMut(fmt::Arguments<'_>)) {}
}

/// When ticks are due. It goes by the counter, not by how often the loop went round.
#[derive(Clone, Debug)]
pub struct Schedule {
    seen_ms: u32,
    tick_ms: u32,
}

impl Schedule {
    /// The first tick is due one tick from now.
    #[must_use]
    pub const fn new(now_ms: u32) -> Self {
        Self {
            seen_ms: now_ms,
            tick_ms: now_ms,
        }
    }

    /// Time since this was last asked, ms.
    pub const fn passed(&mut self, now_ms: u32) -> u32 {
        let passed = now_ms.wrapping_sub(self.seen_ms);
        self.seen_ms = now_ms;
        passed
    }

    /// Whether a tick is due now. One that comes late does not make the next one come early by more
    /// than a tick: what was missed is missed, and the clock of the guard sees the gap.
    pub const fn is_due(&mut self, now_ms: u32) -> bool {
        let since = now_ms.wrapping_sub(self.tick_ms);
        if since < TICK_MS {
            return false;
        }
        self.tick_ms = if since < TICK_MS.saturating_mul(2) {
            self.tick_ms.wrapping_add(TICK_MS)
        } else {
            now_ms
        };
        true
    }
}

/// Says what was found in flash, what of a person's acts stands, and what the ledger counts.
pub fn say_found<B: Board, O: OutputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    unit: &Unit<'_, O, F, K>,
) {
    board.say(format_args!("start: {:?}", unit.found()));
    let pool = unit.pool();
    board.say(format_args!(
        "start: kept {:?}, stage {:?}, paused for {} s, lost: {}",
        unit.keeper().found(),
        pool.rung(),
        pool.restraints().paused.0 / 1000,
        pool.is_kept_lost(),
    ));
    let ledger = &pool.guard().state().ledger;
    for (feeder, name) in ["acid", "chlorine"].iter().enumerate() {
        let (_, day) = ledger.totals(feeder, 0);
        board.say(format_args!("start: {name} counts {} uL of the day", day.0));
    }
}
