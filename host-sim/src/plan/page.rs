//! The sheet as a page: one file that needs nothing else. What the text of the sheet shows as figures stands here in
//! tables, each figure beside what it rests on.

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::work::{CHLORINE_MAX_MG_L, Custom, ORP_FALL_MV_PER_PH, PH_FLOOR, TOLERANCE};
use super::{Advice, FIRST, FeederFigures, Figures, Plan, Severity, Site, SiteFeeder, Step};
use crate::visit::CAUTIONS;

const PAGE: &str = include_str!("../../templates/plan.html");

/// A figure of the sheet.
#[derive(Serialize)]
struct Row {
    what: &'static str,
    value: String,
    why: String,
}

#[derive(Serialize)]
struct Feeder {
    name: String,
    rows: Vec<Row>,
}

/// A body of water.
#[derive(Serialize)]
struct Body<'a> {
    name: &'a str,
    before: &'a [Step],
    water: Vec<Row>,
    feeders: Vec<Feeder>,
}

fn row(what: &'static str, value: String, why: impl Into<String>) -> Row {
    let why = why.into();
    Row { what, value, why }
}

/// Small amounts with their tenths.
fn few(amount: f64) -> String {
    format!("{amount:.*}", usize::from(amount < 10.0))
}

fn water(site: &Site, plan: &Plan, g: &Figures, first: bool) -> Vec<Row> {
    let dpd = site.wanted.orp_mv.is_some();
    let mut rows = vec![
        row(
            "volume",
            format!("{:.1} m3", g.volume_m3),
            format!(
                "from the shapes of the site file, rounded down; {:.2} m deep on average",
                g.depth_m
            ),
        ),
        row(
            "alkalinity at the start",
            format!("{:.0} mg/L as CaCO3", g.alkalinity_start_mg_l),
            "as tested, or what is wanted where the test found less: that is made up first",
        ),
        row(
            "alkalinity used a day",
            format!("{:.1} mg/L as CaCO3", g.alkalinity_loss_mg_l_day),
            format!("acid that holds pH {:.1} while CO2 leaves", site.wanted.ph),
        ),
        row(
            "lowest alkalinity",
            format!("{:.0} mg/L as CaCO3", g.alkalinity_lowest_mg_l),
            format!(
                "before its next test, {:.0} days on: the caps of acid are made for it",
                site.next_test_days
            ),
        ),
        row(
            "saturation index of calcite",
            format!("{:+.2}", g.calcite_index),
            "of the water as tested; over 0 it scales, under 0 it dissolves plaster",
        ),
        row(
            "chlorine used a day",
            format!("{:.1} mg/L", g.chlorine_mg_l_day),
            "sunlight, bathers of a busy day and the rest, at the wanted level",
        ),
        row(
            "ORP that is held",
            format!("{:.0} mV", g.orp_set_mv),
            if dpd {
                "at which a DPD test found the wanted chlorine"
            } else {
                "a guess: enter the ORP at which a DPD test finds the wanted chlorine"
            },
        ),
        row(
            "cut-off of chlorine",
            format!("{:.0} mV", g.orp_cutoff_mv),
            cutoff_words(),
        ),
        row(
            "cut-off of acid",
            format!("pH {:.2}", g.acid_cutoff),
            "at or below it no acid is fed",
        ),
        row(
            "purge",
            format!("{:.0} s", g.purge_s),
            format!(
                "three volumes of the return line at {:.0} L/min, the slowest flow; a minute at least",
                site.flow.slowest_l_min
            ),
        ),
    ];
    rows.extend(plan.advice.as_ref().filter(|_| first).map(half_the_acid));
    rows
}

/// What would use half the acid.
fn half_the_acid(advice: &Advice) -> Row {
    let value = format!("pH {:.1} at {:.0} mg/L", advice.ph, advice.alkalinity_mg_l);
    let share = advice.share * 100.0;
    let why = format!("this set point and alkalinity use {share:.0} % of the acid");
    row("half the acid", value, why)
}

fn feeder(site: &Site, g: &Figures, one: &FeederFigures, own: &SiteFeeder) -> Feeder {
    let unit = one.unit;
    let mut rows = vec![
        row(
            "rate",
            format!("{:.0} {unit}/h", one.rate_per_h),
            if own.caught.is_some() {
                "as caught"
            } else {
                "as entered: catch it before full caps"
            },
        ),
        row(
            "rate for which the caps hold",
            format!("{:.0} {unit}/h", one.rate_for_caps_per_h),
            if own.caught.is_some() {
                format!("{:.0} % above what was caught", TOLERANCE * 100.0)
            } else {
                "no catch test is on record: the most that it gives with any tube".to_owned()
            },
        ),
        row(
            "smallest dose",
            format!("{} {unit}", few(one.dose_min)),
            "what it repeats, and what runs for longer than a tick and the drive's end",
        ),
        row(
            "expected a day",
            format!("{} {unit}", few(one.expected_per_day)),
            "at the wanted water, on a busy day",
        ),
    ];
    caps(site, g, one, &mut rows);
    rows.push(row(
        "a cycle at its rate",
        format!("{:.0} s", one.cycle_s),
        "drive-on time of the cycle's cap",
    ));
    rows.push(hold(own, one));
    rows.push(row(
        "behind the injector",
        format!("pH {:.1}", one.stream_ph),
        format!("while it feeds, at {:.0} L/min", site.flow.slowest_l_min),
    ));
    if let Some(days) = one.stock_days {
        let why = format!("{:.0} L, at what is expected a day", own.drum_l);
        rows.push(row("a full drum lasts", format!("{days:.0} days"), why));
    }
    if !one.acid {
        let why = "a share of a cycle, so that the busiest hour is kept up with; half at least";
        let share = format!("{:.0} %", one.weak_share_percent);
        rows.push(row("weak, over pH 7.9", share, why));
    }
    checked(one, &mut rows);
    at_worst(g, one, &mut rows);
    Feeder {
        name: one.name.clone(),
        rows,
    }
}

fn cutoff_words() -> String {
    format!(
        "above it no chlorine is fed; {ORP_FALL_MV_PER_PH:.0} mV lower for each pH over the wanted one"
    )
}

/// The caps, by what they move the water.
fn caps(site: &Site, g: &Figures, one: &FeederFigures, rows: &mut Vec<Row>) {
    let (unit, custom) = (one.unit, Custom::of(site.kind));
    let lowest = g.alkalinity_lowest_mg_l;
    let mg_l = |amount: f64| amount / one.per_tenth * 0.1;
    let (tenth, cycle, hour, day) = if one.acid {
        (
            format!("moves pH by 0.1, at {lowest:.0} mg/L of alkalinity"),
            "moves pH by 0.1 at most, and is no more than the hour's".to_owned(),
            format!(
                "brings pH down from {:.1} above the set point, and is no more than the day's",
                custom.acid_hour_ph
            ),
            format!(
                "all of it at once, from the cut-off at pH {:.2} and the lowest alkalinity, ends at pH {PH_FLOOR:.1}",
                g.acid_cutoff
            ),
        )
    } else {
        (
            "brings 0.1 mg/L of free chlorine".to_owned(),
            if one.cell.is_some() {
                "an hour of the cell at most: it runs long, and is charged in slices".to_owned()
            } else {
                format!("{:.2} mg/L", mg_l(one.cycle_cap))
            },
            format!(
                "{:.2} mg/L: for the busiest hour, and never past {CHLORINE_MAX_MG_L:.0} mg/L",
                mg_l(one.hour_cap)
            ),
            format!(
                "{:.2} mg/L: half as much again as is expected, for as long as a cap has to last",
                mg_l(one.day_cap)
            ),
        )
    };
    rows.push(row(
        if one.acid { "0.1 of pH" } else { "0.1 mg/L" },
        format!("{} {unit}", few(one.per_tenth)),
        tenth,
    ));
    rows.push(row(
        "cap of a cycle",
        format!("{} {unit}", few(one.cycle_cap)),
        cycle,
    ));
    rows.push(row(
        "cap of an hour",
        format!("{} {unit}", few(one.hour_cap)),
        hour,
    ));
    rows.push(row(
        "cap of a day",
        format!("{} {unit}", few(one.day_cap)),
        day,
    ));
}

fn hold(own: &SiteFeeder, one: &FeederFigures) -> Row {
    let why = if one.acid {
        "the water's way to the probe, three lags of it and three exchanges of the slow part; a least that is our choice"
    } else if own.is_liquid() {
        "the water's way to the probe and three lags of it; a least that is our choice"
    } else {
        "a cell's slices follow one another"
    };
    row(
        "hold after a cycle",
        format!("{:.0} min of flow", one.hold_s / 60.0),
        why,
    )
}

/// How the real rate is checked, and what a cell needs.
fn checked(one: &FeederFigures, rows: &mut Vec<Row>) {
    if let Some(check) = one.check {
        if let Some(answer) = check.answer {
            rows.push(row(
                "the water's answer",
                format!(
                    "{:.0} mL move pH {:.1} by 0.1",
                    answer.dose_ml, answer.at_ph
                ),
                format!(
                    "known to {:.0} %, shown after {:.0} min: a rate that is wrong is told by it",
                    answer.error_percent,
                    answer.settle_s / 60.0
                ),
            ));
        }
        rows.push(row(
            "the drum's level",
            format!("read to {:.2} L", check.level_error_l),
            "at each visit, against what was booked",
        ));
    }
    if let Some(cell) = one.cell {
        rows.push(row(
            "size that is needed",
            format!("{:.1} g/h", cell.needed_g_per_h),
            "while the pump runs",
        ));
        rows.push(row(
            "hydrogen",
            format!("{:.1} L/h", cell.hydrogen_l_per_h),
            "at its rate: it has to get away",
        ));
    }
}

/// What a fault or a day's cap does to the water.
fn at_worst(g: &Figures, one: &FeederFigures, rows: &mut Vec<Row>) {
    let water = |value: f64| {
        if one.acid {
            format!("pH {value:.1}")
        } else {
            format!("{value:.1} mg/L")
        }
    };
    rows.push(row(
        "after a cycle too many",
        water(one.after_cycle),
        "if all else were as wanted",
    ));
    rows.push(row(
        "after an hour without a stop",
        water(one.after_hour),
        "with the largest tube: what the interlocks are for",
    ));
    let from = if one.acid {
        format!("from pH {:.2}, at the lowest alkalinity", g.acid_cutoff)
    } else {
        "on top of the wanted chlorine".to_owned()
    };
    rows.push(row(
        "after a day's cap at once",
        water(one.after_day_cap),
        from,
    ));
    if let Some(after) = one.after_drum {
        rows.push(row(
            "after the whole drum",
            water(after),
            "into the pool at once: what a wrong bore or a siphon could do",
        ));
    }
}

fn body<'a>(name: &'a str, site: &Site, plan: &Plan, g: &Figures, before: &'a [Step]) -> Body<'a> {
    let feeders = g.feeders.iter().zip(&site.feeders);
    Body {
        name,
        before,
        water: water(site, plan, g, name == FIRST),
        feeders: feeders
            .map(|(one, own)| feeder(site, g, one, own))
            .collect(),
    }
}

/// What is poured each time while the unit only observes.
fn by_hand(plan: &Plan) -> Vec<String> {
    let feeders = plan.figures.feeders.iter().zip(&plan.by_hand.ml);
    let some = feeders.filter(|(_, ml)| ml.round() >= 1.0);
    some.map(|(feeder, ml)| match feeder.cell {
        Some(_) => format!("hypochlorite of 125 g/L: {ml:.0} mL"),
        None => format!("{}: {ml:.0} mL", feeder.name),
    })
    .collect()
}

/// The page of a plan of this site. `command` is what makes it again.
///
/// # Errors
/// What the template engine has to say; never for a plan of this program.
pub fn page(site: &Site, plan: &Plan, command: &str) -> Result<String, minijinja::Error> {
    let mut bodies = vec![body(FIRST, site, plan, &plan.figures, &plan.before)];
    if let (Some(second), Some(own)) = (&plan.second, &site.second) {
        bodies.push(body(
            &second.name,
            &own.site,
            plan,
            &second.figures,
            &second.before,
        ));
    }
    let findings = || plan.findings.iter();
    let grave = |severity| findings().filter(|one| one.severity == severity).count();
    let engine = crate::report::engine("plan.html", PAGE)?;
    engine.get_template("plan.html")?.render(context! {
        site => &plan.site,
        findings => Value::from(Serde(&plan.findings)),
        errors => grave(Severity::Error),
        cautioned => grave(Severity::Caution),
        bodies => Value::from(Serde(&bodies)),
        stages => Value::from(Serde(&plan.stages)),
        proofs => Value::from(Serde(&plan.proof_tests)),
        care => Value::from(Serde(&plan.care)),
        by_hand => by_hand(plan),
        times => &plan.by_hand.at,
        tried => Value::from(Serde(&plan.tried)),
        cautions => CAUTIONS,
        command,
    })
}
