//! How often a record is saved at a pool.

use dosewarden::guard::Ticket;
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

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
