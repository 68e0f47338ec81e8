//! What a run prints: a line for each tick in which something changed, and a sum at the end. The
//! same on every board, so that one board's text can be compared with a kept one.

use core::fmt;

use dosewarden::Phase;
use dosewarden::event::EventKind;
use embedded_hal::digital::OutputPin;
use embedded_storage::nor_flash::NorFlash;

use crate::keeper::SAVE_MS_MAX;
use crate::unit::Unit;
use crate::world::{Levels, World};

/// What was said last.
#[derive(Clone, Debug, Default)]
pub struct Diary {
    last: Option<Line>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Line {
    flow: bool,
    pump: bool,
    levels: Levels,
    phases: [Phase; 2],
}

impl Diary {
    /// An empty one.
    #[must_use]
    pub const fn new() -> Self {
        Self { last: None }
    }

    /// Says what changed in this tick, and the events in it. All events go to the log as well.
    pub fn note<O: OutputPin, F: NorFlash, K: NorFlash>(
        &mut self,
        world: &World,
        levels: Levels,
        phases: [Phase; 2],
        unit: &mut Unit<'_, O, F, K>,
        mut say: impl FnMut(fmt::Arguments<'_>),
    ) {
        let at = Clock(world.now_ms());
        let line = Line {
            flow: world.flow(),
            pump: world.pump(),
            levels,
            phases,
        };
        if self.last != Some(line) {
            let [acid, chlorine] = phases;
            say(format_args!(
                "{at} pump {} flow {} | master {} | acid {} {acid:?} | chlorine {} {chlorine:?}",
                OnOff(line.pump),
                OnOff(line.flow),
                OnOff(levels.master),
                OnOff(levels.acid),
                OnOff(levels.chlorine),
            ));
            self.last = Some(line);
        }
        while let Some(event) = unit.pool_mut().events_mut().take_oldest() {
            #[cfg(feature = "defmt")]
            defmt::info!("{}", event);
            if !matches!(event.kind, EventKind::Phase { .. }) {
                say(format_args!("{at}   {:?}", event.kind));
            }
        }
    }

    /// Says what was fed and what is counted. True if nothing went into standing water, the ledger
    /// counts no less than what was fed, and every record was saved, in time where that blocks.
    pub fn close<O: OutputPin, F: NorFlash, K: NorFlash>(
        &self,
        world: &World,
        unit: &Unit<'_, O, F, K>,
        mut say: impl FnMut(fmt::Arguments<'_>),
    ) -> bool {
        let (acid_ms, chlorine_ms, dry_ms) = world.fed_ms();
        let ledger = &unit.pool().guard().state().ledger;
        let mut covered = true;
        for (feeder, (name, fed_ms)) in [("acid", acid_ms), ("chlorine", chlorine_ms)]
            .into_iter()
            .enumerate()
        {
            let (_, booked) = ledger.totals(feeder, 0);
            // 30 mL a minute: half a microlitre in a millisecond.
            let fed = fed_ms.div_ceil(2);
            covered &= booked.0 >= fed;
            say(format_args!(
                "end: {name} ran {fed_ms} ms, fed {fed} uL, ledger counts {} uL",
                booked.0
            ));
        }
        let (written, failed) = unit.records().counts();
        say(format_args!(
            "end: into standing water {dry_ms} ms; records written {written}, failed {failed}"
        ));
        let (kept, not_kept, longest_ms) = unit.keeper().counts();
        let in_time = longest_ms <= SAVE_MS_MAX;
        say(format_args!(
            "end: what persons did kept {kept} times, failed {not_kept}, each within {SAVE_MS_MAX} ms: {in_time}"
        ));
        covered && failed == 0 && dry_ms == 0 && not_kept == 0 && in_time
    }
}

/// Time as hours, minutes, seconds.
#[derive(Clone, Copy, Debug)]
pub struct Clock(pub u32);

impl fmt::Display for Clock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.0 / 1000;
        let (hours, minutes) = (seconds / 3600, (seconds / 60) % 60);
        write!(f, "{hours:02}:{minutes:02}:{:02}", seconds % 60)
    }
}

struct OnOff(bool);

impl fmt::Display for OnOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0 { "on" } else { "off" })
    }
}
