//! The same controller, with its inputs from a host over the serial link, tick by tick. Outputs,
//! records and dead man are the board's. If the host falls silent the board ticks on by its own
//! counter, with nothing known.
#![no_std]
#![no_main]

use cortex_m::peripheral::NVIC;
use firmware_common::board::{Board, Pins};
use firmware_common::keeper::Keeper;
use firmware_common::link::{Answer, Kind, Reader, Request, STEPS_A_TICK};
use firmware_common::nor::{KEPT_PAGE, MemoryNor};
use firmware_common::records::Records;
use firmware_common::site::{CARE, TICK_MS, regulators};
use firmware_common::unit::{Lines, Probes, Unit, Witnesses};
use firmware_cortex_m3::{self as board, Lm3s, clock, pins, uart};
use lm3s6965::Interrupt;

/// Silence for this long is a host that has gone, ms: less than the largest gap between ticks.
const SILENT_MS: u32 = 1500;

/// Where the board's counter and the host's time were at the last tick.
struct Sync {
    board_ms: u32,
    host_ms: u32,
}

impl Sync {
    const fn now_ms(&self, board_ms: u32) -> u32 {
        let since = board_ms.wrapping_sub(self.board_ms);
        self.host_ms.wrapping_add(since)
    }
}

#[cortex_m_rt::entry]
fn main() -> ! {
    // Interrupts wake the core and are never taken: everything happens in the loop.
    cortex_m::interrupt::disable();
    let Some((mut lm3s, pins, flash)) = board::take() else {
        semihosting::process::exit(1)
    };
    let Pins { outputs, .. } = pins;
    let lines = Lines::off(outputs);
    let Ok(regulators) = regulators() else {
        semihosting::process::exit(1)
    };
    let mut records = Records::new(flash.records);
    let mut keeper = Keeper::new(flash.kept, lm3s.now_ms());
    if records.fit().is_err() || keeper.fit().is_err() {
        semihosting::process::exit(1)
    }
    let mut restored = records.restore(regulators);
    restored.0.set_care(CARE);
    let mut unit = Unit::new(lines, &mut restored, &mut records, &mut keeper);
    lm3s.say(format_args!("start: {:?}", unit.found()));
    uart::set_up();
    // SAFETY: no critical section relies on this interrupt's mask.
    unsafe { NVIC::unmask(Interrupt::UART0) };
    let mut reader = Reader::new();
    let mut sync = Sync {
        board_ms: lm3s.now_ms(),
        host_ms: 0,
    };
    let mut heard_ms = lm3s.now_ms();
    loop {
        clock::set_wake();
        cortex_m::asm::wfi();
        clock::on_wake();
        while let Some(byte) = uart::byte() {
            if let Some(request) = reader.take(byte) {
                heard_ms = lm3s.now_ms();
                answer(&mut lm3s, &mut unit, &mut sync, &request);
            }
        }
        NVIC::unpend(Interrupt::UART0);
        NVIC::unpend(Interrupt::TIMER_0A);
        let board_ms = lm3s.now_ms();
        let now_ms = sync.now_ms(board_ms);
        unit.poll(now_ms);
        let silent = board_ms.wrapping_sub(heard_ms) >= SILENT_MS;
        if silent && board_ms.wrapping_sub(sync.board_ms) >= TICK_MS {
            unit.tick(now_ms, Witnesses::UNKNOWN, Probes::UNKNOWN, None);
            keep(&lm3s, &mut unit);
            sync = Sync {
                board_ms,
                host_ms: now_ms,
            };
        }
        lm3s.feed_dead_man();
    }
}

/// After a tick: the guard's record, then what persons did. That it could not be kept is counted, and said at
/// the end.
fn keep(lm3s: &Lm3s, unit: &mut Unit<'_, pins::Out, MemoryNor, MemoryNor<KEPT_PAGE>>) {
    for _ in 0..STEPS_A_TICK {
        unit.keep();
    }
    let _counted = unit.keep_acts(|| lm3s.now_ms());
}

fn answer(
    lm3s: &mut Lm3s,
    unit: &mut Unit<'_, pins::Out, MemoryNor, MemoryNor<KEPT_PAGE>>,
    sync: &mut Sync,
    request: &Request,
) {
    match request.kind {
        Kind::Tick => {
            let now_ms = request.now_ms;
            unit.tick(
                now_ms,
                request.witnesses(),
                request.probes(),
                request.person(),
            );
            keep(lm3s, unit);
            *sync = Sync {
                board_ms: lm3s.now_ms(),
                host_ms: now_ms,
            };
        }
        Kind::Look | Kind::End => {}
    }
    let answer = Answer {
        kind: request.kind,
        now_ms: request.now_ms,
        levels: lm3s.levels(),
        vetoes: unit.vetoes(),
    };
    uart::send(&answer.encode());
    if request.kind == Kind::End {
        let (written, failed) = unit.records().counts();
        let (kept, not_kept, _) = unit.keeper().counts();
        lm3s.say(format_args!(
            "end: records written {written}, failed {failed}; what persons did kept {kept} times, failed {not_kept}"
        ));
        semihosting::process::exit(i32::from(failed > 0 || not_kept > 0))
    }
}
