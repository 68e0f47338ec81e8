//! The log under both stores: what stands in the two ranges, and writing to them step by step.

use embedded_storage::nor_flash::NorFlash;

use super::error::{Damage, StoreError};
use super::flash::{Head, Layout, Look, Place, Side};
use crate::guard::Crc32;

/// A slot whose content fits its header.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Whole {
    pub(super) place: Place,
    pub(super) head: Head,
}

/// What is known of one range.
#[derive(Clone, Copy, Debug)]
pub(super) struct Half {
    /// The newest whole slot.
    pub(super) whole: Option<Whole>,
    /// Highest serial that was begun; 0: none.
    begun: u32,
    /// A slot after the newest was begun, and what serial it had cannot be read.
    doubt: bool,
    /// What is wrong with the newest that was begun.
    pub(super) damage: Option<Damage>,
    /// Where the next one goes.
    next: Place,
    /// A page that was erased, seen to be blank, since power-on. What an erase before that left
    /// may read as blank and not be so: it is erased again.
    fresh: Option<u32>,
    /// A page that could not be erased ahead.
    worn: Option<u32>,
}

impl Half {
    const UNKNOWN: Self = Self {
        whole: None,
        begun: 0,
        doubt: false,
        damage: None,
        next: Place { page: 0, nth: 0 },
        fresh: None,
        worn: None,
    };

    pub(super) fn serial(&self) -> u32 {
        self.whole.map_or(0, |whole| whole.head.serial)
    }

    /// Something was begun here after `serial`, or may have been.
    pub(super) const fn begun_after(&self, serial: u32) -> bool {
        self.doubt || self.begun > serial
    }
}

/// Where a save stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    Idle,
    Under {
        side: Side,
        /// The other range holds it already.
        second: bool,
        /// Pages left to try in this range.
        tries: u32,
        next: Next,
    },
}

/// The next thing that touches the flash.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    Place,
    Head,
    Body(Begun),
    Check(Begun),
}

/// A slot that is being written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Begun {
    place: Place,
    serial: u32,
}

/// What one step of a save came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stepped {
    Idle,
    More,
    Done,
}

#[derive(Debug)]
pub(super) struct Log<F, const SLOT: usize> {
    pub(super) flash: F,
    pub(super) layout: Layout,
    /// The slot to be written: header, content, then erased bytes.
    image: [u8; SLOT],
    length: usize,
    halves: [Half; 2],
    mounted: bool,
    stage: Stage,
}

impl<F: NorFlash, const SLOT: usize> Log<F, SLOT> {
    pub(super) const fn new(flash: F, layout: Layout) -> Self {
        Self {
            flash,
            layout,
            image: [0xFF; SLOT],
            length: 0,
            halves: [Half::UNKNOWN; 2],
            mounted: false,
            stage: Stage::Idle,
        }
    }

    pub(super) const fn half(&self, side: Side) -> &Half {
        side.of(&self.halves)
    }

    /// Looks at all slots anew. Ends a save that was under way.
    pub(super) fn mount(&mut self) {
        self.stage = Stage::Idle;
        self.halves = Side::BOTH.map(|side| self.survey(side));
        self.mounted = true;
    }

    fn survey(&mut self, side: Side) -> Half {
        let mut half = Half::UNKNOWN;
        let newest = self.newest_below(side, u32::MAX);
        let mut candidate = newest;
        while let Some(whole) = candidate {
            let at = self.layout.address(side, whole.place);
            let damage = self.layout.damage(&mut self.flash, at, whole.head, None);
            if damage.is_none() {
                half.whole = candidate;
                break;
            }
            half.damage = half.damage.or(damage);
            candidate = self.newest_below(side, whole.head.serial.saturating_sub(1));
        }
        half.begun = newest.map_or(0, |newest| newest.head.serial);
        match newest {
            Some(newest) => self.after_newest(side, newest.place, &mut half),
            None => self.without_any(side, &mut half),
        }
        half
    }

    /// The slot of highest serial up to `most`.
    fn newest_below(&mut self, side: Side, most: u32) -> Option<Whole> {
        let mut newest: Option<Whole> = None;
        for page in 0..*side.of(&self.layout.pages) {
            for nth in 0..self.layout.slots {
                let place = Place { page, nth };
                let Look::Head(head) = self.layout.look(&mut self.flash, side, place) else {
                    continue;
                };
                let newer = newest.is_none_or(|newest| head.serial > newest.head.serial);
                if newer && head.serial <= most {
                    newest = Some(Whole { place, head });
                }
            }
        }
        newest
    }

    /// Finds where the next one goes, and whether one was begun there that cannot be read.
    fn after_newest(&mut self, side: Side, newest: Place, half: &mut Half) {
        let mut place = self.layout.slot_after(side, newest);
        while place.page == newest.page && place.nth > 0 {
            match self.layout.look(&mut self.flash, side, place) {
                Look::Blank => {
                    half.next = place;
                    return;
                }
                Look::Damaged(damage) => half.note(damage),
                // Older than one before it in its page: nobody wrote it so.
                Look::Head(_) => half.note(Damage::Rotten),
            }
            place = self.layout.slot_after(side, place);
        }
        half.next = place;
        // A page is begun once it is blank. One in which other slots still hold something is being
        // erased, and what its first slot holds is no sign of a newer one.
        if let Look::Damaged(damage) = self.layout.look(&mut self.flash, side, place) {
            let rest_blank = (1..self.layout.slots).all(|nth| {
                let place = Place { nth, ..place };
                matches!(self.layout.look(&mut self.flash, side, place), Look::Blank)
            });
            if rest_blank {
                half.note(damage);
            }
        }
    }

    fn without_any(&mut self, side: Side, half: &mut Half) {
        for page in 0..*side.of(&self.layout.pages) {
            for nth in 0..self.layout.slots {
                let place = Place { page, nth };
                if let Look::Damaged(damage) = self.layout.look(&mut self.flash, side, place) {
                    half.note(damage);
                }
            }
        }
    }

    /// Reads a slot. What it holds, unless the flash does not answer or it is not whole now.
    pub(super) fn read(&mut self, side: Side, whole: Whole) -> Option<&[u8]> {
        let at = self.layout.address(side, whole.place);
        let read = self.flash.read(at, &mut self.image);
        let from = self.layout.head;
        let content = self
            .image
            .get(from..from.saturating_add(whole.head.length))?;
        let sealed = digest(content) == Some(whole.head.digest);
        (read.is_ok() && sealed).then_some(content)
    }

    /// Takes up what is to be saved, in place of what is being saved. Nothing is written yet.
    pub(super) fn begin(&mut self, content: &[u8]) -> Result<(), StoreError> {
        if content.len() > self.layout.most {
            return Err(StoreError::TooLong {
                bytes: content.len(),
                most: self.layout.most,
            });
        }
        if digest(content).is_none() {
            return Err(StoreError::NotSealed);
        }
        if !self.mounted {
            self.mount();
        }
        self.image = [0xFF; SLOT];
        let from = self.layout.head;
        let to = from.saturating_add(content.len());
        if let Some(place) = self.image.get_mut(from..to) {
            place.copy_from_slice(content);
        }
        self.length = content.len();
        // The older copy first: the newest whole one is never in the range that is written, until
        // the other holds the new one.
        let [first, second] = &self.halves;
        let side = if second.serial() < first.serial() {
            Side::Second
        } else {
            Side::First
        };
        self.stage = self.turn(side, false);
        Ok(())
    }

    fn turn(&self, side: Side, second: bool) -> Stage {
        Stage::Under {
            side,
            second,
            tries: side.of(&self.layout.pages).saturating_add(1),
            next: Next::Place,
        }
    }

    /// Whether a save is under way.
    pub(super) fn is_busy(&self) -> bool {
        self.stage != Stage::Idle
    }

    /// Whether the next step erases a page.
    pub(super) fn erases_next(&self) -> bool {
        match self.stage {
            Stage::Under {
                side,
                next: Next::Place,
                ..
            } => self.must_erase(side),
            _ => false,
        }
    }

    const fn must_erase(&self, side: Side) -> bool {
        let half = side.of(&self.halves);
        half.next.nth == 0 && !matches!(half.fresh, Some(page) if page == half.next.page)
    }

    /// One erase, one write or one reading back.
    pub(super) fn step(&mut self) -> Result<Stepped, StoreError> {
        let Stage::Under {
            side,
            second,
            tries,
            next,
        } = self.stage
        else {
            return Ok(Stepped::Idle);
        };
        let page = match next {
            Next::Body(begun) | Next::Check(begun) => begun.place.page,
            Next::Place | Next::Head => self.half(side).next.page,
        };
        let went_on = match next {
            Next::Place if self.must_erase(side) => self.erase_next(side).then_some(Next::Head),
            Next::Place | Next::Head => self.write_head(side).map(Next::Body),
            Next::Body(begun) => self.write_body(side, begun).then_some(Next::Check(begun)),
            Next::Check(begun) => {
                if self.check(side, begun) {
                    return Ok(self.turn_over(side, second));
                }
                None
            }
        };
        let tries = if went_on.is_none() {
            self.abandon(side, page);
            tries.saturating_sub(1)
        } else {
            tries
        };
        if tries == 0 {
            self.stage = Stage::Idle;
            return Err(StoreError::NotWritten {
                range: side.number(),
            });
        }
        self.stage = Stage::Under {
            side,
            second,
            tries,
            next: went_on.unwrap_or(Next::Place),
        };
        Ok(Stepped::More)
    }

    fn turn_over(&mut self, side: Side, second: bool) -> Stepped {
        if second {
            self.stage = Stage::Idle;
            Stepped::Done
        } else {
            self.stage = self.turn(side.other(), true);
            Stepped::More
        }
    }

    /// A page that does not take what is written is left. (It comes round again.)
    fn abandon(&mut self, side: Side, page: u32) {
        let half = side.of_mut(&mut self.halves);
        half.next = self.layout.page_after(side, page);
        half.fresh = None;
    }

    fn erase_next(&mut self, side: Side) -> bool {
        let page = self.half(side).next.page;
        if self.half(side).worn == Some(page) {
            side.of_mut(&mut self.halves).worn = None;
            return false;
        }
        self.erase(side, page)
    }

    /// Erases a page, unless it holds the only whole copy.
    fn erase(&mut self, side: Side, page: u32) -> bool {
        let held = self.half(side).whole;
        if held.is_some_and(|whole| whole.place.page == page) {
            let Some(copy) = self.half(side.other()).whole else {
                return false;
            };
            let at = self.layout.address(side.other(), copy.place);
            let damage = self.layout.damage(&mut self.flash, at, copy.head, None);
            if damage.is_some() || copy.head.serial < self.half(side).serial() {
                return false;
            }
            side.of_mut(&mut self.halves).whole = None;
        }
        let erased = self.layout.erase(&mut self.flash, side, page)
            && self.layout.page_blank(&mut self.flash, side, page);
        let half = side.of_mut(&mut self.halves);
        half.fresh = erased.then_some(page);
        erased
    }

    fn write_head(&mut self, side: Side) -> Option<Begun> {
        let [first, second] = &self.halves;
        let serial = first.begun.max(second.begun).checked_add(1)?;
        let content_end = self.layout.head.saturating_add(self.length);
        let content = self.image.get(self.layout.head..content_end)?;
        let head = Head {
            serial,
            length: self.length,
            digest: digest(content)?,
        };
        let place = self.half(side).next;
        let next = self.layout.slot_after(side, place);
        let half = side.of_mut(&mut self.halves);
        half.begun = serial;
        half.fresh = half.fresh.filter(|page| *page != place.page);
        // Begun is used up, whatever becomes of it: a unit is written once.
        half.next = next;
        let at = self.layout.address(side, place);
        let encoded = head.encode();
        let header = self.image.get_mut(..encoded.len())?;
        header.copy_from_slice(&encoded);
        let written = self.image.get(..self.layout.head)?;
        self.flash.write(at, written).ok()?;
        Some(Begun { place, serial })
    }

    fn write_body(&mut self, side: Side, begun: Begun) -> bool {
        let at = self.layout.address(side, begun.place);
        let offset = u32::try_from(self.layout.head).unwrap_or(u32::MAX);
        let end = self.layout.end(self.length);
        let Some(content) = self.image.get(self.layout.head..end) else {
            return false;
        };
        self.flash.write(at.saturating_add(offset), content).is_ok()
    }

    fn check(&mut self, side: Side, begun: Begun) -> bool {
        let place = begun.place;
        let at = self.layout.address(side, place);
        let Look::Head(head) = self.layout.look(&mut self.flash, side, place) else {
            return false;
        };
        let image = Some(self.image.as_slice());
        let damage = self.layout.damage(&mut self.flash, at, head, image);
        if damage.is_some() || head.serial != begun.serial {
            return false;
        }
        let half = side.of_mut(&mut self.halves);
        half.whole = Some(Whole { place, head });
        half.doubt = false;
        half.damage = None;
        true
    }

    /// A page that will be needed soon and is not erased yet: once half of the one before is used.
    fn due(&self, side: Side) -> Option<u32> {
        let half = self.half(side);
        let page = if half.next.nth == 0 {
            half.next.page
        } else if half.next.nth.saturating_mul(2) >= self.layout.slots {
            self.layout.page_after(side, half.next.page).page
        } else {
            return None;
        };
        let held = half.whole.is_some_and(|whole| whole.place.page == page);
        let able = self.mounted && !self.is_busy() && self.layout.slots > 1 && !held;
        (able && half.fresh != Some(page) && half.worn != Some(page)).then_some(page)
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

impl Half {
    /// One was begun that cannot be read.
    fn note(&mut self, damage: Damage) {
        self.doubt = true;
        self.damage = self.damage.or(Some(damage));
    }
}

/// The CRC-32 with which sealed bytes end. `None` if it is not that of all before it.
pub(super) fn digest(content: &[u8]) -> Option<u32> {
    let (body, tail) = content.split_last_chunk::<4>()?;
    let digest = u32::from_le_bytes(*tail);
    (Crc32::of(body) == digest).then_some(digest)
}
