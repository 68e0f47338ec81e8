//! The page of a visit: one file that needs nothing else, to be kept or sent on.

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};

use super::{CAUTIONS, VisitResult};

const PAGE: &str = include_str!("../../templates/visit.html");

/// The page of one pool.
///
/// # Errors
/// What the template engine has to say; never for a result of this program.
pub fn page(found: &VisitResult) -> Result<String, minijinja::Error> {
    let mut engine = Environment::new();
    crate::report::tables::taught(&mut engine)?;
    engine.add_template("visit.html", PAGE)?;
    // As the sheet shows it.
    engine.add_filter("shown", super::figure::shown);
    engine.get_template("visit.html")?.render(context! {
        visit => Value::from(Serde(found)),
        how => found.urgency.word(),
        why => found.why(),
        cautions => CAUTIONS,
    })
}
