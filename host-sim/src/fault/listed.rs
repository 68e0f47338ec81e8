//! The catalogue in words: nobody has to know what `H1` is.

use core::fmt::Write as _;

#[cfg(feature = "tools")]
use super::find;
use super::{Fault, catalogue};

/// The names of faults by which a case goes, as `A12 chlorine`: one after the other.
#[cfg(feature = "tools")]
pub(crate) fn names_of(faults: &[String]) -> String {
    let names = faults.iter().map(|fault| {
        let id = fault.split_whitespace().next().unwrap_or_default();
        find(id).map_or(fault.as_str(), |found| found.name)
    });
    names.collect::<Vec<_>>().join("; ")
}

/// The catalogue as text: id, sort, name, and where each acts.
#[must_use]
pub fn listed() -> String {
    let mut text = String::new();
    for fault in catalogue() {
        let Fault {
            id, name, acts_on, ..
        } = fault;
        let group = fault.group.name();
        let _ = writeln!(
            text,
            "{id:<4} {group:<11} {name}\n{:17}acts on {acts_on}",
            ""
        );
    }
    text
}
