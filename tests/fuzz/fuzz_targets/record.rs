//! A record of any bytes: read or refused, written again as it was read, and a guard that starts from it feeds
//! nothing of which it knows nothing.

#![no_main]

use dosewarden_guard::units::Dose;
use dosewarden_guard::{Crc32, Facts, FeedRequest, Guard, Mode, Record, TickClock};
use libfuzzer_sys::fuzz_target;

#[path = "../../../core/tests/pool/mod.rs"]
mod pool;

type OurRecord = Record<2, 1, 7, 25>;

fuzz_target!(|bytes: &[u8]| {
    let _ = OurRecord::decode(bytes);
    // What is sealed passes the checksum: the rest is judged by its meaning.
    let mut sealed = bytes.to_vec();
    sealed.resize(OurRecord::LEN, 0);
    let end = OurRecord::LEN - 4;
    let digest = Crc32::of(&sealed[..end]);
    sealed[end..].copy_from_slice(&digest.to_le_bytes());
    let Ok(record) = OurRecord::decode(&sealed) else {
        return;
    };
    let mut again = vec![0; OurRecord::LEN];
    record.encode(&mut again).expect("it has room");
    // One of version 1 does not say what its feeders gave: it is written as if they had been out of use.
    let written = OurRecord {
        products: Some(record.products.unwrap_or_default()),
        ..record.clone()
    };
    assert_eq!(OurRecord::decode(&again), Ok(written));
    without_facts(&record);
});

/// Whatever the record says: without a fact nothing is fed.
fn without_facts(record: &OurRecord) {
    let limits = pool::Pool::begun().controller.guard().limits().clone();
    let (mut guard, _) = Guard::<2, 1, 7, 25>::restore(limits, Some(record), Some(record));
    let asked = FeedRequest {
        dose: Dose(10_000),
        mode: Mode::Automatic,
    };
    let mut clock = TickClock::new();
    for tick in 0..100 {
        let elapsed = clock.step(tick * 1000);
        let mut verdict = guard.judge(elapsed, Facts::UNKNOWN, [asked; 2].into(), None);
        assert!(verdict.permit::<0>().is_none() && verdict.permit::<1>().is_none());
        assert!(verdict.master().is_none());
    }
}
