//! One value of a TOML file, read as what it should be.

use toml::Spanned;
use toml::de::DeValue;

use super::error::InputError;
use super::quantity::{self, Kind};
use super::table::Source;

/// Words that say that the site does not have something.
const NOT_FITTED: &str = "not fitted";

/// A value with the key that it belongs to.
#[derive(Clone)]
pub(crate) struct Entry<'s, 'a> {
    pub(crate) source: &'s Source<'a>,
    key: String,
    pub(crate) value: &'s Spanned<DeValue<'a>>,
}

type Read<T> = Result<T, InputError>;

/// The nearest of `known`, if it is near enough to be meant.
pub(crate) fn nearest<'w>(word: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let scored = known.map(|k| (strsim::damerau_levenshtein(word, k), k));
    let best = scored.min_by_key(|(distance, _)| *distance);
    best.filter(|(distance, k)| *distance * 3 <= k.chars().count().max(3))
        .map(|(_, k)| k)
}

impl<'s, 'a> Entry<'s, 'a> {
    pub(crate) fn new(source: &'s Source<'a>, key: &str, value: &'s Spanned<DeValue<'a>>) -> Self {
        let key = key.to_owned();
        Self { source, key, value }
    }

    pub(crate) fn error(&self, what: impl Into<String>) -> InputError {
        self.source.error(&self.value.span(), what)
    }

    fn not_a(&self, wanted: &str) -> InputError {
        let is = self.value.get_ref().type_str();
        self.error(format!(
            "`{}` is of the type {is}; it has to be {wanted}",
            self.key
        ))
    }

    pub(crate) fn words(&self) -> Read<&'s str> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(text.as_ref()),
            _ => Err(self.not_a("a text in quotes")),
        }
    }

    pub(crate) fn choice<T: Copy>(&self, of: &[(&str, T)]) -> Read<T> {
        let word = self.words()?;
        if let Some((_, meaning)) = of.iter().find(|(name, _)| *name == word) {
            return Ok(*meaning);
        }
        let names: Vec<&str> = of.iter().map(|(name, _)| *name).collect();
        let hint = match nearest(word, names.iter().copied()) {
            Some(near) => format!("; did you mean \"{near}\"?"),
            None => String::new(),
        };
        let all = names
            .iter()
            .map(|name| format!("\"{name}\""))
            .collect::<Vec<_>>()
            .join(", ");
        let key = &self.key;
        Err(self.error(format!(
            "`{key}` is \"{word}\"; it has to be one of {all}{hint}"
        )))
    }

    pub(crate) fn yes_or_no(&self) -> Read<bool> {
        match self.value.get_ref() {
            DeValue::Boolean(value) => Ok(*value),
            _ => Err(self.not_a("true or false")),
        }
    }

    pub(crate) fn whole(&self, min: i64, max: i64) -> Read<i64> {
        let DeValue::Integer(number) = self.value.get_ref() else {
            return Err(self.not_a("a whole number without quotes"));
        };
        let read = i64::from_str_radix(number.as_str(), number.radix()).ok();
        let Some(value) = read.filter(|value| (min..=max).contains(value)) else {
            let shown = number.as_str();
            let what = format!("`{}` is {shown}; it has to be {min} to {max}", self.key);
            return Err(self.error(what));
        };
        Ok(value)
    }

    /// A number without a unit.
    pub(crate) fn number(&self, min: f64, max: f64) -> Read<f64> {
        let shown = match self.value.get_ref() {
            DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => return Err(self.not_a("a number without a unit and without quotes")),
        };
        let read: Option<f64> = shown.parse().ok();
        let range = format!("it has to be {min} to {max}");
        match read {
            Some(value) if value.is_finite() && (min..=max).contains(&value) => Ok(value),
            Some(value) if value.is_finite() => {
                Err(self.error(format!("`{}` is {shown}; {range}", self.key)))
            }
            _ => Err(self.error(format!(
                "`{}` is {shown}, not a finite number; {range}",
                self.key
            ))),
        }
    }

    pub(crate) fn quantity(&self, kind: Kind, min: &str, max: &str) -> Read<f64> {
        let key = &self.key;
        let range = format!("it has to be {}, \"{min}\" to \"{max}\"", kind.name());
        let DeValue::String(text) = self.value.get_ref() else {
            return Err(self.not_a(&format!(
                "{} in quotes, \"{min}\" to \"{max}\"",
                kind.name()
            )));
        };
        let read = match quantity::parse(text) {
            Ok(read) => read,
            Err(error @ quantity::QuantityError::Ambiguous { .. }) => {
                return Err(self.error(format!("`{key}` is \"{text}\" and {error}")));
            }
            Err(error) => {
                return Err(self.error(format!("`{key}` is \"{text}\" and {error}; {range}")));
            }
        };
        if read.kind != kind {
            let is = read.kind.name();
            return Err(self.error(format!("`{key}` is \"{text}\", {is}; {range}")));
        }
        let (least, most) = (bound(min, kind), bound(max, kind));
        if read.value < least || read.value > most {
            return Err(self.error(format!("`{key}` is \"{text}\", out of range; {range}")));
        }
        Ok(read.value)
    }

    /// `"not fitted"`, or what `read` makes of it.
    pub(crate) fn fitted<T>(&self, read: impl FnOnce(&Self) -> Read<T>) -> Read<Option<T>> {
        if self.says_not_fitted() {
            return Ok(None);
        }
        read(self).map(Some).map_err(|mut error| {
            error.what.push_str(" (or \"not fitted\")");
            error
        })
    }

    /// Whether it is just these words.
    pub(crate) fn says(&self, words: &str) -> bool {
        matches!(self.value.get_ref(), DeValue::String(text) if text.as_ref() == words)
    }

    /// Whether it says that the site does not have this.
    pub(crate) fn says_not_fitted(&self) -> bool {
        self.says(NOT_FITTED)
    }

    /// The entries of a list.
    pub(crate) fn list(&self) -> Read<Vec<Entry<'s, 'a>>> {
        let DeValue::Array(array) = self.value.get_ref() else {
            return Err(self.not_a("a list in brackets"));
        };
        let entry = |value| Entry {
            source: self.source,
            key: self.key.clone(),
            value,
        };
        Ok(array.iter().map(entry).collect())
    }
}

/// A bound that stands in this program; every one of them is read by a test.
fn bound(text: &str, kind: Kind) -> f64 {
    match quantity::parse(text) {
        Ok(read) if read.kind == kind => read.value,
        _ => unreachable!("the bound {text:?} is not {}", kind.name()),
    }
}
