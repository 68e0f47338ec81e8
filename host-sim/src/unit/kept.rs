//! What the unit keeps besides the guard's record: two copies of the crate's kept record, written
//! one after the other in a flash of its own.
//!
//! Invariant: what a boot hands out is a record that was written whole. A power cut loses at most
//! what was not written yet.

use dosewarden::guard::Crc32;
use dosewarden::guard::units::Millis;
use dosewarden::store::{KeptError, KeptRecord};

use super::store::MS_PER_COPY;
use crate::plant::TwoCopyStore;

/// From one look for something to write to the next, where no person did anything, ms.
const LOOK_MS: u32 = 10_000;
/// A record of the most feeders takes less.
const BYTES_MAX: usize = 1024;

/// Flash with two copies, each with a serial before and a CRC behind it.
#[derive(Clone, Debug)]
pub(super) struct KeptFlash<const N: usize> {
    flash: TwoCopyStore,
    serial: u32,
    wanted: Option<Vec<u8>>,
    /// As it was last asked for, and how long ago.
    written: KeptRecord<N>,
    ago: Millis,
    look_in_ms: u32,
    /// Copies of both places that somebody keeps away.
    away: [Option<Vec<u8>>; 2],
}

impl<const N: usize> KeptFlash<N> {
    /// As the unit is fitted: `kept` stands in both places.
    pub(super) fn fitted(kept: KeptRecord<N>) -> Self {
        let mut own = Self {
            flash: TwoCopyStore::new(MS_PER_COPY),
            serial: 0,
            wanted: None,
            written: kept.clone(),
            ago: Millis(0),
            look_in_ms: 0,
            away: [None, None],
        };
        own.want(kept);
        own.flash.step(2 * MS_PER_COPY);
        own
    }

    /// Asks for a record to be kept.
    fn want(&mut self, kept: KeptRecord<N>) {
        let mut bytes = vec![0; BYTES_MAX];
        let Ok(length) = kept.encode(&mut bytes) else {
            // No figure that the controller gives is out of range.
            return;
        };
        bytes.truncate(length);
        self.serial += 1;
        let mut all = self.serial.to_le_bytes().to_vec();
        all.append(&mut bytes);
        let crc = Crc32::of(&all);
        all.extend(crc.to_le_bytes());
        self.flash.begin_write(&all);
        self.wanted = Some(all);
        self.written = kept;
        self.ago = Millis(0);
    }

    /// True time passes with the power on: a flash that was told to write times that itself.
    pub(super) fn time_passes(&mut self, true_ms: u32) {
        self.flash.step(true_ms);
    }

    /// The program looks what is written, `dt_ms` by its counter after the last time.
    pub(super) fn look(&mut self, dt_ms: u32) {
        self.ago.0 = self.ago.0.saturating_add(dt_ms);
        self.look_in_ms = self.look_in_ms.saturating_sub(dt_ms);
        if self.flash.is_writing() {
            return;
        }
        if let Some(wanted) = &self.wanted {
            if self.flash.read_back() == Some(wanted) {
                self.wanted = None;
            } else {
                self.flash.begin_write(wanted);
            }
        }
    }

    /// A person did something: the next [`KeptFlash::is_looking`] is true.
    pub(super) fn look_now(&mut self) {
        self.look_in_ms = 0;
    }

    /// Whether it is time to look for something to write.
    pub(super) fn is_looking(&mut self) -> bool {
        let is_looking = self.look_in_ms == 0;
        if is_looking {
            self.look_in_ms = LOOK_MS;
        }
        is_looking
    }

    /// Writes what is kept now, if that is due.
    pub(super) fn keep(&mut self, now: KeptRecord<N>) {
        if now.is_due(&self.written, self.ago) {
            self.want(now);
        }
    }

    /// Supply goes, `into_ms` after the last [`KeptFlash::time_passes`].
    pub(super) fn power_cut(&mut self, into_ms: u32) {
        self.flash.step(into_ms);
        self.flash.power_cut();
        self.wanted = None;
    }

    /// What a boot finds: the newer of the whole copies.
    pub(super) fn load(&mut self) -> Result<KeptRecord<N>, KeptError> {
        let copies = self.flash.read_both();
        let empty = copies.iter().all(Option::is_none);
        let whole = copies.into_iter().flatten().filter_map(taken_apart);
        let newest = whole.max_by_key(|(serial, _)| *serial);
        let read = match newest {
            Some((serial, record)) => {
                self.serial = self.serial.max(serial);
                KeptRecord::decode(record)
            }
            None if empty => Err(KeptError::Empty),
            None => Err(KeptError::NotWhole),
        };
        if let Ok(kept) = &read {
            self.written = kept.clone();
        }
        self.ago = Millis(0);
        read
    }

    /// How often it was asked to write, the first time when it was fitted.
    pub(super) const fn writes(&self) -> u32 {
        self.serial
    }

    /// The flash itself, for faults of it.
    pub(super) fn flash_mut(&mut self) -> &mut TwoCopyStore {
        &mut self.flash
    }

    /// Somebody makes a copy of both places.
    pub(super) fn copy_away(&mut self) {
        self.away = self.flash.read_both().map(|copy| copy.map(<[u8]>::to_vec));
    }

    /// And puts it back.
    pub(super) fn copy_back(&mut self) {
        for (each, copy) in self.away.iter().enumerate() {
            self.flash.put(each, copy.clone());
        }
    }

    /// The next loss of power finds a write under way: of the same record with another serial.
    pub(super) fn tear(&mut self) {
        let written = self.written.clone();
        self.want(written);
        self.flash.step(MS_PER_COPY / 2);
    }
}

/// Serial and record, if it is whole.
fn taken_apart(copy: &[u8]) -> Option<(u32, &[u8])> {
    let (body, crc) = copy.split_last_chunk::<4>()?;
    let (serial, record) = body.split_first_chunk::<4>()?;
    (Crc32::of(body) == u32::from_le_bytes(*crc)).then_some((u32::from_le_bytes(*serial), record))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cut_between_the_copies_the_newer_is_handed_out() {
        let mut own = KeptFlash::fitted(KeptRecord::<2>::NEW);
        for number in 1..5 {
            let mut kept = KeptRecord::NEW;
            kept.restraints.paused = Millis(number);
            own.want(kept.clone());
            own.power_cut(MS_PER_COPY);
            assert_eq!(own.load(), Ok(kept), "write {number}");
        }
    }
}
