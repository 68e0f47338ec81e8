//! Names of units, and what each is in the unit of its kind.

use super::quantity::{Kind, QuantityError};

/// Litres in a US gallon (NIST Handbook 44, appendix C; exact).
pub const US_GALLON_L: f64 = 3.785_411_784;
/// Millilitres in a US fluid ounce (NIST Handbook 44, appendix C; exact).
pub const US_FLUID_OUNCE_ML: f64 = 29.573_529_562_5;
/// Litres in a cubic foot (NIST Handbook 44, appendix C; exact).
pub const CUBIC_FOOT_L: f64 = 28.316_846_592;
/// Litres in an imperial gallon (UK Units of Measurement Regulations 1995; exact).
pub const IMPERIAL_GALLON_L: f64 = 4.546_09;
/// Millilitres in an imperial fluid ounce, a 160th of the gallon.
pub const IMPERIAL_FLUID_OUNCE_ML: f64 = 28.413_062_5;
/// Grams in a pound (NIST Handbook 44, appendix C; exact).
pub const POUND_G: f64 = 453.592_37;

/// Units that stand for themselves: kind, factor to the kind's own unit.
const UNITS: [(&str, Kind, f64); 31] = [
    ("uL", Kind::Volume, 1e-6),
    ("mL", Kind::Volume, 1e-3),
    ("L", Kind::Volume, 1.0),
    ("m3", Kind::Volume, 1000.0),
    ("ft3", Kind::Volume, CUBIC_FOOT_L),
    ("US gal", Kind::Volume, US_GALLON_L),
    ("imp gal", Kind::Volume, IMPERIAL_GALLON_L),
    ("US fl oz", Kind::Volume, US_FLUID_OUNCE_ML * 1e-3),
    ("imp fl oz", Kind::Volume, IMPERIAL_FLUID_OUNCE_ML * 1e-3),
    ("ms", Kind::Time, 1e-3),
    ("s", Kind::Time, 1.0),
    ("min", Kind::Time, 60.0),
    ("h", Kind::Time, 3600.0),
    ("day", Kind::Time, 86_400.0),
    ("days", Kind::Time, 86_400.0),
    ("mg", Kind::Mass, 1e-3),
    ("g", Kind::Mass, 1.0),
    ("kg", Kind::Mass, 1000.0),
    ("lb", Kind::Mass, POUND_G),
    ("ppm", Kind::Concentration, 1.0),
    ("mol/L", Kind::Molarity, 1.0),
    ("mmol/L", Kind::Molarity, 1e-3),
    ("mm", Kind::Length, 1e-3),
    ("cm", Kind::Length, 1e-2),
    ("m", Kind::Length, 1.0),
    ("in", Kind::Length, 0.0254),
    ("ft", Kind::Length, 0.3048),
    ("mV", Kind::Potential, 1.0),
    ("V", Kind::Potential, 1000.0),
    ("pH", Kind::Ph, 1.0),
    ("%", Kind::Share, 0.01),
];

/// Units that may not stand alone.
const AMBIGUOUS: [(&[&str], &str); 3] = [
    (&["gal", "gallon", "gallons"], "`US gal` or `imp gal`"),
    (
        &["fl oz", "floz", "oz", "ounce", "ounces"],
        "`US fl oz` or `imp fl oz`, or a mass in `g`",
    ),
    (
        &["M"],
        "`m` for metres, `mol/L` for moles or `min` for minutes",
    ),
];

fn plain_unit(unit: &str) -> Option<(Kind, f64)> {
    let found = UNITS.iter().find(|(name, _, _)| *name == unit);
    found.map(|(_, kind, factor)| (*kind, *factor))
}

fn check_ambiguous(unit: &str) -> Result<(), QuantityError> {
    match AMBIGUOUS.iter().find(|(names, _)| names.contains(&unit)) {
        Some((_, instead)) => Err(QuantityError::Ambiguous {
            unit: unit.to_owned(),
            instead,
        }),
        None => Ok(()),
    }
}

/// Kind and factor of a unit, one unit over another included.
pub(super) fn unit(text: &str) -> Result<(Kind, f64), QuantityError> {
    let unknown = || QuantityError::UnknownUnit {
        unit: text.to_owned(),
    };
    if let Some(found) = plain_unit(text) {
        return Ok(found);
    }
    check_ambiguous(text)?;
    let (over, under) = text.split_once('/').ok_or_else(unknown)?;
    let (over, under) = (over.trim(), under.trim());
    check_ambiguous(over)?;
    check_ambiguous(under)?;
    let (top, of) = plain_unit(over).ok_or_else(unknown)?;
    let (bottom, per) = plain_unit(under).ok_or_else(unknown)?;
    let hourly = of / per * 3600.0;
    match (top, bottom) {
        (Kind::Volume, Kind::Time) => Ok((Kind::LiquidRate, hourly)),
        (Kind::Mass, Kind::Time) => Ok((Kind::MassRate, hourly)),
        (Kind::Length, Kind::Time) => Ok((Kind::Speed, hourly)),
        (Kind::Share, Kind::Time) => Ok((Kind::ShareRate, hourly)),
        (Kind::Mass, Kind::Volume) => Ok((Kind::Concentration, of / per * 1000.0)),
        _ => Err(unknown()),
    }
}
