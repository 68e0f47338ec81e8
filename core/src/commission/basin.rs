//! Volume of a basin from its shape, or from salt that was put in.

use super::CommissionError;

/// Largest basin, L.
const VOLUME_MAX_L: u64 = 10_000_000;

/// A basin, or a part of one, by what a tape measures. Depths are of water; a floor falls evenly
/// from the shallow to the deep end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Shape {
    /// Four corners.
    Rectangle {
        /// Length, mm.
        length_mm: u32,
        /// Width, mm.
        width_mm: u32,
        /// Depth at the shallow end, mm.
        shallow_mm: u32,
        /// Depth at the deep end, mm.
        deep_mm: u32,
    },
    /// A circle.
    Round {
        /// Diameter, mm.
        diameter_mm: u32,
        /// Depth at the shallow end, mm.
        shallow_mm: u32,
        /// Depth at the deep end, mm.
        deep_mm: u32,
    },
    /// An ellipse. Two half circles with straight sides between them are a [`Shape::Round`] and a
    /// [`Shape::Rectangle`].
    Oval {
        /// Length, mm.
        length_mm: u32,
        /// Width, mm.
        width_mm: u32,
        /// Depth at the shallow end, mm.
        shallow_mm: u32,
        /// Depth at the deep end, mm.
        deep_mm: u32,
    },
    /// A rectangle that lacks a smaller one at a corner.
    LShape {
        /// Length of the whole, mm.
        length_mm: u32,
        /// Width of the whole, mm.
        width_mm: u32,
        /// Length of what lacks, mm.
        notch_length_mm: u32,
        /// Width of what lacks, mm.
        notch_width_mm: u32,
        /// Depth at the shallow end, mm.
        shallow_mm: u32,
        /// Depth at the deep end, mm.
        deep_mm: u32,
    },
    /// Any form whose surface and mean depth are known.
    Free {
        /// Surface, dm2 (hundredths of a m2).
        surface_dm2: u32,
        /// Mean depth, mm.
        depth_mm: u32,
    },
}

impl Shape {
    /// Volume in L, rounded down: doses are worked out of it.
    ///
    /// # Errors
    /// [`CommissionError::Nothing`], [`CommissionError::Shape`], [`CommissionError::TooLarge`].
    pub fn volume_l_floor(&self) -> Result<u32, CommissionError> {
        let (shallow, deep) = self.depths();
        let surface = self.surface_mm2()?;
        let sum = u64::from(shallow).saturating_add(u64::from(deep));
        if shallow == 0 || surface == 0 {
            return Err(CommissionError::Nothing);
        }
        if deep < shallow {
            return Err(CommissionError::Shape);
        }
        // mm3 are millionths of a litre, and the mean depth is half the sum.
        let litres = u128::from(surface)
            .saturating_mul(u128::from(sum))
            .div_euclid(2_000_000);
        match u64::try_from(litres) {
            Ok(litres) if litres <= VOLUME_MAX_L => {
                u32::try_from(litres).map_err(|_| CommissionError::TooLarge)
            }
            _ => Err(CommissionError::TooLarge),
        }
    }

    /// Surface in mm2, rounded down.
    ///
    /// # Errors
    /// [`CommissionError::Shape`] if a notch is not smaller than its basin.
    pub fn surface_mm2(&self) -> Result<u64, CommissionError> {
        let times = |a: u32, b: u32| u64::from(a).saturating_mul(u64::from(b));
        Ok(match *self {
            Self::Rectangle {
                length_mm,
                width_mm,
                ..
            } => times(length_mm, width_mm),
            Self::Round { diameter_mm, .. } => circle(times(diameter_mm, diameter_mm)),
            Self::Oval {
                length_mm,
                width_mm,
                ..
            } => circle(times(length_mm, width_mm)),
            Self::LShape {
                length_mm,
                width_mm,
                notch_length_mm,
                notch_width_mm,
                ..
            } => {
                if notch_length_mm >= length_mm || notch_width_mm >= width_mm {
                    return Err(CommissionError::Shape);
                }
                let lacks = times(notch_length_mm, notch_width_mm);
                times(length_mm, width_mm).saturating_sub(lacks)
            }
            Self::Free { surface_dm2, .. } => times(surface_dm2, 10_000),
        })
    }

    const fn depths(&self) -> (u32, u32) {
        match *self {
            Self::Rectangle {
                shallow_mm,
                deep_mm,
                ..
            }
            | Self::Round {
                shallow_mm,
                deep_mm,
                ..
            }
            | Self::Oval {
                shallow_mm,
                deep_mm,
                ..
            }
            | Self::LShape {
                shallow_mm,
                deep_mm,
                ..
            } => (shallow_mm, deep_mm),
            Self::Free { depth_mm, .. } => (depth_mm, depth_mm),
        }
    }
}

/// A quarter of pi times this, rounded down, with 355/113 for pi (8.5e-8 too large, far under a
/// tape's error).
const fn circle(product: u64) -> u64 {
    product.saturating_mul(355).div_euclid(452)
}

/// Volume in L by dilution, rounded down: so many grams of salt lifted the dissolved solids by so
/// much. Good where no tape reaches; mix well, and wait for a turnover or two.
///
/// # Errors
/// [`CommissionError::Nothing`], [`CommissionError::TooLarge`].
pub fn volume_by_salt_l_floor(salt_g: u32, rise_mg_l: u32) -> Result<u32, CommissionError> {
    let milligrams = u64::from(salt_g).saturating_mul(1000);
    let litres = milligrams
        .checked_div(u64::from(rise_mg_l))
        .ok_or(CommissionError::Nothing)?;
    match u32::try_from(litres) {
        Ok(0) => Err(CommissionError::Nothing),
        Ok(litres) if u64::from(litres) <= VOLUME_MAX_L => Ok(litres),
        _ => Err(CommissionError::TooLarge),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volumes_by_school_geometry() {
        let rectangle = Shape::Rectangle {
            length_mm: 12_500,
            width_mm: 6_000,
            shallow_mm: 1_000,
            deep_mm: 2_000,
        };
        assert_eq!(rectangle.volume_l_floor(), Ok(112_500));
        let round = Shape::Round {
            diameter_mm: 4_000,
            shallow_mm: 1_200,
            deep_mm: 1_200,
        };
        // pi x 4 m2 x 1.2 m = 15.0796 m3.
        assert_eq!(round.volume_l_floor(), Ok(15_079));
        let oval = Shape::Oval {
            length_mm: 8_000,
            width_mm: 4_000,
            shallow_mm: 1_200,
            deep_mm: 1_600,
        };
        // pi x 4 m x 2 m x 1.4 m = 35.1858 m3.
        assert_eq!(oval.volume_l_floor(), Ok(35_185));
        let l_shape = Shape::LShape {
            length_mm: 10_000,
            width_mm: 8_000,
            notch_length_mm: 6_000,
            notch_width_mm: 4_000,
            shallow_mm: 1_500,
            deep_mm: 1_500,
        };
        assert_eq!(l_shape.volume_l_floor(), Ok(84_000));
        let free = Shape::Free {
            surface_dm2: 4_250,
            depth_mm: 1_350,
        };
        assert_eq!(free.volume_l_floor(), Ok(57_375));
    }

    #[test]
    fn a_cubic_foot_is_seven_and_a_half_gallons() {
        // Common practice, no source: 7.48 US gal a cubic foot; a foot is 304.8 mm, a US gallon
        // 3.785411784 L (NIST Handbook 44, appendix C). Ten feet each way, in whole millimetres.
        let cube = Shape::Rectangle {
            length_mm: 3_048,
            width_mm: 3_048,
            shallow_mm: 3_048,
            deep_mm: 3_048,
        };
        let litres = f64::from(cube.volume_l_floor().unwrap());
        assert!((litres / 3.785_411_784 / 1000.0 - 7.48).abs() < 0.005);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let shape = |shallow_mm, deep_mm, length_mm| Shape::Rectangle {
            length_mm,
            width_mm: 5_000,
            shallow_mm,
            deep_mm,
        };
        let volume = |shape: Shape| shape.volume_l_floor();
        assert_eq!(volume(shape(0, 900, 1)), Err(CommissionError::Nothing));
        assert_eq!(volume(shape(1000, 1000, 0)), Err(CommissionError::Nothing));
        assert_eq!(volume(shape(1500, 1000, 9000)), Err(CommissionError::Shape));
        assert_eq!(
            volume(shape(u32::MAX, u32::MAX, u32::MAX)),
            Err(CommissionError::TooLarge)
        );
        // 10,000 m3, and a litre more.
        let free = |surface_dm2, depth_mm| {
            volume(Shape::Free {
                surface_dm2,
                depth_mm,
            })
        };
        assert_eq!(free(1_000_000, 1_000), Ok(10_000_000));
        assert_eq!(free(10_000_001, 100), Err(CommissionError::TooLarge));
        let notch = Shape::LShape {
            length_mm: 100,
            width_mm: 100,
            notch_length_mm: 100,
            notch_width_mm: 10,
            shallow_mm: 1,
            deep_mm: 1,
        };
        assert_eq!(volume(notch), Err(CommissionError::Shape));
    }

    #[test]
    fn salt_that_rises_by_less_was_put_into_more() {
        assert_eq!(volume_by_salt_l_floor(50_000, 500), Ok(100_000));
        assert_eq!(volume_by_salt_l_floor(50_000, 600), Ok(83_333));
        assert_eq!(
            volume_by_salt_l_floor(50_000, 0),
            Err(CommissionError::Nothing)
        );
        assert_eq!(volume_by_salt_l_floor(0, 5), Err(CommissionError::Nothing));
        assert_eq!(volume_by_salt_l_floor(10_000, 1), Ok(10_000_000));
        for salt_g in [10_001, u32::MAX] {
            assert_eq!(
                volume_by_salt_l_floor(salt_g, 1),
                Err(CommissionError::TooLarge)
            );
        }
    }
}
