//! How often a record is saved at a pool, and how long a flash lasts.

use dosewarden::guard::Ticket;
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

use crate::flash::Flash;
use crate::kept_unit::KEPT_A_DAY;
use crate::rig::sealed;
use dosewarden::store::RecordStore;

/// Saves on the busiest day of the first pool's week: charges, closings, ends of buckets, a power
/// cut, lockouts. What the docs of the store reckon with.
const SAVES_A_DAY: u32 = 300;

#[test]
fn the_first_pool_saves_no_more_often_than_the_docs_reckon() {
    let scenario = Scenario::first_pool();
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).unwrap();
    let mut days = Vec::new();
    let mut before = 0;
    for _ in 0..scenario.days {
        pool.run_for_days(1);
        let record = pool.unit_mut().flash_mut().read_back().map(<[u8]>::to_vec);
        let sequence = record
            .and_then(|bytes| Ticket::of(&bytes))
            .unwrap()
            .sequence;
        days.push(sequence - before);
        before = sequence;
    }
    let most = days.iter().max().copied().unwrap();
    assert!(most <= SAVES_A_DAY, "{days:?}");
    assert!(most > SAVES_A_DAY * 2 / 3, "reckoned too high: {days:?}");
}

/// Erases of the page that is erased most, after some saves.
fn erases<const ERASE: usize>(pages_a_range: u32, saves: u32) -> u32 {
    let half = pages_a_range * ERASE as u32;
    let flash = Flash::<8, ERASE>::new(2 * pages_a_range as usize);
    let mut store = RecordStore::new(flash, [0..half, half..2 * half]).unwrap();
    for sequence in 1..=saves {
        store.save(&sealed(sequence)).unwrap();
    }
    store.into_flash().erases.into_iter().max().unwrap()
}

/// Whole years at 100,000 erases of a page.
fn years<const ERASE: usize>(pages_a_range: u32) -> u32 {
    years_at::<ERASE>(pages_a_range, SAVES_A_DAY)
}

fn years_at<const ERASE: usize>(pages_a_range: u32, saves_a_day: u32) -> u32 {
    let days = 8;
    100_000 * days / erases::<ERASE>(pages_a_range, saves_a_day * days) / 365
}

#[test]
fn pages_last_as_long_as_the_docs_say() {
    assert_eq!(years::<1024>(2), 3);
    assert_eq!(years::<1024>(16), 28);
    assert_eq!(years::<2048>(2), 7);
    assert_eq!(years::<4096>(2), 14);
    assert_eq!(years::<4096>(4), 28);
    assert_eq!(years_at::<1024>(2, KEPT_A_DAY), 18);
}
