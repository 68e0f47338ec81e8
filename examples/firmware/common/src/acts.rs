//! What a person did stands after a reset, and without the record of it the unit only observes. Four
//! starts, with a real reset after each of the first three; only the binaries that are built with the
//! feature `faults` use this.

use embedded_hal::digital::{InputPin, OutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::board::{Flash, Pins, run};
use crate::fault::{Failing, Remains};
use crate::site::SiteError;
use crate::world::{PAUSED_MS, Script};

/// As after a fault: until acid is fed, if nothing stands in the way.
const AFTER_MS: u32 = 615_000;

/// Goes on with the starts: which of them this is, the one before has left behind. True if in the second
/// and in the third nothing was fed, and in the fourth both products.
pub fn run_with_acts<B: Failing, O: OutputPin, I: InputPin, F: NorFlash, K: NorFlash>(
    board: &mut B,
    pins: Pins<O, I>,
    mut flash: Flash<F, K>,
) -> bool {
    let before = board.remains().map_or(0, |remains| remains.start);
    let (script, for_ms) = match before {
        0 => (Script::Paused, u32::MAX),
        2 => (Script::Released, AFTER_MS),
        _ => (Script::Running, AFTER_MS),
    };
    if before == 2 {
        let erased =
            u32::try_from(flash.kept.capacity()).is_ok_and(|all| flash.kept.erase(0, all).is_ok());
        board.say(format_args!("what was kept is erased: {erased}"));
        if !erased {
            return false;
        }
    }
    let mut fed = (0, 0);
    let went = run(board, pins, flash, script, for_ms, |board, world| {
        // In the tick of the pause: what a person did is kept at once.
        if before == 0 && world.now_ms() >= PAUSED_MS {
            go_on(board, 1);
        }
        let (acid_ms, chlorine_ms, _) = world.fed_ms();
        fed = (acid_ms, chlorine_ms);
    });
    close(board, before, fed, went)
}

fn close<B: Failing>(
    board: &mut B,
    before: u32,
    fed: (u32, u32),
    went: Result<bool, SiteError>,
) -> bool {
    let (acid_ms, chlorine_ms) = fed;
    let (should_feed, feeds) = (before == 3, acid_ms > 0 && chlorine_ms > 0);
    let none = acid_ms == 0 && chlorine_ms == 0;
    let held = went == Ok(true) && if should_feed { feeds } else { none };
    board.say(format_args!("held: {held}; {went:?}"));
    match before {
        1 | 2 if held => go_on(board, before.saturating_add(1)),
        _ => held,
    }
}

fn go_on<B: Failing>(board: &mut B, start: u32) -> ! {
    board.say(format_args!("reset"));
    board.reset(Remains::of_start(start))
}
