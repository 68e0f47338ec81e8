//! Reading both ranges: which slots are whole, what was begun, where to go on.
//!
//! Slots are written in turn, page after page and round again. Before the last slot of a page is
//! written, the next page has been erased to its end. So after the newest slot, in its page and
//! across into the next, stands nothing but what was begun later: a slot there that is not blank
//! and cannot be read was a newer one. A page whose erase was cut is never next to the newest slot,
//! and is not believed to be blank.

use embedded_storage::nor_flash::NorFlash;

use super::error::Damage;
use super::flash::{Head, Layout, Look, Place, Side};

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
    pub(super) begun: u32,
    /// A slot after the newest was begun, and what serial it had cannot be read.
    pub(super) doubt: bool,
    /// What is wrong with the newest that was begun.
    pub(super) damage: Option<Damage>,
    /// Where the next one goes.
    pub(super) next: Place,
    /// Its page is erased from there on.
    pub(super) open: bool,
    /// The page after that one, if it was erased, and seen to be blank, since power-on.
    pub(super) fresh: Option<u32>,
    /// A page that could not be erased.
    pub(super) worn: Option<u32>,
}

impl Half {
    pub(super) const UNKNOWN: Self = Self {
        whole: None,
        begun: 0,
        doubt: false,
        damage: None,
        next: Place { page: 0, nth: 0 },
        open: false,
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

    /// One was begun that cannot be read.
    fn note(&mut self, damage: Damage) {
        self.doubt = true;
        self.damage = self.damage.or(Some(damage));
    }
}

/// Surveys one range.
pub(super) fn survey<F: NorFlash>(layout: &Layout, flash: &mut F, side: Side) -> Half {
    let mut half = Half::UNKNOWN;
    let newest = newest_below(layout, flash, side, u32::MAX);
    let mut candidate = newest;
    while let Some(whole) = candidate {
        let at = layout.address(side, whole.place);
        let damage = layout.damage(flash, at, whole.head, None);
        if damage.is_none() {
            half.whole = candidate;
            break;
        }
        half.damage = half.damage.or(damage);
        let below = whole.head.serial.saturating_sub(1);
        candidate = newest_below(layout, flash, side, below);
    }
    half.begun = newest.map_or(0, |newest| newest.head.serial);
    match newest {
        Some(newest) => after_newest(layout, flash, side, newest.place, &mut half),
        None => without_any(layout, flash, side, &mut half),
    }
    half
}

/// The slot of highest serial up to `most`.
fn newest_below<F: NorFlash>(
    layout: &Layout,
    flash: &mut F,
    side: Side,
    most: u32,
) -> Option<Whole> {
    let mut newest: Option<Whole> = None;
    for page in 0..*side.of(&layout.pages) {
        for nth in 0..layout.slots {
            let place = Place { page, nth };
            let Look::Head(head) = layout.look(flash, side, place) else {
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
fn after_newest<F: NorFlash>(
    layout: &Layout,
    flash: &mut F,
    side: Side,
    newest: Place,
    half: &mut Half,
) {
    let mut place = layout.slot_after(side, newest);
    // To the end of its page, and of the next.
    let left = layout.slots.saturating_mul(2).saturating_sub(newest.nth);
    for _ in 1..left {
        half.next = place;
        match layout.look(flash, side, place) {
            Look::Blank if blank_from(layout, flash, side, place) => {
                half.open = true;
                return;
            }
            // Slots are used in turn: what stands past a blank one was not written so.
            Look::Blank if place.page == newest.page => half.note(Damage::Rotten),
            Look::Blank => {
                half.next.nth = 0;
                return;
            }
            Look::Damaged(damage) => half.note(damage),
            // Older than one before it in its page: nobody wrote it so.
            Look::Head(_) if place.page == newest.page => half.note(Damage::Rotten),
            Look::Head(_) => {
                half.next.nth = 0;
                return;
            }
        }
        place = layout.slot_after(side, place);
    }
    half.next = place;
}

/// Whether a page is blank from a slot to its end.
fn blank_from<F: NorFlash>(layout: &Layout, flash: &mut F, side: Side, from: Place) -> bool {
    (from.nth..layout.slots).all(|nth| {
        let place = Place { nth, ..from };
        matches!(layout.look(flash, side, place), Look::Blank)
    })
}

fn without_any<F: NorFlash>(layout: &Layout, flash: &mut F, side: Side, half: &mut Half) {
    for page in 0..*side.of(&layout.pages) {
        for nth in 0..layout.slots {
            if let Look::Damaged(damage) = layout.look(flash, side, Place { page, nth }) {
                half.note(damage);
            }
        }
    }
}
