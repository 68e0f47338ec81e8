//! What charges the two copies of a record hold open, read by the layout that the record documents.
//!
//! Written from that table (`DWRC`, version 2, the counts, ..., 5 N bytes of open charges, CRC-32 of all before), not
//! from the code that seals it: who forgets a charge there has to be seen here.

use crate::plant::MAX_FEEDERS;

const MAGIC: &[u8] = b"DWRC";
/// Where the number of feeders stands.
const FEEDERS_AT: usize = 6;
/// An amount and its body.
const CHARGE_LEN: usize = 5;
const CRC_LEN: usize = 4;

/// CRC-32 as Ethernet has it (IEEE 802.3).
fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, _| (crc >> 1) ^ (0xEDB8_8320 & (crc & 1).wrapping_neg());
    let byte = |crc: u32, byte: &u8| (0..8).fold(crc ^ u32::from(*byte), step);
    !bytes.iter().fold(u32::MAX, byte)
}

/// The open charge of each feeder, in its product's unit; nothing in a copy that is not whole.
fn open_charges(copy: &[u8]) -> [f64; MAX_FEEDERS] {
    let mut charges = [0.0; MAX_FEEDERS];
    let Some((body, crc)) = copy.split_last_chunk::<CRC_LEN>() else {
        return charges;
    };
    let feeders = usize::from(body.get(FEEDERS_AT).copied().unwrap_or(0));
    let from = body.len().checked_sub(feeders * CHARGE_LEN);
    let (true, true, Some(from)) = (
        body.starts_with(MAGIC),
        crc32(body) == u32::from_le_bytes(*crc),
        from,
    ) else {
        return charges;
    };
    let open = body[from..].as_chunks::<CHARGE_LEN>().0;
    for (charge, [a, b, c, d, _]) in charges.iter_mut().zip(open) {
        *charge = f64::from(u32::from_le_bytes([*a, *b, *c, *d]));
    }
    charges
}

/// Reads the two copies, and again only when they have changed.
#[derive(Clone, Debug, Default)]
pub struct StoredCharges {
    copies: [Vec<u8>; 2],
    charges: [[f64; MAX_FEEDERS]; 2],
}

impl StoredCharges {
    /// What both copies hold open for each feeder: a charge that only one of them has could be lost with it.
    pub fn read(&mut self, copies: [Option<&[u8]>; 2]) -> [f64; MAX_FEEDERS] {
        for (at, copy) in copies.into_iter().enumerate() {
            let copy = copy.unwrap_or_default();
            if self.copies[at] != copy {
                copy.clone_into(&mut self.copies[at]);
                self.charges[at] = open_charges(copy);
            }
        }
        core::array::from_fn(|feeder| self.charges[0][feeder].min(self.charges[1][feeder]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two feeders, with these charges open.
    fn copy(charges: [u32; 2]) -> Vec<u8> {
        let mut bytes = MAGIC.to_vec();
        bytes.extend([2, 0, 2, 1, 7, 25]);
        bytes.extend([9; 300]);
        for charge in charges {
            bytes.extend(charge.to_le_bytes());
            bytes.push(0);
        }
        let crc = crc32(&bytes);
        bytes.extend(crc.to_le_bytes());
        bytes
    }

    #[test]
    fn the_check_value_of_the_standard() {
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn what_both_copies_hold_counts() {
        let mut stored = StoredCharges::default();
        let (old, new) = (copy([0, 70]), copy([5_000, 70]));
        assert_eq!(stored.read([Some(&new), Some(&old)])[..2], [0.0, 70.0]);
        assert_eq!(stored.read([Some(&new), Some(&new)])[..2], [5_000.0, 70.0]);
        assert_eq!(stored.read([Some(&new), None])[..2], [0.0, 0.0]);
    }

    #[test]
    fn a_copy_that_is_not_whole_holds_nothing() {
        let mut stored = StoredCharges::default();
        let good = copy([5_000, 70]);
        for at in [0, 6, 100, good.len() - 8, good.len() - 1] {
            let mut bad = good.clone();
            bad[at] ^= 1;
            assert_eq!(stored.read([Some(&good), Some(&bad)])[0], 0.0, "byte {at}");
        }
        assert_eq!(stored.read([Some(&good), Some(&good[..3])])[0], 0.0);
        assert_eq!(stored.read([Some(&good), Some(&good)])[0], 5_000.0);
    }
}
