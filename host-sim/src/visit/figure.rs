//! A figure with how well it is known and where it comes from.

use core::fmt;

use serde::Serialize;

/// A figure.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Figure {
    /// How much.
    pub value: f64,
    /// A standard deviation.
    pub error: f64,
    /// Unit of both; empty for pH and ratios.
    pub unit: &'static str,
    /// What it comes from.
    pub source: String,
}

impl Figure {
    /// A figure.
    pub fn new(value: f64, error: f64, unit: &'static str, source: impl Into<String>) -> Self {
        let source = source.into();
        Self {
            value,
            error,
            unit,
            source,
        }
    }
}

/// As many places as its error is worth: one digit of it, two under 20 of them.
fn places(error: f64) -> usize {
    let digits = libm::floor(libm::log10(error.abs().max(1e-3)));
    let more = if error * libm::exp10(-digits) < 2.0 {
        1.0
    } else {
        0.0
    };
    (more - digits).clamp(0.0, 3.0) as usize
}

/// So many days, in words.
pub(super) fn days(count: f64) -> String {
    let count = count.round();
    if count == 1.0 {
        "1 day".to_owned()
    } else {
        format!("{count:.0} days")
    }
}

/// A figure with its error, or to two places where it has none of its own.
pub(super) fn shown(value: f64, error: f64) -> String {
    if error == 0.0 {
        return format!("{value:.2}");
    }
    let places = places(error);
    format!("{value:.places$} +/- {error:.places$}")
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&shown(self.value, self.error))?;
        if self.unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.unit)
        }
    }
}

/// The root of a sum of squares.
pub(crate) fn together(errors: &[f64]) -> f64 {
    errors.iter().map(|one| one * one).sum::<f64>().sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_shows_as_many_places_as_it_is_known_to() {
        let shown = |value, error| Figure::new(value, error, "L", "").to_string();
        assert_eq!(shown(7.25814, 0.13), "7.26 +/- 0.13 L");
        assert_eq!(shown(7.25814, 0.5), "7.3 +/- 0.5 L");
        assert_eq!(shown(1234.5, 17.0), "1234 +/- 17 L");
        assert_eq!(shown(0.5, 0.0), "0.50 L");
        assert!((together(&[3.0, 4.0]) - 5.0).abs() < 1e-12);
    }
}
