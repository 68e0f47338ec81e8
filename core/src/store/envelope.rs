//! What the settings image and the kept record have in common around what they hold: a magic number, a
//! version, a shape, a CRC-32 behind it all, and values field by field between.

use serde::{Deserialize, Serialize};

use super::seal::{digest, seal};
pub(super) use super::wire::Misfit;
use super::wire::{Reader, Writer};

const HEAD: usize = 8;
const TAIL: usize = 4;

/// Puts head and CRC around what `fill` writes; it gives what it left of the room. How long all of
/// it is; `None`: no room.
pub(super) fn close(
    (magic, version, shape): ([u8; 4], u16, [u8; 2]),
    out: &mut [u8],
    fill: impl FnOnce(&mut [u8]) -> Result<&mut [u8], Misfit>,
) -> Option<usize> {
    let (head, rest) = out.split_first_chunk_mut::<HEAD>()?;
    let ([m, n, o, p], [a, b], [c, d]) = (magic, version.to_le_bytes(), shape);
    *head = [m, n, o, p, a, b, c, d];
    let all = rest.len();
    let left = fill(rest).ok()?.len();
    seal(out, HEAD.saturating_add(all.saturating_sub(left)))
}

/// Version, shape and what lies between head and CRC. `None`: torn, rotten, or something else.
pub(super) fn open(bytes: &[u8], magic: [u8; 4]) -> Option<(u16, [u8; 2], &[u8])> {
    digest(bytes)?;
    let (body, _) = bytes.split_last_chunk::<TAIL>()?;
    let (head, rest) = body.split_first_chunk::<HEAD>()?;
    let [m, n, o, p, a, b, c, d] = *head;
    let version = u16::from_le_bytes([a, b]);
    ([m, n, o, p] == magic).then_some((version, [c, d], rest))
}

/// A number of feeders or bodies, for a shape.
pub(super) fn count(of: usize) -> u8 {
    u8::try_from(of).unwrap_or(u8::MAX)
}

/// Writes a value. What is left of the room.
pub(super) fn put<'a, T: Serialize>(value: &T, out: &'a mut [u8]) -> Result<&'a mut [u8], Misfit> {
    let mut writer = Writer::new(out);
    value.serialize(&mut writer)?;
    Ok(writer.into_left())
}

/// Reads a value. What comes after it.
pub(super) fn take<'a, T: Deserialize<'a>>(bytes: &'a [u8]) -> Result<(T, &'a [u8]), Misfit> {
    take_without(bytes, 0)
}

/// The same where each variant with named fields has not yet so many, its last ones: they are read as their defaults.
pub(super) fn take_without<'a, T: Deserialize<'a>>(
    bytes: &'a [u8],
    missing: usize,
) -> Result<(T, &'a [u8]), Misfit> {
    let mut reader = Reader::without(bytes, missing);
    let value = T::deserialize(&mut reader)?;
    Ok((value, reader.left()))
}
