//! What is risky about two bodies of water on one pump, and what to change.

use super::both::custom;
use super::findings::Found;
use super::second::{FIRST, Position, SecondBody};
use super::site::Site;
use super::work::{DRIVE_OFF_S, FeederFigures, Figures, TICK_GAP_S, ph_after, water};
use crate::water::Reagent;
use dosewarden::guard::Product;

/// Cyanuric acid further apart than this makes one ORP set point two levels of chlorine, mg/L. Our choice.
const CYANURATE_APART_MG_L: f64 = 10.0;
/// Water further apart than this shifts a pH by 0.02 at pH 8, a degree by 0.0034 a unit (Nernst), C.
const APART_C: f64 = 6.0;

/// All findings about the valves.
pub(super) fn findings(
    site: &Site,
    body: &SecondBody,
    figures: (&Figures, &Figures),
    found: &mut Found,
) {
    position(site, body, figures, found);
    shared(site, body, figures, found);
    time(site, body, figures.1, found);
}

/// What so many mL of a feeder's product make of the second body, in words.
fn makes(body: &SecondBody, figures: &Figures, index: usize, ml: f64) -> String {
    let site = &body.site;
    let Some(feeder) = site.feeders.get(index) else {
        return String::new();
    };
    if feeder.product == Product::Acid {
        let mol = ml / 1000.0 * feeder.strength / site.volume_l;
        let low = figures.alkalinity_lowest_mg_l;
        return match water(site, low, site.wanted.ph) {
            Ok(water) => format!("pH {:.1}", ph_after(&water, Reagent::HYDROCHLORIC, mol)),
            Err(_) => "a pH that nobody can tell".to_owned(),
        };
    }
    let grams = if feeder.is_liquid() {
        ml * feeder.strength / 1000.0
    } else {
        ml
    };
    let more = grams * 1000.0 / site.volume_l;
    format!(
        "{:.1} mg/L of free chlorine",
        site.wanted.free_chlorine_mg_l + more
    )
}

fn position(
    site: &Site,
    body: &SecondBody,
    (first, second): (&Figures, &Figures),
    found: &mut Found,
) {
    let name = &body.name;
    for (index, one) in first.feeders.iter().enumerate() {
        let what = makes(body, second, index, one.cycle_cap);
        let cycle = format!(
            "{}: a cycle for the {FIRST}, {:.0} {}, makes {what} in the {name}",
            one.name, one.cycle_cap, one.unit
        );
        match body.valves.position {
            Position::NotFitted => found.error(
                "valves_not_seen",
                format!("nothing tells the controller which body it feeds. {cycle}"),
                "fit position switches on the fill and the return valve, in series; until then the settings have the \
                 smaller caps and the longer hold for both",
            ),
            Position::Return => found.caution(
                "fill_not_seen",
                format!(
                    "the return valve alone tells which body is selected: with the fill valve elsewhere the probes see \
                     one water and the dose goes to the other. {cycle}"
                ),
                "a switch on the fill valve too, in series with that of the return valve",
            ),
            Position::FillAndReturn => found.note(
                "dose_of_the_other",
                format!("what the switches keep apart: {cycle}"),
                "test the switches at each visit: turn the valves while a feeder runs, and see it stop",
            ),
        }
    }
    if !body.valves.together {
        found.caution(
            "valves_apart",
            format!(
                "the fill and the return valve turn apart: while they differ, the pump moves water from one body into \
                 the other, and the {name} runs over or dry"
            ),
            "one drive, or one switch, for both",
        );
    }
    let flow = &site.flow;
    let transit_s = flow.line_volume_l / flow.slowest_l_min * 60.0 + TICK_GAP_S + DRIVE_OFF_S;
    for (index, one) in first.feeders.iter().enumerate() {
        let ml = one.rate_per_h * transit_s / 3600.0;
        found.note(
            "line_at_a_turn",
            format!(
                "{}: what stands in the line and runs on when the valves turn, {ml:.1} {}, makes {} in the {name}",
                one.name,
                one.unit,
                makes(body, second, index, ml)
            ),
            "a shorter line, or a smaller feeder",
        );
    }
}

/// One pair of probes and one set point for both.
fn shared(
    site: &Site,
    body: &SecondBody,
    (first, second): (&Figures, &Figures),
    found: &mut Found,
) {
    let name = &body.name;
    let other = &body.site;
    let settle_s = custom(site).settle_s + first.purge_s.max(0.0);
    found.note(
        "one_probe_for_two",
        format!(
            "the probes see the body that is selected, and nobody watches the other: nothing is fed for {:.0} min after \
             each turn, and water that nobody circulates is not looked after",
            settle_s / 60.0
        ),
        "send the water to each body every day, and test both at each visit",
    );
    let apart_c = (site.temperature_c - other.temperature_c).abs();
    if apart_c > APART_C {
        found.note(
            "probe_temperature",
            format!(
                "the waters are {apart_c:.0} C apart, and the pH probe is set for one temperature"
            ),
            "a temperature sensor at the probe, or calibrate at the one whose pH matters more",
        );
    }
    let cya = |site: &Site| {
        let tested = site.water.cyanuric_acid_mg_l;
        tested.max(site.wanted.cyanuric_acid_mg_l)
    };
    let apart = cya(site) - cya(other);
    if apart.abs() > CYANURATE_APART_MG_L && site.feeders.iter().any(|f| f.product.is_oxidiser()) {
        let mv = second.orp_at_1_mg_l_mv - first.orp_at_1_mg_l_mv;
        found.caution(
            "waters_differ",
            format!(
                "cyanuric acid is {:.0} mg/L in the {FIRST} and {:.0} mg/L in the {name}: the wanted chlorine shows an ORP \
                 {:.0} mV apart, and one set point stands for both",
                cya(site),
                cya(other),
                mv.abs()
            ),
            "the same cyanuric acid in both, or anchor at the one that is busier and test the other",
        );
    }
}

/// Whether the second body is selected for long enough.
fn time(site: &Site, body: &SecondBody, second: &Figures, found: &mut Found) {
    let wait_s = body.valves.travel_s + custom(site).settle_s;
    let cycle = |one: &FeederFigures| one.cycle_s + one.hold_s;
    let longest = second.feeders.iter().map(cycle).fold(0.0, f64::max);
    for window in body.selected() {
        let minutes = f64::from(window.minutes());
        if minutes * 60.0 < wait_s + longest {
            found.caution(
                "turn_too_short",
                format!(
                    "the {} is selected for {minutes:.0} min at a time; {:.0} min pass before anything is fed, and a \
                     cycle with its hold takes {:.0} min",
                    body.name,
                    wait_s / 60.0,
                    longest / 60.0
                ),
                "longer turns, fewer of them",
            );
        }
    }
}
