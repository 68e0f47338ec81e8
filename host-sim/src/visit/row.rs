//! Fields of one row, read with the error that says what would be right.

use crate::scenario::quantity::{self, Kind};

/// The fields of a row.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'a> {
    pub(super) what: &'a str,
    pub(super) of: &'a str,
    pub(super) value: &'a str,
    pub(super) with: &'a str,
}

fn bound(value: f64, kind: Kind) -> String {
    let example = kind.example();
    match kind {
        Kind::Ph => format!("pH {value}"),
        Kind::Volume => format!("{value} L"),
        Kind::Mass => format!("{value} g"),
        Kind::Time => format!("{value} s"),
        Kind::Concentration => format!("{value} mg/L"),
        Kind::Molarity => format!("{value} mol/L"),
        Kind::Potential => format!("{value} mV"),
        Kind::Temperature => format!("{value} C"),
        Kind::Share => format!("{} %", value * 100.0),
        _ => format!("{value} (as in {example})"),
    }
}

fn read(name: &str, text: &str, kind: Kind, min: f64, max: f64) -> Result<f64, String> {
    let (what, example) = (kind.name(), kind.example());
    if text.is_empty() {
        return Err(format!(
            "{name} is empty; it has to be {what} such as {example}"
        ));
    }
    let found = quantity::parse(text).map_err(|error| {
        format!("{name} `{text}` {error}; it has to be {what} such as {example}")
    })?;
    if found.kind != kind {
        let is = found.kind.name();
        return Err(format!(
            "{name} `{text}` is {is}; it has to be {what} such as {example}"
        ));
    }
    if (min..=max).contains(&found.value) {
        return Ok(found.value);
    }
    let (min, max) = (bound(min, kind), bound(max, kind));
    Err(format!("{name} is `{text}`; it has to be {min} to {max}"))
}

impl Row<'_> {
    /// The value, of this kind and in this range of the kind's own unit.
    pub(super) fn value(&self, kind: Kind, min: f64, max: f64) -> Result<f64, String> {
        read("value", self.value, kind, min, max)
    }

    /// The second value.
    pub(super) fn with(&self, kind: Kind, min: f64, max: f64) -> Result<f64, String> {
        read("with", self.with, kind, min, max)
    }

    /// The second value, where there is one.
    pub(super) fn maybe_with(&self, kind: Kind, min: f64, max: f64) -> Result<Option<f64>, String> {
        if self.with.is_empty() {
            return Ok(None);
        }
        self.with(kind, min, max).map(Some)
    }

    /// The value as a plain number.
    pub(super) fn count(&self) -> Result<f64, String> {
        let text = self.value;
        match text.parse::<f64>() {
            Ok(count) if (0.0..=1e6).contains(&count) => Ok(count),
            _ => Err(format!(
                "value is `{text}`; it has to be a plain number such as 12"
            )),
        }
    }

    /// What `of` is among.
    pub(super) fn choice<T: Copy>(&self, known: &[(&str, T)]) -> Result<T, String> {
        let found = known.iter().find(|(name, _)| *name == self.of);
        found.map(|(_, what)| *what).ok_or_else(|| {
            let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
            let (of, what) = (self.of, self.what);
            let near = names
                .iter()
                .map(|name| (strsim::osa_distance(name, of), *name))
                .min()
                .filter(|(apart, _)| *apart <= 3 && !of.is_empty());
            let meant =
                near.map_or_else(String::new, |(_, name)| format!("did you mean `{name}`? "));
            let names = names.join(", ");
            format!("of is `{of}`; {meant}beside {what} it has to be one of {names}")
        })
    }
}
