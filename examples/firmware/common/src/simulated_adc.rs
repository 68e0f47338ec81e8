//! A glass electrode, its bias and its converter, all **simulated**: the registers of an ADS1115 by
//! its data sheet, behind an I2C bus that no emulator has. What runs on it is the real driver crate.

use core::cell::Cell;

use embedded_hal::digital::{self, OutputPin};
use embedded_hal::i2c::{self, I2c, NoAcknowledgeSource, Operation};

/// How the electrode is wired, and whether the chip is there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wire {
    /// As it should be.
    Whole,
    /// The electrode's lead is off, and the input floats.
    Off,
    /// Water in the connector: a resistance far below the glass's.
    Wet,
    /// The chip has no power.
    NoChip,
}

const ADDRESS: u8 = 0x48;
const CONFIG_AT_RESET: u16 = 0x8583;
/// Starts a conversion; read back, nothing is under way.
const START: u16 = 1 << 15;
/// Input A0 against ground.
const INPUT_A0: u16 = 0b100;

/// Of the electrode's reference above the chip's ground, uV.
const REFERENCE_UV: i32 = 1_250_000;
/// Of the bias above the electrode's reference, uV.
const BIAS_UV: i32 = 1_250_000;
/// Glass and bias resistance, Mohm.
const GLASS_MOHM: i64 = 150;
const BIAS_MOHM: i64 = 10_000;
/// 10 Gohm and the 30 pF of a guarded input, ms. With the glass it is 5 ms: nothing, here.
const FLOAT_MS: i64 = 300;
/// What leaks from an input that floats: towards a higher pH, as if acid were wanted.
const LEAK_UV_A_SECOND: i64 = 1000;
/// A pH unit, uV.
const UV_A_PH: i64 = 59_160;

/// Everything on the bench.
#[derive(Debug)]
pub struct Bench {
    now_ms: Cell<u32>,
    wire: Cell<Wire>,
    bias: Cell<bool>,
    /// Of the input against the electrode's reference, uV.
    input_uv: Cell<i32>,
    pointer: Cell<u8>,
    config: Cell<u16>,
    conversion: Cell<i16>,
    /// When the conversion began, while one is under way.
    began_ms: Cell<Option<u32>>,
}

impl Bench {
    /// An electrode in pH 7, and a chip that has just got its power.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            now_ms: Cell::new(0),
            wire: Cell::new(Wire::Whole),
            bias: Cell::new(false),
            input_uv: Cell::new(0),
            pointer: Cell::new(0),
            config: Cell::new(CONFIG_AT_RESET),
            conversion: Cell::new(0),
            began_ms: Cell::new(None),
        }
    }

    /// The bus.
    #[must_use]
    pub const fn bus(&self) -> Bus<'_> {
        Bus(self)
    }

    /// The pin that turns on the bias; high is on.
    #[must_use]
    pub const fn bias_pin(&self) -> BiasPin<'_> {
        BiasPin(self)
    }

    /// Time passes up to now, in water of this pH x 1,000,000.
    pub fn pass(&self, now_ms: u32, micro_ph: i32, wire: Wire) {
        let passed_ms = i64::from(now_ms.wrapping_sub(self.now_ms.replace(now_ms)));
        self.wire.set(wire);
        if wire == Wire::NoChip {
            self.config.set(CONFIG_AT_RESET);
            self.conversion.set(0);
            self.began_ms.set(None);
        }
        let below_seven = 7_000_000_i64.saturating_sub(i64::from(micro_ph));
        let glass_uv = below_seven.saturating_mul(UV_A_PH) / 1_000_000;
        let input_uv = self.input(glass_uv, wire, passed_ms);
        self.input_uv.set(i32::try_from(input_uv).unwrap_or(0));
        self.convert();
    }

    fn input(&self, glass_uv: i64, wire: Wire, passed_ms: i64) -> i64 {
        let before = i64::from(self.input_uv.get());
        let to_bias = |from: i64| i64::from(BIAS_UV).saturating_sub(from);
        let moved = match (wire, self.bias.get()) {
            (Wire::Wet, _) => return 0,
            (Wire::Whole | Wire::NoChip, false) => return glass_uv,
            (Wire::Whole | Wire::NoChip, true) => {
                let moved = to_bias(glass_uv).saturating_mul(GLASS_MOHM) / (GLASS_MOHM + BIAS_MOHM);
                return glass_uv.saturating_add(moved);
            }
            (Wire::Off, true) => to_bias(before)
                .saturating_mul(passed_ms)
                .checked_div(FLOAT_MS.saturating_add(passed_ms))
                .unwrap_or(0),
            (Wire::Off, false) => LEAK_UV_A_SECOND.saturating_mul(passed_ms) / -1000,
        };
        before.saturating_add(moved)
    }

    /// Ends the conversion that is under way, if its time has come.
    fn convert(&self) {
        let Some(began_ms) = self.began_ms.get() else {
            return;
        };
        let config = self.config.get();
        let [input, full_scale_mv, rate] = fields(config);
        let takes_ms = 1000_u32.div_ceil(u32::from(rate.max(1)));
        if self.now_ms.get().wrapping_sub(began_ms) < takes_ms {
            return;
        }
        self.began_ms.set(None);
        let at_chip_uv = if input == INPUT_A0 {
            i64::from(self.input_uv.get()).saturating_add(i64::from(REFERENCE_UV))
        } else {
            0
        };
        let full_scale_uv = i64::from(full_scale_mv).saturating_mul(1000);
        let counts = at_chip_uv
            .saturating_mul(32_768)
            .checked_div(full_scale_uv)
            .unwrap_or(0)
            .clamp(i64::from(i16::MIN), i64::from(i16::MAX));
        self.conversion.set(i16::try_from(counts).unwrap_or(0));
    }

    fn write(&self, bytes: &[u8]) {
        let Some((pointer, value)) = bytes.split_first() else {
            return;
        };
        self.pointer.set(*pointer);
        if let (1, [high, low]) = (*pointer, value) {
            let config = u16::from_be_bytes([*high, *low]);
            self.config.set(config & !START);
            if config & START != 0 {
                self.began_ms.set(Some(self.now_ms.get()));
            }
        }
    }

    fn read(&self, bytes: &mut [u8]) {
        let value = match self.pointer.get() {
            0 => self.conversion.get().to_be_bytes(),
            1 => {
                let idle = if self.began_ms.get().is_none() {
                    START
                } else {
                    0
                };
                (self.config.get() & !START | idle).to_be_bytes()
            }
            _ => [0; 2],
        };
        for (byte, shown) in bytes.iter_mut().zip(value) {
            *byte = shown;
        }
    }
}

impl Default for Bench {
    fn default() -> Self {
        Self::new()
    }
}

/// Input, full scale in mV, conversions a second.
const fn fields(config: u16) -> [u16; 3] {
    let full_scale_mv = match (config >> 9) & 0b111 {
        0 => 6144,
        1 => 4096,
        2 => 2048,
        3 => 1024,
        4 => 512,
        _ => 256,
    };
    let rate = match (config >> 5) & 0b111 {
        0 => 8,
        1 => 16,
        2 => 32,
        3 => 64,
        4 => 128,
        5 => 250,
        6 => 475,
        _ => 860,
    };
    [(config >> 12) & 0b111, full_scale_mv, rate]
}

/// The simulated bus.
#[derive(Debug)]
pub struct Bus<'a>(&'a Bench);

impl i2c::ErrorType for Bus<'_> {
    type Error = i2c::ErrorKind;
}

impl I2c for Bus<'_> {
    fn transaction(
        &mut self,
        address: u8,
        operations: &mut [Operation<'_>],
    ) -> Result<(), i2c::ErrorKind> {
        if address != ADDRESS || self.0.wire.get() == Wire::NoChip {
            return Err(i2c::ErrorKind::NoAcknowledge(NoAcknowledgeSource::Address));
        }
        for operation in operations {
            match operation {
                Operation::Write(bytes) => self.0.write(bytes),
                Operation::Read(bytes) => self.0.read(bytes),
            }
        }
        Ok(())
    }
}

/// The simulated pin.
#[derive(Debug)]
pub struct BiasPin<'a>(&'a Bench);

impl digital::ErrorType for BiasPin<'_> {
    type Error = core::convert::Infallible;
}

impl OutputPin for BiasPin<'_> {
    fn set_low(&mut self) -> Result<(), Self::Error> {
        self.0.bias.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Self::Error> {
        self.0.bias.set(true);
        Ok(())
    }
}
