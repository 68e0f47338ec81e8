//! What is tried for a remainder.

use super::fit::Feeders;
use super::way::{ACID, Way};

/// One thing that is tried.
pub(super) struct Trial<'a> {
    pub(super) name: &'static str,
    /// The way with so much of it.
    pub(super) with: Box<dyn Fn(f64) -> Way + 'a>,
    /// The least and the most that it can be.
    pub(super) range: (f64, f64),
    pub(super) words: Box<dyn Fn(f64) -> String + 'a>,
}

/// What stands in the water's way from elsewhere: so much alkalinity, carbon and chlorine for one of it.
fn elsewhere(way: &Way, per: [f64; 3]) -> impl Fn(f64) -> Way + '_ {
    move |amount| Way {
        elsewhere: per.map(|one| one * amount),
        ..*way
    }
}

fn trial<'a>(
    name: &'static str,
    with: Box<dyn Fn(f64) -> Way + 'a>,
    range: (f64, f64),
    words: Box<dyn Fn(f64) -> String + 'a>,
) -> Trial<'a> {
    Trial {
        name,
        with,
        range,
        words,
    }
}

/// The water has so much alkalinity, eq/L: more acid or alkali than that nobody overlooks.
fn most(way: &Way) -> f64 {
    way.start.ta_mg_l / 50_043.0
}

/// All of them.
pub(super) fn trials<'a>(way: &'a Way, feeders: &'a Feeders) -> Vec<Trial<'a>> {
    let mut all = of_acid(way, feeders);
    all.extend(of_water(way));
    all.extend(of_chlorine(way));
    all
}

fn of_acid<'a>(way: &'a Way, feeders: &'a Feeders) -> Vec<Trial<'a>> {
    let most = most(way);
    let litres = |amount: f64| amount / feeders.acid_per_l.max(1e-12);
    // What the drum leaves open, twice.
    let open = feeders.acid_open.map_or(most, |open| 2.0 * open);
    vec![
        trial(
            "second_source",
            Box::new(elsewhere(way, ACID)),
            (0.0, most),
            Box::new(move |amount| {
                format!(
                    "{:.1} L of the site's acid from elsewhere: acid tablets, dry acid, or poured and not entered",
                    litres(amount)
                )
            }),
        ),
        trial(
            "chlorine_tablets",
            Box::new(elsewhere(way, [-1.0, 0.0, 0.3])),
            (0.0, most),
            Box::new(|amount| {
                format!(
                    "chlorine tablets that brought {:.1} mg/L and the acid that goes with it",
                    amount * 70_906.0
                )
            }),
        ),
        trial(
            "feeder_over",
            Box::new(elsewhere(way, ACID)),
            (0.0, open),
            Box::new(move |amount| {
                let litres = litres(amount);
                format!(
                    "an acid feeder that gave {litres:.1} L beside its booking: another rate, a siphon, a leak into the line"
                )
            }),
        ),
        trial(
            "acid_stronger",
            Box::new(move |amount| Way {
                acid: way.acid * (1.0 + amount),
                ..*way
            }),
            (0.0, 0.5),
            Box::new(|amount| {
                format!(
                    "acid stronger than the site file says by {:.0} %",
                    amount * 100.0
                )
            }),
        ),
        trial(
            "acid_missing",
            Box::new(move |amount| Way {
                acid: way.acid * (1.0 - amount),
                ..*way
            }),
            (0.0, 1.0),
            Box::new(|amount| {
                format!(
                    "{:.0} % of the acid that did not arrive, or weaker acid",
                    amount * 100.0
                )
            }),
        ),
    ]
}

fn of_water(way: &Way) -> Vec<Trial<'_>> {
    let most = most(way);
    vec![
        trial(
            "bicarbonate",
            Box::new(elsewhere(way, [1.0, 1.0, 0.0])),
            (0.0, most),
            Box::new(|amount| {
                format!(
                    "bicarbonate for {:.0} mg/L that nobody entered",
                    amount * 50_043.0
                )
            }),
        ),
        trial(
            "plaster",
            Box::new(elsewhere(way, [1.0, 0.0, 0.0])),
            (0.0, most),
            Box::new(|amount| {
                format!(
                    "alkali for {:.0} mg/L, as new plaster or soda gives",
                    amount * 50_043.0
                )
            }),
        ),
        trial(
            "co2_faster",
            Box::new(move |amount| Way {
                velocity_cm_h: way.velocity_cm_h + amount,
                ..*way
            }),
            (0.0, 8.0),
            Box::new(|amount| {
                format!("CO2 that leaves faster than the site file says, by {amount:.1} cm/h")
            }),
        ),
        trial(
            "co2_slower",
            Box::new(move |amount| Way {
                velocity_cm_h: way.velocity_cm_h - amount,
                ..*way
            }),
            (0.0, way.velocity_cm_h),
            Box::new(|amount| {
                format!("CO2 that leaves more slowly than the site file says, by {amount:.1} cm/h")
            }),
        ),
    ]
}

fn of_chlorine(way: &Way) -> Vec<Trial<'_>> {
    vec![
        trial(
            "chlorine_used",
            Box::new(elsewhere(way, [-1.0, 0.0, -1.0])),
            (0.0, 1e-3),
            Box::new(|amount| {
                format!(
                    "{:.1} mg/L more of chlorine used: bathers, algae, or weaker hypochlorite",
                    amount * 70_906.0
                )
            }),
        ),
        trial(
            "chlorine_from_elsewhere",
            Box::new(elsewhere(way, [1.0, 0.0, 1.0])),
            (0.0, 1e-3),
            Box::new(|amount| {
                format!(
                    "{:.1} mg/L of chlorine from elsewhere, or less of it used",
                    amount * 70_906.0
                )
            }),
        ),
    ]
}
