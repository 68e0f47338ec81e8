//! How long a flash lasts.

use dosewarden::store::RecordStore;

use crate::flash::Flash;
use crate::rig::sealed;

/// Saves on a busy day, what the docs of the store reckon with: the first pool is seen to need no more.
const SAVES_A_DAY: u32 = 300;
/// The same of what is kept.
const KEPT_A_DAY: u32 = 60;

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
