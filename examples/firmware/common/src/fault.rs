//! Faults made on purpose, to see what happens to the outputs. Only the binaries that are built with
//! the feature `faults` use this.

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::board::{Board, Flash, Pins, run};
use crate::site::DEAD_MAN_MS_MAX;
use crate::world::{Levels, Script};

/// What goes wrong, ten seconds into a dose of acid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The program panics.
    Panic,
    /// The main program stops going round, and its outputs stay as they are.
    Hang,
    /// The chip is reset, as by a dip of its supply.
    Reset,
    /// The stack is used up.
    Overflow,
}

/// How far into the dose, ms.
const INTO_DOSE_MS: u32 = 10_000;
/// By when the first dose of acid has come, and how long the run after the reset is, ms: until acid
/// is fed again.
const BEFORE_MS: u32 = 1_200_000;
const AFTER_MS: u32 = 615_000;

impl Fault {
    /// The fault of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        match name {
            "panic" => Some(Self::Panic),
            "hang" => Some(Self::Hang),
            "reset" => Some(Self::Reset),
            "overflow" => Some(Self::Overflow),
            _ => None,
        }
    }
}

/// What is left in memory that a reset leaves alone: written while the fault lasts, read by the
/// start after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(C)]
pub struct Remains {
    magic: u32,
    /// Counter at the last sign of life of the main program, ms.
    pub alive_ms: u32,
    /// Counter when an output was last seen on, ms.
    pub on_ms: u32,
    /// What an overflow of the stack has come to; and of the memory above the stack.
    overflow: u32,
    sum: u32,
    /// How many starts were before, in a run of several.
    pub start: u32,
}

const MAGIC: u32 = 0x4C45_4654;
/// The stack is being used up; the processor faulted, and the memory above the stack was as before, or
/// was not.
const AWAITED: u32 = 1;
const UNTOUCHED: u32 = 2;
const TOUCHED: u32 = 3;

impl Remains {
    /// At the last sign of life.
    #[must_use]
    pub const fn at(now_ms: u32) -> Self {
        Self {
            magic: MAGIC,
            alive_ms: now_ms,
            on_ms: now_ms,
            overflow: 0,
            sum: 0,
            start: 0,
        }
    }

    /// Before a reset that is a step of a run: so many starts were before the next.
    #[must_use]
    pub const fn of_start(start: u32) -> Self {
        Self {
            start,
            ..Self::at(0)
        }
    }

    /// Before the stack is used up. `sum`: of the memory above it, in which [`Remains::NONE`] stands.
    #[must_use]
    pub const fn before_overflow(now_ms: u32, sum: u32) -> Self {
        Self {
            overflow: AWAITED,
            sum,
            ..Self::at(now_ms)
        }
    }

    /// Whether the stack was being used up when the processor faulted.
    #[must_use]
    pub const fn awaits_overflow(&self) -> bool {
        self.is_some() && self.overflow == AWAITED
    }

    /// What became of it: `sum` as for [`Remains::before_overflow`], outputs as they were until now.
    #[must_use]
    pub const fn after_overflow(self, now_ms: u32, sum: u32) -> Self {
        Self {
            overflow: if sum == self.sum { UNTOUCHED } else { TOUCHED },
            on_ms: now_ms,
            ..self
        }
    }

    /// Whether the memory above the stack was left alone, if the stack was used up.
    #[must_use]
    pub const fn untouched(&self) -> Option<bool> {
        match self.overflow {
            0 => None,
            overflow => Some(overflow == UNTOUCHED),
        }
    }

    /// No fault was made: what a power-on leaves, or what was read already.
    pub const NONE: Self = Self {
        magic: 0,
        alive_ms: 0,
        on_ms: 0,
        overflow: 0,
        sum: 0,
        start: 0,
    };

    /// Whether a fault was made.
    #[must_use]
    pub const fn is_some(&self) -> bool {
        self.magic == MAGIC
    }

    /// Looks at the outputs while the fault lasts.
    pub fn look(&mut self, now_ms: u32, levels: Levels) {
        if levels.acid || levels.chlorine || levels.master {
            self.on_ms = now_ms;
        }
    }

    /// How long an output stayed on after the last sign of life, ms.
    #[must_use]
    pub fn on_for_ms(&self) -> u32 {
        self.on_ms.wrapping_sub(self.alive_ms)
    }

    /// Whether the outputs went off in the stated time.
    #[must_use]
    pub fn held(&self) -> bool {
        self.on_for_ms() <= DEAD_MAN_MS_MAX
    }
}

/// A board that can fail.
pub trait Failing: Board {
    /// What the fault before this start left behind. Taken out: the second call finds nothing.
    fn remains(&mut self) -> Option<Remains>;

    /// What the output registers showed at the start, before anything was written to them.
    fn levels_at_start(&self) -> Levels;

    /// Stops going round, with the outputs as they are. What stops the outputs is the dead man.
    fn hang(&mut self) -> !;

    /// Resets the chip, and leaves that behind.
    fn reset(&mut self, remains: Remains) -> !;

    /// Uses up the stack, with the outputs as they are. What stops the outputs is the processor's
    /// fault.
    fn overflow(&mut self) -> !;
}

/// Runs to the fault that `word` names, or, after a reset, looks at what is left and runs on. True
/// if the outputs went off in the stated time and the run after the fault went well.
pub fn run_with_fault<B: Failing, O: OutputPin, I: InputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    pins: Pins<O, I>,
    flash: Flash<F, K>,
    fault: Option<Fault>,
) -> bool {
    if let Some(remains) = board.remains() {
        let levels = board.levels_at_start();
        board.say(format_args!("after reset: outputs are {levels:?}"));
        board.say(format_args!(
            "after reset: an output was last seen on {} ms after the last sign of life",
            remains.on_for_ms(),
        ));
        if let Some(untouched) = remains.untouched() {
            board.say(format_args!(
                "after reset: what lies above the stack was left alone: {untouched}"
            ));
        }
        let held = remains.held() && levels == Levels::OFF && remains.untouched() != Some(false);
        let went = run(board, pins, flash, Script::Running, AFTER_MS, |_, _| {});
        board.say(format_args!("held: {held}; {went:?}"));
        return held && went == Ok(true);
    }
    let Some(fault) = fault else {
        board.say(format_args!("say panic, hang, reset or overflow"));
        return false;
    };
    let went = run(
        board,
        pins,
        flash,
        Script::NewUnit,
        BEFORE_MS,
        |board, world| {
            if world.acid_runs_for() >= Some(INTO_DOSE_MS) {
                let levels = board.levels();
                board.say(format_args!("{fault:?} on purpose, outputs are {levels:?}"));
                make(board, fault);
            }
        },
    );
    board.say(format_args!("the fault was not made: {went:?}"));
    false
}

#[allow(clippy::panic, reason = "to see what becomes of the outputs")]
fn make<B: Failing>(board: &mut B, fault: Fault) -> ! {
    match fault {
        Fault::Panic => panic!("on purpose"),
        Fault::Hang => board.hang(),
        Fault::Reset => board.reset(Remains::at(0)),
        Fault::Overflow => board.overflow(),
    }
}
