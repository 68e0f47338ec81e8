//! The same controller in an interrupt-driven program: the contacts are sampled in the timer's
//! interrupt, and the controller ticks in a task of lower priority. It prints what the plain loop
//! prints.
#![no_std]
#![no_main]

use firmware_cortex_m3 as board;

#[rtic::app(device = lm3s6965, dispatchers = [SSI0])]
mod app {
    use firmware_common::board::{Board, Schedule, say_found};
    use firmware_common::diary::{Clock, Diary};
    use firmware_common::keeper::Keeper;
    use firmware_common::nor::{KEPT_PAGE, MemoryNor};
    use firmware_common::records::Records;
    use firmware_common::site::{CARE, RestoredPool, regulators};
    use firmware_common::unit::{Contacts, Lines, Unit};
    use firmware_common::world::{Script, World};

    use crate::board::pins::{In, Out};
    use crate::board::{Lm3s, clock, pins, set_up};

    /// Two hours and a half.
    const FOR_MS: u32 = 9_000_000;

    /// What the interrupt and the task both use.
    #[shared]
    struct Shared {
        contacts: Contacts<In>,
        world: World,
    }

    /// What one of them uses alone.
    #[local]
    struct Local {
        schedule: Schedule,
        unit: Unit<'static, Out, MemoryNor, MemoryNor<KEPT_PAGE>>,
        diary: Diary,
        lm3s: Lm3s,
    }

    #[init(local = [
        records: Option<Records<MemoryNor>> = None,
        restored: Option<RestoredPool> = None,
        keeper: Option<Keeper<MemoryNor<KEPT_PAGE>>> = None,
    ])]
    fn init(cx: init::Context) -> (Shared, Local) {
        let (mut lm3s, pins, flash) = set_up(cx.core.SYST);
        let lines = Lines::off(pins.outputs);
        let Ok(regulators) = regulators() else {
            semihosting::process::exit(1)
        };
        let records = cx.local.records.insert(Records::new(flash.records));
        let kept = Keeper::new(flash.kept, lm3s.now_ms());
        let keeper = cx.local.keeper.insert(kept);
        if records.fit().is_err() || keeper.fit().is_err() {
            semihosting::process::exit(1)
        }
        let restored = cx.local.restored.insert(records.restore(regulators));
        restored.0.set_care(CARE);
        let unit = Unit::new(lines, restored, records, keeper);
        say_found(&mut lm3s, &unit);
        clock::set_wake();
        let shared = Shared {
            contacts: Contacts::new(pins.flow, pins.pump),
            world: World::new(Script::NewUnit),
        };
        let local = Local {
            schedule: Schedule::new(lm3s.now_ms()),
            unit,
            diary: Diary::new(),
            lm3s,
        };
        (shared, local)
    }

    /// Sleeps between interrupts.
    #[idle]
    fn idle(_: idle::Context) -> ! {
        loop {
            rtic::export::wfi();
        }
    }

    /// Samples, and sends the task round. If the task has not come round since the last time, nothing
    /// is sent, and nobody feeds the dead man.
    #[task(binds = TIMER_0A, priority = 2, local = [schedule], shared = [contacts, world])]
    fn wake(cx: wake::Context) {
        clock::on_wake();
        clock::set_wake();
        let now_ms = clock::now_ms();
        let passed_ms = cx.local.schedule.passed(now_ms);
        let due = cx.local.schedule.is_due(now_ms);
        (cx.shared.contacts, cx.shared.world).lock(|contacts, world| {
            world.pass(passed_ms, pins::levels());
            if due {
                world.tick();
                pins::set_contacts(world.flow(), world.pump());
            }
            contacts.sample(now_ms);
        });
        let _not_round_yet = round::spawn(now_ms, due);
    }

    #[task(priority = 1, local = [unit, diary, lm3s], shared = [contacts, world])]
    async fn round(cx: round::Context, now_ms: u32, due: bool) {
        let round::LocalResources {
            unit, diary, lm3s, ..
        } = cx.local;
        unit.poll(now_ms);
        unit.keep();
        if due {
            let (witnesses, world) = (cx.shared.contacts, cx.shared.world)
                .lock(|contacts, world| (contacts.read(now_ms), world.clone()));
            let phases = unit.tick(now_ms, witnesses, world.probes(), world.person());
            diary.note(&world, lm3s.levels(), phases, unit, |line| lm3s.say(line));
            if let Err(error) = unit.keep_acts(|| lm3s.now_ms()) {
                let at = Clock(world.now_ms());
                lm3s.say(format_args!("{at}   what persons did is not kept: {error}"));
            }
            if world.now_ms() >= FOR_MS {
                let went = diary.close(&world, unit, |line| lm3s.say(line));
                lm3s.say(format_args!("Ok({went})"));
                semihosting::process::exit(i32::from(!went))
            }
        }
        lm3s.feed_dead_man();
    }
}
