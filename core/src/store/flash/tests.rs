//! Headers, field by field.

use super::*;

const MOST: usize = 172;

const HEAD: Head = Head {
    serial: 1,
    length: 108,
    next_erased: true,
    digest: 0x1234_5678,
};

/// What is read of a header with other bytes at one place and a CRC that fits.
fn read(at: usize, bytes: &[u8]) -> Option<Head> {
    let mut header = HEAD.encode();
    header[at..at + bytes.len()].copy_from_slice(bytes);
    let crc = Crc32::of(&header[..16]).to_le_bytes();
    header[16..].copy_from_slice(&crc);
    Head::decode(&header, MOST)
}

#[test]
fn a_header_is_read_as_it_was_written_and_one_with_a_field_out_of_range_is_none() {
    assert_eq!(read(0, b"DWSL"), Some(HEAD));
    assert_eq!(read(0, b"DWSM"), None);
    assert!(read(10, &[0]).is_some_and(|head| !head.next_erased));
    assert_eq!(read(10, &[2]), None);
    assert_eq!(read(11, &[1]), None);
    assert_eq!(read(4, &[0; 4]), None, "serials count from 1");
    let long = |length: u16| read(8, &length.to_le_bytes());
    assert!(long(4).is_some() && long(3).is_none());
    assert!(long(172).is_some() && long(173).is_none());
    let mut rotten = HEAD.encode();
    rotten[5] ^= 1;
    assert_eq!(Head::decode(&rotten, MOST), None);
}
