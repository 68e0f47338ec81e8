//! Why a command did not do its work, as it is told on standard error: an input that is wrong with its line and a mark
//! under the place.
//!
//! Invariant: the first line says all of it, file, line and what would be right, for those who read it from a pipe. Colour is
//! only for a terminal whose owner has not set `NO_COLOR`.

use std::error::Error;
use std::io::IsTerminal;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::{BAD_INPUT, STOPPED, stop};
use crate::campaign::CampaignError;
use crate::scenario::InputError;

/// Why a command did not do its work.
#[derive(Debug)]
pub(super) enum Failed {
    /// An input is wrong.
    Input(InputError),
    /// Anything else, in words.
    Words(String),
}

impl From<InputError> for Failed {
    fn from(error: InputError) -> Self {
        Self::Input(error)
    }
}

impl From<String> for Failed {
    fn from(words: String) -> Self {
        Self::Words(words)
    }
}

/// What any step had to say, where the steps of a command have errors of many kinds: a place in a file stays one.
impl From<Box<dyn Error>> for Failed {
    fn from(error: Box<dyn Error>) -> Self {
        let error = match error.downcast::<CampaignError>() {
            Ok(of_campaign) => match *of_campaign {
                CampaignError::Input(error) => return Self::Input(error),
                other => return Self::Words(other.to_string()),
            },
            Err(error) => error,
        };
        match error.downcast::<InputError>() {
            Ok(error) => Self::Input(*error),
            Err(other) => Self::Words(other.to_string()),
        }
    }
}

impl Failed {
    /// Tells it; gives the exit status.
    pub(super) fn tell(&self) -> u8 {
        eprintln!("{}", self.shown(is_coloured()));
        // What failed since a person ended it is no bad input.
        if stop::is_asked() { STOPPED } else { BAD_INPUT }
    }

    fn shown(&self, coloured: bool) -> String {
        let error = match self {
            Self::Words(words) => return format!("error: {words}"),
            Self::Input(error) => error,
        };
        let line = std::fs::read_to_string(&error.file).ok();
        let line = line.and_then(|text| {
            let at = error.line.checked_sub(1)?;
            text.lines().nth(at).map(str::to_owned)
        });
        match line {
            None => format!("error: {error}"),
            Some(line) => quoted(error, &line, coloured),
        }
    }
}

/// Standard error is a terminal, and nobody wants it plain (<https://no-color.org>).
fn is_coloured() -> bool {
    let wants = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    std::io::stderr().is_terminal() && !wants("NO_COLOR") && !dumb
}

/// The error with its line, and a mark under what is meant: under all of it where only the line is known.
fn quoted(error: &InputError, line: &str, coloured: bool) -> String {
    let byte = |column: usize| {
        line.char_indices()
            .nth(column)
            .map_or(line.len(), |(at, _)| at)
    };
    let known = error.column > 1 || error.width > 0;
    let from = if known { error.column.max(1) - 1 } else { 0 };
    let to = if known {
        from + error.width.max(1)
    } else {
        usize::MAX
    };
    let mark = AnnotationKind::Primary.span(byte(from)..byte(to));
    let snippet = Snippet::source(line)
        .line_start(error.line)
        .fold(false)
        .annotation(mark);
    let title = error.to_string();
    let report = [Level::ERROR.primary_title(title.as_str()).element(snippet)];
    let renderer = if coloured {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let shown = renderer.render(&report);
    let lines: Vec<&str> = shown.lines().map(str::trim_end).collect();
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn error(column: usize, width: usize) -> InputError {
        InputError {
            file: "a.toml".to_owned(),
            line: 7,
            column,
            width,
            what: "volum: did you mean `volume`?".to_owned(),
        }
    }

    #[test]
    fn the_mark_stands_under_what_is_meant() {
        let shown = quoted(&error(9, 4), "größe = \"9 L\" # of it", false);
        let lines: Vec<&str> = shown.lines().collect();
        assert_eq!(lines[0], "error: a.toml:7:9: volum: did you mean `volume`?");
        let (quote, mark) = (lines[lines.len() - 2], lines[lines.len() - 1]);
        assert!(quote.starts_with("7 | "), "{shown}");
        let column = |line: &str, part: &str| {
            let at = line.find(part).unwrap();
            line[..at].chars().count()
        };
        assert_eq!(column(quote, "\"9 L"), column(mark, "^^^^"), "{shown}");
        assert!(!mark.contains("^^^^^"), "{shown}");
        assert!(!shown.contains('\u{1b}'), "{shown}");
        assert!(quoted(&error(9, 4), "größe = 9", true).contains('\u{1b}'));
    }

    #[test]
    fn a_place_past_the_end_and_an_empty_line_are_told_too() {
        for (error, line) in [
            (error(40, 0), "short"),
            (error(1, 0), ""),
            (error(0, 0), "a,b,c"),
        ] {
            let shown = quoted(&error, line, false);
            assert!(shown.starts_with("error: a.toml:7:"), "{shown}");
            assert!(shown.contains("7 |"), "{shown}");
        }
        assert!(quoted(&error(0, 0), "a,b,c", false).contains("^^^^^"));
    }

    #[test]
    fn a_file_that_cannot_be_read_is_one_line() {
        let gone = Failed::from(InputError::of_line("no/such/file", 3, "is bad"));
        assert_eq!(gone.shown(false), "error: no/such/file:3: is bad");
        let words = Failed::from("--at is bad".to_owned());
        assert_eq!(words.shown(true), "error: --at is bad");
    }
}
