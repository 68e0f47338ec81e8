//! The sheet of a visit, in words.

use core::fmt;

use super::figure::days;
use super::{CAUTIONS, Cause, Due, Figure, Question, Today, VisitResult};
use crate::plan::{Severity, Step};

/// Things due later than this are not on the sheet, days. Our choice.
const SOON_DAYS: u32 = 60;

impl fmt::Display for VisitResult {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "Visit: {}, {} ({} in the log)\n",
            self.site, self.time, self.visits
        )?;
        // What is meant for the one body must not be poured into the other.
        let of = |title: &str| match &self.other {
            Some(_) => format!("The pool: {}{}", title[..1].to_lowercase(), &title[1..]),
            None => title.to_owned(),
        };
        asked(f, &of("Questions, before anything else"), &self.questions)?;
        pointed(f, &of("What the figures point at"), &self.causes)?;
        to_do(f, &of("By hand today, in this order"), &self.today)?;
        self.figures(f)?;
        self.dues(f)?;
        self.then(f)?;
        self.second(f)?;
        for caution in CAUTIONS {
            writeln!(f, "{caution}")?;
        }
        Ok(())
    }
}

/// Questions under a title; nothing where there are none.
fn asked(f: &mut fmt::Formatter<'_>, title: &str, all: &[Question]) -> fmt::Result {
    if all.is_empty() {
        return Ok(());
    }
    writeln!(f, "{title}")?;
    for one in all {
        let of = one
            .feeder
            .as_ref()
            .map_or_else(String::new, |name| format!("{name}: "));
        writeln!(f, "  ? {of}{} ({})", one.what, one.name)?;
        writeln!(f, "    -> {}", one.ask)?;
    }
    writeln!(f)
}

fn pointed(f: &mut fmt::Formatter<'_>, title: &str, all: &[Cause]) -> fmt::Result {
    writeln!(f, "{title}")?;
    if all.is_empty() {
        writeln!(f, "  nothing that is surely wrong")?;
    }
    for one in all {
        cause(f, one)?;
    }
    writeln!(f)
}

fn to_do(f: &mut fmt::Formatter<'_>, title: &str, today: &Today) -> fmt::Result {
    writeln!(f, "{title}")?;
    if today.steps.is_empty() {
        writeln!(f, "  nothing")?;
    }
    Step::list(f, &today.steps)?;
    for why in &today.withheld {
        writeln!(f, "  not today: {why}")?;
    }
    writeln!(f)
}

impl VisitResult {
    /// The second body of water.
    fn second(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(other) = &self.other else {
            return Ok(());
        };
        let body = &other.body;
        let when = match (&other.time, other.days_ago) {
            (None, _) => "no row of the log names it".to_owned(),
            (Some(_), Some(0)) => "by the rows of this visit".to_owned(),
            (Some(time), later) => {
                let ago = days(f64::from(later.unwrap_or(0)));
                format!("last entered {time}, {ago} ago")
            }
        };
        writeln!(f, "The {body}, {when}\n")?;
        let title = format!("The {body}: questions, before anything else");
        asked(f, &title, &other.questions)?;
        let title = format!("The {body}: what its figures point at");
        pointed(f, &title, &other.causes)?;
        let title = format!("The {body}: by hand today, in this order");
        to_do(f, &title, &other.today)?;
        if let Some(probe) = &other.probe {
            writeln!(f, "The {body}: pH probe: {}", probe.words)?;
            line(f, "above the kit", &probe.off)?;
            line(f, "the same, all visits", &probe.off_all)?;
            writeln!(f)?;
        }
        writeln!(f, "The {body}: due")?;
        for one in &other.due {
            due(f, one)?;
        }
        writeln!(f, "  Of the pool's figures: {}.\n", other.shared)
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
            due(f, one)?;
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

fn due(f: &mut fmt::Formatter<'_>, one: &Due) -> fmt::Result {
    let when = match one.in_days {
        0 => "now".to_owned(),
        later => days(f64::from(later)),
    };
    writeln!(f, "  {when:<8} {}: {}", one.what, one.why)
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
