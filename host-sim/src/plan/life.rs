//! The first days of a planned site, and its proof tests: who does what when, by the stages of the sheet.

use serde::Serialize;

use super::care::PlannedCare;
use super::feeder::SiteFeeder;
use super::second::{FIRST, SecondBody};
use super::site::Site;
use super::work::{FeederFigures, Figures};
use crate::scenario::{POURED_ACID_MOL_L, POURED_CHLORINE_G_L};
use dosewarden::guard::Product;

/// How long the scenario runs, days.
pub(super) const DAYS: u32 = 60;
/// When somebody first comes to look after it, then each week: before bathers, since feeding may have to pause.
pub(super) const VISIT: &str = "day 5 08:00";
const DAY_MIN: u32 = 1440;
/// Bathers and sun: from nine to eight in the evening.
const BUSY_MIN: (u32, u32) = (9 * 60, 20 * 60);
/// Flow has to be proven and the probes settled: so long after the pump's start nothing counts, min.
const BEGINS_MIN: u32 = 10;
/// What a stage needs besides its hours, for proof tests and the way there, min.
const SLACK_MIN: u32 = 60;
/// So long before the pump stops a person comes no more, min.
const LATEST_MIN: u32 = 60;

/// What is poured by hand while the unit only observes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct ByHand {
    /// When.
    pub at: Vec<String>,
    /// The same, minutes from midnight before the first day.
    #[serde(skip)]
    pub(super) at_min: Vec<u32>,
    /// Each time: how much of each feeder's product, mL; of hypochlorite of 125 g/L where a generator makes the
    /// chlorine.
    pub ml: Vec<f64>,
}

/// Something that a person does.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Deed {
    /// When, as a scenario says it.
    pub(super) at: String,
    /// The lines of the event.
    pub(super) lines: Vec<String>,
}

/// When stages begin, minutes from midnight before the first day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stages {
    pub(super) start: u32,
    pub(super) reduced: u32,
    pub(super) full: u32,
}

fn runs(site: &Site, minute: u32) -> bool {
    let of_day = (minute % DAY_MIN) as u16;
    site.flow.runs.iter().any(|window| window.contains(of_day))
}

/// Whether valves are turned then: flow and probes begin anew.
fn turns(site: &Site, minute: u32) -> bool {
    let of_day = (minute % DAY_MIN) as u16;
    let mut selected = site.second.iter().flat_map(SecondBody::selected);
    selected.any(|window| window.from_min == of_day || window.to_min % DAY_MIN as u16 == of_day)
}

/// When so many hours have counted from `from` on, and a person can be there while the pump runs.
fn after(site: &Site, from: u32, hours: u16) -> u32 {
    let needed = u32::from(hours) * 60 + SLACK_MIN;
    let (mut counted, mut since_start, mut minute) = (0, 0, from);
    // No site's pump runs for less than a few minutes a day; the end is for one that never does.
    while counted < needed && minute < from + 400 * DAY_MIN {
        since_start = if runs(site, minute) && !turns(site, minute) {
            since_start + 1
        } else {
            0
        };
        counted += u32::from(since_start > BEGINS_MIN);
        minute += 1;
    }
    let stays = (0..LATEST_MIN).all(|more| runs(site, minute + more));
    if stays {
        return minute;
    }
    let next = (minute + LATEST_MIN..minute + 2 * DAY_MIN).find(|at| {
        let since = 2 * BEGINS_MIN;
        runs(site, *at) && runs(site, at - since) && runs(site, at + LATEST_MIN)
    });
    next.unwrap_or(minute)
}

impl Stages {
    pub(super) fn of(site: &Site) -> Self {
        let care = PlannedCare::of(site);
        let first = site.flow.runs.first().map_or(480, |w| w.from_min);
        let start = (u32::from(first) + 30) % DAY_MIN;
        let reduced = after(site, start, care.observe_h);
        Self {
            start,
            reduced,
            full: after(site, reduced, care.reduced_h),
        }
    }
}

/// What has to be poured while the unit only observes, in so many parts that chlorine stays over its minimum and pH
/// moves by at most 0.15 at once. The unit is not told: it feeds nothing meanwhile, and would count all of it against
/// the first day of feed.
#[must_use]
pub(super) fn by_hand(site: &Site, figures: &Figures) -> ByHand {
    let stages = Stages::of(site);
    let (from, to) = (BUSY_MIN.0.max(stages.start), BUSY_MIN.1.min(stages.reduced));
    let busy = f64::from(to.saturating_sub(from)) / f64::from(BUSY_MIN.1 - BUSY_MIN.0);
    let long = f64::from(stages.reduced - stages.start) / f64::from(DAY_MIN);
    let room = |one: &FeederFigures| {
        if one.acid {
            1.5 * one.per_tenth
        } else {
            let wanted = &site.wanted;
            let mg_l = wanted.free_chlorine_mg_l - wanted.free_chlorine_min_mg_l;
            10.0 * one.per_tenth * mg_l.max(0.1)
        }
    };
    // What is poured has no free alkali.
    let used = |one: &FeederFigures| {
        (one.expected_per_day - one.against_alkali_per_day) * if one.acid { long } else { busy }
    };
    let parts = figures.feeders.iter().map(|one| used(one) / room(one));
    let parts = parts.fold(0.0, f64::max).ceil().clamp(1.0, 12.0);
    // Where nobody bathes meanwhile, by day or night.
    let (from, to) = if busy > 0.0 {
        (from, to)
    } else {
        (stages.start, stages.reduced)
    };
    let each = f64::from(to - from) / parts;
    // Before all of a part is used.
    let at = |part: u32| from + ((f64::from(part) + 0.8) * each) as u32;
    let ml = figures.feeders.iter().map(|one| {
        let grams = one.cell.is_some();
        let part = used(one) / parts;
        if grams {
            part / POURED_CHLORINE_G_L * 1000.0
        } else {
            part
        }
    });
    ByHand {
        at: (0..parts as u32).map(|part| moment(at(part))).collect(),
        at_min: (0..parts as u32).map(at).collect(),
        ml: ml.collect(),
    }
}

/// A moment as a scenario says it.
fn moment(minute: u32) -> String {
    let (day, rest) = (minute / DAY_MIN + 1, minute % DAY_MIN);
    format!("day {day} {:02}:{:02}", rest / 60, rest % 60)
}

struct Deeds(Vec<(u32, Vec<String>)>);

impl Deeds {
    fn add(&mut self, at: u32, person: &str, keys: &[(&str, &str)]) {
        let mut lines = vec![format!("person = \"{person}\"")];
        lines.extend(
            keys.iter()
                .map(|(key, value)| format!("{key} = \"{value}\"")),
        );
        self.0.push((at, lines));
    }

    /// `body`: into which of two.
    fn pour(&mut self, at: u32, feeder: &SiteFeeder, ml: f64, body: Option<&str>) {
        let of_stock = match feeder.product {
            // Of what `pour` knows.
            Product::Acid => ml * feeder.strength / POURED_ACID_MOL_L,
            Product::Hypochlorite => ml * feeder.strength / POURED_CHLORINE_G_L,
            _ => ml,
        };
        let of = if feeder.product == Product::Acid {
            "acid"
        } else {
            "hypochlorite"
        };
        if of_stock.round() < 1.0 {
            return;
        }
        let amount = format!("{:.0} mL", of_stock.round());
        let mut keys = vec![("of", of), ("amount", &amount)];
        keys.extend(body.map(|name| ("body", name)));
        self.add(at, "pour", &keys);
    }
}

/// What persons do besides visits, in the order of time.
pub(super) fn deeds(site: &Site, figures: &Figures, second: Option<&Figures>) -> Vec<Deed> {
    let (stages, care) = (Stages::of(site), PlannedCare::of(site));
    let mut all = Deeds(Vec::new());
    let by = ("by", "technician");
    let start = stages.start;
    all.add(start, "initialise", &[by]);
    for feeder in site.feeders.iter().filter(|feeder| feeder.is_liquid()) {
        all.add(start + 1, "read_level", &[("feeder", &feeder.name)]);
    }
    all.add(start + 2, "water_test", &[by, ("of", "alkalinity")]);
    let cyanurate = site
        .water
        .cyanuric_acid_mg_l
        .max(site.wanted.cyanuric_acid_mg_l);
    let cyanurate = format!("{cyanurate:.0} mg/L");
    all.add(
        start + 3,
        "water_test",
        &[by, ("of", "cyanurate"), ("found", &cyanurate)],
    );
    all.add(start + 4, "prove_all", &[by, ("of", "without_feed")]);
    let first = site.second.as_ref().map(|_| FIRST);
    let mut pours = vec![(by_hand(site, figures), first)];
    if let Some((body, figures)) = site.second.as_ref().zip(second) {
        // The unit's stages are those of the site, whichever body is selected.
        let as_one = Site {
            kind: site.kind,
            flow: site.flow.clone(),
            second: site.second.clone(),
            ..(*body.site).clone()
        };
        pours.push((by_hand(&as_one, figures), Some(body.name.as_str())));
    }
    for (by_hand, body) in pours {
        for at in by_hand.at_min {
            for (feeder, ml) in site.feeders.iter().zip(&by_hand.ml) {
                all.pour(at, feeder, *ml, body);
            }
        }
    }
    all.add(stages.reduced, "reduced_stage", &[by]);
    all.add(stages.reduced + 1, "prove_all", &[by, ("of", "with_feed")]);
    all.add(stages.full - 1, "kit_ph", &[by]);
    all.add(stages.full, "full_stage", &[by]);
    // Two days before they are due.
    let every = care.proof_every_days.saturating_sub(2).max(1);
    for day in (1..)
        .map(|round| round * every)
        .take_while(|day| *day < DAYS)
    {
        let of_day = (day * DAY_MIN..(day + 1) * DAY_MIN).find(|at| {
            let from = BUSY_MIN.0.max(start % DAY_MIN);
            at % DAY_MIN >= from && runs(site, *at)
        });
        all.add(
            of_day.unwrap_or(day * DAY_MIN + start),
            "prove_all",
            &[by, ("of", "all")],
        );
    }
    all.0.sort_by_key(|(at, _)| *at);
    let deed = |(at, lines)| Deed {
        at: moment(at),
        lines,
    };
    all.0.into_iter().map(deed).collect()
}
