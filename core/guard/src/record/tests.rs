//! How long a record is, to the byte.

use super::*;

/// As the table of the format counts it, with N feeders, B bodies and so many buckets.
fn length(n: usize, b: usize, buckets: usize) -> usize {
    let head = 4 + 2 + 4 + 4 + 5 + 4 + n;
    let ledger = 8 + n * b * buckets * 4 + 5;
    let locks = 2 + 2 * n + n + 1;
    let ages = 4 * n * b + 4 * n + 4 * n + 4;
    head + ledger + locks + ages + 12 * n + 9 + 1 + 5 * n + 4
}

#[test]
fn a_record_is_as_long_as_its_fields() {
    type Small = Record<2, 1, 7, 25>;
    assert_eq!(Small::LEN, length(2, 1, 7 + 25));
    assert_eq!(Record::<3, 2, 5, 9>::LEN, length(3, 2, 5 + 9));
    let record = Small {
        sequence: 7,
        stamp: None,
        limits_crc: 0,
        products: Some([None; 2]),
        state: State::POWER_ON,
    };
    let mut bytes = [0xEE; 2000];
    assert!(record.encode(&mut bytes).is_ok());
    assert!(bytes.iter().skip(Small::LEN).all(|byte| *byte == 0xEE));
    assert_eq!(Small::decode(&bytes).map(|record| record.sequence), Ok(7));
    let space = RecordError::Space { needed: Small::LEN };
    let short = bytes.get_mut(..Small::LEN - 1).unwrap();
    assert_eq!(record.encode(short), Err(space));
}
