//! What a board gives, and the plain loop on it.

use core::fmt;

use dosewarden::guard::Restored;
use embedded_hal::digital::{InputPin, OutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::diary::Diary;
use crate::site::{SLICE_MS, SiteError, TICK_MS};
use crate::unit::{Contacts, OutputPins, Unit};
use crate::world::{Levels, Script, World};

/// A board: its counter, its dead man, and what stands around it.
pub trait Board {
    /// Sleeps until the next slice begins, and gives the counter, ms; it may wrap.
    fn wait_slice(&mut self) -> u32;

    /// Tells the dead man that the main program is alive. Called in one place: once a slice, at the
    /// end of the loop.
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

/// What stands at the end of a tick, for whoever looks on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Now {
    /// Time since the start of the script, ms.
    pub at_ms: u32,
    /// How long the acid pump has been running, if it runs, ms.
    pub acid_runs_for: Option<u32>,
}

/// The whole firmware: starts from flash, then loops until the script has run for `for_ms`. `look`
/// is called at the end of each tick.
///
/// # Errors
/// A figure of the site that is wrong; the outputs are then off.
pub fn run<B: Board, O: OutputPin, I: InputPin, F: NorFlash>(
    board: &mut B,
    pins: Pins<O, I>,
    flash: F,
    script: Script,
    for_ms: u32,
    mut look: impl FnMut(&mut B, Now),
) -> Result<bool, SiteError> {
    let (mut unit, found) = Unit::start(pins.outputs, flash)?;
    let mut contacts = Contacts::new(pins.flow, pins.pump);
    let mut world = World::new(script);
    let mut diary = Diary::new();
    say_found(board, &unit, found);
    while world.now_ms() < for_ms {
        world.pass(board.levels());
        board.set_contacts(world.flow(), world.pump());
        let now_ms = board.wait_slice();
        contacts.sample(now_ms);
        unit.poll(now_ms);
        if world.now_ms().is_multiple_of(TICK_MS) {
            let witnesses = contacts.read(now_ms);
            let phases = unit.tick(now_ms, witnesses, world.probes(), world.person());
            let levels = board.levels();
            diary.note(&world, levels, phases, &mut unit, |line| board.say(line));
            let at_ms = world.now_ms();
            let acid_runs_for = levels
                .acid
                .then(|| world.acid_runs_for().unwrap_or(SLICE_MS));
            look(
                board,
                Now {
                    at_ms,
                    acid_runs_for,
                },
            );
        }
        board.feed_dead_man();
    }
    Ok(diary.close(&world, &unit, |line| board.say(line)))
}

/// Says what was found in flash, and what the ledger counts.
pub fn say_found<B: Board, O: OutputPin, F: NorFlash>(
    board: &mut B,
    unit: &Unit<O, F>,
    found: Restored,
) {
    board.say(format_args!("start: {found:?}"));
    let ledger = &unit.pool().guard().state().ledger;
    for (feeder, name) in ["acid", "chlorine"].iter().enumerate() {
        let (_, day) = ledger.totals(feeder, 0);
        board.say(format_args!("start: {name} counts {} uL of the day", day.0));
    }
}
