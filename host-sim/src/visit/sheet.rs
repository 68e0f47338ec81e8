//! The sheet of a visit, in words.

use core::fmt;

use super::figure::days;
use super::{CAUTIONS, Cause, Due, Figure, VisitResult};
use crate::plan::Severity;

/// Things due later than this are not on the sheet, days. Our choice.
const SOON_DAYS: u32 = 60;

impl fmt::Display for VisitResult {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "Visit: {}, {} ({} in the log)\n",
            self.site, self.time, self.visits
        )?;
        self.asked(f)?;
        self.pointed(f)?;
        self.to_do(f)?;
        self.figures(f)?;
        self.dues(f)?;
        self.then(f)?;
        for caution in CAUTIONS {
            writeln!(f, "{caution}")?;
        }
        Ok(())
    }
}

impl VisitResult {
    fn asked(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.questions.is_empty() {
            return Ok(());
        }
        writeln!(f, "Questions, before anything else")?;
        for one in &self.questions {
            let of = one
                .feeder
                .as_ref()
                .map_or_else(String::new, |name| format!("{name}: "));
            writeln!(f, "  ? {of}{} ({})", one.what, one.name)?;
            writeln!(f, "    -> {}", one.ask)?;
        }
        writeln!(f)
    }

    fn pointed(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "What the figures point at")?;
        if self.causes.is_empty() {
            writeln!(f, "  nothing that is surely wrong")?;
        }
        for one in &self.causes {
            cause(f, one)?;
        }
        writeln!(f)
    }

    fn to_do(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "By hand today, in this order")?;
        if self.today.steps.is_empty() {
            writeln!(f, "  nothing")?;
        }
        for (number, step) in (1..).zip(&self.today.steps) {
            writeln!(f, "  {number}. {}: {}", step.what, step.amount)?;
            writeln!(
                f,
                "     {}; then wait {:.0} h with the pump on",
                step.why, step.wait_h
            )?;
            writeln!(f, "     {}", step.care)?;
        }
        for why in &self.today.withheld {
            writeln!(f, "  not today: {why}")?;
        }
        writeln!(f)
    }

    fn figures(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Figures, each with its standard deviation")?;
        for rate in &self.rates {
            writeln!(
                f,
                "  {}, configured {:.0} mL/h",
                rate.feeder, rate.configured_ml_h
            )?;
            line(f, "left the drum", &rate.real)?;
            line(f, "booked", &rate.booked)?;
            line(f, "real over configured", &rate.ratio)?;
            line(f, "real rate", &rate.rate)?;
            if let Some(caught) = &rate.caught {
                line(f, "caught", caught)?;
            }
        }
        if let Some(probe) = &self.probe {
            writeln!(f, "  pH probe: {}", probe.words)?;
            line(f, "above the kit", &probe.off)?;
            line(f, "the same, all visits", &probe.off_all)?;
        }
        self.alkalinity(f)?;
        if let Some(found) = &self.chlorine {
            writeln!(f, "  chlorine in {} ({})", days(found.days), found.says)?;
            line(
                f,
                "came",
                found.came_by_drum.as_ref().unwrap_or(&found.came),
            )?;
            line(f, "used a day", &found.used_a_day)?;
            line(f, "expected a day", &found.expected_a_day)?;
            line(f, "not explained a day", &found.unexplained_a_day)?;
        }
        writeln!(f)
    }

    fn alkalinity(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(found) = &self.alkalinity else {
            return Ok(());
        };
        writeln!(f, "  alkalinity in {} ({})", days(found.days), found.says)?;
        line(f, "fell by", &found.fell)?;
        line(f, "acid less alkali", &found.by_booked)?;
        if let Some(by_drum) = &found.by_drum {
            line(f, "the same, by the drum", by_drum)?;
        }
        if found.by_water.value != 0.0 || found.by_water.error != 0.0 {
            line(f, "by fresh water", &found.by_water)?;
        }
        line(f, "expected", &found.expected)?;
        line(
            f,
            "not explained",
            found
                .unexplained_by_drum
                .as_ref()
                .unwrap_or(&found.unexplained),
        )?;
        if let Some(acid) = &found.unexplained_acid {
            line(f, "that is acid of", acid)?;
        }
        Ok(())
    }

    fn dues(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Due")?;
        let soon: Vec<&Due> = self
            .due
            .iter()
            .filter(|one| one.in_days <= SOON_DAYS)
            .collect();
        if soon.is_empty() {
            writeln!(f, "  nothing within {SOON_DAYS} days")?;
        }
        for one in soon {
            let when = match one.in_days {
                0 => "now".to_owned(),
                later => days(f64::from(later)),
            };
            writeln!(f, "  {when:<8} {}: {}", one.what, one.why)?;
        }
        writeln!(f)
    }

    fn then(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ahead = &self.forecast;
        writeln!(
            f,
            "Next visit, {} (in {}, as so far)",
            ahead.next_visit,
            days(ahead.next_visit_days)
        )?;
        for one in &ahead.figures {
            line(f, &one.what, &one.then)?;
            let lasts = match one.lasts_days {
                Some(left) if one.runs_out => format!("; DOES NOT LAST: {}", days(left)),
                Some(left) => format!("; lasts {}", days(left)),
                None => String::new(),
            };
            writeln!(f, "      {} a day ({}){lasts}", one.a_day, one.a_day.source)?;
        }
        for one in &self.bring {
            writeln!(f, "    bring {} {}", one.words(), one.what)?;
        }
        writeln!(f)
    }
}

fn line(f: &mut fmt::Formatter<'_>, what: &str, figure: &Figure) -> fmt::Result {
    writeln!(f, "    {what:<22} {figure} ({})", figure.source)
}

fn cause(f: &mut fmt::Formatter<'_>, one: &Cause) -> fmt::Result {
    let grave = match one.severity {
        Severity::Error => "ERROR  ",
        Severity::Caution => "caution",
        Severity::Note => "note   ",
    };
    writeln!(f, "  {grave}  {} ({})", one.what, one.name)?;
    for because in &one.because {
        writeln!(f, "           {because}")?;
    }
    if let Some(or) = &one.or {
        writeln!(f, "           not certain: {or}")?;
    }
    writeln!(f, "           -> {}", one.change)
}
