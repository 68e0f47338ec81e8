//! What is risky or impossible about a site, and what to change.

use serde::Serialize;

use super::ceiling;
use super::files::reduced_share;
use super::peak;
use super::site::{PoolKind, Site};
use super::supply;
use super::valves;
use super::work::{Figures, TICK_GAP_S};
use dosewarden::guard::Product;

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Do not feed before it is changed.
    Error,
    /// It will bite sooner or later.
    Caution,
    /// Good to know.
    Note,
}

/// A finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Finding {
    /// How grave.
    pub severity: Severity,
    /// A short name that stays.
    pub name: &'static str,
    /// What is so.
    pub what: String,
    /// What to change.
    pub change: String,
}

/// Least alkalinity with which acid is fed, mg/L. Our choice: under it pH runs away between two
/// readings.
pub const ALKALINITY_MIN_MG_L: f64 = 50.0;

/// Reduced caps of more than this are as good as full ones, %. Our choice.
const LITTLE_REDUCED: u32 = 90;

/// Water under this is cold for a generator, C (common practice, no source).
const CELL_COLD_C: f64 = 15.0;

pub(super) struct Found(Vec<Finding>);

impl Found {
    fn add(&mut self, severity: Severity, name: &'static str, what: String, change: &str) {
        self.0.push(Finding {
            severity,
            name,
            what,
            change: change.to_owned(),
        });
    }
    pub(super) fn error(&mut self, name: &'static str, what: String, change: &str) {
        self.add(Severity::Error, name, what, change);
    }
    pub(super) fn caution(&mut self, name: &'static str, what: String, change: &str) {
        self.add(Severity::Caution, name, what, change);
    }
    pub(super) fn note(&mut self, name: &'static str, what: String, change: &str) {
        self.add(Severity::Note, name, what, change);
    }
}

/// All findings, the gravest first.
#[must_use]
pub(super) fn findings(site: &Site, figures: &Figures, second: Option<&Figures>) -> Vec<Finding> {
    let mut found = Found(Vec::new());
    supply::findings(site, figures, &mut found);
    water(site, figures, &mut found);
    for index in 0..site.feeders.len() {
        rates(site, figures, index, &mut found);
        too_large(site, figures, index, &mut found);
        amounts(site, figures, index, &mut found);
        peak::findings(site, figures, index, &mut found);
        ceiling::findings(site, figures, index, &mut found);
        stages(figures, index, &mut found);
    }
    wiring(site, &mut found);
    if let Some((body, other)) = site.second.as_ref().zip(second) {
        let mut own = Found(Vec::new());
        water(&body.site, other, &mut own);
        for index in 0..site.feeders.len() {
            too_large(&body.site, other, index, &mut own);
            amounts(&body.site, other, index, &mut own);
            peak::findings(&body.site, other, index, &mut own);
            ceiling::findings(&body.site, other, index, &mut own);
            stages(other, index, &mut own);
        }
        for mut finding in own.0 {
            finding.what = format!("{}: {}", body.name, finding.what);
            found.0.push(finding);
        }
        valves::findings(site, body, (figures, other), &mut found);
    }
    found.0.sort_by_key(|finding| finding.severity);
    found.0
}

fn water(site: &Site, figures: &Figures, found: &mut Found) {
    let acid = site.feeders.iter().any(|f| f.product == Product::Acid);
    let lowest = figures.alkalinity_lowest_mg_l;
    if acid && lowest < ALKALINITY_MIN_MG_L {
        found.error(
            "alkalinity_low",
            format!(
                "alkalinity falls to {lowest:.0} mg/L before the next test in {:.0} days (holding the pH takes {:.1} mg/L \
                 a day); acid is fed from {ALKALINITY_MIN_MG_L:.0} mg/L up",
                site.next_test_days, figures.alkalinity_loss_mg_l_day
            ),
            "raise the alkalinity first, or test sooner",
        );
    }
    if site.wanted.orp_mv.is_none() && site.feeders.iter().any(|f| f.product.is_oxidiser()) {
        found.caution(
            "no_anchor",
            format!(
                "the ORP at which a DPD test finds {:.1} mg/L is not known; {:.0} mV stand in the settings as a guess",
                site.wanted.free_chlorine_mg_l, figures.orp_set_mv
            ),
            "bring free chlorine to what is wanted by hand, read the ORP after an hour of flow, write it as `orp` into the \
             site's file and plan anew: set point, cut-off and alarms follow it; feed by ORP waits for it",
        );
    }
    let cya = site.water.cyanuric_acid_mg_l;
    if cya > 100.0 {
        found.error(
            "cyanuric_acid_high",
            format!(
                "cyanuric acid is {cya:.0} mg/L; over 100 use is suspended by Delaware 4464-14.2.4"
            ),
            "exchange water until it is under 50 mg/L",
        );
    }
    if site.outdoors && cya.max(site.wanted.cyanuric_acid_mg_l) < 10.0 {
        found.caution(
            "sun_without_cyanuric_acid",
            format!(
                "without cyanuric acid the sun takes about 90 % of the chlorine in 2 to 3 h; {:.1} mg/L a day are needed",
                figures.chlorine_mg_l_day
            ),
            "20 to 40 mg/L of cyanuric acid, where your local code allows it",
        );
    }
    if figures.calcite_index > 0.5 || figures.calcite_index < -0.5 {
        found.caution(
            "saturation",
            format!(
                "the saturation index of calcite is {:+.1}",
                figures.calcite_index
            ),
            if figures.calcite_index > 0.0 {
                "scale forms on heater, cell and probes: less pH, alkalinity or calcium"
            } else {
                "water dissolves plaster and grout: more calcium or alkalinity"
            },
        );
    }
    if site.temperature_c < 10.0 {
        found.caution(
            "cold",
            format!(
                "the water has {:.0} C; below 10 C nothing is fed",
                site.temperature_c
            ),
            "lay the pool up, or come back when it is warm",
        );
    }
}

fn rates(site: &Site, figures: &Figures, index: usize, found: &mut Found) {
    let (Some(feeder), Some(one)) = (site.feeders.get(index), figures.feeders.get(index)) else {
        return;
    };
    let name = &feeder.name;
    match feeder.compared() {
        Some(seen) if !seen.agrees() => found.error(
            "rate_disagrees",
            format!(
                "{name}: {:.0} {u}/h were entered and {:.0} {u}/h caught: {} than entered",
                feeder.rate_per_h,
                one.rate_per_h,
                if seen.gives_more { "more" } else { "less" },
                u = feeder.unit()
            ),
            "look at the tube and roller in the pump head: another size gives several times as much; then catch again, \
             and enter what was caught",
        ),
        Some(_) => {}
        None if feeder.is_liquid() => found.caution(
            "no_catch_test",
            format!(
                "{name}: its rate was not caught; caps count at {:.0} {}/h, the most with any tube, so it gives {:.0} % of \
                 them",
                one.rate_for_caps_per_h,
                feeder.unit(),
                100.0 * one.rate_per_h / one.rate_for_caps_per_h
            ),
            "catch what it gives in a minute, with gloves and goggles, into a cup of water for acid",
        ),
        None => {}
    }
    if let Some(days) = one.stock_days
        && days < 7.0
    {
        found.caution(
            "drum_small",
            format!("{name}: a full drum lasts for {days:.1} days"),
            "a larger drum, or more visits",
        );
    }
}

/// A cycle is shorter than what a tick and the drive's end take.
fn too_large(site: &Site, figures: &Figures, index: usize, found: &mut Found) {
    let (Some(feeder), Some(one)) = (site.feeders.get(index), figures.feeders.get(index)) else {
        return;
    };
    let name = &feeder.name;
    if one.cycle_cap < one.dose_min {
        found.error(
            "feeder_too_large",
            format!(
                "{name}: the smallest dose worth a cycle is {:.0} {u}, a cycle's cap {:.0} {u}: a cycle would be over \
                 within {:.0} s",
                one.dose_min,
                one.cycle_cap,
                TICK_GAP_S + 0.2,
                u = feeder.unit()
            ),
            "a smaller tube, a weaker product, or a slower pump",
        );
    }
}

fn amounts(site: &Site, figures: &Figures, index: usize, found: &mut Found) {
    let (Some(feeder), Some(one)) = (site.feeders.get(index), figures.feeders.get(index)) else {
        return;
    };
    let (name, unit) = (&feeder.name, feeder.unit());
    let acid = feeder.product == Product::Acid;
    // What cycles and holds leave of the pump's hours.
    let cycles = site.pump_h() * 3600.0 / (one.cycle_s + one.hold_s);
    let can = (cycles * one.cycle_cap)
        .min(one.day_cap)
        .min(one.rate_per_h * site.pump_h());
    if one.expected_per_day > can {
        found.error(
            "too_little",
            format!(
                "{name}: {:.0} {unit} a day are needed and {can:.0} can be given in {:.0} h of pump",
                one.expected_per_day,
                site.pump_h()
            ),
            if acid {
                "less alkalinity or a higher pH use less acid; a longer run of the pump gives more cycles"
            } else {
                "a larger feeder or generator, more hours of pump, or cyanuric acid against the sun"
            },
        );
    }
    if acid && one.stream_ph < 4.0 {
        found.caution(
            "stream_sour",
            format!(
                "{name}: behind its injector the stream has pH {:.1} at {:.0} L/min",
                one.stream_ph, site.flow.slowest_l_min
            ),
            "inject behind heater and filter, into plastic; a slower pump or weaker acid",
        );
    }
    let floor = if acid {
        one.after_hour < 6.5
    } else {
        one.after_hour > 10.0
    };
    if floor {
        let (what, limit) = if acid {
            ("pH", 6.5)
        } else {
            ("free chlorine", 10.0)
        };
        found.caution(
            "hour_without_stop",
            format!(
                "{name}: an hour without a stop, by the largest tube, ends at {what} {:.1} (limit {limit})",
                one.after_hour
            ),
            "the guard's run time and the contact in series stand against it; a smaller feeder is safer by itself",
        );
    }
    if let Some(after) = one.after_drum {
        let what = if acid {
            format!("pH {after:.1}")
        } else {
            format!("{after:.0} mg/L of free chlorine")
        };
        found.note(
            "whole_drum",
            format!("{name}: the whole drum in the pool makes {what}"),
            "keep the drum no larger than visits need",
        );
    }
}

fn stages(figures: &Figures, index: usize, found: &mut Found) {
    let Some(one) = figures.feeders.get(index) else {
        return;
    };
    let share = reduced_share(one);
    if share > LITTLE_REDUCED {
        found.note(
            "little_reduced",
            format!(
                "{}: the water uses so much of a day's cap that the reduced stage leaves it {share} % of its caps",
                one.name
            ),
            "watch the first days of that stage as closely as those of full caps",
        );
    }
}

fn wiring(site: &Site, found: &mut Found) {
    if !site.flow.pump_contact && !site.flow.flow_meter {
        found.caution(
            "one_witness",
            "the flow switch is the only witness of flow: one that sticks is not seen".to_owned(),
            "wire the pump's run contact, or fit a flow meter",
        );
    }
    if !site.flow.master {
        found.caution(
            "no_series_contact",
            "no contact stands in series with the feeders: a welded drive cannot be stopped"
                .to_owned(),
            "fit one, dropped by the hardware dead man too",
        );
    }
    for feeder in &site.feeders {
        if !feeder.feedback {
            found.note(
                "no_feedback",
                format!("{}: nobody sees whether its drive obeys", feeder.name),
                "an auxiliary contact or a current sensor",
            );
        }
        if feeder.is_liquid() && !feeder.level_switch {
            found.note(
                "no_level_switch",
                format!("{}: an empty drum is only estimated", feeder.name),
                "a level switch in the drum",
            );
        }
        if feeder.product == Product::GeneratedChlorine && !feeder.cell_switch {
            found.error(
                "cell_without_switch",
                format!(
                    "{}: the cell has no flow switch of its own; without flow it fills with hydrogen",
                    feeder.name
                ),
                "fit one in the cell's branch",
            );
        }
        if feeder.product == Product::GeneratedChlorine && site.temperature_c < CELL_COLD_C {
            found.caution(
                "cell_cold",
                format!(
                    "{}: cells make less in water of {:.0} C, and their plates wear faster",
                    feeder.name, site.temperature_c
                ),
                "enter what it makes at this temperature, or feed by hand until the water is warmer",
            );
        }
    }
    if site.kind == PoolKind::Public && !site.flow.flow_meter {
        found.note(
            "no_flow_meter",
            "a public pool is to run at its required rate; no meter shows it".to_owned(),
            "a flow meter (California 22 CCR 65525(b): not below 75 % of the required rate)",
        );
    }
}
