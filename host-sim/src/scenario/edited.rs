//! A scenario's text with a few values changed: the rest of the file stays as it was written, comments and all.

use core::fmt::Write as _;

/// The text with other values in `[scenario]`, each `(key, value as it stands in the file)`, and without the tables
/// that `without` names, such as `[held_to.kept]` or `[[event]]`. A key that was not there comes first.
///
/// ```
/// use dosewarden_sim::scenario::{FIRST_POOL, Scenario, edited};
///
/// let values = [("seed", "7".to_owned()), ("words", "\"nothing happens\"".to_owned())];
/// let text = edited(FIRST_POOL, &values, &["[[event]]"]);
/// let scenario = Scenario::parse("quiet.toml", &text)?;
/// assert_eq!((scenario.seed, scenario.events.len()), (7, 0));
/// assert_eq!(scenario.limits, Scenario::first_pool().limits);
/// # Ok::<(), dosewarden_sim::scenario::InputError>(())
/// ```
#[must_use]
pub fn edited(text: &str, values: &[(&str, String)], without: &[&str]) -> String {
    let mut out = String::new();
    let (mut table, mut is_long) = ("", false);
    for line in text.lines() {
        if is_long {
            // The rest of a text of several lines, whose key was replaced.
            is_long = line.matches(LONG).count() == 0;
            continue;
        }
        if line.starts_with('[') {
            table = line.split('#').next().map_or("", str::trim);
        }
        let key = line.split('=').next().map_or("", str::trim);
        let is_replaced = table == "[scenario]" && values.iter().any(|(name, _)| *name == key);
        if is_replaced {
            is_long = line.matches(LONG).count() == 1;
            continue;
        }
        if without.contains(&table) {
            continue;
        }
        out.push_str(line);
        out.push('\n');
        if table == "[scenario]" && line.starts_with('[') {
            for (name, value) in values {
                let _ = writeln!(out, "{name} = {value}");
            }
        }
    }
    out
}

/// Begins and ends a text of several lines.
const LONG: &str = "\"\"\"";
