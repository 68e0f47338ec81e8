//! A converter of the ADS111x family with four inputs, through the driver crate [`ads1x1x`].

use ads1x1x::{Ads1x1x, DataRate16Bit, Error, FullScaleRange, channel, ic, mode};
use embedded_hal::i2c::I2c;

use super::Adc;

/// The driver of the chip: 16 bits, one conversion at a time, which is started for each.
pub type Chip<I> = Ads1x1x<I, ic::Ads1115, ic::Resolution16Bit, mode::OneShot>;

/// Which input, against the chip's ground: the probe's reference stands on a potential above it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Input {
    /// A0.
    A0,
    /// A1.
    A1,
    /// A2.
    A2,
    /// A3.
    A3,
}

/// One input of the chip.
///
/// The driver's `read` both starts a conversion and fetches it, and after a conversion that was
/// given up it fetches the old one. This keeps the two apart.
pub struct Ads<I> {
    chip: Chip<I>,
    input: Input,
    range: FullScaleRange,
    is_set_up: bool,
    /// A conversion was started, or may have been, and its counts were not fetched.
    pending: bool,
}

impl<I: I2c> Ads<I> {
    /// Says nothing to the chip yet: the first conversion sets it up, so that a chip that is not
    /// there when the power comes is used as soon as it is.
    pub const fn new(chip: Chip<I>, input: Input, range: FullScaleRange) -> Self {
        Self {
            chip,
            input,
            range,
            is_set_up: false,
            pending: false,
        }
    }

    /// Full scale, and the slowest rate: a conversion takes an eighth of a second (a tenth more by
    /// the chip's clock), and averages over several periods of the mains.
    ///
    /// The driver writes both again with each conversion, so a chip that lost its power on the way
    /// is set right by the next one.
    fn set_up(&mut self) -> Result<(), Error<I::Error>> {
        if !self.is_set_up {
            self.chip.set_full_scale_range(self.range)?;
            self.chip.set_data_rate(DataRate16Bit::Sps8)?;
            self.is_set_up = true;
        }
        Ok(())
    }

    /// What the driver says: counts, or not yet.
    fn read(&mut self) -> Result<Option<i16>, Error<I::Error>> {
        let read = match self.input {
            Input::A0 => self.chip.read(channel::SingleA0),
            Input::A1 => self.chip.read(channel::SingleA1),
            Input::A2 => self.chip.read(channel::SingleA2),
            Input::A3 => self.chip.read(channel::SingleA3),
        };
        match read {
            Ok(raw) => {
                self.pending = false;
                Ok(Some(raw))
            }
            Err(nb::Error::WouldBlock) => Ok(None),
            Err(nb::Error::Other(error)) => Err(error),
        }
    }
}

impl<I: I2c> Adc for Ads<I> {
    type Error = Error<I::Error>;

    const COUNTS_MAX: i16 = i16::MAX;

    fn full_scale_mv(&self) -> i32 {
        full_scale_mv(self.range)
    }

    fn start(&mut self) -> Result<bool, Self::Error> {
        self.set_up()?;
        // What a conversion from before has to say is thrown away: the bias may have been on in it.
        if self.pending && self.read()?.is_none() {
            return Ok(false);
        }
        self.pending = true;
        self.read()?;
        Ok(true)
    }

    fn finish(&mut self) -> Result<Option<i16>, Self::Error> {
        self.read()
    }
}

const fn full_scale_mv(range: FullScaleRange) -> i32 {
    match range {
        FullScaleRange::Within6_144V => 6144,
        FullScaleRange::Within4_096V => 4096,
        FullScaleRange::Within2_048V => 2048,
        FullScaleRange::Within1_024V => 1024,
        FullScaleRange::Within0_512V => 512,
        FullScaleRange::Within0_256V => 256,
    }
}
