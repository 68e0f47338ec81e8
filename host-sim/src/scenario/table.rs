//! A table of a TOML file, read key by key.
//!
//! Invariant: a key that nothing asked for is an error when the table is closed, so a misspelt
//! limit can never be silently left out.

use core::cell::{Cell, RefCell};
use core::ops::Range;
use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use super::entry::{Entry, nearest};
use super::error::InputError;
use super::quantity::Kind;

/// A file being read: its name, its text, and where each key's value stands.
#[derive(Debug)]
pub(crate) struct Source<'a> {
    pub(crate) file: &'a str,
    pub(crate) text: &'a str,
    places: RefCell<BTreeMap<String, Range<usize>>>,
}

impl<'a> Source<'a> {
    pub(crate) fn new(file: &'a str, text: &'a str) -> Self {
        Self {
            file,
            text,
            places: RefCell::default(),
        }
    }

    pub(crate) fn error(&self, span: &Range<usize>, what: impl Into<String>) -> InputError {
        InputError::at(self.file, self.text, span, what)
    }

    /// Where the value of a key stands, such as `feeder[0].limits.day_cap`; else of the closest
    /// table around it.
    pub(crate) fn place(&self, path: &str) -> Range<usize> {
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
    pub(crate) fn written(&self, path: &str) -> Option<&'a str> {
        let places = self.places.borrow();
        let span = places.get(path)?;
        self.text
            .get(span.clone())
            .map(|text| text.trim_matches(['"', '\'']))
    }
}

/// One table, with the path to it.
pub(crate) struct Table<'s, 'a> {
    pub(crate) source: &'s Source<'a>,
    path: String,
    span: Range<usize>,
    entries: &'s DeTable<'a>,
    asked: RefCell<Vec<&'static str>>,
    closed: Cell<bool>,
}

type Read<T> = Result<T, InputError>;

impl<'s, 'a> Table<'s, 'a> {
    pub(crate) fn root(source: &'s Source<'a>, entries: &'s DeTable<'a>) -> Self {
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

    pub(crate) fn error(&self, what: impl Into<String>) -> InputError {
        self.source.error(&self.span, what)
    }

    /// An error at the value of a key of this table, or at the table if the key is not there.
    pub(crate) fn error_at(&self, key: &'static str, what: String) -> InputError {
        match self.find(key) {
            Some(entry) => entry.error(what),
            None => self.error(what),
        }
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
    pub(crate) fn find(&self, key: &'static str) -> Option<Entry<'s, 'a>> {
        self.asked.borrow_mut().push(key);
        let (_, value) = self
            .entries
            .iter()
            .find(|(name, _)| name.get_ref().as_ref() == key)?;
        self.source
            .places
            .borrow_mut()
            .insert(self.child_path(key), value.span());
        Some(Entry::new(self.source, key, value))
    }

    /// The value of `key`, which has to be there; `example` says what it would look like.
    pub(crate) fn need(&self, key: &'static str, example: &str) -> Read<Entry<'s, 'a>> {
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
    pub(crate) fn table(&self, key: &'static str) -> Read<Table<'s, 'a>> {
        let found = self.find_table(key)?;
        found.ok_or_else(|| {
            let name = self.child_path(key);
            let what = format!("{} has no table [{name}]; it has to be there", self.title());
            self.misspelt(key).unwrap_or_else(|| self.error(what))
        })
    }

    /// A table inside this one, if it is there.
    pub(crate) fn find_table(&self, key: &'static str) -> Read<Option<Table<'s, 'a>>> {
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
    pub(crate) fn tables(&self, key: &'static str) -> Read<Vec<Table<'s, 'a>>> {
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
    pub(crate) fn close(self) -> Read<()> {
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
    pub(crate) fn quantity(
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
    pub(crate) fn words(&self, key: &'static str) -> Read<&'s str> {
        self.need(key, "\"...\"")?.words()
    }

    /// One of several words, each with its meaning.
    pub(crate) fn choice<T: Copy>(&self, key: &'static str, of: &[(&str, T)]) -> Read<T> {
        let example = of
            .first()
            .map_or_else(String::new, |(word, _)| format!("\"{word}\""));
        self.need(key, &example)?.choice(of)
    }

    /// A whole number between two bounds, both included.
    pub(crate) fn whole(&self, key: &'static str, min: i64, max: i64) -> Read<i64> {
        self.need(key, &min.to_string())?.whole(min, max)
    }
}
