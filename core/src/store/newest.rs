//! The newest of what two ranges hold, where an older one must not stand in for it.

use embedded_storage::nor_flash::NorFlash;

use super::error::{Damage, Found};
use super::flash::Side;
use super::log::Log;

/// Why there is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoNewest {
    /// Nothing was ever written.
    Empty,
    /// Something was begun, and the newest of it is not whole.
    NotWhole,
}

/// Looks at all slots. What was found in each range, and the bytes of the newest.
pub(super) fn newest<F: NorFlash, const SLOT: usize>(
    log: &mut Log<F, SLOT>,
) -> ([Found; 2], Result<&[u8], NoNewest>) {
    log.mount();
    let [first, second] = Side::BOTH.map(|side| log.half(side).serial());
    let newest = first.max(second);
    let side = if first == newest {
        Side::First
    } else {
        Side::Second
    };
    let digest = log.half(side).whole.map(|whole| whole.head.digest);
    let superseded = Side::BOTH
        .iter()
        .all(|side| log.half(*side).begun_after(newest));
    let found = Side::BOTH.map(|side| {
        let half = log.half(side);
        match (half.whole, half.damage) {
            (Some(_), _) if superseded => Found::Outdated,
            (Some(whole), _) if Some(whole.head.digest) != digest => Found::Outdated,
            (Some(_), None) => Found::Whole,
            (Some(_), Some(damage)) => Found::Older(damage),
            (None, Some(damage)) => Found::NotWhole(damage),
            (None, None) if half.begun_after(0) => Found::NotWhole(Damage::Rotten),
            (None, None) => Found::Empty,
        }
    });
    let bytes = match log.half(side).whole {
        None if found == [Found::Empty; 2] => Err(NoNewest::Empty),
        Some(whole) if !superseded => log.read(side, whole).ok_or(NoNewest::NotWhole),
        _ => Err(NoNewest::NotWhole),
    };
    (found, bytes)
}
