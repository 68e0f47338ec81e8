//! The power goes at every byte of every write and in every erase of a life with many charges.

use dosewarden::guard::{FeedRequest, Inhibits};

use crate::flash::every_cut;
use crate::life::{Chip, Life, PAGE, boot, check};

/// Who asks when: acid and hypochlorite in turn, whole and small doses, with pauses.
pub(crate) fn asks(second: u32, seed: u32) -> [FeedRequest; 2] {
    let turn = (second + seed * 97) / 230;
    let dose = [45, 60, 12, 30, 7][((turn + seed) % 5) as usize];
    if turn.is_multiple_of(7) {
        [FeedRequest::NONE; 2]
    } else {
        crate::life::ask((turn % 2) as usize, dose)
    }
}

/// Lives for some seconds, and tries every cut of every operation on the flash.
fn live_and_cut(seconds: u32, seed: u32, steps_a_tick: u32) -> (Life, usize) {
    let mut life = Life::begun();
    let mut cuts = 0;
    for second in 0..seconds {
        if second == seconds - 400 {
            life.facts.inhibits = Inhibits::EMERGENCY_STOP;
        }
        life.tick(1000, asks(second, seed), None);
        life.facts.inhibits = Inhibits::NONE;
        for _ in 0..steps_a_tick {
            let before = life.store.flash_mut().ops;
            let truth = life.truth;
            assert!(life.step());
            let flash = life.store.flash_mut();
            if flash.ops == before {
                continue;
            }
            let (bytes, op) = flash.last.clone().unwrap();
            for image in every_cut::<PAGE>(&bytes, &op) {
                let (_, guard, found) = boot(Chip::holding(image));
                check(&guard, found, &truth);
                cuts += 1;
            }
        }
    }
    (life, cuts)
}

#[test]
fn after_every_cut_the_restored_total_covers_what_was_fed() {
    let (life, cuts) = live_and_cut(7200, 1, 1);
    let truth = life.truth;
    // So that it is known to have tried something.
    assert!(truth.saves > 40, "{} saves", truth.saves);
    assert!(truth.permits > 400, "{} seconds of feed", truth.permits);
    assert!(cuts > 40_000, "{cuts} cuts");
    let (site, _) = truth.durable.unwrap();
    assert!(site.iter().next().is_some(), "a lockout was saved");
}

#[test]
fn so_it_does_where_a_save_takes_one_tick() {
    let (life, cuts) = live_and_cut(2500, 4, 9);
    assert!(life.truth.permits > 100 && cuts > 10_000);
}

/// Many cuts in one life, each in a write or an erase at random, and the unit goes on after each.
#[test]
fn through_many_cuts_the_restored_total_covers_what_was_fed() {
    let mut cuts = 0;
    let mut permits = 0;
    for seed in 0..40_u32 {
        let mut noise = u64::from(seed) * 2 + 1;
        let mut random = move |below: u64| {
            noise = noise
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (noise >> 33) % below
        };
        let mut life = Life::begun();
        for second in 0..5000 {
            let busy = life.store.is_busy();
            life.tick(1000, asks(second, seed), None);
            if !busy && life.store.is_busy() && random(4) == 0 {
                life.store.flash_mut().fuel = Some(random(5000) as usize);
            }
            let free = !life.runs() && life.store.erase_due();
            let ahead = !free || life.store.erase_ahead().is_ok();
            if !(life.step() && ahead) {
                cuts += 1;
                let truth = life.truth;
                let mut flash = life.store.into_flash();
                flash.power_up();
                life = Life::on(flash, truth);
            }
        }
        permits += life.truth.permits;
    }
    assert!(cuts > 200, "{cuts} cuts");
    assert!(permits > 4000, "{permits} seconds of feed");
}
