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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_room_is_dropped_whole_and_never_looks_written() {
        let mut out = [0xEE; 5];
        let mut writer = Writer::new(&mut out);
        writer.u32(0x0403_0201);
        assert!(!writer.is_full());
        writer.u16(0x0605);
        assert_eq!(writer.written(), [1, 2, 3, 4]);
        // There is room for this one, and a field before it is missing all the same.
        writer.u8(7);
        assert_eq!(writer.written().len(), 5);
        assert!(!writer.is_full());
        assert_eq!(out, [1, 2, 3, 4, 7]);
    }

    #[test]
    fn what_is_written_is_full_to_the_byte() {
        let mut out = [0; 7];
        let mut writer = Writer::new(&mut out);
        writer.flagged(1, 0x0403_0201);
        writer.u16(0x0605);
        assert!(writer.is_full());
        assert_eq!(out, [1, 1, 2, 3, 4, 5, 6]);
    }

    #[test]
    fn nothing_is_read_past_the_end_and_a_flag_is_0_or_1() {
        let mut reader = Reader::new(&[1, 0, 2, 0x34, 0x12, 9]);
        assert_eq!(reader.flag(), Some(true));
        assert_eq!(reader.flag(), Some(false));
        assert_eq!(reader.flag(), None);
        assert_eq!(reader.u16(), Some(0x1234));
        assert_eq!(reader.u32(), None);
        assert_eq!(reader.u8(), Some(9));
        assert_eq!(
            (reader.u8(), reader.flag(), reader.u16()),
            (None, None, None)
        );
        assert_eq!(Reader::new(&[1, 2, 3, 4]).u32(), Some(0x0403_0201));
    }
}
