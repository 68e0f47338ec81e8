//! The unit's non-volatile store: two copies of one record, and the handshake over them.
//!
//! Invariant: a ticket is reported only for bytes that were read back whole and equal from both
//! places, after the write ended.

use dosewarden::guard::Ticket;

use crate::plant::TwoCopyStore;

/// Time that one copy takes to write, ms: a page of serial NOR flash erased and programmed takes
/// 45 to 400 ms by common data sheets.
pub(super) const MS_PER_COPY: u32 = 60;

/// Flash with two copies, and what waits to be written.
#[derive(Clone, Debug)]
pub(super) struct Store {
    flash: TwoCopyStore,
    wanted: Option<Vec<u8>>,
    confirmed: Option<Ticket>,
    tears: bool,
}

impl Store {
    /// Erased flash, as it leaves its maker.
    pub(super) fn erased() -> Self {
        Self {
            flash: TwoCopyStore::new(MS_PER_COPY),
            wanted: None,
            confirmed: None,
            tears: false,
        }
    }

    /// Asks for a record to be kept.
    pub(super) fn want(&mut self, record: &[u8]) {
        if self.wanted.as_deref() != Some(record) {
            self.wanted = Some(record.to_vec());
        }
        self.begin();
    }

    /// Begins, or begins again once the write before it has ended.
    fn begin(&mut self) {
        if let Some(wanted) = &self.wanted {
            self.flash.begin_write(wanted);
        }
    }

    /// True time passes with the power on: a flash that was told to write times that itself.
    pub(super) fn time_passes(&mut self, true_ms: u32) {
        self.flash.step(true_ms);
    }

    /// The program looks whether what it wants is written.
    pub(super) fn read_back(&mut self) {
        if self.flash.is_writing() {
            return;
        }
        if self.wanted.is_some() && self.flash.read_back() == self.wanted.as_deref() {
            self.confirmed = self.flash.read_back().and_then(Ticket::of);
            self.wanted = None;
        }
        self.begin();
    }

    /// The record that was last read back equal from both places.
    pub(super) fn confirmed(&self) -> Option<Ticket> {
        self.confirmed
    }

    /// The next loss of power finds a write under way, however it falls.
    pub(super) fn tear_next(&mut self) {
        self.tears = true;
    }

    /// Supply goes, `into_ms` after the last [`Store::time_passes`].
    pub(super) fn power_cut(&mut self, into_ms: u32) {
        self.flash.step(into_ms);
        if core::mem::take(&mut self.tears)
            && let Some(kept) = self.flash.read_both()[0].map(<[u8]>::to_vec)
        {
            // The same record with its last byte changed: a write of something else begins.
            let mut other = kept;
            if let Some(last) = other.last_mut() {
                *last ^= 1;
            }
            self.flash.begin_write(&other);
            self.flash.step(MS_PER_COPY / 2);
        }
        self.flash.power_cut();
        self.wanted = None;
        self.confirmed = None;
    }

    /// What a boot finds in the two places.
    pub(super) fn copies(&self) -> [Option<&[u8]>; 2] {
        self.flash.read_both()
    }

    /// The flash itself, for faults of it.
    pub(super) fn flash_mut(&mut self) -> &mut TwoCopyStore {
        &mut self.flash
    }
}
