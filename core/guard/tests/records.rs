//! Records whose fields have no meaning, and what a record says of a charge that stood open.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;

use bench::{Bench, R, ask};
use dosewarden_guard::{Crc32, CycleStage, RecordError};

/// As the store holds it after a cycle was charged.
fn charged() -> R {
    let mut bench = Bench::ready();
    bench.tick(ask(45, 0));
    R::decode(bench.copies[0].as_deref().expect("saved")).expect("whole")
}

fn bytes_of(record: &R) -> Vec<u8> {
    let mut bytes = vec![0; R::LEN];
    record.encode(&mut bytes).expect("long enough");
    bytes
}

#[test]
fn an_open_charge_is_read_as_closing_and_none_as_idle() {
    let record = charged();
    let stages = record.state.feeders.map(|own| own.stage);
    assert_eq!(stages, [CycleStage::Closing, CycleStage::Idle]);
    assert!(record.state.feeders[0].charge.0 > 0);
}

#[test]
fn an_answer_of_more_than_four_quarters_has_no_meaning() {
    let mut record = charged();
    for (awaited, known) in [(4, true), (5, false), (255, false)] {
        record.state.response[0].awaited = awaited;
        let read = R::decode(&bytes_of(&record));
        let expected = if known {
            Ok(awaited)
        } else {
            Err(RecordError::Meaning)
        };
        let found = read.map(|record| record.state.response[0].awaited);
        assert_eq!(found, expected, "{awaited}");
    }
}

#[test]
fn the_bits_of_an_answer_are_two() {
    let mut record = charged();
    let without = bytes_of(&record);
    record.state.response[0].quarter = true;
    let with = bytes_of(&record);
    let at = (0..R::LEN).find(|at| without[*at] != with[*at]);
    let at = at.expect("a quarter is written");
    for bits in 0..=u8::MAX {
        let mut bytes = without.clone();
        bytes[at] = bits;
        let (body, crc) = bytes.split_at_mut(R::LEN - 4);
        crc.copy_from_slice(&Crc32::of(body).to_le_bytes());
        let found = R::decode(&bytes).map(|record| {
            let answer = record.state.response[0];
            (answer.quarter, answer.wrong)
        });
        let expected = match bits {
            0..4 => Ok((bits & 1 == 1, bits >= 2)),
            _ => Err(RecordError::Meaning),
        };
        assert_eq!(found, expected, "{bits}");
    }
}
