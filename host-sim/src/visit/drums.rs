//! Real against configured feed rates, by the drums.

use dosewarden::commission::CatchTest;
use dosewarden::guard::units::{Dose, Millis, Rate};
use dosewarden::stock::{DrumVerdict, Reconciled};
use dosewarden::visit::{Doubt, DrumBook, booked_between, drum_doubt, real_rate};
use serde::Serialize;

use super::entry::What;
use super::figure::Figure;
use super::log::{Log, Visit};
use crate::plan::{Plan, Site};
use dosewarden::visit::Part;

/// A rate that is off by so much, and by more than two standard deviations, is told: what caps allow for. Our choice.
const TOLD_OFF: f64 = 0.10;

/// What the drum and a catch test say of one feeder.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct RateFound {
    /// Name of the feeder.
    pub feeder: String,
    /// Rate that the site file gives, mL/h.
    pub configured_ml_h: f64,
    /// Days that it comes from.
    pub days: f64,
    /// What left the drum.
    pub real: Figure,
    /// What the controller booked meanwhile, at the configured rate: it counts with a tolerance.
    pub booked: Figure,
    /// Real over configured.
    pub ratio: Figure,
    /// The real rate.
    pub rate: Figure,
    /// "as_configured", "low", "high" or "unclear": half or double is named where the readings allow it.
    pub verdict: &'static str,
    /// What a catch test on this visit gave.
    pub caught: Option<Figure>,
    /// Off by more than caps allow for, and surely.
    pub is_off: bool,
}

/// One feeder's drum over the log.
#[derive(Clone, Debug, Default)]
pub(crate) struct Drum {
    /// Since the tube was changed; the last is the newest.
    spans: Vec<(f64, Reconciled)>,
    /// What is in it after the last visit, L.
    pub(super) left_l: Option<f64>,
    /// Questions of the last visit, and what they rest on.
    pub(super) doubts: Vec<(Doubt, String)>,
    /// Days and amount by the ledger, over all of the log.
    pub(super) booked: Option<(f64, f64)>,
}

fn dose(litres: f64) -> Dose {
    Dose((litres * 1e6).round().clamp(0.0, f64::from(u32::MAX)) as u32)
}

fn litres(dose: Dose) -> f64 {
    f64::from(dose.0) / 1e6
}

/// How far somebody may misread a drum, a bound.
pub(crate) fn level_error(plan: &Plan, feeder: usize) -> Dose {
    let check = plan.figures.feeders.get(feeder).and_then(|one| one.check);
    dose(check.map_or(0.3, |check| check.level_error_l))
}

/// What the controller books for each litre that the configured rate gives: it counts at the rate that caps hold at,
/// tolerance in it.
fn booked_for_one(plan: &Plan, feeder: usize) -> f64 {
    let own = plan.figures.feeders.get(feeder);
    own.map_or(1.0, |one| one.rate_for_caps_per_h / one.rate_per_h)
}

/// What the configured rate gives for the controller's total on a visit.
pub(super) fn total(visit: &Visit, plan: &Plan, feeder: usize) -> Option<f64> {
    shown_total(visit, feeder).map(|total| total / booked_for_one(plan, feeder))
}

fn shown_total(visit: &Visit, feeder: usize) -> Option<f64> {
    visit.last(|what| match what {
        What::Fed(of, total) if *of == feeder => Some(*total),
        _ => None,
    })
}

impl Drum {
    pub(crate) fn of(log: &Log, site: &Site, plan: &Plan, feeder: usize) -> Self {
        let mut drum = Self::default();
        let mut book = DrumBook::NEW;
        let (mut before, mut read_at) = (None, 0.0);
        let mut first = None;
        for visit in &log.visits {
            let now = total(visit, plan, feeder);
            let mut is_booked = false;
            drum.doubts.clear();
            if let (Some(before), Some(now)) = (before, now) {
                match booked_between(micro(before), micro(now)) {
                    Ok(more) => {
                        book.feed(more);
                        is_booked = true;
                    }
                    Err(doubt) => {
                        let shown = booked_for_one(plan, feeder);
                        let (before, now) = (before * shown, now * shown);
                        let why = format!("the total was {before:.2} and is {now:.2}");
                        drum.doubts.push((doubt, why));
                        first = None;
                    }
                }
            }
            if let Some(now) = now {
                let (day, amount) = *first.get_or_insert((visit.day(), now));
                drum.booked = Some((visit.day() - day, now - amount));
            }
            before = now.or(before);
            drum.levels(visit, feeder, &mut book, (is_booked, read_at), site, plan);
            if visit.last(|what| level(what, feeder)).is_some() {
                read_at = visit.day();
            }
            if visit.all(|what| new_tube(what, feeder)).count() > 0 {
                drum.spans.clear();
            }
        }
        drum.left_l = book.left().map(litres);
        drum
    }

    fn levels(
        &mut self,
        visit: &Visit,
        feeder: usize,
        book: &mut DrumBook,
        (mut is_booked, read_at): (bool, f64),
        site: &Site,
        plan: &Plan,
    ) {
        let error = level_error(plan, feeder);
        let size = site.feeders.get(feeder).map_or(0.0, |one| one.drum_l);
        for entry in &visit.entries {
            let Some((is_filled, level)) = level(&entry.what, feeder) else {
                continue;
            };
            if level > size + litres(error) {
                let why = format!("{level:.1} L in a drum of {size:.0} L");
                self.doubts.push((Doubt::DrumOverSize, why));
            }
            if is_filled || !is_booked {
                book.filled(dose(level));
                continue;
            }
            // The next reading on this visit is compared with nothing.
            is_booked = false;
            let left = book.left().map_or(0.0, litres);
            match book.read(dose(level)) {
                Ok(None) => {}
                Ok(Some(found)) => {
                    let (real, booked) = (litres(found.real), litres(found.booked));
                    if let Some(doubt) = drum_doubt(&found, error) {
                        let why =
                            format!("{real:.1} L left the drum and {booked:.1} L were booked");
                        self.doubts.push((doubt, why));
                    }
                    self.spans.push((visit.day() - read_at, found));
                }
                Err(doubt) => {
                    let why = format!("it reads {level:.1} L, and {left:.1} L at most were left");
                    self.doubts.push((doubt, why));
                }
            }
        }
    }

    /// Real over booked with its standard deviation, of all spans; `None` where nothing was compared.
    pub(crate) fn ratio(&self, error: Dose) -> Option<(f64, f64)> {
        let (real, booked) = self.sums();
        // A bound is taken as two standard deviations; two readings a span.
        let spread = litres(error) / 2.0 * (2.0 * self.spans.len() as f64).sqrt();
        (booked > 0.0).then(|| (real / booked, spread / booked))
    }

    /// Litres that left the drum where nothing was booked, with their standard deviation.
    pub(crate) fn unbooked(&self, error: Dose) -> Option<(f64, f64)> {
        let (real, booked) = self.sums();
        let spread = litres(error) / 2.0 * (2.0 * self.spans.len() as f64).sqrt();
        (!self.spans.is_empty() && booked == 0.0).then_some((real, spread))
    }

    fn sums(&self) -> (f64, f64) {
        let sum =
            |of: fn(&Reconciled) -> Dose| self.spans.iter().map(|(_, one)| litres(of(one))).sum();
        (sum(|one| one.real), sum(|one| one.booked))
    }

    /// Of the newest span where that is clear, else of all together.
    fn verdict(&self, error: Dose) -> DrumVerdict {
        let newest = self.spans.last().map(|(_, one)| one.verdict(error));
        let (real, booked) = self.sums();
        let all = Reconciled {
            real: dose(real),
            booked: dose(booked),
            ratio_percent: None,
        };
        let wider = dose(litres(error) * (self.spans.len() as f64).sqrt());
        newest
            .filter(|one| *one != DrumVerdict::Unclear)
            .unwrap_or_else(|| all.verdict(wider))
    }

    pub(super) fn found(
        &self,
        log: &Log,
        site: &Site,
        plan: &Plan,
        feeder: usize,
    ) -> Option<RateFound> {
        let own = site.feeders.get(feeder)?;
        let error = level_error(plan, feeder);
        let (ratio, spread) = self.ratio(error)?;
        let (real, booked) = self.sums();
        let configured = own.rate();
        let all = Reconciled {
            real: dose(real),
            booked: dose(booked),
            ratio_percent: None,
        };
        let rate = real_rate(&all, configured).unwrap_or(Rate(0));
        let configured_ml_h = f64::from(configured.0) / 1000.0;
        let readings = match self.spans.len() {
            1 => "a drum reading".to_owned(),
            more => format!("{more} drum readings"),
        };
        let source = format!("{readings}, each within {:.1} L", litres(error));
        let spread_l = spread * booked;
        let off = (ratio - 1.0).abs();
        Some(RateFound {
            feeder: own.name.clone(),
            configured_ml_h,
            days: self.spans.iter().map(|(days, _)| days).sum(),
            real: Figure::new(real, spread_l, "L", &source),
            booked: Figure::new(
                booked,
                0.0,
                "L",
                "the controller's total, at the configured rate",
            ),
            ratio: Figure::new(ratio, spread, "", &source),
            rate: Figure::new(
                f64::from(rate.0) / 1000.0,
                spread * configured_ml_h,
                "mL/h",
                "configured rate times that ratio",
            ),
            verdict: word(self.verdict(error)),
            caught: caught(log, feeder),
            is_off: off > TOLD_OFF && off > 2.0 * spread,
        })
    }
}

fn micro(amount: f64) -> u64 {
    (amount * 1e6).round().max(0.0) as u64
}

fn word(verdict: DrumVerdict) -> &'static str {
    match verdict {
        DrumVerdict::Unclear => "unclear",
        DrumVerdict::AsConfigured => "as_configured",
        DrumVerdict::Low => "low",
        DrumVerdict::High => "high",
    }
}

fn level(what: &What, feeder: usize) -> Option<(bool, f64)> {
    match what {
        What::Level(of, litres) if *of == feeder => Some((false, *litres)),
        What::Filled(of, litres) if *of == feeder => Some((true, *litres)),
        _ => None,
    }
}

fn new_tube(what: &What, feeder: usize) -> Option<()> {
    matches!(what, What::New(Part::Tube, Some(of)) if *of == feeder).then_some(())
}

/// A catch test on the last visit: a cup reads to 2 %, a stopwatch in a hand to half a second.
fn caught(log: &Log, feeder: usize) -> Option<Figure> {
    let (caught_l, seconds) = log.now().last(|what| match what {
        What::Catch(of, litres, seconds) if *of == feeder => Some((*litres, *seconds)),
        _ => None,
    })?;
    let test = CatchTest {
        caught_ul: dose(caught_l).0,
        time: Millis((seconds * 1000.0).round() as u32),
    };
    let rate = f64::from(test.rate_ceil().ok()?.0) / 1000.0;
    let error = rate * super::figure::together(&[0.02, 0.5 / seconds]);
    Some(Figure::new(
        rate,
        error,
        "mL/h",
        "the catch test of this visit",
    ))
}
