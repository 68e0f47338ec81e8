//! The page of a campaign: all of it in one file that needs nothing else.

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};

use super::bounds::Bounds;
use super::report::Report;
use super::row::{rows, shown};
use super::table::{
    beside_verdict, bound_rows, furthest, late, needed, not_here, simulated, untold_rows, verdict,
};
use crate::report::CAUTIONS;

const PAGE: &str = include_str!("../../templates/campaign.html");

/// What no campaign shows.
const NOT_SHOWN: [&str; 5] = [
    "Simulated water and simulated faults: what the plant does not have, no fault can reach.",
    "Of what an oracle states of one product the worst of a trial is judged: a lesser one in another body of water stands behind it.",
    "Both products enter one line at one point; at a site with two bodies of water what is poured goes into the first.",
    "Sizes and times are those that the seed draws, not those between.",
    "Nobody comes to help but whom the site's plan sends.",
];

/// The page.
///
/// # Errors
/// What the template engine has to say; never for a report of this program.
pub fn page(report: &Report) -> Result<String, minijinja::Error> {
    let mut engine = Environment::new();
    crate::report::tables::taught(&mut engine)?;
    engine.add_template("campaign.html", PAGE)?;
    let (bounds, needed) = (Bounds::committed(), needed(report));
    engine.get_template("campaign.html")?.render(context! {
        site => &report.site,
        mode => &report.mode,
        seed => report.seed,
        command => &report.command,
        canary => &report.canary,
        lived => report.lived,
        planned => report.planned,
        time => simulated(report.simulated_s),
        verdict => verdict(report),
        is_inside => report.is_inside(),
        beside => beside_verdict(report),
        furthest => furthest(report),
        shown => shown(report),
        rows => Value::from(Serde(&rows(report))),
        not_here => not_here(report),
        untold => Value::from(Serde(&untold_rows(report))),
        late => late(report),
        needed => Value::from(Serde(&bound_rows(&bounds, &needed))),
        unneeded => bounds.unneeded(&needed),
        not_shown => NOT_SHOWN,
        cautions => CAUTIONS,
    })
}
