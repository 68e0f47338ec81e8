//! The log under both stores: what stands in the two ranges, and writing to them step by step.

use embedded_storage::nor_flash::NorFlash;

use super::error::StoreError;
use super::flash::{Head, Layout, Look, Place, Side};
use super::seal::digest;
use super::survey::{Half, Whole, survey};

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
    pub(super) halves: [Half; 2],
    pub(super) mounted: bool,
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
        self.halves = Side::BOTH.map(|side| survey(&self.layout, &mut self.flash, side));
        self.mounted = true;
    }

    /// Reads a slot. What it holds, unless the flash does not answer or it is not whole now.
    pub(super) fn read(&mut self, side: Side, whole: Whole) -> Option<&[u8]> {
        let at = self.layout.address(side, whole.place);
        let read = self.flash.read(at, &mut self.image);
        let from = self.layout.head;
        let content = self
            .image
            .get(from..from.saturating_add(whole.head.bytes()))?;
        let sealed = digest(content) == Some(whole.head.digest);
        (read.is_ok() && sealed).then_some(content)
    }

    /// Saves in one go.
    pub(super) fn write(&mut self, content: &[u8]) -> Result<(), StoreError> {
        self.begin(content)?;
        while self.step()? == Stepped::More {}
        Ok(())
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
        // One that is whole and not looked at yet is the newest here: what comes next belongs into
        // the other range.
        if let Stage::Under {
            side,
            next: Next::Check(begun),
            ..
        } = self.stage
        {
            self.check(side, begun);
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
            } => self.must_erase(side).is_some(),
            _ => false,
        }
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
            Next::Place => self.half(side).next.page,
        };
        let went_on = match (next, self.must_erase(side)) {
            (Next::Place, Some(page)) => {
                if self.erase(side, page) {
                    Some(Next::Place)
                } else {
                    side.of_mut(&mut self.halves).worn = Some(page);
                    None
                }
            }
            (Next::Place, None) => self.write_head(side, second).map(Next::Body),
            (Next::Body(begun), _) => {
                // Whatever the flash says of it: what is read back counts.
                self.write_body(side, begun);
                Some(Next::Check(begun))
            }
            (Next::Check(begun), _) => {
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

    fn write_head(&mut self, side: Side, second: bool) -> Option<Begun> {
        // The copy has the serial of the one that it copies, so that a rotten copy is not taken for a
        // newer one; unless that was begun here already.
        let (own, other) = (self.half(side), self.half(side.other()));
        let serial = if second && other.serial() > own.begun {
            other.serial()
        } else {
            own.begun.max(other.begun).checked_add(1)?
        };
        let content_end = self.layout.head.saturating_add(self.length);
        let content = self.image.get(self.layout.head..content_end)?;
        let place = self.half(side).next;
        let after = self.layout.page_after(side, place.page).page;
        let head = Head {
            serial,
            length: u16::try_from(self.length).ok()?,
            next_erased: self.half(side).fresh == Some(after),
            digest: digest(content)?,
        };
        side.of_mut(&mut self.halves).begun = serial;
        // A slot that was begun is used up, whatever becomes of it: a unit is written once.
        let next = self.layout.slot_after(side, place);
        if next.page == place.page && next.nth > 0 {
            side.of_mut(&mut self.halves).next = next;
        } else {
            self.turn_page(side, place.page);
        }
        let at = self.layout.address(side, place);
        let encoded = head.encode();
        let header = self.image.get_mut(..encoded.len())?;
        header.copy_from_slice(&encoded);
        let written = self.image.get(..self.layout.head)?;
        self.flash.write(at, written).ok()?;
        side.of_mut(&mut self.halves).newest = Some(place.page);
        Some(Begun { place, serial })
    }

    fn write_body(&mut self, side: Side, begun: Begun) {
        let at = self.layout.address(side, begun.place);
        let offset = u32::try_from(self.layout.head).unwrap_or(u32::MAX);
        let end = self.layout.end(self.length);
        if let Some(content) = self.image.get(self.layout.head..end) {
            let _ = self.flash.write(at.saturating_add(offset), content);
        }
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
}
