//! What both stores keep ends with the CRC-32 of all before it.

use crate::guard::Crc32;

/// The CRC-32 with which sealed bytes end. `None` if it is not that of all before it.
pub(super) fn digest(content: &[u8]) -> Option<u32> {
    let (body, tail) = content.split_last_chunk::<4>()?;
    let digest = u32::from_le_bytes(*tail);
    (Crc32::of(body) == digest).then_some(digest)
}

/// Puts the CRC-32 of the first `end` bytes behind them. How long both are; `None`: no room.
pub(super) fn seal(out: &mut [u8], end: usize) -> Option<usize> {
    let (body, tail) = out.split_at_mut_checked(end)?;
    let tail = tail.first_chunk_mut::<4>()?;
    *tail = Crc32::of(body).to_le_bytes();
    Some(end.saturating_add(4))
}
