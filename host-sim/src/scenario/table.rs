//! A table of a TOML file, read key by key.
//!
//! Invariant: a key that nothing asked for is an error when the table is closed, so a misspelt
//! limit can never be silently left out.

use core::cell::{Cell, RefCell};
use core::ops::Range;
use std::collections::BTreeMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::InputError;
use super::quantity::{self, Kind};

/// Words that say that the site does not have something.
const NOT_FITTED: &str = "not fitted";

/// A file being read: its name, its text, and where each key's value stands.
#[derive(Debug)]
pub(super) struct Source<'a> {
    pub(super) file: &'a str,
    pub(super) text: &'a str,
    places: RefCell<BTreeMap<String, Range<usize>>>,
}

impl<'a> Source<'a> {
    pub(super) fn new(file: &'a str, text: &'a str) -> Self {
        Self {
            file,
            text,
            places: RefCell::default(),
        }
    }

    pub(super) fn error(&self, span: &Range<usize>, what: impl Into<String>) -> InputError {
        InputError::at(self.file, self.text, span, what)
    }

    /// Where the value of a key stands, such as `feeder[0].limits.day_cap`; else of the closest
    /// table around it.
    pub(super) fn place(&self, path: &str) -> Range<usize> {
        let places = self.places.borrow();
        let mut path = path;
        loop {
            if let Some(span) = places.get(path) {
                return span.clone();
            }
            match path.rfind(['.', '[']) {
                Some(cut) => path = &path[..cut],
                None => return 0..0,
            }
        }
    }

    /// The value of a key as it is written, without quotes.
    pub(super) fn written(&self, path: &str) -> Option<&'a str> {
        let places = self.places.borrow();
        let span = places.get(path)?;
        self.text
            .get(span.clone())
            .map(|text| text.trim_matches(['"', '\'']))
    }
}

/// One table, with the path to it.
pub(super) struct Table<'s, 'a> {
    pub(super) source: &'s Source<'a>,
    path: String,
    span: Range<usize>,
    entries: &'s DeTable<'a>,
    asked: RefCell<Vec<&'static str>>,
    closed: Cell<bool>,
}

/// A value with the key that it belongs to.
pub(super) struct Entry<'s, 'a> {
    source: &'s Source<'a>,
    key: String,
    value: &'s Spanned<DeValue<'a>>,
}

type Read<T> = Result<T, InputError>;

impl<'s, 'a> Table<'s, 'a> {
    pub(super) fn root(source: &'s Source<'a>, entries: &'s DeTable<'a>) -> Self {
        Self::new(source, String::new(), 0..0, entries)
    }

    fn new(
        source: &'s Source<'a>,
        path: String,
        span: Range<usize>,
        entries: &'s DeTable<'a>,
    ) -> Self {
        source
            .places
            .borrow_mut()
            .insert(path.clone(), span.clone());
        let (asked, closed) = (RefCell::default(), Cell::new(false));
        Self {
            source,
            path,
            span,
            entries,
            asked,
            closed,
        }
    }

    pub(super) fn error(&self, what: impl Into<String>) -> InputError {
        self.source.error(&self.span, what)
    }

    fn child_path(&self, key: &str) -> String {
        if self.path.is_empty() {
            key.to_owned()
        } else {
            format!("{}.{key}", self.path)
        }
    }

    /// How the table is named to a person.
    fn title(&self) -> String {
        if self.path.is_empty() {
            "the file".to_owned()
        } else {
            format!("[{}]", self.path)
        }
    }

    /// The value of `key`, if it is there.
    pub(super) fn find(&self, key: &'static str) -> Option<Entry<'s, 'a>> {
        self.asked.borrow_mut().push(key);
        let (_, value) = self
            .entries
            .iter()
            .find(|(name, _)| name.get_ref().as_ref() == key)?;
        self.source
            .places
            .borrow_mut()
            .insert(self.child_path(key), value.span());
        Some(Entry {
            source: self.source,
            key: key.to_owned(),
            value,
        })
    }

    /// The value of `key`, which has to be there; `example` says what it would look like.
    pub(super) fn need(&self, key: &'static str, example: &str) -> Read<Entry<'s, 'a>> {
        let found = self.find(key);
        found.ok_or_else(|| {
            let what = format!("{} has no `{key}`; write {key} = {example}", self.title());
            self.misspelt(key).unwrap_or_else(|| self.error(what))
        })
    }

    /// A key that nothing asked for and that is one slip away from `key`.
    fn misspelt(&self, key: &str) -> Option<InputError> {
        let asked = self.asked.borrow();
        let (name, _) = self.entries.iter().find(|(name, _)| {
            let word = name.get_ref().as_ref();
            !asked.contains(&word) && strsim::damerau_levenshtein(word, key) == 1
        })?;
        let word = name.get_ref();
        let what = format!(
            "unknown key `{word}` in {}; did you mean `{key}`?",
            self.title()
        );
        Some(self.source.error(&name.span(), what))
    }

    /// A table inside this one.
    pub(super) fn table(&self, key: &'static str) -> Read<Table<'s, 'a>> {
        let found = self.find_table(key)?;
        found.ok_or_else(|| {
            let name = self.child_path(key);
            let what = format!("{} has no table [{name}]; it has to be there", self.title());
            self.misspelt(key).unwrap_or_else(|| self.error(what))
        })
    }

    /// A table inside this one, if it is there.
    pub(super) fn find_table(&self, key: &'static str) -> Read<Option<Table<'s, 'a>>> {
        let Some(entry) = self.find(key) else {
            return Ok(None);
        };
        let DeValue::Table(entries) = entry.value.get_ref() else {
            return Err(entry.error(format!(
                "`{key}` has to be a table: [{}]",
                self.child_path(key)
            )));
        };
        Ok(Some(Table::new(
            self.source,
            self.child_path(key),
            entry.value.span(),
            entries,
        )))
    }

    /// All tables of `[[key]]`, none if there is none.
    pub(super) fn tables(&self, key: &'static str) -> Read<Vec<Table<'s, 'a>>> {
        let Some(entry) = self.find(key) else {
            return Ok(Vec::new());
        };
        let DeValue::Array(array) = entry.value.get_ref() else {
            let path = self.child_path(key);
            return Err(entry.error(format!("`{key}` has to be a list of tables: [[{path}]]")));
        };
        let mut tables = Vec::new();
        for (index, item) in array.iter().enumerate() {
            let path = format!("{}[{index}]", self.child_path(key));
            let DeValue::Table(entries) = item.get_ref() else {
                let what = format!("`{key}` has to hold tables only: [[{key}]]");
                return Err(self.source.error(&item.span(), what));
            };
            tables.push(Table::new(self.source, path, item.span(), entries));
        }
        Ok(tables)
    }

    /// Ends the reading of this table.
    ///
    /// # Errors
    /// A key that nothing asked for, with the nearest one that exists.
    pub(super) fn close(self) -> Read<()> {
        self.closed.set(true);
        let asked = self.asked.borrow();
        for (name, _) in self.entries {
            let word = name.get_ref().as_ref();
            if asked.contains(&word) {
                continue;
            }
            let hint = match nearest(word, asked.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => {
                    let mut known: Vec<&str> = asked.clone();
                    known.sort_unstable();
                    known.dedup();
                    format!("it can have: {}", known.join(", "))
                }
            };
            let what = format!("unknown key `{word}` in {}; {hint}", self.title());
            return Err(self.source.error(&name.span(), what));
        }
        Ok(())
    }

    /// A quantity of a kind between two bounds, both included.
    pub(super) fn quantity(
        &self,
        key: &'static str,
        kind: Kind,
        min: &str,
        max: &str,
    ) -> Read<f64> {
        let example = format!("\"{}\"", kind.example());
        self.need(key, &example)?.quantity(kind, min, max)
    }

    /// Words.
    pub(super) fn words(&self, key: &'static str) -> Read<&'s str> {
        self.need(key, "\"...\"")?.words()
    }

    /// One of several words, each with its meaning.
    pub(super) fn choice<T: Copy>(&self, key: &'static str, of: &[(&str, T)]) -> Read<T> {
        let example = of
            .first()
            .map_or_else(String::new, |(word, _)| format!("\"{word}\""));
        self.need(key, &example)?.choice(of)
    }

    /// A whole number between two bounds, both included.
    pub(super) fn whole(&self, key: &'static str, min: i64, max: i64) -> Read<i64> {
        self.need(key, &min.to_string())?.whole(min, max)
    }
}

/// The nearest of `known`, if it is near enough to be meant.
pub(super) fn nearest<'w>(word: &str, known: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let scored = known.map(|k| (strsim::damerau_levenshtein(word, k), k));
    let best = scored.min_by_key(|(distance, _)| *distance);
    best.filter(|(distance, k)| *distance * 3 <= k.chars().count().max(3))
        .map(|(_, k)| k)
}

impl<'s, 'a> Entry<'s, 'a> {
    pub(super) fn error(&self, what: impl Into<String>) -> InputError {
        self.source.error(&self.value.span(), what)
    }

    fn not_a(&self, wanted: &str) -> InputError {
        let is = self.value.get_ref().type_str();
        self.error(format!(
            "`{}` is of the type {is}; it has to be {wanted}",
            self.key
        ))
    }

    pub(super) fn words(&self) -> Read<&'s str> {
        match self.value.get_ref() {
            DeValue::String(text) => Ok(text.as_ref()),
            _ => Err(self.not_a("a text in quotes")),
        }
    }

    pub(super) fn choice<T: Copy>(&self, of: &[(&str, T)]) -> Read<T> {
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

    pub(super) fn yes_or_no(&self) -> Read<bool> {
        match self.value.get_ref() {
            DeValue::Boolean(value) => Ok(*value),
            _ => Err(self.not_a("true or false")),
        }
    }

    pub(super) fn whole(&self, min: i64, max: i64) -> Read<i64> {
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
    pub(super) fn number(&self, min: f64, max: f64) -> Read<f64> {
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

    pub(super) fn quantity(&self, kind: Kind, min: &str, max: &str) -> Read<f64> {
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
    pub(super) fn fitted<T>(&self, read: impl FnOnce(&Self) -> Read<T>) -> Read<Option<T>> {
        if self.says_not_fitted() {
            return Ok(None);
        }
        read(self).map(Some).map_err(|mut error| {
            error.what.push_str(" (or \"not fitted\")");
            error
        })
    }

    /// Whether it says that the site does not have this.
    pub(super) fn says_not_fitted(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::String(text) if text.as_ref() == NOT_FITTED)
    }

    /// The entries of a list.
    pub(super) fn list(&self) -> Read<Vec<Entry<'s, 'a>>> {
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
