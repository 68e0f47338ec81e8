//! The table of errors in the docs says what is measured, and all of it is within its bounds.

use std::fmt::Write as _;

use crate::errors::{Errors, of_acid, of_new_states, of_the_table};

/// The page with the table; it is part of the docs of the module, too.
pub(crate) const PAGE: &str = include_str!("../../../host-sim/WATER.md");

fn all() -> Vec<Errors> {
    [of_new_states(), of_the_table(), of_acid()]
        .into_iter()
        .flatten()
        .collect()
}

fn figure(errors: &Errors, value: f64) -> String {
    if errors.relative {
        format!("{:.2} %", 100.0 * value)
    } else {
        format!("{value:.4}")
    }
}

fn table(all: &[Errors]) -> String {
    let mut text = String::from(
        "| quantity | reference | states | median | worst | bound |\n|---|---|---|---|---|---|\n",
    );
    for errors in all {
        writeln!(
            text,
            "| {} | `{}` | {} | {} | {} | {} |",
            errors.what,
            errors.file,
            errors.all.len(),
            figure(errors, errors.median()),
            figure(errors, errors.worst()),
            figure(errors, errors.bound),
        )
        .expect("a string");
    }
    text
}

#[test]
fn every_quantity_is_within_its_bound() {
    for errors in all() {
        let worst = errors.worst();
        assert!(
            worst.abs() <= errors.bound,
            "{} against {}: {worst}, at most {}",
            errors.what,
            errors.file,
            errors.bound
        );
    }
}

#[test]
fn the_committed_table_is_what_is_measured() {
    let measured = table(&all());
    assert!(
        PAGE.contains(&measured),
        "put this into host-sim/WATER.md:\n{measured}"
    );
}
