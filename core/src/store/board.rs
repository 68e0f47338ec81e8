//! Changing the board: all that a pool has on one board, as one image for the next.
//!
//! Little-endian, in this order:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWBI` |
//! | 2 | version, 1 |
//! | 2 | feeders N, bodies B |
//! | 2 + 2 | lengths of the next two |
//! | n | [settings image](super::SettingsImage) |
//! | n | [kept record](super::KeptRecord): calibration, anchor, tests, restraints, drums, what was learned |
//! | n | the guard's [record](crate::guard::Record): ledger, lockouts, holds, stage |
//! | 4 | CRC-32 of everything before |
//!
//! Each part is as it lies in the flash, with its own version and CRC; what reads older parts there
//! reads them here.
//!
//! # Invariants
//! - Only a board that was [given away](crate::Act::GiveAway) makes an image, and no other image is
//!   read: the old board feeds nothing more until a technician takes it back, and then with its day
//!   used. The CRC is against accidents, not against forgery.
//! - What is taken up never loosens. The day's total is the image's, or counts as used
//!   ([`DayUsed`]); time between the boards ages nothing. Lockouts are those of both boards
//!   together. The stage is reduced, observing stays, fallback ends. Every proof test is due anew,
//!   since the terminals were wired anew, and one that failed stays failed. A cycle that stood open
//!   counts as fed in full, as after any loss of power.
//! - No limit passes the [`Ceilings`] that the new board's firmware was built with.
//! - Nothing of an image that is refused is taken up, and the board keeps what it held: a new one
//!   nothing, and its guard then counts the day as used.
//!
//! # In this order
//! Old board: [`Act::GiveAway`](crate::Act::GiveAway), a tick, the kept record written;
//! [`BoardImage::export`], and the record that it sealed written as any other.
//! New board: [`BoardImage::decode`], [`BoardImage::take_up`]; then written, each whole before the
//! next: [`Arrival::between`], the settings, the record in both places, [`Arrival::kept`]. A cut
//! anywhere before the last leaves a board that is given away, feeds nothing, and takes the same
//! image up again. Then a restart from the stores, as after any loss of power.
//!
//! # What is not protected
//! - An image that is taken up by two new boards: both feed. No board can know of another.
//! - Copies of the old board's flash from before it was given away, put back together: it feeds
//!   again. (If only its kept record is lost, it observes.)
//! - Two clocks that agree by accident on an image that is older than a day. It counts as fresh only
//!   within a day of the export, in which a board that was taken back feeds nothing either.
//!
//! # Why not a crate
//! Parts that exist, one after the other, between a head and a CRC that exist: nothing to take over.

mod arrival;
mod ceilings;
mod error;
#[cfg(test)]
mod tests;

pub use arrival::{Arrival, DayUsed, Holding, Unreadable};
pub use ceilings::{Ceilings, FeederCeiling, Over};
pub use error::BoardError;

use super::envelope::{count, open};
use super::seal::seal;
use super::{KeptRecord, SettingsImage};
use crate::controller::Controller;
use crate::guard::{Record, Ticket};
use crate::proof::ProofTests;
use crate::regulate::Regulator;
use crate::upkeep::Upkeep;

const MAGIC: [u8; 4] = *b"DWBI";
const VERSION: u16 = 1;
/// Magic number, version, shape, two lengths.
const HEAD: usize = 12;

/// All that a pool has on one board. Some kilobytes: for a change of the board, not for a tick.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoardImage<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// What commissioning decided.
    pub settings: SettingsImage<N, B>,
    /// What persons did and found, and what was learned.
    pub kept: KeptRecord<N>,
    /// Of the guard.
    pub record: Record<N, B, H, D>,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> BoardImage<N, B, H, D> {
    /// Makes the image of a board that was given away, into `out`; 2 KiB are enough for two feeders.
    /// It seals a record into `record` on the way: write that to both places as any other. How many
    /// bytes of `out` it takes, and the ticket of the record.
    ///
    /// # Errors
    /// [`BoardError::NotGivenAway`]; a buffer that is too short; a state that changed by itself.
    pub fn export<R: Regulator>(
        controller: &mut Controller<N, B, H, D, R>,
        (settings, upkeep, proofs): (&SettingsImage<N, B>, &Upkeep, &ProofTests<N>),
        record: &mut [u8],
        out: &mut [u8],
    ) -> Result<(usize, Ticket), BoardError> {
        let kept = KeptRecord::of(controller, upkeep, proofs);
        given_away(&kept)?;
        let ticket = controller.seal_record(record).map_err(BoardError::Record)?;
        let length = Record::<N, B, H, D>::LEN;
        let sealed = record.get(..length).ok_or(BoardError::Space)?;
        let put = |out: &mut [u8]| {
            out.get_mut(..length)
                .map(|room| room.copy_from_slice(sealed))
        };
        let length = fill::<N, B>((settings, &kept), out, (length, put))?;
        Ok((length, ticket))
    }

    /// Writes it. How many bytes it takes.
    ///
    /// # Errors
    /// As [`BoardImage::export`].
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, BoardError> {
        given_away(&self.kept)?;
        let put = |out: &mut [u8]| self.record.encode(out).ok().map(drop);
        let parts = (&self.settings, &self.kept);
        fill::<N, B>(parts, out, (Record::<N, B, H, D>::LEN, put))
    }

    /// Reads it, all of it or nothing.
    ///
    /// # Errors
    /// Why it is not the image of a board of this shape that was given away.
    pub fn decode(bytes: &[u8]) -> Result<Self, BoardError> {
        let (version, shape, rest) = open(bytes, MAGIC).ok_or(BoardError::NotWhole)?;
        if version != VERSION {
            return Err(BoardError::Version(version));
        }
        if shape != [N, B].map(count) {
            return Err(BoardError::Shape);
        }
        let (lengths, rest) = rest.split_first_chunk().ok_or(BoardError::Meaning)?;
        let [a, b, c, d] = *lengths;
        let [settings, kept] = [[a, b], [c, d]].map(u16::from_le_bytes).map(usize::from);
        let (settings, rest) = rest.split_at_checked(settings).ok_or(BoardError::Meaning)?;
        let (kept, record) = rest.split_at_checked(kept).ok_or(BoardError::Meaning)?;
        if record.len() > Record::<N, B, H, D>::LEN {
            return Err(BoardError::Meaning);
        }
        let image = Self {
            settings: SettingsImage::decode(settings)
                .map_err(BoardError::Settings)?
                .0,
            kept: KeptRecord::decode(kept).map_err(BoardError::Kept)?,
            record: Record::decode(record).map_err(BoardError::Record)?,
        };
        given_away(&image.kept)?;
        Ok(image)
    }
}

const fn given_away<const N: usize>(kept: &KeptRecord<N>) -> Result<(), BoardError> {
    if kept.handover.is_given_away {
        Ok(())
    } else {
        Err(BoardError::NotGivenAway)
    }
}

/// Puts the parts one after the other, and head and CRC around them.
fn fill<const N: usize, const B: usize>(
    (settings, kept): (&SettingsImage<N, B>, &KeptRecord<N>),
    out: &mut [u8],
    (record_length, record): (usize, impl FnOnce(&mut [u8]) -> Option<()>),
) -> Result<usize, BoardError> {
    let (head, rest) = out
        .split_first_chunk_mut::<HEAD>()
        .ok_or(BoardError::Space)?;
    let of_settings = settings.encode(rest).map_err(BoardError::Settings)?;
    let rest = rest.get_mut(of_settings..).ok_or(BoardError::Space)?;
    let of_kept = kept.encode(rest).map_err(BoardError::Kept)?;
    let rest = rest.get_mut(of_kept..).ok_or(BoardError::Space)?;
    record(rest).ok_or(BoardError::Space)?;
    let long = |length| u16::try_from(length).map_err(|_| BoardError::Space);
    let [m, n, o, p] = MAGIC;
    let ([a, b], [c, d]) = (VERSION.to_le_bytes(), [N, B].map(count));
    let [e, f] = long(of_settings)?.to_le_bytes();
    let [g, h] = long(of_kept)?.to_le_bytes();
    *head = [m, n, o, p, a, b, c, d, e, f, g, h];
    let parts = of_settings.saturating_add(of_kept);
    let end = HEAD.saturating_add(parts).saturating_add(record_length);
    seal(out, end).ok_or(BoardError::Space)
}
