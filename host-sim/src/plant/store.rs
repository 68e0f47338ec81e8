//! Two separate flash ranges that hold one record each, written one after the other.
//!
//! Invariant: at most one copy is being written, and a write begins with the copy that is not
//! whole, so a power cut can never leave both torn.

/// What [`TwoCopyStore::begin_write`] did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WriteStart {
    /// The write began.
    Started,
    /// The same bytes are being written already.
    UnderWay,
    /// Both copies hold these bytes already.
    AlreadyStored,
    /// Another record is being written; ask again later.
    Busy,
}

#[derive(Clone, Debug, PartialEq, Eq)]
struct Write {
    bytes: Vec<u8>,
    copy: usize,
    done_ms: u32,
    second: bool,
}

/// Simulated flash with two copies of a record.
#[derive(Clone, Debug)]
pub struct TwoCopyStore {
    copies: [Option<Vec<u8>>; 2],
    torn: [bool; 2],
    ms_per_copy: u32,
    write: Option<Write>,
    writes_ignored: bool,
}

impl TwoCopyStore {
    /// Erased flash in which writing a copy takes `ms_per_copy`, 1 ms and up.
    #[must_use]
    pub fn new(ms_per_copy: u32) -> Self {
        Self {
            copies: [None, None],
            torn: [false, false],
            ms_per_copy: ms_per_copy.max(1),
            write: None,
            writes_ignored: false,
        }
    }

    /// Asks for both copies to become `bytes`. Nothing is readable until it is done.
    pub fn begin_write(&mut self, bytes: &[u8]) -> WriteStart {
        if let Some(write) = &self.write {
            return if write.bytes == bytes {
                WriteStart::UnderWay
            } else {
                WriteStart::Busy
            };
        }
        if self.read_back() == Some(bytes) {
            return WriteStart::AlreadyStored;
        }
        // The driver knows a torn copy by its checksum; write over that one first.
        let copy = usize::from(self.torn[1] && !self.torn[0]);
        self.write = Some(Write {
            bytes: bytes.to_vec(),
            copy,
            done_ms: 0,
            second: false,
        });
        WriteStart::Started
    }

    /// Time passes with the power on.
    pub fn step(&mut self, dt_ms: u32) {
        let mut left = dt_ms;
        while left > 0 {
            let Some(write) = &mut self.write else {
                return;
            };
            let used = left.min(self.ms_per_copy - write.done_ms);
            write.done_ms += used;
            left -= used;
            if write.done_ms < self.ms_per_copy {
                return;
            }
            let copy = write.copy;
            if !self.writes_ignored {
                self.copies[copy] = Some(write.bytes.clone());
                self.torn[copy] = false;
            }
            if write.second {
                self.write = None;
                return;
            }
            write.second = true;
            write.copy = 1 - copy;
            write.done_ms = 0;
        }
    }

    /// The record, only when nothing is being written and both copies are whole and equal.
    #[must_use]
    pub fn read_back(&self) -> Option<&[u8]> {
        let [Some(a), Some(b)] = &self.copies else {
            return None;
        };
        let whole = self.write.is_none() && !self.torn[0] && !self.torn[1];
        (whole && a == b).then_some(a.as_slice())
    }

    /// Both ranges as they stand, torn or not: what a boot finds. `None` is erased flash.
    #[must_use]
    pub fn read_both(&self) -> [Option<&[u8]>; 2] {
        [self.copies[0].as_deref(), self.copies[1].as_deref()]
    }

    /// Whether a write is under way.
    #[must_use]
    pub fn is_writing(&self) -> bool {
        self.write.is_some()
    }

    /// The power goes. A copy in the middle of its write is left torn: the new bytes as far as
    /// they got, then erased flash, the right length, and never equal to what was asked for.
    pub fn power_cut(&mut self) {
        let Some(write) = self.write.take() else {
            return;
        };
        if write.done_ms == 0 || self.writes_ignored {
            return;
        }
        let mut bytes = write.bytes;
        let length = bytes.len() as u64;
        let good = length * u64::from(write.done_ms) / u64::from(self.ms_per_copy);
        for byte in bytes.iter_mut().skip(good as usize) {
            *byte = if *byte == 0xff { 0x7f } else { 0xff };
        }
        self.copies[write.copy] = Some(bytes);
        self.torn[write.copy] = true;
    }

    /// T2: flips the bits of `mask` in one byte of one copy, if it is there.
    pub fn rot(&mut self, copy: usize, at: usize, mask: u8) {
        if let Some(Some(bytes)) = self.copies.get_mut(copy)
            && let Some(byte) = bytes.get_mut(at)
        {
            *byte ^= mask;
            self.torn[copy] |= mask != 0;
        }
    }

    /// T6: erases both copies.
    pub fn erase(&mut self) {
        self.write = None;
        self.copies = [None, None];
        self.torn = [false, false];
    }

    /// T3, T4: from now on writes take their time and change nothing, or work again.
    pub fn set_writes_ignored(&mut self, ignored: bool) {
        self.writes_ignored = ignored;
    }

    /// T5: puts one copy's bytes in place, such as an older record kept by a test.
    pub fn put(&mut self, copy: usize, bytes: Option<Vec<u8>>) {
        if let Some(slot) = self.copies.get_mut(copy) {
            *slot = bytes;
            self.torn[copy] = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn written(bytes: &[u8]) -> TwoCopyStore {
        let mut store = TwoCopyStore::new(40);
        assert_eq!(store.begin_write(bytes), WriteStart::Started);
        store.step(80);
        store
    }

    #[test]
    fn readable_only_when_both_are_whole_and_equal() {
        let mut store = TwoCopyStore::new(40);
        assert_eq!(store.read_both(), [None, None]);
        store.begin_write(b"one");
        store.step(79);
        assert_eq!(store.read_back(), None);
        assert_eq!(store.read_both(), [Some(&b"one"[..]), None]);
        assert_eq!(store.begin_write(b"one"), WriteStart::UnderWay);
        assert_eq!(store.begin_write(b"two"), WriteStart::Busy);
        store.step(1);
        assert_eq!(store.read_back(), Some(&b"one"[..]));
        assert_eq!(store.begin_write(b"one"), WriteStart::AlreadyStored);
    }

    #[test]
    fn a_cut_in_the_first_copy_leaves_the_old_second() {
        let mut store = written(b"old!");
        store.begin_write(b"new!");
        store.step(20);
        store.power_cut();
        assert_eq!(store.read_back(), None);
        let [torn, whole] = store.read_both();
        assert_eq!(torn, Some(&b"ne\xff\xff"[..]));
        assert_eq!(whole, Some(&b"old!"[..]));
    }

    #[test]
    fn a_cut_in_the_second_copy_leaves_the_new_first() {
        let mut store = written(b"old!");
        store.begin_write(b"new!");
        store.step(79);
        store.power_cut();
        assert_eq!(store.read_both()[0], Some(&b"new!"[..]));
        // The next write begins with the torn copy, so a cut in it spares the whole one.
        store.begin_write(b"next");
        store.step(5);
        store.power_cut();
        assert_eq!(store.read_both()[0], Some(&b"new!"[..]));
    }

    #[test]
    fn faults_of_the_flash() {
        let mut store = written(b"data");
        store.rot(1, 2, 0x01);
        assert_eq!(store.read_back(), None);
        // The driver sees the rot, so the next write begins there.
        store.begin_write(b"data");
        store.step(40);
        assert_eq!(store.read_both()[1], Some(&b"data"[..]));
        store.step(40);
        assert!(store.read_back().is_some());
        store.set_writes_ignored(true);
        store.begin_write(b"more");
        store.step(1000);
        assert_eq!(store.read_back(), Some(&b"data"[..]));
        store.put(0, Some(b"past".to_vec()));
        assert_eq!(store.read_back(), None);
        store.erase();
        assert_eq!(store.read_both(), [None, None]);
    }

    proptest! {
        #[test]
        fn one_copy_is_always_whole(
            cuts in proptest::collection::vec((0_u32..100, any::<bool>()), 1..40),
        ) {
            let record = |n: usize| vec![n as u8; 32];
            let mut store = TwoCopyStore::new(40);
            store.begin_write(&record(0));
            store.step(80);
            for (n, (ms, cut)) in cuts.into_iter().enumerate() {
                store.begin_write(&record(n + 1));
                store.step(ms);
                if cut { store.power_cut(); }
                let whole = |bytes: &[u8]| bytes.iter().all(|b| *b == bytes[0] && *b < 0x7f);
                prop_assert!(store.read_both().into_iter().flatten().any(whole));
            }
        }
    }
}
