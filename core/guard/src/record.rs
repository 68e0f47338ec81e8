//! What survives the power, as bytes.
//!
//! Little-endian, in this order; counts are those of the build, and a record with other counts or
//! another version is not understood (the day counts as used). Version 1, which did not name the
//! products, is.
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWRC` |
//! | 2 | version, 2 |
//! | 4 | feeders N, bodies B, hour's buckets H, day's buckets D |
//! | 4 | sequence |
//! | 5 | stamp: 1 if known, seconds |
//! | 4 | CRC-32 of the limits |
//! | N | product of each feeder: 0 none, 1 acid, 2 base, 3 hypochlorite, 4 generated chlorine (not in version 1) |
//! | 8 | age of the hour's and the day's newest bucket, ms |
//! | N B (H + D) 4 | buckets, newest first: account, body, hour then day |
//! | 5 | ledger: 1 if trusted; else time since it was lost, ms |
//! | 2 + 2 N | lockouts of the site, of each feeder |
//! | N | 1 if the feeder's drive ran against command and nobody has released it (not in version 1: 1 if its drive is locked out) |
//! | 1 | stage: 0 reduced, 1 full |
//! | 4 N B | flowing time since the last cycle, by account and body, ms |
//! | 4 N | flowing time since a drive ran, by account, ms |
//! | 4 N + 4 | drive-on time standing in the line, by account; flowing time since, ms |
//! | 12 N | answer: pH x 1000 and 1 if known, awaited quarters, unanswered, bits (1 quarter, 2 wrong), time since, ms |
//! | 9 | fallback left, ms; 1 if a probe is new; off-time bank, ms |
//! | 1 | body selected, 255 if unknown |
//! | 5 N | charge that stands open, its body |
//! | 4 | CRC-32 of everything before |

use crate::codec::{Reader, Writer};
use crate::ledger::Account;
use crate::lockout::{Lockout, LockoutSet};
use crate::product::Product;
use crate::request::Stage;
use crate::state::{CycleStage, LedgerTrust, ResponseState, State};
use crate::sum::Crc32;
use crate::units::{ClockSeconds, Dose, MilliPh, Millis};

const MAGIC: [u8; 4] = *b"DWRC";
const VERSION: u16 = 2;
/// The version before: without the products.
const VERSION_1: u16 = 1;

/// Names one sealed record: its sequence and the CRC of its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ticket {
    /// Sequence of the record.
    pub sequence: u32,
    /// CRC-32 of what was written; take it from what was read back.
    pub digest: u32,
}

impl Ticket {
    /// Ticket of a record as read back. `None` if it is not whole.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Option<Self> {
        let (body, tail) = bytes.split_last_chunk::<4>()?;
        let digest = u32::from_le_bytes(*tail);
        if Crc32::of(body) != digest {
            return None;
        }
        let mut reader = Reader::new(body);
        let magic = reader.bytes::<4>()?;
        reader.bytes::<6>()?;
        let sequence = reader.u32()?;
        (magic == MAGIC).then_some(Self { sequence, digest })
    }
}

/// Why a record could not be made or understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum RecordError {
    /// The buffer is too short.
    Space {
        /// Bytes needed.
        needed: usize,
    },
    /// Not a record, torn, or rotten: the CRC does not match.
    NotWhole,
    /// A record of another version.
    Version(u16),
    /// A record of another number of feeders, bodies or buckets.
    Shape,
    /// Whole, but a field has no meaning.
    Meaning,
    /// What was to be recorded changed by itself.
    StateChanged,
}

impl core::fmt::Display for RecordError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Space { needed } => write!(f, "the buffer is shorter than {needed} bytes"),
            Self::NotWhole => f.write_str("no record, or torn or rotten"),
            Self::Version(version) => write!(f, "a record of version {version}, not {VERSION}"),
            Self::Shape => f.write_str("a record of other feeders, bodies or buckets"),
            Self::Meaning => f.write_str("whole, but a field has no meaning"),
            Self::StateChanged => f.write_str("what was to be recorded changed by itself"),
        }
    }
}

impl core::error::Error for RecordError {}

/// What survives the power. Of `state`, only what the format lists is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// Larger for each record sealed.
    pub sequence: u32,
    /// When it was sealed, by a trusted clock.
    pub stamp: Option<ClockSeconds>,
    /// CRC-32 of the limits that applied.
    pub limits_crc: u32,
    /// What each feeder gave, `None` if it was not in use. `None` as a whole: a record of version 1,
    /// which does not say.
    pub products: Option<[Option<Product>; N]>,
    /// The state.
    pub state: State<N, B, H, D>,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Record<N, B, H, D> {
    /// Length of a record of this shape, in bytes.
    pub const LEN: usize = {
        let site = 4 + 2 + 4 + 4 + 5 + 4 + 8 + 5 + 2 + 1 + 4 + 9 + 1 + 4;
        #[allow(
            clippy::arithmetic_side_effects,
            reason = "at build time: overflow fails the build"
        )]
        let length = site + N * B * (H + D + 1) * 4 + N * (1 + 2 + 1 + 4 + 4 + 12 + 5);
        length
    };

    /// Length of a record of version 1, in bytes.
    const LEN_1: usize = Self::LEN.saturating_sub(N).saturating_sub(N);

    /// Writes it. One of version 1, which does not say what its feeders gave, is written as if they
    /// had been out of use.
    ///
    /// # Errors
    /// [`RecordError::Space`] if `out` is shorter than [`Record::LEN`].
    pub fn encode(&self, out: &mut [u8]) -> Result<Ticket, RecordError> {
        let space = RecordError::Space { needed: Self::LEN };
        let out = out.get_mut(..Self::LEN).ok_or(space)?;
        let mut writer = Writer::new(out);
        self.head(&mut writer);
        self.body(&mut writer);
        let digest = Crc32::of(writer.written());
        writer.u32(digest);
        if writer.is_full() {
            Ok(Ticket {
                sequence: self.sequence,
                digest,
            })
        } else {
            Err(space)
        }
    }

    fn head(&self, writer: &mut Writer<'_>) {
        writer.bytes(&MAGIC);
        writer.u16(VERSION);
        writer.bytes(&shape::<N, B, H, D>());
        writer.u32(self.sequence);
        writer.u8(u8::from(self.stamp.is_some()));
        writer.u32(self.stamp.map_or(0, |stamp| stamp.0));
        writer.u32(self.limits_crc);
        for product in self.products.unwrap_or([None; N]) {
            writer.u8(Product::code(product));
        }
    }

    fn body(&self, writer: &mut Writer<'_>) {
        let state = &self.state;
        writer.u32(state.ledger.hour_age.0);
        writer.u32(state.ledger.day_age.0);
        for account in state.ledger.accounts.iter().flatten() {
            for dose in account.hour.iter().chain(account.day.iter()) {
                writer.u32(dose.0);
            }
        }
        match state.trust {
            LedgerTrust::Trusted => writer.flagged(1, 0),
            LedgerTrust::Lost(age) => writer.flagged(0, age.0),
        }
        writer.u16(state.site_lockouts.bits());
        for set in &state.feeder_lockouts {
            writer.u16(set.bits());
        }
        for ran in state.ran_against {
            writer.u8(u8::from(ran));
        }
        writer.u8(u8::from(state.stage == Stage::Full));
        let since = state
            .since_cycle
            .iter()
            .flatten()
            .chain(state.since_drive.iter());
        for time in since.chain(state.line.standing.iter()) {
            writer.u32(time.0);
        }
        writer.u32(state.line.purged.0);
        for response in &state.response {
            writer.u32(response.before.map_or(0, |ph| ph.0).cast_unsigned());
            writer.u8(u8::from(response.before.is_some()));
            writer.u8(response.awaited);
            writer.u8(response.unanswered);
            writer.u8(u8::from(response.quarter) | (u8::from(response.wrong) << 1));
            writer.u32(response.since_cycle.0);
        }
        writer.u32(state.fallback_left.0);
        writer.u8(u8::from(state.new_probe));
        writer.u32(state.off_bank.0);
        writer.u8(state.selected.unwrap_or(u8::MAX));
        for own in &state.feeders {
            writer.u32(own.charged().0);
            writer.u8(own.body);
        }
    }

    /// Reads it. Everything that is not in the format is as at power-on.
    ///
    /// # Errors
    /// Why it is not a record of this shape and version.
    pub fn decode(bytes: &[u8]) -> Result<Self, RecordError> {
        let mut reader = Reader::new(bytes);
        if reader.bytes::<4>() != Some(MAGIC) {
            return Err(RecordError::NotWhole);
        }
        let version = reader.u16().ok_or(RecordError::NotWhole)?;
        let length = match version {
            VERSION => Self::LEN,
            VERSION_1 => Self::LEN_1,
            other => return Err(RecordError::Version(other)),
        };
        let counts = reader.bytes::<4>().ok_or(RecordError::NotWhole)?;
        if counts != shape::<N, B, H, D>() {
            return Err(RecordError::Shape);
        }
        let whole = bytes
            .get(..length)
            .and_then(|bytes| bytes.split_last_chunk::<4>())
            .is_some_and(|(body, tail)| Crc32::of(body) == u32::from_le_bytes(*tail));
        if !whole {
            return Err(RecordError::NotWhole);
        }
        Self::read(&mut reader, version).ok_or(RecordError::Meaning)
    }

    fn read(reader: &mut Reader<'_>, version: u16) -> Option<Self> {
        let sequence = reader.u32()?;
        let known = reader.flag()?;
        let stamp = reader.u32()?;
        let limits_crc = reader.u32()?;
        let products = if version == VERSION_1 {
            None
        } else {
            let mut all = [None; N];
            for product in &mut all {
                *product = Product::from_code(reader.u8()?)?;
            }
            Some(all)
        };
        let mut state = State::POWER_ON;
        state.ledger.hour_age = Millis(reader.u32()?);
        state.ledger.day_age = Millis(reader.u32()?);
        for account in state.ledger.accounts.iter_mut().flatten() {
            read_account(reader, account)?;
        }
        let trusted = reader.flag()?;
        let age = Millis(reader.u32()?);
        state.trust = if trusted {
            LedgerTrust::Trusted
        } else {
            LedgerTrust::Lost(age)
        };
        read_lockouts(reader, &mut state, version)?;
        state.stage = if reader.flag()? {
            Stage::Full
        } else {
            Stage::Reduced
        };
        let since = state
            .since_cycle
            .iter_mut()
            .flatten()
            .chain(state.since_drive.iter_mut());
        for time in since.chain(state.line.standing.iter_mut()) {
            *time = Millis(reader.u32()?);
        }
        state.line.purged = Millis(reader.u32()?);
        for response in &mut state.response {
            *response = read_response(reader)?;
        }
        state.fallback_left = Millis(reader.u32()?);
        state.new_probe = reader.flag()?;
        state.off_bank = Millis(reader.u32()?);
        state.selected = Some(reader.u8()?).filter(|body| *body != u8::MAX);
        for own in &mut state.feeders {
            own.charge = Dose(reader.u32()?);
            own.body = reader.u8()?;
            if own.charge.0 > 0 {
                own.stage = CycleStage::Closing;
            }
        }
        let stamp = known.then_some(ClockSeconds(stamp));
        Some(Self {
            sequence,
            stamp,
            limits_crc,
            products,
            state,
        })
    }
}

fn shape<const N: usize, const B: usize, const H: usize, const D: usize>() -> [u8; 4] {
    [N, B, H, D].map(|count| u8::try_from(count).unwrap_or(u8::MAX))
}

fn read_lockouts<const N: usize, const B: usize, const H: usize, const D: usize>(
    reader: &mut Reader<'_>,
    state: &mut State<N, B, H, D>,
    version: u16,
) -> Option<()> {
    state.site_lockouts = LockoutSet::from_bits(reader.u16()?)?;
    for set in &mut state.feeder_lockouts {
        *set = LockoutSet::from_bits(reader.u16()?)?;
    }
    let sets = state.feeder_lockouts.iter();
    for (ran, set) in state.ran_against.iter_mut().zip(sets) {
        *ran = if version == VERSION_1 {
            set.has(Lockout::Drive)
        } else {
            reader.flag()?
        };
    }
    Some(())
}

fn read_account<const H: usize, const D: usize>(
    reader: &mut Reader<'_>,
    account: &mut Account<H, D>,
) -> Option<()> {
    for dose in account.hour.iter_mut().chain(account.day.iter_mut()) {
        *dose = Dose(reader.u32()?);
    }
    account.resum();
    Some(())
}

fn read_response(reader: &mut Reader<'_>) -> Option<ResponseState> {
    let before = reader.u32()?.cast_signed();
    let known = reader.flag()?;
    let awaited = reader.u8()?;
    let unanswered = reader.u8()?;
    let bits = reader.u8()?;
    let since_cycle = Millis(reader.u32()?);
    (bits < 4 && awaited < 5).then_some(ResponseState {
        before: known.then_some(MilliPh(before)),
        awaited,
        unanswered,
        quarter: bits & 1 != 0,
        wrong: bits & 2 != 0,
        since_cycle,
    })
}

#[cfg(test)]
mod tests;
