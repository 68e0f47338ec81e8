//! How long a record is, to the byte, and what names it.

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
    let ticket = record.encode(&mut bytes).unwrap();
    assert_eq!(ticket.sequence, 7);
    let written = bytes.get(..Small::LEN).unwrap();
    assert_eq!(Ticket::of(written), Some(ticket));
    assert_eq!(Ticket::of(&bytes), None, "with what comes after it");
    assert!(bytes.iter().skip(Small::LEN).all(|byte| *byte == 0xEE));
    assert_eq!(Small::decode(&bytes).map(|record| record.sequence), Ok(7));
    let space = RecordError::Space { needed: Small::LEN };
    let short = bytes.get_mut(..Small::LEN - 1).unwrap();
    assert_eq!(record.encode(short), Err(space));
}

#[test]
fn whole_bytes_of_something_else_have_no_ticket() {
    let ticket = |magic: &[u8; 4]| {
        let mut bytes = [0; 18];
        let mut writer = Writer::new(&mut bytes);
        writer.bytes(magic);
        writer.bytes(&[2, 0, 2, 1, 7, 25]);
        writer.u32(7);
        let digest = Crc32::of(writer.written());
        writer.u32(digest);
        Ticket::of(&bytes).map(|ticket| (ticket.sequence, ticket.digest == digest))
    };
    assert_eq!(ticket(&MAGIC), Some((7, true)));
    assert_eq!(ticket(b"DWRD"), None);
}
