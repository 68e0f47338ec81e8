//! What is wrong with an input file, and where.

use core::fmt;
use core::ops::Range;

/// One mistake in an input: file, line, column, what is wrong and what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputError {
    /// File as the caller named it.
    pub file: String,
    /// Line from 1; 0 where the file could not be read at all.
    pub line: usize,
    /// Column from 1, in characters; 0 where the file could not be read at all, or the whole line is meant.
    pub column: usize,
    /// How many characters are meant from there on, on that line; 0: no more than the place is known.
    pub width: usize,
    /// What is wrong, and what would be right.
    pub what: String,
}

impl InputError {
    /// An error of the file as a whole.
    #[must_use]
    pub fn of_file(file: &str, what: impl Into<String>) -> Self {
        Self {
            file: file.to_owned(),
            line: 0,
            column: 0,
            width: 0,
            what: what.into(),
        }
    }

    /// An error of a whole line.
    #[must_use]
    pub fn of_line(file: &str, line: usize, what: impl Into<String>) -> Self {
        Self {
            line,
            ..Self::of_file(file, what)
        }
    }

    /// An error at a place in `text`, given in bytes.
    #[must_use]
    pub fn at(file: &str, text: &str, span: &Range<usize>, what: impl Into<String>) -> Self {
        let mut start = span.start.min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let before = &text[..start];
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
        let meant = text.get(start..span.end.min(text.len())).unwrap_or("");
        let width = meant.lines().next().map_or(0, |line| line.chars().count());
        Self {
            file: file.to_owned(),
            line,
            column,
            width,
            what: what.into(),
        }
    }
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            file,
            line,
            column,
            what,
            ..
        } = self;
        match (line, column) {
            (0, _) => write!(f, "{file}: {what}"),
            (_, 0) => write!(f, "{file}:{line}: {what}"),
            _ => write!(f, "{file}:{line}:{column}: {what}"),
        }
    }
}

impl core::error::Error for InputError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_from_one_and_in_characters() {
        let text = "a = 1\nöö = 2\n";
        let at = |byte: usize| {
            let error = InputError::at("f", text, &(byte..byte), "w");
            (error.line, error.column)
        };
        assert_eq!(at(0), (1, 1));
        assert_eq!(at(4), (1, 5));
        assert_eq!(at(6), (2, 1));
        assert_eq!(at(11), (2, 4));
        assert_eq!(at(999), (3, 1));
        assert_eq!(InputError::of_file("f", "gone").to_string(), "f: gone");
        assert_eq!(InputError::of_line("f", 3, "bad").to_string(), "f:3: bad");
    }

    #[test]
    fn what_is_meant_ends_with_its_line() {
        let text = "a = [1,\n2]\nöö = 2\n";
        let width = |span: Range<usize>| InputError::at("f", text, &span, "w").width;
        assert_eq!(width(4..10), 3);
        assert_eq!(width(11..15), 2);
        assert_eq!(width(4..4), 0);
        assert_eq!(width(0..999), 7);
    }
}
