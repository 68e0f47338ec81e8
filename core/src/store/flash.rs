//! Where things are in the flash, and reading it by small pieces.

use core::hash::Hasher;
use core::ops::Range;

use embedded_storage::nor_flash::{NorFlash, ReadNorFlash};

use super::error::{Damage, StoreError};
use crate::guard::Crc32;

/// Bytes read at a time: what lies on the stack.
const CHUNK: usize = 64;
/// `DWSL`, serial, length, flags, digest, CRC-32 of these 16.
pub(super) const HEADER: usize = 20;
const MAGIC: [u8; 4] = *b"DWSL";
/// One of the two ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    First,
    Second,
}

impl Side {
    pub(super) const BOTH: [Self; 2] = [Self::First, Self::Second];

    pub(super) const fn other(self) -> Self {
        match self {
            Self::First => Self::Second,
            Self::Second => Self::First,
        }
    }

    pub(super) const fn of<T>(self, pair: &[T; 2]) -> &T {
        let [first, second] = pair;
        match self {
            Self::First => first,
            Self::Second => second,
        }
    }

    pub(super) const fn of_mut<T>(self, pair: &mut [T; 2]) -> &mut T {
        let [first, second] = pair;
        match self {
            Self::First => first,
            Self::Second => second,
        }
    }

    pub(super) const fn number(self) -> u8 {
        match self {
            Self::First => 0,
            Self::Second => 1,
        }
    }
}

/// A slot of a range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) page: u32,
    pub(super) nth: u32,
}

/// What a slot's header says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Head {
    /// Larger for each save, the same in both ranges unless a slot had to be tried again; from 1.
    pub(super) serial: u32,
    /// Bytes that the slot holds.
    pub(super) length: u16,
    /// The next page was erased, and seen to be blank, when this was written.
    pub(super) next_erased: bool,
    /// The last four of them, so that header and content belong together.
    pub(super) digest: u32,
}

impl Head {
    pub(super) fn encode(self) -> [u8; HEADER] {
        let [m, n, o, p] = MAGIC;
        let [a, b, c, d] = self.serial.to_le_bytes();
        let [e, f] = self.length.to_le_bytes();
        let [g, h, i, j] = self.digest.to_le_bytes();
        let flags = u8::from(self.next_erased);
        let body = [m, n, o, p, a, b, c, d, e, f, flags, 0, g, h, i, j];
        let [k, l, q, r] = Crc32::of(&body).to_le_bytes();
        [
            m, n, o, p, a, b, c, d, e, f, flags, 0, g, h, i, j, k, l, q, r,
        ]
    }

    fn decode(bytes: &[u8], most: usize) -> Option<Self> {
        let bytes = bytes.first_chunk::<HEADER>()?;
        let (body, tail) = bytes.split_last_chunk::<4>()?;
        if u32::from_le_bytes(*tail) != Crc32::of(body) {
            return None;
        }
        let [m, n, o, p, a, b, c, d, e, f, flags, zero, g, h, i, j] = *body.first_chunk::<16>()?;
        let head = Self {
            serial: u32::from_le_bytes([a, b, c, d]),
            length: u16::from_le_bytes([e, f]),
            next_erased: flags == 1,
            digest: u32::from_le_bytes([g, h, i, j]),
        };
        let good = [m, n, o, p] == MAGIC
            && flags <= 1
            && zero == 0
            && head.serial > 0
            && (4..=most).contains(&head.bytes());
        good.then_some(head)
    }

    pub(super) fn bytes(self) -> usize {
        usize::from(self.length)
    }
}

/// What stands at the head of a slot.
pub(super) enum Look {
    Head(Head),
    Damaged(Damage),
    Blank,
}

/// How two ranges are cut into pages and slots.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    starts: [u32; 2],
    pub(super) pages: [u32; 2],
    /// Slots in a page.
    pub(super) slots: u32,
    page_bytes: u32,
    slot_bytes: u32,
    /// Bytes kept for the header: whole units of the flash.
    pub(super) head: usize,
    /// Bytes that a slot can hold.
    pub(super) most: usize,
    unit: usize,
}

impl Layout {
    pub(super) fn try_new<F: NorFlash>(
        flash: &F,
        ranges: [Range<u32>; 2],
        slot: usize,
    ) -> Result<Self, StoreError> {
        let bad_slot = StoreError::Slot { bytes: slot };
        let unit = F::WRITE_SIZE.max(F::READ_SIZE);
        let head = HEADER.checked_next_multiple_of(unit).ok_or(bad_slot)?;
        let fits = slot.is_multiple_of(CHUNK)
            && slot.is_multiple_of(unit)
            && unit.is_multiple_of(F::WRITE_SIZE)
            && CHUNK.is_multiple_of(F::READ_SIZE)
            && F::ERASE_SIZE.is_multiple_of(CHUNK)
            && slot > head.saturating_add(4)
            && u16::try_from(slot).is_ok();
        let slots = F::ERASE_SIZE.checked_div(slot).unwrap_or(0);
        let words = [F::ERASE_SIZE, slot, slots].map(u32::try_from);
        let ([Ok(page_bytes), Ok(slot_bytes), Ok(slots)], true) = (words, fits) else {
            return Err(bad_slot);
        };
        if slots == 0 {
            return Err(bad_slot);
        }
        let [one, two] = &ranges;
        for (range, side) in [one, two].into_iter().zip(Side::BOTH) {
            let whole = range.start.is_multiple_of(page_bytes)
                && range.end.is_multiple_of(page_bytes)
                && usize::try_from(range.end).is_ok_and(|end| end <= flash.capacity())
                && range.end.saturating_sub(range.start) >= page_bytes.saturating_mul(2);
            if !whole {
                return Err(StoreError::Range {
                    range: side.number(),
                });
            }
        }
        if one.start < two.end && two.start < one.end {
            return Err(StoreError::Overlap);
        }
        let pages = [one, two].map(|range| {
            let bytes = range.end.saturating_sub(range.start);
            bytes.checked_div(page_bytes).unwrap_or(0)
        });
        Ok(Self {
            starts: [one.start, two.start],
            pages,
            slots,
            page_bytes,
            slot_bytes,
            head,
            most: slot.saturating_sub(head),
            unit,
        })
    }

    pub(super) const fn page_start(&self, side: Side, page: u32) -> u32 {
        let into = page.saturating_mul(self.page_bytes);
        side.of(&self.starts).saturating_add(into)
    }

    pub(super) const fn address(&self, side: Side, place: Place) -> u32 {
        let into = place.nth.saturating_mul(self.slot_bytes);
        self.page_start(side, place.page).saturating_add(into)
    }

    /// First slot of the page after this one, round and round.
    pub(super) const fn page_after(&self, side: Side, page: u32) -> Place {
        let next = page.saturating_add(1);
        let page = if next < *side.of(&self.pages) {
            next
        } else {
            0
        };
        Place { page, nth: 0 }
    }

    pub(super) const fn slot_after(&self, side: Side, place: Place) -> Place {
        let nth = place.nth.saturating_add(1);
        if nth < self.slots {
            Place {
                page: place.page,
                nth,
            }
        } else {
            self.page_after(side, place.page)
        }
    }

    /// End of what is written for a content of this length, in whole units of the flash.
    pub(super) const fn end(&self, length: usize) -> usize {
        let end = self.head.saturating_add(length);
        match end.checked_next_multiple_of(self.unit) {
            Some(end) => end,
            None => end,
        }
    }

    pub(super) fn look<F: NorFlash>(&self, flash: &mut F, side: Side, place: Place) -> Look {
        let at = self.address(side, place);
        let mut found = None;
        let mut head_blank = true;
        let mut blank = true;
        let read = pieces(flash, at, self.slot_bytes, |offset, piece| {
            if offset == 0 {
                found = Head::decode(piece, self.most);
                head_blank = piece.iter().take(HEADER).all(|byte| *byte == 0xFF);
                blank = erased(piece);
            } else {
                blank &= erased(piece);
            }
            found.is_none()
        });
        match (found, read) {
            (Some(head), _) => Look::Head(head),
            (None, false) => Look::Damaged(Damage::Unreadable),
            (None, true) if blank => Look::Blank,
            // A header that was begun with nothing after it is one in which the power went.
            (None, true) => Look::Damaged(if self.content_blank(flash, at) && !head_blank {
                Damage::Torn
            } else {
                Damage::Rotten
            }),
        }
    }

    fn content_blank<F: NorFlash>(&self, flash: &mut F, at: u32) -> bool {
        let mut blank = true;
        let read = pieces(flash, at, self.slot_bytes, |offset, piece| {
            let skip = self.head.saturating_sub(offset).min(piece.len());
            blank &= erased(piece.get(skip..).unwrap_or(&[]));
            blank
        });
        read && blank
    }

    /// What is wrong with a slot's content; `None` if it is whole. Compared with `image`, the slot
    /// as it should be, if there is one.
    pub(super) fn damage<F: NorFlash>(
        &self,
        flash: &mut F,
        at: u32,
        head: Head,
        image: Option<&[u8]>,
    ) -> Option<Damage> {
        let mut crc = Crc32::new();
        let mut tail = [0_u8; 4];
        let mut same = true;
        let body_end = self.head.saturating_add(head.bytes().saturating_sub(4));
        let end = self.head.saturating_add(head.bytes());
        let all = u32::try_from(self.end(head.bytes())).unwrap_or(u32::MAX);
        let all = all
            .checked_next_multiple_of(64)
            .unwrap_or(all)
            .min(self.slot_bytes);
        let read = pieces(flash, at, all, |offset, piece| {
            if let Some(image) = image {
                let to = offset.saturating_add(piece.len());
                same &= image.get(offset..to) == Some(piece);
            }
            crc.write(part(piece, offset, self.head, body_end));
            let last = part(piece, offset, body_end, end);
            let skip = offset.saturating_sub(body_end).min(tail.len());
            for (place, byte) in tail.iter_mut().skip(skip).zip(last) {
                *place = *byte;
            }
            true
        });
        if !read {
            return Some(Damage::Unreadable);
        }
        let digest = u32::from_le_bytes(tail);
        if digest == head.digest && digest == crc.value() && same {
            None
        } else if erased(&tail) {
            Some(Damage::Torn)
        } else {
            Some(Damage::Rotten)
        }
    }

    /// Whether a whole page reads as erased.
    pub(super) fn page_blank<F: NorFlash>(&self, flash: &mut F, side: Side, page: u32) -> bool {
        let mut blank = true;
        let at = self.page_start(side, page);
        let read = pieces(flash, at, self.page_bytes, |_, piece| {
            blank &= erased(piece);
            blank
        });
        read && blank
    }

    pub(super) fn erase<F: NorFlash>(&self, flash: &mut F, side: Side, page: u32) -> bool {
        let from = self.page_start(side, page);
        flash
            .erase(from, from.saturating_add(self.page_bytes))
            .is_ok()
    }
}

fn erased(bytes: &[u8]) -> bool {
    bytes.iter().all(|byte| *byte == 0xFF)
}

/// The part of a piece, which begins at `offset`, that lies in `from..to`.
fn part(piece: &[u8], offset: usize, from: usize, to: usize) -> &[u8] {
    let first = from.saturating_sub(offset).min(piece.len());
    let last = to.saturating_sub(offset).min(piece.len());
    piece.get(first..last).unwrap_or(&[])
}

/// Reads piece by piece while `each` wants more. False if the flash does not answer.
fn pieces<F: ReadNorFlash>(
    flash: &mut F,
    at: u32,
    bytes: u32,
    mut each: impl FnMut(usize, &[u8]) -> bool,
) -> bool {
    let mut piece = [0; CHUNK];
    let mut offset = 0_u32;
    while offset < bytes {
        if flash.read(at.saturating_add(offset), &mut piece).is_err() {
            return false;
        }
        if !each(usize::try_from(offset).unwrap_or(usize::MAX), &piece) {
            return true;
        }
        offset = offset.saturating_add(64);
    }
    true
}

#[cfg(test)]
mod tests;
