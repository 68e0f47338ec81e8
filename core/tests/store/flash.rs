//! A NOR flash that behaves as badly as flash may: written once between two erases, and a power cut
//! leaves what the data sheets call undefined.

use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};

/// The last thing that was done, so that a cut in the middle of it can be made up afterwards.
#[derive(Clone, Debug)]
pub(crate) enum Op {
    Write { at: usize, bytes: Vec<u8> },
    Erase { page: usize },
}

/// Bytes in `ERASE`-sized pages, written in units of `WRITE`.
#[derive(Clone, Debug)]
pub(crate) struct Flash<const WRITE: usize, const ERASE: usize> {
    pub(crate) bytes: Vec<u8>,
    /// Pages whose erase was cut: what is written there does not last.
    weak: Vec<bool>,
    pub(crate) erases: Vec<u32>,
    /// Pages that no longer take a write.
    pub(crate) worn: Vec<usize>,
    /// Pages that cannot be erased.
    pub(crate) stuck: Vec<usize>,
    /// Pages of which the last bit stays written, whatever an erase says.
    pub(crate) faded: Vec<usize>,
    /// Addresses that cannot be read.
    pub(crate) unreadable: Vec<std::ops::Range<usize>>,
    /// Bytes written, and a page's bytes for each erase, until the power goes.
    pub(crate) fuel: Option<usize>,
    pub(crate) dead: bool,
    /// Addresses that lose their bits with the next write into their page, as cells beside those written may.
    pub(crate) disturbed: Vec<usize>,
    /// Reads that are answered yet.
    pub(crate) reads_left: Option<usize>,
    pub(crate) reads: usize,
    /// Nothing is done any more after this many operations.
    pub(crate) stop_after: Option<usize>,
    /// The flash before the last operation, and that operation.
    pub(crate) last: Option<(Vec<u8>, Op)>,
    pub(crate) ops: usize,
    noise: u64,
}

/// Ways in which a cut erase may leave a page.
pub(crate) const CUT_ERASES: usize = 7;

impl<const WRITE: usize, const ERASE: usize> Flash<WRITE, ERASE> {
    pub(crate) fn new(pages: usize) -> Self {
        Self::holding(vec![0xFF; pages * ERASE])
    }

    pub(crate) fn holding(bytes: Vec<u8>) -> Self {
        let pages = bytes.len() / ERASE;
        Self {
            bytes,
            weak: vec![false; pages],
            erases: vec![0; pages],
            worn: Vec::new(),
            stuck: Vec::new(),
            faded: Vec::new(),
            unreadable: Vec::new(),
            disturbed: Vec::new(),
            reads_left: None,
            reads: 0,
            fuel: None,
            dead: false,
            stop_after: None,
            last: None,
            ops: 0,
            noise: 0x9E37_79B9_7F4A_7C15,
        }
    }

    /// The power comes back. What stands in a page whose erase was cut has changed meanwhile.
    pub(crate) fn power_up(&mut self) {
        self.dead = false;
        self.fuel = None;
        for page in 0..self.weak.len() {
            if !self.weak[page] {
                continue;
            }
            for at in page * ERASE..(page + 1) * ERASE {
                if self.bytes[at] != 0xFF && self.random().is_multiple_of(16) {
                    self.bytes[at] ^= 1 << (self.random() % 8);
                }
            }
        }
    }

    fn random(&mut self) -> u64 {
        // xorshift64 (Marsaglia 2003): repeatable, and good enough for noise.
        self.noise ^= self.noise << 13;
        self.noise ^= self.noise >> 7;
        self.noise ^= self.noise << 17;
        self.noise
    }

    /// Each flash that a power cut anywhere in a save of this one may leave.
    pub(crate) fn each_cut<E: std::fmt::Debug>(
        &self,
        save: impl Fn(&mut Self) -> Result<(), E>,
        mut look: impl FnMut(Self),
    ) where
        Self: Clone,
    {
        for op in 1_usize.. {
            // Runs the save up to its next operation, which is then cut in every way.
            let mut again = self.clone();
            again.stop_after = Some(self.ops + op);
            let done = save(&mut again);
            if again.ops < self.ops + op {
                done.expect("it was not stopped");
                return;
            }
            let (before, op) = again.last.clone().expect("an operation");
            for image in every_cut::<ERASE>(&before, &op) {
                look(Self::holding(image));
            }
        }
    }

    fn stops(&self) -> Result<(), NorFlashErrorKind> {
        let over = self.stop_after.is_some_and(|most| self.ops >= most);
        if self.dead || over {
            Err(NorFlashErrorKind::Other)
        } else {
            Ok(())
        }
    }

    fn use_fuel(&mut self, wanted: usize) -> Option<usize> {
        let fuel = self.fuel.as_mut()?;
        if *fuel >= wanted {
            *fuel -= wanted;
            return None;
        }
        self.dead = true;
        Some(*fuel)
    }

    fn cut_erase(&mut self, page: usize, way: usize) {
        let range = page * ERASE..(page + 1) * ERASE;
        let mut noise = self.random();
        let bytes = cut_erase(&self.bytes[range.clone()], way, &mut noise);
        self.bytes[range].copy_from_slice(&bytes);
        self.weak[page] = way > 0;
    }
}

/// A page after an erase that was cut: untouched, half of it erased from either end, all bits on
/// their way, all of it noise, or reading as blank without being so.
pub(crate) fn cut_erase(page: &[u8], way: usize, noise: &mut u64) -> Vec<u8> {
    let half = page.len() / 2;
    let mut random = || {
        *noise = noise
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (*noise >> 33).to_le_bytes()[0]
    };
    let bytes = page.iter().enumerate();
    bytes
        .map(|(at, byte)| match way {
            0 => *byte,
            1 if at >= half => *byte,
            2 if at < half => *byte,
            3 => *byte | random(),
            4 => random(),
            5 if at < 4 => random(),
            _ => 0xFF,
        })
        .collect()
}

/// The flash after the power went in the middle of an operation, in every way.
pub(crate) fn every_cut<const ERASE: usize>(before: &[u8], op: &Op) -> Vec<Vec<u8>> {
    let mut images = Vec::new();
    match op {
        Op::Write { at, bytes } => {
            for written in 0..=bytes.len() {
                let mut image = before.to_vec();
                image[*at..*at + written].copy_from_slice(&bytes[..written]);
                // The byte that is being written has some of its bits.
                for mask in [0xF0, 0x0F] {
                    let mut partly = image.clone();
                    if let Some(byte) = bytes.get(written) {
                        partly[*at + written] = byte | mask;
                        images.push(partly);
                    }
                }
                images.push(image);
            }
        }
        Op::Erase { page } => {
            let range = page * ERASE..(page + 1) * ERASE;
            for way in 0..CUT_ERASES {
                let mut noise = 0xDEAD_BEEF ^ way as u64;
                let mut image = before.to_vec();
                let cut = cut_erase(&before[range.clone()], way, &mut noise);
                image[range.clone()].copy_from_slice(&cut);
                images.push(image);
            }
        }
    }
    images
}

impl<const WRITE: usize, const ERASE: usize> ErrorType for Flash<WRITE, ERASE> {
    type Error = NorFlashErrorKind;
}

impl<const WRITE: usize, const ERASE: usize> ReadNorFlash for Flash<WRITE, ERASE> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        let range = offset as usize..offset as usize + bytes.len();
        let hit = |bad: &std::ops::Range<usize>| bad.start < range.end && range.start < bad.end;
        self.reads += 1;
        let silent = self.reads_left.is_some_and(|most| self.reads > most);
        if self.dead || silent || self.unreadable.iter().any(hit) {
            return Err(NorFlashErrorKind::Other);
        }
        bytes.copy_from_slice(&self.bytes[range]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const WRITE: usize, const ERASE: usize> NorFlash for Flash<WRITE, ERASE> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = ERASE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.stops()?;
        let (from, to) = (from as usize, to as usize);
        assert!(
            from.is_multiple_of(ERASE) && to == from + ERASE,
            "one page at a time"
        );
        let page = from / ERASE;
        self.ops += 1;
        self.last = Some((self.bytes.clone(), Op::Erase { page }));
        if let Some(left) = self.use_fuel(ERASE) {
            self.cut_erase(page, left % CUT_ERASES);
            return Err(NorFlashErrorKind::Other);
        }
        self.erases[page] += 1;
        if self.stuck.contains(&page) {
            return Err(NorFlashErrorKind::Other);
        }
        self.bytes[from..to].fill(0xFF);
        if self.faded.contains(&page) {
            self.bytes[to - 1] = 0xFE;
        }
        self.weak[page] = false;
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.stops()?;
        let at = offset as usize;
        assert!(
            at.is_multiple_of(WRITE) && bytes.len().is_multiple_of(WRITE),
            "writes are in whole units"
        );
        let place = at..at + bytes.len();
        assert!(
            self.bytes[place.clone()].iter().all(|byte| *byte == 0xFF),
            "a unit is written once between two erases"
        );
        self.ops += 1;
        let op = Op::Write {
            at,
            bytes: bytes.to_vec(),
        };
        self.last = Some((self.bytes.clone(), op));
        let cut = self.use_fuel(bytes.len());
        let written = cut.unwrap_or(bytes.len());
        self.bytes[at..at + written].copy_from_slice(&bytes[..written]);
        if let Some(byte) = bytes.get(written).filter(|_| cut.is_some()) {
            let mask = self.random().to_le_bytes()[0];
            self.bytes[at + written] = byte | mask;
        }
        let (now, later): (Vec<usize>, _) =
            (self.disturbed.drain(..)).partition(|it| it / ERASE == at / ERASE);
        self.disturbed = later;
        for address in now {
            self.bytes[address] = 0;
        }
        if self.worn.contains(&(at / ERASE)) && bytes.len() > 32 {
            // A header is taken, a content is not; and it says that all was well, as worn flash does.
            self.bytes[at] |= 0x55;
        }
        if cut.is_some() {
            Err(NorFlashErrorKind::Other)
        } else {
            Ok(())
        }
    }
}
