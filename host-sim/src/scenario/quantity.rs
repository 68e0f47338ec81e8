//! Quantities as people write them: a number and a unit, such as `"95 m3"` or `"5 US fl oz"`.
//!
//! A unit that could mean two things is refused, never guessed: a bare `gal` or `fl oz` may be US
//! or imperial, and the two differ by a fifth.
//!
//! | kind | units |
//! |---|---|
//! | volume | `uL` `mL` `L` `m3` `ft3` `US gal` `imp gal` `US fl oz` `imp fl oz` |
//! | time | `ms` `s` `min` `h` `day` `days` |
//! | liquid rate | any volume `/` any time: `60 mL/min`, `7 US gal/day` |
//! | mass, mass rate | `mg` `g` `kg` `lb`; any of them `/` any time: `35 g/h` |
//! | concentration | any mass `/` any volume, `ppm`: `80 mg/L` |
//! | amount of substance in a volume | `mol/L` `mmol/L` |
//! | length, speed | `mm` `cm` `m` `in` `ft`; any of them `/` any time: `2 cm/h` |
//! | potential | `mV` `V` |
//! | pH | `pH 7.2` or `7.2 pH` |
//! | temperature | `C` `F` |
//! | share, share of time | `%`; `%` `/` any time: `8 %/h` |

use core::fmt;

use super::units::unit;
pub use super::units::{
    CUBIC_FOOT_L, IMPERIAL_FLUID_OUNCE_ML, IMPERIAL_GALLON_L, POUND_G, US_FLUID_OUNCE_ML,
    US_GALLON_L,
};

/// What a quantity measures, and the unit in which [`Quantity::value`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Litres.
    Volume,
    /// Seconds.
    Time,
    /// Litres an hour.
    LiquidRate,
    /// Grams.
    Mass,
    /// Grams an hour.
    MassRate,
    /// Milligrams a litre.
    Concentration,
    /// Moles a litre.
    Molarity,
    /// Metres.
    Length,
    /// Metres an hour.
    Speed,
    /// Millivolts.
    Potential,
    /// pH.
    Ph,
    /// Degrees Celsius.
    Temperature,
    /// A plain share: 0.08 for `8 %`.
    Share,
    /// Share an hour: 0.08 for `8 %/h`.
    ShareRate,
}

impl Kind {
    /// The kind with its article, as in "a volume".
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Volume => "a volume",
            Self::Time => "a time",
            Self::LiquidRate => "a volume over time",
            Self::Mass => "a mass",
            Self::MassRate => "a mass over time",
            Self::Concentration => "a concentration",
            Self::Molarity => "moles in a volume",
            Self::Length => "a length",
            Self::Speed => "a length over time",
            Self::Potential => "a potential",
            Self::Ph => "a pH",
            Self::Temperature => "a temperature",
            Self::Share => "a share",
            Self::ShareRate => "a share over time",
        }
    }

    /// An example of how it is written.
    #[must_use]
    pub const fn example(self) -> &'static str {
        match self {
            Self::Volume => "95 m3",
            Self::Time => "25 min",
            Self::LiquidRate => "60 mL/min",
            Self::Mass => "8 g",
            Self::MassRate => "35 g/h",
            Self::Concentration => "80 mg/L",
            Self::Molarity => "9.97 mol/L",
            Self::Length => "1.5 m",
            Self::Speed => "2 cm/h",
            Self::Potential => "650 mV",
            Self::Ph => "pH 7.2",
            Self::Temperature => "27 C",
            Self::Share => "25 %",
            Self::ShareRate => "8 %/h",
        }
    }
}

/// A quantity that was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// What it measures.
    pub kind: Kind,
    /// How much, in the unit that [`Kind`] states.
    pub value: f64,
}

/// What is wrong with a text that should be a quantity; its `Display` also says what would be
/// right.
#[derive(Clone, Debug, PartialEq)]
pub enum QuantityError {
    /// There is no number in it.
    NoNumber,
    /// There is a number and nothing else.
    NoUnit,
    /// The number is infinite or not a number.
    NotFinite,
    /// The unit could mean two things; the text says which.
    Ambiguous {
        /// As written.
        unit: String,
        /// What to write instead.
        instead: &'static str,
    },
    /// No such unit.
    UnknownUnit {
        /// As written.
        unit: String,
    },
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoNumber => f.write_str("does not begin with a number"),
            Self::NoUnit => f.write_str("has no unit"),
            Self::NotFinite => f.write_str("is not a finite number"),
            Self::Ambiguous { unit, instead } => {
                write!(
                    f,
                    "has the unit `{unit}`, which could mean two things; say {instead}"
                )
            }
            Self::UnknownUnit { unit } => write!(f, "has the unknown unit `{unit}`"),
        }
    }
}

impl core::error::Error for QuantityError {}

/// Splits `"95 m3"` into number and unit; the number may have an exponent.
fn split(text: &str) -> (&str, &str) {
    if let Some((number, unit)) = text.split_once(char::is_whitespace) {
        return (number, unit.trim());
    }
    let bytes = text.as_bytes();
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut end = 0;
    while let Some(byte) = bytes.get(end) {
        let exponent = matches!(byte, b'e' | b'E')
            && end > 0
            && (digit(end + 1)
                || (matches!(bytes.get(end + 1), Some(b'+' | b'-')) && digit(end + 2)));
        let sign = matches!(byte, b'+' | b'-');
        if exponent {
            end += 2;
        } else if byte.is_ascii_digit() || *byte == b'.' || (sign && end == 0) {
            end += 1;
        } else {
            break;
        }
    }
    text.split_at(end)
}

/// Reads a quantity.
///
/// ```
/// use dosewarden_sim::scenario::quantity::{Kind, parse};
/// let dose = parse("5 US fl oz")?;
/// assert_eq!(dose.kind, Kind::Volume);
/// assert!((dose.value - 0.147_867_647_812_5).abs() < 1e-15); // litres
/// assert!(parse("5 fl oz").is_err()); // US or imperial?
/// # Ok::<(), dosewarden_sim::scenario::quantity::QuantityError>(())
/// ```
///
/// # Errors
/// What is wrong with the text.
pub fn parse(text: &str) -> Result<Quantity, QuantityError> {
    let text = text.trim();
    let (number, name) = match text.strip_prefix("pH") {
        Some(rest) => (rest.trim(), "pH"),
        None => split(text),
    };
    // Never let "1,5" or "22,000" through as something else than the writer meant.
    let value: f64 = number.parse().map_err(|_| QuantityError::NoNumber)?;
    if !value.is_finite() {
        return Err(QuantityError::NotFinite);
    }
    if name.is_empty() {
        return Err(QuantityError::NoUnit);
    }
    // Words may stand apart by any number of spaces: "US  fl oz".
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    match name.as_str() {
        "C" => Ok(Quantity {
            kind: Kind::Temperature,
            value,
        }),
        "F" => Ok(Quantity {
            kind: Kind::Temperature,
            value: (value - 32.0) / 1.8,
        }),
        name => unit(name).map(|(kind, factor)| Quantity {
            kind,
            value: value * factor,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(text: &str, kind: Kind) -> f64 {
        let read = parse(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        assert_eq!(read.kind, kind, "{text}");
        read.value
    }

    fn near(text: &str, kind: Kind, wanted: f64) {
        let got = value(text, kind);
        assert!(
            (got - wanted).abs() <= wanted.abs() * 1e-12,
            "{text}: {got}, not {wanted}"
        );
    }

    /// Constants of NIST Handbook 44, appendix C.
    #[test]
    fn customary_units_by_handbook_44() {
        near("1 US gal", Kind::Volume, 3.785_411_784);
        near("22000 US gal", Kind::Volume, 83_279.059_248);
        near("1 US fl oz", Kind::Volume, 0.029_573_529_562_5);
        near("1 ft3", Kind::Volume, 28.316_846_592);
        near("128 US fl oz", Kind::Volume, US_GALLON_L);
        near("160 imp fl oz", Kind::Volume, IMPERIAL_GALLON_L);
        near("7 US gal/day", Kind::LiquidRate, 7.0 * 3.785_411_784 / 24.0);
    }

    #[test]
    fn metric_units() {
        near("95 m3", Kind::Volume, 95_000.0);
        near("45mL", Kind::Volume, 0.045);
        near("12 L/h", Kind::LiquidRate, 12.0);
        near("60 mL/min", Kind::LiquidRate, 3.6);
        near("35 g/h", Kind::MassRate, 35.0);
        near("80 mg/L", Kind::Concentration, 80.0);
        near("125 g/L", Kind::Concentration, 125_000.0);
        near("2 cm/h", Kind::Speed, 0.02);
        near("8 %/h", Kind::ShareRate, 0.08);
        near("1e3 L", Kind::Volume, 1000.0);
        near("1e3L", Kind::Volume, 1000.0);
        near("25 min", Kind::Time, 1500.0);
        near("80.6 F", Kind::Temperature, 27.0);
    }

    #[test]
    fn ph_either_way_round() {
        near("pH 7.2", Kind::Ph, 7.2);
        near("7.2 pH", Kind::Ph, 7.2);
        near("pH7.2", Kind::Ph, 7.2);
    }

    #[test]
    fn what_could_be_two_things_is_refused() {
        for text in ["7 gal", "7 gal/day", "5 fl oz", "5 oz", "1 M"] {
            let error = parse(text).expect_err(text);
            assert!(
                matches!(error, QuantityError::Ambiguous { .. }),
                "{text}: {error:?}"
            );
        }
    }

    #[test]
    fn nonsense_is_refused() {
        use QuantityError::{NoNumber, NoUnit, NotFinite};
        assert_eq!(parse("m3"), Err(NoNumber));
        assert_eq!(parse(""), Err(NoNumber));
        assert_eq!(parse("22,000 US gal"), Err(NoNumber));
        assert_eq!(parse("95"), Err(NoUnit));
        assert_eq!(parse("nan m3"), Err(NotFinite));
        assert_eq!(parse("inf m3"), Err(NotFinite));
        assert_eq!(parse("1e999 m3"), Err(NotFinite));
        assert!(matches!(
            parse("95 m4"),
            Err(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(
            parse("95 m3/m3"),
            Err(QuantityError::UnknownUnit { .. })
        ));
    }

    #[test]
    fn every_kinds_example_is_of_that_kind() {
        use Kind::*;
        for kind in [
            Volume,
            Time,
            LiquidRate,
            Mass,
            MassRate,
            Concentration,
            Molarity,
            Length,
            Speed,
            Potential,
            Ph,
            Temperature,
            Share,
            ShareRate,
        ] {
            assert_eq!(parse(kind.example()).map(|q| q.kind), Ok(kind));
        }
    }
}
