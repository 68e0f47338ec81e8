//! The page of a day: one file that needs nothing else, to be printed and signed.

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};

use super::{BY_EYE, BY_EYE_DECIDES, DECIDES, DaySheet};

const PAGE: &str = include_str!("../../templates/day.html");

/// The page of one day.
///
/// # Errors
/// What the template engine has to say; never for a result of this program.
pub fn page(found: &DaySheet) -> Result<String, minijinja::Error> {
    let mut engine = Environment::new();
    crate::report::tables::taught(&mut engine)?;
    engine.add_template("day.html", PAGE)?;
    engine.add_filter("places", |value: Option<f64>, digits: usize| {
        value.map_or_else(String::new, |value| format!("{value:.digits$}"))
    });
    let closing = found.conditions.iter().filter(|it| it.closes);
    let how = match closing.map(|it| it.is_met).max() {
        Some(true) => "met",
        Some(false) => "unsure",
        None => "",
    };
    engine.get_template("day.html")?.render(context! {
        day => Value::from(Serde(found)),
        verdict => found.verdict(),
        unknowns => Value::from(Serde(&found.unknowns())),
        how,
        decides => DECIDES,
        by_eye => BY_EYE,
        by_eye_decides => BY_EYE_DECIDES,
    })
}
