//! What is due: tests, calibrations, proof tests, parts.

use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::probe::{
    Age, Anchor, AnchorDue, Calibration, CentiCelsius, ChlorineTest, DueBy, MicrogramsPerL,
    Microvolts, REFERENCE_TOLERANCE, Trend,
};
use dosewarden::visit::{Part, PartUse};
use dosewarden::water_tests::{TestRule, TestedValue, WaterTest};
use serde::Serialize;

use super::alkalinity::tested;
use super::drums::total;
use super::entry::{Tested, What};
use super::log::{Log, Visit};
use crate::plan::{Plan, PoolKind, Site};
use dosewarden::guard::Product;

/// Days between calibrations and checks of probes (common practice, no source): 30 in public, 90 at home.
const PROBE_DAYS: (u16, u16) = (30, 90);

/// Something that is due.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Due {
    /// What.
    pub what: String,
    /// In how many days; 0 is today or overdue.
    pub in_days: u32,
    /// By what.
    pub why: String,
    /// Something to bring, with its name.
    #[serde(skip)]
    pub(super) part: Option<String>,
}

pub(super) struct Dues<'a> {
    pub(super) log: &'a Log,
    pub(super) site: &'a Site,
    pub(super) plan: &'a Plan,
}

fn age(days: f64) -> Age {
    Age::from_hours((days * 24.0).round().clamp(0.0, 65_000.0) as u16)
}

fn ug(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().clamp(0.0, 4e9) as u32)
}

fn due(what: impl Into<String>, in_days: impl Into<u32>, why: impl Into<String>) -> Due {
    Due {
        what: what.into(),
        in_days: in_days.into(),
        why: why.into(),
        part: None,
    }
}

impl Dues<'_> {
    pub(super) fn all(&self) -> Vec<Due> {
        let mut all = self.tests();
        all.push(self.calibration());
        all.extend(self.orp());
        all.extend(self.proofs());
        all.extend(self.parts());
        all.sort_by_key(|one| one.in_days);
        all
    }

    fn probe_days(&self) -> u16 {
        if self.site.kind == PoolKind::Home {
            PROBE_DAYS.1
        } else {
            PROBE_DAYS.0
        }
    }

    pub(super) fn tests(&self) -> Vec<Due> {
        let mut wanted = vec![
            (
                Tested::Alkalinity,
                TestedValue::Alkalinity,
                self.plan.care.alkalinity_every_days,
            ),
            (
                Tested::Cyanurate,
                TestedValue::Cyanurate,
                self.plan.care.cyanurate_every_days,
            ),
        ];
        let generates = |one: &crate::plan::SiteFeeder| one.product == Product::GeneratedChlorine;
        if self.site.feeders.iter().any(generates) {
            wanted.push((
                Tested::Salt,
                TestedValue::Salt,
                TestedValue::Salt.usual().every_days,
            ));
        }
        let one = |(test, value, every_days): (Tested, TestedValue, u16)| {
            let name = match value {
                TestedValue::Alkalinity => "test of alkalinity",
                TestedValue::Cyanurate => "test of cyanuric acid",
                _ => "test of salt",
            };
            let rule = TestRule {
                every_days,
                ..value.usual()
            };
            match self.log.latest(tested(test)) {
                None => due(name, 0_u32, "never entered"),
                Some((mg_l, days)) => {
                    let test = WaterTest {
                        found: ug(mg_l),
                        age: age(days),
                    };
                    let why = format!("every {every_days} days, last {days:.0} days ago");
                    due(name, test.due_in_days(&rule), why)
                }
            }
        };
        wanted.into_iter().map(one).collect()
    }

    /// By its age or by the trend of slope and offset, since the probe was changed.
    fn calibration(&self) -> Due {
        let what = "calibration of the pH probe";
        let now = self.log.now().day();
        let (mut trend, mut last, mut last_day) = (Trend::NEW, None, 0.0);
        for visit in &self.log.visits {
            if visit
                .last(|what| matches!(what, What::New(Part::PhProbe, _)).then_some(()))
                .is_some()
            {
                (trend, last) = (Trend::NEW, None);
            }
            let Some((slope, zero_mv)) = visit.last(calibrated) else {
                continue;
            };
            let zero = Microvolts((zero_mv * 1000.0).round() as i32);
            let slope_ppm = (slope * 1e6).round() as u32;
            let since = age(now - visit.day());
            match Calibration::restore(zero, slope_ppm, since) {
                Ok(made) => {
                    let hours = ((visit.day() - last_day) * 24.0)
                        .round()
                        .clamp(0.0, 65_000.0);
                    trend.push(&made, hours as u16);
                    (last, last_day) = (Some((made, slope)), visit.day());
                }
                Err(why) => return due(what, 0_u32, why.to_string()),
            }
        }
        let Some((made, slope)) = last else {
            return due(what, 0_u32, "never entered since the probe was put in");
        };
        let every = self.probe_days();
        let forecast = trend.forecast(&made, every);
        let by = match forecast.by {
            DueBy::Age => format!("every {every} days"),
            DueBy::Slope => "its slope falls to 85 %: have a new probe at hand".to_owned(),
            DueBy::Offset => "its offset runs to 30 mV: have a new probe at hand".to_owned(),
        };
        let days = now - last_day;
        due(
            what,
            forecast.days,
            format!("{by}; {:.1} % {days:.0} days ago", slope * 100.0),
        )
    }

    fn orp(&self) -> Vec<Due> {
        if !self
            .site
            .feeders
            .iter()
            .any(|one| one.product != Product::Acid)
        {
            return Vec::new();
        }
        let every = self.probe_days();
        let check = self.log.latest(|what| match what {
            What::Reference(reads, gives) => Some(reads - gives),
            _ => None,
        });
        let what = "check of the ORP probe";
        let bound = f64::from(REFERENCE_TOLERANCE.0);
        let checked = match check {
            None => due(what, 0_u32, "never entered"),
            Some((off, days)) if off.abs() > bound && days < 0.5 => due(
                what,
                0_u32,
                format!("{off:+.0} mV off, right is {bound:.0}: clean or replace it"),
            ),
            Some((off, days)) => {
                let left = (f64::from(every) - days).max(0.0) as u32;
                due(
                    what,
                    left,
                    format!("every {every} days; {off:+.0} mV off {days:.0} days ago"),
                )
            }
        };
        vec![checked, self.anchor(every)]
    }

    fn anchor(&self, every: u16) -> Due {
        let what = "anchor of the ORP set point";
        let anchored = self.log.latest(|what| match what {
            What::Anchored(mv, mg_l) => Some((*mv, *mg_l)),
            _ => None,
        });
        let Some(((mv, mg_l), days)) = anchored else {
            return due(what, 0_u32, "never entered");
        };
        // As the water was at the anchor, and as it is.
        let then = |which: Tested| {
            let older = self.log.visits.iter().rev();
            let now = self.log.now().day();
            older
                .filter(|visit| now - visit.day() > days - 0.5)
                .find_map(|visit| visit.last(tested(which)))
        };
        let latest = |which| self.log.latest(tested(which)).map(|(value, _)| value);
        let milli = |ph: f64| MilliPh((ph * 1000.0).round() as i32);
        let centi = |c: f64| CentiCelsius((c * 100.0).round() as i32);
        let temperature = then(Tested::Temperature).unwrap_or(self.site.temperature_c);
        let anchor = Anchor {
            orp: Millivolts(mv.round() as i32),
            test: ChlorineTest {
                chlorine: ug(mg_l),
                diluted: false,
                ph: milli(then(Tested::Ph).unwrap_or(self.site.wanted.ph)),
                cyanurate: ug(then(Tested::Cyanurate).unwrap_or(self.site.water.cyanuric_acid_mg_l)),
                temperature: centi(temperature),
                at: None,
            },
            age: age(days),
        };
        let moved = anchor.due(
            every,
            latest(Tested::Ph).map(milli),
            latest(Tested::Cyanurate).map(ug),
            latest(Tested::Temperature).map(centi),
        );
        match moved {
            None => due(
                what,
                (f64::from(every) - days).max(0.0) as u32,
                format!("every {every} days, and when pH, cyanuric acid or temperature move"),
            ),
            Some(AnchorDue::Age) => due(what, 0_u32, format!("every {every} days")),
            Some(AnchorDue::PhMoved) => due(what, 0_u32, "pH has moved by 0.3 and more since"),
            Some(AnchorDue::CyanurateMoved) => due(
                what,
                0_u32,
                "cyanuric acid has moved by 15 mg/L and more since",
            ),
            Some(AnchorDue::TemperatureMoved) => due(
                what,
                0_u32,
                "the water's temperature has moved by 8 C and more since",
            ),
        }
    }

    fn proofs(&self) -> Vec<Due> {
        let every = self.plan.care.proof_every_days;
        let one = |(at, proof): (usize, &crate::plan::PlannedProof)| {
            let what = format!("proof test: {}", proof.interlock);
            let last = self.log.latest(|what| match what {
                What::Proved(which, passed) if *which == at => Some(*passed),
                _ => None,
            });
            match last {
                None => due(what, 0_u32, "never entered"),
                Some((false, _)) => due(
                    what,
                    0_u32,
                    "it FAILED: nothing is fed until it is mended and passes",
                ),
                Some((true, days)) => {
                    let left = (f64::from(every) - days).max(0.0) as u32;
                    due(what, left, format!("every {every} days"))
                }
            }
        };
        self.plan.proof_tests.iter().enumerate().map(one).collect()
    }

    fn parts(&self) -> Vec<Due> {
        let mut parts = vec![(Part::PhProbe, None), (Part::OrpProbe, None)];
        for (at, feeder) in self.site.feeders.iter().enumerate() {
            if feeder.is_liquid() {
                parts.extend([(Part::Tube, Some(at)), (Part::InjectionValve, Some(at))]);
            } else {
                parts.push((Part::Cell, Some(at)));
            }
        }
        parts
            .into_iter()
            .map(|(part, feeder)| self.part(part, feeder))
            .collect()
    }

    fn part(&self, part: Part, feeder: Option<usize>) -> Due {
        let of = feeder.and_then(|at| self.site.feeders.get(at));
        let name = of.map_or_else(
            || part.name().to_owned(),
            |one| format!("{} of {}", part.name(), one.name),
        );
        let put_in = self.log.latest(|what| match what {
            What::New(which, at) if *which == part && *at == feeder => Some(()),
            _ => None,
        });
        // What was there before the log began is as old as the log, at least.
        let (days, since) = match put_in {
            Some(((), days)) => (days, "put in"),
            None => (self.log.now().day(), "not changed since the log begins,"),
        };
        let ran = feeder.and_then(|at| self.ran_hours(at, days));
        let used = PartUse {
            age: age(days),
            ran_hours: ran.map(|hours| hours.round() as u32),
        };
        let life = part.usual();
        let found = used.due(&life);
        let why = match ran.filter(|_| life.hours.is_some()) {
            Some(hours) => format!(
                "{since} {days:.0} days ago, ran {hours:.0} h; usually {} h or {} days",
                life.hours.unwrap_or(0),
                life.days
            ),
            None => format!("{since} {days:.0} days ago; usually {} days", life.days),
        };
        Due {
            part: Some(name.clone()),
            ..due(name, found.in_days, why)
        }
    }

    /// Hours that a feeder ran in the last `days`: as the unit shows them, else booked amount over configured rate.
    fn ran_hours(&self, feeder: usize, days: f64) -> Option<f64> {
        let from = self.log.now().day() - days - 0.01;
        let hours = |what: &What| match what {
            What::Hours(of, hours) if *of == feeder => Some(*hours),
            _ => None,
        };
        let since = |of: &dyn Fn(&Visit) -> Option<f64>| {
            let own = self.log.visits.iter().filter(|visit| visit.day() >= from);
            let all: Vec<f64> = own.filter_map(of).collect();
            Some((all.last()? - all.first()?).max(0.0))
        };
        let shown = since(&|visit| visit.last(hours)).filter(|hours| *hours > 0.0);
        shown.or_else(|| {
            let own = self.site.feeders.get(feeder)?;
            let per_h = f64::from(own.rate().0) / if own.is_liquid() { 1e6 } else { 1e3 };
            let fed = since(&|visit| total(visit, self.plan, feeder))?;
            Some(fed / per_h)
        })
    }
}

fn calibrated(what: &What) -> Option<(f64, f64)> {
    match what {
        What::Calibrated(slope, zero_mv) => Some((*slope, *zero_mv)),
        _ => None,
    }
}
