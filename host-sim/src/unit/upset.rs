//! What goes wrong with a control unit: between the wiring and its program, and inside it.
//!
//! Invariant: a fault between is done to any unit from outside, so every unit has it. A fault inside is asked of
//! the unit, which may have nothing of the kind.

use crate::plant::ProbeId;

/// What goes wrong between wiring and program. The letter and number are the fault's id in the catalogue.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnitFault {
    /// S11: pH and ORP probe are on each other's input.
    ProbesSwapped,
    /// S12: samples stay and their stamps age.
    StampStale(ProbeId),
    /// S13: stamps lie ahead, so that their age wraps.
    StampAhead(ProbeId),
    /// S14: each sample comes this many times, as if it were new.
    SampleRepeats(ProbeId, u32),
    /// S15: what comes is not a number.
    NotANumber(ProbeId),
    /// S15: what comes is past all range.
    Overflow(ProbeId),
    /// S15: volts come for millivolts: a thousandth.
    WrongUnit(ProbeId),
    /// S16: so many mV come on top of both probes while the circulation pump runs.
    GroundLoop(f64),
    /// S19: ORP reads so many mV lower while a cell is driven.
    CellBubbles(f64),
    /// K8: a part of what is read is from the tick before.
    InputsTorn,
    /// L1, L2, L3: the clock is so many minutes ahead; back if negative.
    ClockAhead(i32),
    /// L4: the clock is not known.
    ClockUnknown,
    /// L7: the clock stands.
    ClockFrozen,
    /// L6: the unit's time runs at this share of true time.
    CounterRate(f64),
    /// K6: the unit's time stands, as a counter that stops at its end.
    CounterStands,
    /// K1: once a minute a tick comes so many ms late.
    TickLate(u32),
    /// K2: each so many ticks one is left out.
    TickSkipped(u32),
    /// K3: each tick is run twice.
    TickDoubled,
    /// K4: the program stands, and its outputs with it.
    Hung,
    /// A10: each so many ticks the command for a feeder does not come.
    PulseMissed(u32),
    /// A9: commands come a tick late.
    CommandLate,
    /// A7: the drives of the first two feeders are on each other's output, feedback with them.
    DrivesSwapped,
}

impl UnitFault {
    /// The same fault of the same part, whatever its size.
    #[must_use]
    pub fn same_kind(&self, other: &Self) -> bool {
        use core::mem::discriminant;
        let probe = |fault: &Self| match *fault {
            Self::StampStale(id)
            | Self::StampAhead(id)
            | Self::SampleRepeats(id, _)
            | Self::NotANumber(id)
            | Self::Overflow(id)
            | Self::WrongUnit(id) => Some(id),
            _ => None,
        };
        discriminant(self) == discriminant(other) && probe(self) == probe(other)
    }
}

/// What goes wrong inside a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InsideFault {
    /// K5: a bit of its state flips; which, by this number.
    StateBit(u32),
    /// L5: its free-running counter is so many ms before its end.
    CounterNearEnd(u32),
    /// T1: a write tears with the next loss of power, however short it is.
    TearNextWrite,
    /// T2: bits rot in one copy of what it keeps.
    Rot {
        /// Which copy, 0 or 1; 2 is both.
        copy: u8,
        /// Which byte, counted round.
        at: u16,
    },
    /// T3, T4: writes change nothing.
    WritesIgnored,
    /// They work again.
    WritesWork,
    /// T5: somebody makes a copy of what it keeps.
    CopyAway,
    /// T5: and puts it back later.
    CopyBack,
    /// T6: what it keeps is erased.
    Erased,
    /// T7: what it keeps is of another version.
    OtherVersion,
    /// K7: its caps are set to this percentage of what they are.
    Caps(u8),
}
