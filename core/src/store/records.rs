//! Records of the guard in two ranges of flash.

use core::ops::Range;

use embedded_storage::nor_flash::NorFlash;

use super::error::{Damage, Found, StoreError};
use super::flash::{Layout, Side};
use super::log::{Log, Stepped};
use crate::guard::{Record, RecordError, Ticket};

/// What was read at start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loaded<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// The record of each range, for [`Controller::restore`](crate::Controller::restore). They may
    /// differ in age: the guard takes the later and tells that they differ.
    pub records: [Option<Record<N, B, H, D>>; 2],
    /// What was found in each range.
    pub found: [Found; 2],
}

/// What one step of a save came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum Progress {
    /// No save is under way.
    Idle,
    /// The save goes on: step again.
    More,
    /// Read back whole and equal from both ranges. Report the ticket in
    /// [`Facts::saved`](crate::guard::Facts::saved) from now on.
    Saved(Ticket),
}

/// Keeps the guard's record in two ranges of a NOR flash, in slots of `SLOT` bytes. See the
/// [module](super) for what it holds and what the firmware has to do.
#[derive(Debug)]
pub struct RecordStore<F, const SLOT: usize = 512> {
    log: Log<F, SLOT>,
    /// Of the record that is being saved.
    saving: Option<Ticket>,
    saved: Option<Ticket>,
}

impl<F: NorFlash> RecordStore<F> {
    /// A store with slots of 512 bytes, enough for two feeders and one body. Nothing is read or
    /// written yet.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn new(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        Self::with_slots(flash, ranges)
    }
}

impl<F: NorFlash, const SLOT: usize> RecordStore<F, SLOT> {
    /// As [`RecordStore::new`], with slots of another size. It has to stay the same for as long as
    /// what was written is to be found.
    ///
    /// # Errors
    /// [`StoreError::Range`], [`StoreError::Overlap`] or [`StoreError::Slot`].
    pub fn with_slots(flash: F, ranges: [Range<u32>; 2]) -> Result<Self, StoreError> {
        let layout = Layout::try_new(&flash, ranges, SLOT)?;
        Ok(Self {
            log: Log::new(flash, layout),
            saving: None,
            saved: None,
        })
    }

    /// Reads what both ranges hold. Writes nothing, and ends a save that was under way.
    pub fn load<const N: usize, const B: usize, const H: usize, const D: usize>(
        &mut self,
    ) -> Loaded<N, B, H, D> {
        self.log.mount();
        self.saving = None;
        let [first, second] = Side::BOTH.map(|side| self.decode(side));
        let serials = [&first, &second].map(|one| match one {
            Some((serial, Ok(_))) => *serial,
            _ => 0,
        });
        let newest = serials.into_iter().max().unwrap_or(0);
        // The second range is begun only once the first was read back. So what was begun in both
        // may have been durable; if neither has it whole, all that is whole is out of date.
        let superseded = Side::BOTH
            .iter()
            .all(|side| self.log.half(*side).begun_after(newest));
        let first_newest = serials.first() == Some(&newest);
        let overtaken = match (&first, &second) {
            (Some((_, Ok(a))), Some((_, Ok(b)))) => {
                let (old, new) = if first_newest { (b, a) } else { (a, b) };
                old != new && old.sequence >= new.sequence
            }
            _ => false,
        };
        let first = self.judge(Side::First, first, superseded || overtaken && !first_newest);
        let second = self.judge(
            Side::Second,
            second,
            superseded || overtaken && first_newest,
        );
        Loaded {
            records: [first.0, second.0],
            found: [first.1, second.1],
        }
    }

    fn decode<const N: usize, const B: usize, const H: usize, const D: usize>(
        &mut self,
        side: Side,
    ) -> Option<(u32, Result<Record<N, B, H, D>, RecordError>)> {
        let whole = self.log.half(side).whole?;
        let bytes = self.log.read(side, whole);
        let record = bytes.map_or(Err(RecordError::NotWhole), Record::decode);
        Some((whole.head.serial, record))
    }

    fn judge<R>(
        &self,
        side: Side,
        decoded: Option<(u32, Result<R, RecordError>)>,
        outdated: bool,
    ) -> (Option<R>, Found) {
        let damage = self.log.half(side).damage;
        match (decoded, damage) {
            (Some((_, Err(error))), _) => (None, Found::NotUnderstood(error)),
            (Some(_), _) if outdated => (None, Found::Outdated),
            (Some((_, Ok(record))), None) => (Some(record), Found::Whole),
            (Some((_, Ok(record))), Some(damage)) => (Some(record), Found::Older(damage)),
            (None, Some(damage)) => (None, Found::NotWhole(damage)),
            (None, None) if self.log.half(side).begun_after(0) => {
                (None, Found::NotWhole(Damage::Rotten))
            }
            (None, None) => (None, Found::Empty),
        }
    }

    /// Takes up a sealed record, in place of one that is being saved. Nothing is written before
    /// [`RecordStore::step`]. Reads all slots if [`RecordStore::load`] has not.
    ///
    /// # Errors
    /// [`StoreError::NotSealed`], [`StoreError::TooLong`].
    pub fn begin(&mut self, record: &[u8]) -> Result<(), StoreError> {
        let ticket = Ticket::of(record).ok_or(StoreError::NotSealed)?;
        self.log.begin(record)?;
        self.saving = Some(ticket);
        Ok(())
    }

    /// Does the next part of a save: one erase, one write or one reading back. Eight at most, and
    /// four more for each page that does not take it.
    ///
    /// # Errors
    /// [`StoreError::NotWritten`]; the save is over then.
    pub fn step(&mut self) -> Result<Progress, StoreError> {
        match self.log.step() {
            Ok(Stepped::Idle) => Ok(Progress::Idle),
            Ok(Stepped::More) => Ok(Progress::More),
            Ok(Stepped::Done) => match self.saving.take() {
                Some(ticket) => {
                    self.saved = Some(ticket);
                    Ok(Progress::Saved(ticket))
                }
                None => Ok(Progress::Idle),
            },
            Err(error) => {
                self.saving = None;
                Err(error)
            }
        }
    }

    /// Saves a record in one go, erases included.
    ///
    /// # Errors
    /// As [`RecordStore::begin`] and [`RecordStore::step`].
    pub fn save(&mut self, record: &[u8]) -> Result<Ticket, StoreError> {
        self.begin(record)?;
        loop {
            match self.step()? {
                Progress::More => {}
                Progress::Saved(ticket) => return Ok(ticket),
                Progress::Idle => return Err(StoreError::NotSealed),
            }
        }
    }

    /// The ticket of what was last read back from both ranges since power-on: what belongs into
    /// [`Facts::saved`](crate::guard::Facts::saved).
    #[must_use]
    pub const fn saved(&self) -> Option<Ticket> {
        self.saved
    }

    /// Whether a save is under way.
    #[must_use]
    pub fn is_busy(&self) -> bool {
        self.log.is_busy()
    }

    /// Whether the next [`RecordStore::step`] erases a page, and may stall the program.
    #[must_use]
    pub fn erases_next(&self) -> bool {
        self.log.erases_next()
    }

    /// Whether a page should be erased ahead, so that no later step has to.
    #[must_use]
    pub fn erase_due(&self) -> bool {
        self.log.erase_due()
    }

    /// Erases one page that is due, while no save is under way. False if none was. Call it while no
    /// permit stands: an erase may stall the program for seconds.
    ///
    /// # Errors
    /// [`StoreError::NotErased`]; the page is passed over.
    pub fn erase_ahead(&mut self) -> Result<bool, StoreError> {
        self.log.erase_ahead()
    }

    /// The flash, for other stores in it.
    pub const fn flash_mut(&mut self) -> &mut F {
        &mut self.log.flash
    }

    /// Gives the flash back.
    #[must_use]
    pub fn into_flash(self) -> F {
        self.log.flash
    }
}
