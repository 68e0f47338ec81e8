//! Reading both ranges: which slots are whole, what was begun, where to go on.
//!
//! Slots are written in turn, page after page and round again. A page is erased
//! - ahead, only while the page before it holds a header that can be read and has a slot left: what
//!   a cut leaves of it is then never next to the newest slot; or
//! - in its turn, when the record to be saved goes into it: what a cut leaves of it then counts as a
//!   record that was begun.
//!
//! So what stands right after the newest slot, is not blank and cannot be read, was begun later.
//! What reads as blank is believed in the page of the newest slot, and in the next if the last slot
//! of its page says that it was erased; any other page is erased again, since an erase that was cut
//! may leave bits that read as erased and are not.

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
    /// Page of the newest header that can be read.
    pub(super) newest: Option<u32>,
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
        newest: None,
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
    half.newest = newest.map(|newest| newest.place.page);
    match newest {
        Some(newest) => after_newest(layout, flash, side, newest, &mut half),
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
    newest: Whole,
    half: &mut Half,
) {
    let page = newest.place.page;
    half.next = layout.slot_after(side, newest.place);
    let in_page = layout
        .slots
        .saturating_sub(newest.place.nth)
        .saturating_sub(1);
    if in_page > 0 {
        walk(layout, flash, side, in_page, half);
        if !half.open {
            half.next = layout.page_after(side, page);
        }
        return;
    }
    let first = half.next;
    let known = newest.head.next_erased;
    // Of a page that was not known to be erased, only the first slot can be one that was begun, and
    // even if it reads as blank it is erased again.
    walk(
        layout,
        flash,
        side,
        if known { layout.slots } else { 1 },
        half,
    );
    if !(known && half.open) {
        half.open = false;
        half.next = first;
    }
}

/// Looks for the first blank slot among some. What cannot be read before it was begun.
fn walk<F: NorFlash>(layout: &Layout, flash: &mut F, side: Side, slots: u32, half: &mut Half) {
    let page = half.next.page;
    for nth in half.next.nth..half.next.nth.saturating_add(slots) {
        let place = Place { page, nth };
        match layout.look(flash, side, place) {
            Look::Blank if blank_from(layout, flash, side, place) => {
                half.next = place;
                half.open = true;
                return;
            }
            Look::Damaged(damage) => half.note(damage),
            // Slots are used in turn: an older one, or one past a blank one, is what was there
            // before the page is erased, or nobody's doing.
            Look::Blank | Look::Head(_) => return,
        }
    }
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
