//! Records and settings on NOR flash (feature `store`).
//!
//! Three things are kept, each in two ranges of its own, because they are written at different times:
//! the guard's [record](crate::guard::Record) 200 to 300 times a day, before feed; the
//! [kept record](KeptRecord), what persons did and found and what was learned, when it changes and
//! else once an hour; the [settings image](SettingsImage) at commissioning. In one image with the
//! limits, a pause or an hour of age would rewrite the limits every day, and a bit that rots while it
//! is written costs them; apart, a lost kept record leaves limits that hold, and a unit that only
//! observes.
//!
//! # Invariants
//! - A ticket is reported only for a record that was read back whole, byte for byte, from both
//!   ranges after it was written. The digest in it is that of the bytes that were read.
//! - The two ranges are written one after the other, the older copy first, and an erase never takes
//!   the only whole copy: a power cut at any byte leaves the record before, or this one.
//! - What is handed out after a power cut is the last record whose ticket was reported, or a later
//!   one. If that cannot be shown, nothing is handed out, and the guard counts the day as used.
//! - No step does more than one erase, one write, or one reading back. (An erase includes reading
//!   the page, to see that it is blank.)
//!
//! ```
//! # use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};
//! # struct Chip(Vec<u8>);
//! # impl ErrorType for Chip { type Error = NorFlashErrorKind; }
//! # impl ReadNorFlash for Chip {
//! #     const READ_SIZE: usize = 1;
//! #     fn read(&mut self, at: u32, out: &mut [u8]) -> Result<(), NorFlashErrorKind> {
//! #         let at = at as usize;
//! #         out.copy_from_slice(&self.0[at..at + out.len()]);
//! #         Ok(())
//! #     }
//! #     fn capacity(&self) -> usize { self.0.len() }
//! # }
//! # impl NorFlash for Chip {
//! #     const WRITE_SIZE: usize = 4;
//! #     const ERASE_SIZE: usize = 4096;
//! #     fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
//! #         self.0[from as usize..to as usize].fill(0xFF);
//! #         Ok(())
//! #     }
//! #     fn write(&mut self, at: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
//! #         self.0[at as usize..at as usize + bytes.len()].copy_from_slice(bytes);
//! #         Ok(())
//! #     }
//! # }
//! # fn run(chip: Chip, mut pool: dosewarden::PoolController) -> Result<(), Box<dyn std::error::Error>> {
//! use dosewarden::PoolController;
//! use dosewarden::regulate::Standard;
//! use dosewarden::store::RecordStore;
//!
//! // Two pages of 4 KiB for each range.
//! let mut store = RecordStore::new(chip, [0..0x2000, 0x2000..0x4000])?;
//! let loaded = store.load::<2, 1, 7, 25>();
//! let [first, second] = loaded.records; // into PoolController::restore
//!
//! // In each tick, once the outputs are applied. `permit`: any permit was given in it.
//! # let (save, permit) = (true, false);
//! if save {
//!     let mut record = [0; PoolController::<Standard>::RECORD_LEN];
//!     pool.seal_record(&mut record).map_err(|_| "not sealed")?;
//!     store.begin(&record)?;
//! }
//! if !(permit && store.erases_next()) {
//!     let _ = store.step()?;
//! }
//! if !permit && store.erase_due() {
//!     store.erase_ahead()?;
//! }
//! let saved = store.saved(); // into Facts::saved of the next tick
//! # let _ = (first, second, saved);
//! # Ok(())
//! # }
//! ```
//!
//! # An erase may stall the program
//! Many chips stop fetching instructions while a page is erased, for 20 ms to 2 s. A drive that has
//! a permit then runs on without anybody judging it. The guard counts that time in full as drive-on
//! time, holds by `clock_sane` once the gap is over `tick_gap_max`, and begins all proving anew; but
//! water may have stopped meanwhile. So the firmware erases while **no** permit stands:
//! [`RecordStore::erase_due`] and [`RecordStore::erase_ahead`] between cycles, and no
//! [`RecordStore::step`] while a permit stands and [`RecordStore::erases_next`] says so. With four
//! slots a page or more, that never has to wait. Keep settings while nothing is fed. A hardware dead man that trips sooner than the erase takes
//! has to be fed by hardware, or the drives are cut, which is safe.
//!
//! # What lies in the flash
//! Each range is cut into its erase pages, each page into slots of the same size. A slot is written
//! once, its header first, so that a slot that was begun is known as such:
//!
//! | bytes | what |
//! |---|---|
//! | 4 | `DWSL` |
//! | 4 | serial, little-endian; larger for each save, and for each slot that was tried again; from 1 |
//! | 2 | length of the content |
//! | 2 | 1: the next page was erased when this was written; else 0 |
//! | 4 | digest: the last four bytes of the content, which are the CRC-32 of all before them |
//! | 4 | CRC-32 of these 16 bytes |
//! | n | erased bytes, up to a whole unit of the flash |
//! | n | content: a [record](crate::guard::Record), an [image](SettingsImage) or what is [kept](KeptRecord) |
//!
//! # What is given after a cut, rot or a swap
//! The second range is begun only once the first was read back. So a serial that was begun in
//! *both* ranges may have been confirmed, and feed may have run on it. If no such record is whole in
//! either, what is older is not handed out ([`Found::Outdated`]), and the guard starts with the day
//! used up and the lockout for a lost record. A power cut alone never leads there.
//!
//! - One range torn, rotten, erased or put back from an older copy: the other holds the newest, the
//!   guard takes it, and tells that they differ.
//! - Both rotten in the newest slot: nothing is given.
//! - Both ranges put back together from an older copy, or both erased since in the same way: **not
//!   seen**. That would take a third place for the serial.
//! - Rot in one range, a cut while that copy is being replaced, and then rot in the other, in this
//!   order and with no save that came to its end between: **not seen** where the rotten slot was the
//!   first of its page, always with one slot a page. Prefer four slots a page or more.
//! - A slot that the flash does not give back counts as one that was begun.
//!
//! # Wear
//! The first pool of the simulator, an acid and a hypochlorite feeder, saves 222 to 261 times a day:
//! a charge and a closing for each dose, a bucket every ten minutes, the lockouts of a bad day.
//! Reckoned with 300, each page of a range is erased `300 / (slots a page x pages)` times a day, and
//! 100,000 erases last, in slots of 512 bytes:
//!
//! | page | pages a range | years |
//! |---|---|---|
//! | 1 KiB | 2 | 3 |
//! | 1 KiB | 16 | 28 |
//! | 2 KiB | 2 | 7 |
//! | 4 KiB | 2 | 14 |
//! | 4 KiB | 4 | 28 |
//!
//! The kept record of that pool is written 35 to 55 times a day. Reckoned with 60, two pages of 1 KiB
//! a range last 18 years.
//!
//! Pages are erased in turn. Erasing ahead costs one more erase for each time the power goes between
//! it and the use of the page. Tests of the project count the saves and the erases.
//!
//! # Why not a crate
//! `sequential-storage` is async, and the core has no await; and its `fetch_item` gives an older
//! value, without an error, if the newest has a flipped bit. That is the one thing that must not
//! happen here: an older record forgets feed. What is needed is small: slots of one size, written
//! whole, and nothing to collect.

pub mod board;
mod envelope;
mod error;
mod flash;
mod image;
mod kept;
mod kept_store;
mod log;
mod newest;
mod pages;
mod records;
mod regulator;
mod seal;
mod settings;
mod survey;
mod wire;

pub use board::{
    Arrival, BoardError, BoardImage, Ceilings, DayUsed, FeederCeiling, Holding, Over, Unreadable,
};
pub use error::{Damage, Found, StoreError};
pub use image::{ImageError, SettingsImage};
pub use kept::{KeptError, KeptRecord};
pub use kept_store::{KeepError, KeptStore, LoadedKept};
pub use records::{Loaded, Progress, RecordStore};
pub use regulator::RegulatorSpec;
pub use settings::{LoadedSettings, SaveError, SettingsStore};
