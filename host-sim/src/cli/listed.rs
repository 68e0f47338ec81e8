//! Arguments whose values a shell completes from a list.
//!
//! Invariant: the list is for the shell alone. What a person types is read where it was always read, with that place's words
//! for what is wrong, and no help is filled with a screen of names.

use std::ffi::OsStr;
use std::fmt::Debug;

use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};

/// Reads by `read`, and names what `all` gives.
#[derive(Clone, Debug)]
pub(super) struct Listed<T> {
    pub(super) all: fn() -> Vec<&'static str>,
    pub(super) read: fn(&str) -> Result<T, String>,
}

/// Any text, completed from a list.
pub(super) const fn text_of(all: fn() -> Vec<&'static str>) -> Listed<String> {
    Listed {
        all,
        read: |text| Ok(text.to_owned()),
    }
}

impl<T: Clone + Send + Sync + 'static> TypedValueParser for Listed<T> {
    type Value = T;

    fn parse_ref(
        &self,
        command: &clap::Command,
        argument: Option<&clap::Arg>,
        value: &OsStr,
    ) -> Result<T, clap::Error> {
        // Read as any other that is given a function, so that an error has the same words.
        let read = self.read;
        let read = move |text: &str| read(text).map_err(Wrong);
        StringValueParser::new()
            .try_map(move |text| read(&text))
            .parse_ref(command, argument, value)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        Some(Box::new((self.all)().into_iter().map(PossibleValue::new)))
    }
}

/// Why a value is none.
#[derive(Debug)]
struct Wrong(String);

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for Wrong {}
