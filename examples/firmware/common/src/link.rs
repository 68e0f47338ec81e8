//! The serial link: a host gives a board its inputs, one frame a tick, and gets the outputs back before
//! it sends the next.
//!
//! Both frames begin with a sign, end with a CRC-16 (polynomial 0x1021, start 0xFFFF, most significant
//! bit first; CRC-16/IBM-3740) of everything before, and hold little-endian numbers in between.
//!
//! | bytes | to the board | from the board |
//! |---|---|---|
//! | 1 | sign, `0xA5` | sign, `0x5A` |
//! | 1 | kind: 1 tick, 2 look, 3 end | the kind that it answers |
//! | 4 | host's time, ms | the same |
//! | 1 | bits: 1 flow, 2 pump, 4 initialise, 8 full stage | bits: 1 acid, 2 chlorine, 4 series contact |
//! | 2, 2 | pH x 1000; ORP, mV | |
//! | 4, 4 | | vetoes of acid, of chlorine |
//! | 2 | CRC | CRC |
//!
//! A frame that is not whole is not answered. A board that hears nothing for a while ticks with nothing
//! known: whatever was on goes off.

use crc::{CRC_16_IBM_3740, Crc};
use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::guard::{Action, Authority, Reading, Stage};
use dosewarden::{Act, Person};

use crate::unit::{Probes, Witnesses};
use crate::world::Levels;

const CRC: Crc<u16> = Crc::<u16>::new(&CRC_16_IBM_3740);
const TO_BOARD: u8 = 0xA5;
const FROM_BOARD: u8 = 0x5A;

/// Steps of the record store that follow a tick. A fixed number, so that both ends know a record as saved
/// in the same tick.
pub const STEPS_A_TICK: usize = 10;

/// Bytes of a frame to the board.
pub const REQUEST_LEN: usize = 13;
/// Bytes of a frame from the board.
pub const ANSWER_LEN: usize = 17;

/// What the host wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One tick with these inputs.
    Tick,
    /// What the outputs show, without a tick.
    Look,
    /// The board may stop.
    End,
}

impl Kind {
    const fn byte(self) -> u8 {
        match self {
            Self::Tick => 1,
            Self::Look => 2,
            Self::End => 3,
        }
    }

    const fn of(byte: u8) -> Option<Self> {
        match byte {
            1 => Some(Self::Tick),
            2 => Some(Self::Look),
            3 => Some(Self::End),
            _ => None,
        }
    }
}

/// A frame to the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Request {
    /// What is wanted.
    pub kind: Kind,
    /// Time of the host, ms.
    pub now_ms: u32,
    /// Whether water flows.
    pub flow: bool,
    /// Whether the circulation pump runs.
    pub pump: bool,
    /// A technician begins the unit.
    pub initialise: bool,
    /// A technician sets the full stage.
    pub full_stage: bool,
    /// pH x 1000.
    pub ph: u16,
    /// ORP, mV.
    pub orp: u16,
}

impl Request {
    /// As bytes.
    #[must_use]
    pub fn encode(&self) -> [u8; REQUEST_LEN] {
        let bits = u8::from(self.flow)
            | (u8::from(self.pump) << 1)
            | (u8::from(self.initialise) << 2)
            | (u8::from(self.full_stage) << 3);
        let [t0, t1, t2, t3] = self.now_ms.to_le_bytes();
        let [p0, p1] = self.ph.to_le_bytes();
        let [o0, o1] = self.orp.to_le_bytes();
        let kind = self.kind.byte();
        let body = [TO_BOARD, kind, t0, t1, t2, t3, bits, p0, p1, o0, o1];
        let [c0, c1] = CRC.checksum(&body).to_le_bytes();
        let mut frame = [0; REQUEST_LEN];
        fill(&mut frame, &body, [c0, c1]);
        frame
    }

    /// From bytes. `None` if the frame is not whole.
    #[must_use]
    pub fn decode(frame: &[u8; REQUEST_LEN]) -> Option<Self> {
        let [sign, kind, t0, t1, t2, t3, bits, p0, p1, o0, o1, c0, c1] = *frame;
        let (body, _) = frame.split_last_chunk::<2>()?;
        if sign != TO_BOARD || CRC.checksum(body) != u16::from_le_bytes([c0, c1]) {
            return None;
        }
        Some(Self {
            kind: Kind::of(kind)?,
            now_ms: u32::from_le_bytes([t0, t1, t2, t3]),
            flow: bits & 1 != 0,
            pump: bits & 2 != 0,
            initialise: bits & 4 != 0,
            full_stage: bits & 8 != 0,
            ph: u16::from_le_bytes([p0, p1]),
            orp: u16::from_le_bytes([o0, o1]),
        })
    }

    /// What the contacts say.
    #[must_use]
    pub const fn witnesses(&self) -> Witnesses {
        Witnesses {
            flow: Reading::now(self.flow),
            pump: Reading::now(self.pump),
        }
    }

    /// What the probes say.
    #[must_use]
    pub fn probes(&self) -> Probes {
        Probes {
            ph: Reading::now(MilliPh(i32::from(self.ph))),
            orp: Reading::now(Millivolts(i32::from(self.orp))),
        }
    }

    /// Who does something.
    #[must_use]
    pub const fn person(&self) -> Option<Person> {
        let action = if self.initialise {
            Action::Initialise
        } else if self.full_stage {
            Action::SetStage(Stage::Full)
        } else {
            return None;
        };
        Some(Person {
            by: Authority::Technician,
            act: Act::Guard(action),
        })
    }
}

/// A frame from the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Answer {
    /// What it answers.
    pub kind: Kind,
    /// The host's time in the request, ms.
    pub now_ms: u32,
    /// What the outputs show.
    pub levels: Levels,
    /// The rules that refuse each feeder, as the bits of their set.
    pub vetoes: [u32; 2],
}

impl Answer {
    /// As bytes.
    #[must_use]
    pub fn encode(&self) -> [u8; ANSWER_LEN] {
        let bits = u8::from(self.levels.acid)
            | (u8::from(self.levels.chlorine) << 1)
            | (u8::from(self.levels.master) << 2);
        let [t0, t1, t2, t3] = self.now_ms.to_le_bytes();
        let [acid, chlorine] = self.vetoes;
        let [a0, a1, a2, a3] = acid.to_le_bytes();
        let [h0, h1, h2, h3] = chlorine.to_le_bytes();
        let kind = self.kind.byte();
        let body = [
            FROM_BOARD, kind, t0, t1, t2, t3, bits, a0, a1, a2, a3, h0, h1, h2, h3,
        ];
        let [c0, c1] = CRC.checksum(&body).to_le_bytes();
        let mut frame = [0; ANSWER_LEN];
        fill(&mut frame, &body, [c0, c1]);
        frame
    }

    /// From bytes. `None` if the frame is not whole.
    #[must_use]
    pub fn decode(frame: &[u8; ANSWER_LEN]) -> Option<Self> {
        let [
            sign,
            kind,
            t0,
            t1,
            t2,
            t3,
            bits,
            a0,
            a1,
            a2,
            a3,
            h0,
            h1,
            h2,
            h3,
            c0,
            c1,
        ] = *frame;
        let (body, _) = frame.split_last_chunk::<2>()?;
        if sign != FROM_BOARD || CRC.checksum(body) != u16::from_le_bytes([c0, c1]) {
            return None;
        }
        Some(Self {
            kind: Kind::of(kind)?,
            now_ms: u32::from_le_bytes([t0, t1, t2, t3]),
            levels: Levels {
                acid: bits & 1 != 0,
                chlorine: bits & 2 != 0,
                master: bits & 4 != 0,
            },
            vetoes: [
                u32::from_le_bytes([a0, a1, a2, a3]),
                u32::from_le_bytes([h0, h1, h2, h3]),
            ],
        })
    }
}

fn fill(frame: &mut [u8], body: &[u8], crc: [u8; 2]) {
    let bytes = body.iter().chain(crc.iter());
    for (place, byte) in frame.iter_mut().zip(bytes) {
        *place = *byte;
    }
}

/// Finds frames in a stream of bytes. Bytes that belong to none are skipped, one at a time, so that the
/// frame after a torn one is found.
#[derive(Clone, Debug)]
pub struct Reader {
    bytes: [u8; REQUEST_LEN],
    held: usize,
}

impl Default for Reader {
    fn default() -> Self {
        Self::new()
    }
}

impl Reader {
    /// Nothing was read.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            bytes: [0; REQUEST_LEN],
            held: 0,
        }
    }

    /// Takes one byte; gives the frame that it ends.
    pub fn take(&mut self, byte: u8) -> Option<Request> {
        self.bytes.rotate_left(1);
        if let Some(last) = self.bytes.last_mut() {
            *last = byte;
        }
        self.held = self.held.saturating_add(1).min(REQUEST_LEN);
        if self.held < REQUEST_LEN {
            return None;
        }
        let found = Request::decode(&self.bytes);
        if found.is_some() {
            self.held = 0;
        }
        found
    }
}
