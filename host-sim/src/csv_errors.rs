//! What is wrong with a file of rows, and where.

use csv::Position;

use crate::scenario::InputError;

/// A mistake at a line.
pub(crate) fn wrong(file: &str, line: u64, what: String) -> InputError {
    InputError {
        file: file.to_owned(),
        line: usize::try_from(line).unwrap_or(usize::MAX),
        column: 1,
        width: 0,
        what,
    }
}

/// What the reader of CSV says.
pub(crate) fn csv_error(file: &str, error: &csv::Error) -> InputError {
    let line = error.position().map_or(0, Position::line);
    let what = match error.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => format!("the row has {len} fields; it has to have {expected_len}, as the names do"),
        csv::ErrorKind::Utf8 { .. } => "is not UTF-8 text here; save the file as UTF-8".to_owned(),
        _ => format!("cannot be read: {error}"),
    };
    wrong(file, line, what)
}
