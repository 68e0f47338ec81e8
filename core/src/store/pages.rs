//! Which page is written to next, and when it is erased. See [`survey`](super::survey) for why.

use embedded_storage::nor_flash::NorFlash;

use super::error::StoreError;
use super::flash::{Place, Side};
use super::log::Log;

impl<F: NorFlash, const SLOT: usize> Log<F, SLOT> {
    /// The page that has to be erased before anything is written: the one to write to, and before
    /// its last slot the one after it.
    pub(super) fn must_erase(&self, side: Side) -> Option<u32> {
        let half = self.half(side);
        if !half.open {
            return Some(half.next.page);
        }
        let last = half.next.nth.saturating_add(1) >= self.layout.slots;
        self.unready(side).filter(|_| last)
    }

    /// The page after the one that is written to, if it is to be erased before that one is full. Not
    /// before it holds a header that can be read: else an erase that is cut would leave the page
    /// that is being erased as the one that seems newest.
    fn unready(&self, side: Side) -> Option<u32> {
        let half = self.half(side);
        let after = self.page_after(side, half.next.page);
        let begun = half.newest == Some(half.next.page) && after != half.next.page;
        (begun && half.fresh != Some(after)).then_some(after)
    }

    /// The page to go on to, past one that could not be erased.
    pub(super) fn page_after(&self, side: Side, page: u32) -> u32 {
        let after = self.layout.page_after(side, page).page;
        if self.half(side).worn == Some(after) {
            self.layout.page_after(side, after).page
        } else {
            after
        }
    }

    /// Goes on to the page after `page`.
    pub(super) fn turn_page(&mut self, side: Side, page: u32) {
        let after = self.page_after(side, page);
        let half = side.of_mut(&mut self.halves);
        half.open = half.fresh == Some(after);
        half.fresh = None;
        half.next = Place {
            page: after,
            nth: 0,
        };
    }

    /// A page that does not take what is written is left. (It comes round again.) One that could
    /// not be erased ahead is passed over, and the page before it still has its last slot.
    pub(super) fn abandon(&mut self, side: Side, page: u32) {
        let half = self.half(side);
        let last_left = half.open && half.worn == Some(self.layout.page_after(side, page).page);
        if !(last_left && half.next.page == page && half.next.nth > 0) {
            self.turn_page(side, page);
        }
    }

    /// Erases a page, unless it holds the only whole copy.
    pub(super) fn erase(&mut self, side: Side, page: u32) -> bool {
        let held = self.half(side).whole;
        if held.is_some_and(|whole| whole.place.page == page) {
            let Some(copy) = self.half(side.other()).whole else {
                return false;
            };
            let at = self.layout.address(side.other(), copy.place);
            let damage = self.layout.damage(&mut self.flash, at, copy.head, None);
            if damage.is_some() {
                // Found out only now: that range is written first next time.
                side.other().of_mut(&mut self.halves).whole = None;
                return false;
            }
            if copy.head.serial < self.half(side).serial() {
                return false;
            }
            side.of_mut(&mut self.halves).whole = None;
        }
        let erased = self.layout.erase(&mut self.flash, side, page)
            && self.layout.page_blank(&mut self.flash, side, page);
        let half = side.of_mut(&mut self.halves);
        if page == half.next.page {
            half.open = erased;
        } else {
            half.fresh = erased.then_some(page);
        }
        erased
    }

    /// A page that will be needed soon and is not erased yet: once half of the one before is used;
    /// or the first of a range in which nothing was ever begun. Any other page is erased in its turn only: what
    /// a cut leaves of it may look like a slot that was begun, and one that rotted is the sign that it was.
    fn due(&self, side: Side) -> Option<u32> {
        let half = self.half(side);
        let used = half.next.nth.saturating_add(1).saturating_mul(2);
        let page = if half.open {
            self.unready(side).filter(|_| used >= self.layout.slots)
        } else {
            Some(half.next.page).filter(|_| !half.begun_after(0))
        };
        let held = half.whole.map(|whole| whole.place.page);
        let able = self.mounted && !self.is_busy();
        page.filter(|_| able && held != page && half.worn != page)
    }

    pub(super) fn erase_due(&self) -> bool {
        Side::BOTH.iter().any(|side| self.due(*side).is_some())
    }

    /// Erases one page that is due. False if none is.
    pub(super) fn erase_ahead(&mut self) -> Result<bool, StoreError> {
        for side in Side::BOTH {
            let Some(page) = self.due(side) else {
                continue;
            };
            if self.erase(side, page) {
                return Ok(true);
            }
            side.of_mut(&mut self.halves).worn = Some(page);
            return Err(StoreError::NotErased {
                range: side.number(),
            });
        }
        Ok(false)
    }
}
