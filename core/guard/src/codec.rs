//! Bytes in and out, bounded: nothing is written past the end, nothing read that is not there.

/// Writes little-endian fields into a buffer. Past its end it drops them and is never full.
pub(crate) struct Writer<'a> {
    out: &'a mut [u8],
    at: usize,
    overrun: bool,
}

impl<'a> Writer<'a> {
    pub(crate) const fn new(out: &'a mut [u8]) -> Self {
        Self {
            out,
            at: 0,
            overrun: false,
        }
    }

    /// Of a length that the compiler knows: then it is one store, without a loop, and without the
    /// panic that `copy_from_slice` keeps for lengths that differ.
    pub(crate) fn bytes<const L: usize>(&mut self, bytes: &[u8; L]) {
        let rest = self.out.get_mut(self.at..);
        match rest.and_then(|rest| rest.first_chunk_mut::<L>()) {
            Some(place) => {
                *place = *bytes;
                self.at = self.at.saturating_add(L);
            }
            None => self.overrun = true,
        }
    }

    pub(crate) fn u8(&mut self, value: u8) {
        self.bytes(&[value]);
    }

    pub(crate) fn u16(&mut self, value: u16) {
        self.bytes(&value.to_le_bytes());
    }

    pub(crate) fn u32(&mut self, value: u32) {
        self.bytes(&value.to_le_bytes());
    }

    pub(crate) fn flagged(&mut self, flag: u8, value: u32) {
        self.u8(flag);
        self.u32(value);
    }

    pub(crate) fn written(&self) -> &[u8] {
        self.out.get(..self.at).unwrap_or(&[])
    }

    pub(crate) fn is_full(&self) -> bool {
        !self.overrun && self.at == self.out.len()
    }
}

/// Reads little-endian fields. `None` past the end.
pub(crate) struct Reader<'a> {
    rest: &'a [u8],
}

impl<'a> Reader<'a> {
    pub(crate) const fn new(rest: &'a [u8]) -> Self {
        Self { rest }
    }

    pub(crate) fn bytes<const L: usize>(&mut self) -> Option<[u8; L]> {
        let (first, rest) = self.rest.split_first_chunk::<L>()?;
        self.rest = rest;
        Some(*first)
    }

    pub(crate) fn u8(&mut self) -> Option<u8> {
        self.bytes::<1>().map(|[byte]| byte)
    }

    /// A byte that is 0 or 1.
    pub(crate) fn flag(&mut self) -> Option<bool> {
        match self.u8()? {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }

    pub(crate) fn u16(&mut self) -> Option<u16> {
        self.bytes().map(u16::from_le_bytes)
    }

    pub(crate) fn u32(&mut self) -> Option<u32> {
        self.bytes().map(u32::from_le_bytes)
    }
}
