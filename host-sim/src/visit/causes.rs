//! What the figures point at. No part is blamed as certain while something else would fit.

use serde::Serialize;

use super::alkalinity::{AlkalinityFound, tested};
use super::between::{Came, last_two};
use super::chlorine::ChlorineFound;
use super::drums::RateFound;
use super::entry::Tested;
use super::errors;
use super::figure::{days, together};
use super::log::Log;
use super::probe::ProbeFound;
use super::questions::Question;
use crate::plan::{ALKALINITY_MIN_MG_L, Severity, Site};
use dosewarden::guard::Product;
use dosewarden::visit::Doubt;

/// Further off than this the water is not where the unit holds it, pH. Our choice: half of what codes allow from 7.2 to
/// 7.8.
const FAR_OFF_PH: f64 = 0.3;

const LOOK_FOR_ACID: &str = "look for acid or chlorine tablets in skimmer, floater or feeder, for dry acid, and ask who pours what";
const LOOK_AT_ACID: &str =
    "look whether acid arrives (injection valve, leak), test its strength, and ask what was poured";
const FITS_MORE_ACID: &str =
    "stronger acid than the site file says, or a slip in one test of alkalinity";
const FITS_LESS_ACID: &str = "weaker acid than the site file says, new plaster, bicarbonate that nobody entered, or a slip in one test";

/// Something that the visit found.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Cause {
    /// How grave.
    pub severity: Severity,
    /// A short name that stays.
    pub name: &'static str,
    /// The feeder that it is about, if it is about one.
    pub feeder: Option<String>,
    /// What is so.
    pub what: String,
    /// What it rests on.
    pub because: Vec<String>,
    /// What would fit as well, and how to tell; `None`: two figures of their own agree.
    pub or: Option<String>,
    /// What to do.
    pub change: &'static str,
}

/// What causes are looked for in.
pub(super) struct Seen<'a> {
    pub(super) log: &'a Log,
    pub(super) site: &'a Site,
    pub(super) rates: &'a [RateFound],
    pub(super) probe: Option<&'a ProbeFound>,
    pub(super) alkalinity: Option<&'a AlkalinityFound>,
    pub(super) chlorine: Option<&'a ChlorineFound>,
    pub(super) questions: &'a [Question],
}

fn cause(severity: Severity, name: &'static str, what: String, change: &'static str) -> Cause {
    Cause {
        severity,
        name,
        feeder: None,
        what,
        because: Vec::new(),
        or: None,
        change,
    }
}

impl Seen<'_> {
    pub(super) fn causes(&self) -> Vec<Cause> {
        let mut all = self.water();
        all.extend(self.rates.iter().filter_map(|rate| self.rate(rate)));
        all.extend(self.probe());
        all.extend(self.acid());
        all.extend(self.used());
        all.extend(self.cyanurate());
        all.sort_by_key(|one| one.severity);
        all
    }

    fn doubted(&self, doubt: Doubt) -> bool {
        self.questions.iter().any(|one| one.doubt == doubt)
    }

    fn figure(&self, which: Tested) -> Option<f64> {
        self.log.now().last(tested(which))
    }

    /// What codes say of the water as it was found.
    fn water(&self) -> Vec<Cause> {
        let mut all = Vec::new();
        let mut close = |what: String| {
            let change = "nobody bathes until it is right; your local code decides";
            let mut one = cause(Severity::Error, "not_fit_to_bathe", what, change);
            one.because.push(
                "US CDC Model Aquatic Health Code 6.6.3.1; California 22 CCR 65529(b)".to_owned(),
            );
            all.push(one);
        };
        let dye = self.doubted(Doubt::PhDyeMisreads);
        if let Some(ph) = self
            .figure(Tested::Ph)
            .filter(|ph| !dye && !(6.5..=8.0).contains(ph))
        {
            close(format!("pH {ph:.2} is outside 6.5 to 8.0"));
        }
        let bleached = self.doubted(Doubt::ChlorineBleached);
        let min = self.site.wanted.free_chlorine_min_mg_l;
        if let Some(free) = self.figure(Tested::FreeChlorine) {
            if free < min && !bleached {
                close(format!(
                    "free chlorine {free:.1} mg/L is under the site's least, {min:.1}"
                ));
            } else if free > 10.0 {
                close(format!("free chlorine {free:.1} mg/L is over 10"));
            }
        }
        if let Some(low) = self
            .figure(Tested::Alkalinity)
            .filter(|ta| *ta < ALKALINITY_MIN_MG_L)
        {
            let what = format!("alkalinity {low:.0} mg/L: pH runs away between two readings");
            let change = "raise it with bicarbonate before acid is fed on";
            all.push(cause(Severity::Error, "alkalinity_low", what, change));
        }
        all
    }

    fn rate(&self, rate: &RateFound) -> Option<Cause> {
        let grave = matches!(rate.verdict, "high" | "low");
        if !grave && !rate.is_off {
            return None;
        }
        let more = rate.ratio.value > 1.0;
        let (name, change) = if more {
            (
                "feeds_more",
                "make a catch test and enter the rate that it gives, before the next dose; caps hold at the rate that was entered",
            )
        } else {
            (
                "feeds_less",
                "look at tube, suction line and injection valve, make a catch test, and enter the rate that it gives",
            )
        };
        let severity = if grave {
            Severity::Error
        } else {
            Severity::Caution
        };
        let what = format!(
            "{} gives {} and not {:.0}: {} times what is configured",
            rate.feeder, rate.rate, rate.configured_ml_h, rate.ratio
        );
        let mut one = cause(severity, name, what, change);
        one.feeder = Some(rate.feeder.clone());
        one.because.push(format!(
            "{} left the drum in {}, {:.2} L were booked ({})",
            rate.real,
            days(rate.days),
            rate.booked.value,
            rate.ratio.source
        ));
        let caught = rate.caught.as_ref().map(|caught| {
            let near = |to: f64| {
                (caught.value - to).abs()
                    <= 2.0 * together(&[caught.error, rate.rate.error, 0.05 * to])
            };
            (caught, near(rate.rate.value), near(rate.configured_ml_h))
        });
        one.or = match caught {
            Some((caught, true, _)) => {
                one.because.push(format!("the catch test agrees: {caught}"));
                None
            }
            Some((caught, false, true)) => {
                one.because.push(format!("the catch test gives what is configured: {caught}"));
                Some("the pump is as configured: product left the drum without it, by a siphon, a leak or by hand, or a refill was not entered".to_owned())
            }
            Some((caught, ..)) => Some(format!("the catch test gives {caught}, and neither goes with it: read the drum and catch again")),
            None if more => Some("a siphon through the injection valve, a leak, or product taken out by hand fit as well: a catch test tells".to_owned()),
            None => Some("a refill that was not entered fits as well: a catch test tells".to_owned()),
        };
        if let Some(found) = self.alkalinity.filter(|_| self.is_acid(rate)) {
            match (found.says_booked, found.says) {
                ("closes", "closes") => {}
                (_, "closes") => one.because.push(
                    "alkalinity closes with what left the drum, and not with what was booked"
                        .to_owned(),
                ),
                _ => one.because.push(format!(
                    "alkalinity leaves {} unexplained all the same",
                    found.unexplained
                )),
            }
        }
        Some(one)
    }

    fn is_acid(&self, rate: &RateFound) -> bool {
        let own = self.site.feeders.iter().find(|one| one.name == rate.feeder);
        own.is_some_and(|one| one.product == Product::Acid)
    }

    fn probe(&self) -> Option<Cause> {
        let found = self.probe?;
        let off = found.off_all.value;
        let surely = off.abs() > 0.1 && off.abs() > 2.0 * found.off_all.error;
        let far = matches!(found.says, "trim" | "calibrate");
        let drifts = found.says == "agrees" && found.visits > 1 && surely;
        if !far && !drifts {
            return None;
        }
        let side = if off > 0.0 { "high" } else { "low" };
        let what = format!(
            "the pH probe shows {} too {side} beside the kit, so the water is held as far off the other way",
            found.off_all
        );
        let severity = if off.abs() > FAR_OFF_PH {
            Severity::Error
        } else {
            Severity::Caution
        };
        let change = "hold it into two buffers and calibrate it; then anchor ORP again";
        let mut one = cause(severity, "probe_off", what, change);
        one.because
            .push(format!("{} on this visit; {}", found.off, found.words));
        match found.in_buffer {
            Some(error) if error.abs() > 0.1 => {
                one.because.push(format!("{error:+.2} in the buffer"))
            }
            _ if found.visits > 2 => {
                one.or = Some(
                    "a kit whose reagent is old would show the same on every visit: a buffer tells"
                        .to_owned(),
                )
            }
            _ => {
                one.or = Some(
                    "one reading of a kit is good to 0.2: fresh reagents or a buffer tell"
                        .to_owned(),
                )
            }
        }
        Some(one)
    }

    /// Acid that alkalinity shows and the feeder does not, or the other way.
    fn acid(&self) -> Option<Cause> {
        let found = self.alkalinity?;
        let rest = found
            .unexplained_by_drum
            .as_ref()
            .unwrap_or(&found.unexplained);
        let acid = found
            .unexplained_acid
            .as_ref()
            .map_or_else(|| rest.to_string(), ToString::to_string);
        let more = match found.says {
            "more_acid" => true,
            "less_acid" => false,
            _ => return None,
        };
        let in_days = days(found.days);
        let mut one = if more {
            let what =
                format!("more acid reached the water than the feeder gave: {acid} in {in_days}");
            cause(Severity::Caution, "second_source", what, LOOK_FOR_ACID)
        } else {
            let what =
                format!("less acid reached the water than the feeder gave: {acid} in {in_days}");
            cause(Severity::Caution, "acid_missing", what, LOOK_AT_ACID)
        };
        let by_acid = found.by_drum.as_ref().unwrap_or(&found.by_booked);
        one.because.push(format!(
            "alkalinity fell by {}; acid explains {by_acid}, fresh water {}",
            found.fell, found.by_water
        ));
        let expected = &found.expected;
        one.because
            .push(format!("holding the pH was expected to take {expected}"));
        let fits = if more { FITS_MORE_ACID } else { FITS_LESS_ACID };
        let pump = if found.by_drum.is_none() {
            ", or a pump that gives another rate than configured (the drum was not read)"
        } else {
            ""
        };
        let again = "would fit as well: test alkalinity again";
        one.or = Some(format!("{fits}{pump} {again}"));
        let wanted = self.site.wanted.ph;
        if more
            && self
                .figure(Tested::Ph)
                .is_some_and(|ph| ph < wanted - FAR_OFF_PH)
        {
            one.severity = Severity::Error;
            one.because
                .push(format!("pH is under what is wanted, {wanted:.1}"));
        }
        Some(one)
    }

    fn used(&self) -> Option<Cause> {
        // What rests on a test that is in doubt is held back.
        let doubted =
            self.doubted(Doubt::ChlorineBleached) || self.doubted(Doubt::ChlorineOverScale);
        let found = self.chlorine.filter(|_| !doubted)?;
        let (name, what, or) = match found.says {
            "more_used" => (
                "chlorine_lost",
                "more chlorine is used",
                "weaker hypochlorite than the site file says, more bathers, algae, or less cyanuric acid fit",
            ),
            "less_used" => (
                "chlorine_from_elsewhere",
                "less chlorine is used",
                "stronger hypochlorite, fewer bathers, tablets beside the feeder, or a shaded pool fit",
            ),
            _ => return None,
        };
        let what = format!(
            "{what} than expected: {} a day and not {}",
            found.used_a_day, found.expected_a_day
        );
        let mut one = cause(
            Severity::Caution,
            name,
            what,
            "test the strength of what stands in the drum, and cyanuric acid",
        );
        one.because.push(format!(
            "{} came in {}",
            found.came_by_drum.as_ref().unwrap_or(&found.came),
            days(found.days)
        ));
        one.or = Some(format!("{or}: one test each tells"));
        Some(one)
    }

    /// Cyanuric acid does not come by itself.
    fn cyanurate(&self) -> Option<Cause> {
        let [before, now] = last_two(self.log, tested(Tested::Cyanurate))?;
        let poured = Came::between(self.log, before.2, now.2, self.site).cyanurate_g;
        let expected = before.1 + poured * 1000.0 / self.site.volume_l;
        let sd = together(&[before.1, now.1].map(|mg_l| errors::test(Tested::Cyanurate, mg_l)));
        if now.1 - expected <= 2.0 * sd {
            return None;
        }
        let what = format!(
            "cyanuric acid rose from {:.0} to {:.0} mg/L, and {expected:.0} is explained",
            before.1, now.1
        );
        let mut one = cause(
            Severity::Caution,
            "cyanurate_rose",
            what,
            "look for chlorine tablets in skimmer, floater or feeder",
        );
        one.or = Some(
            "a test that read low before fits as well: it tests late after it was added".to_owned(),
        );
        Some(one)
    }
}
