//! The sheet of a day, in words.

use core::fmt;

use super::{BY_EYE, BY_EYE_DECIDES, Condition, DECIDES, DaySheet, Due, TestMade};

impl fmt::Display for DaySheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            site,
            date,
            from,
            to,
            ..
        } = self;
        writeln!(f, "Day: {site}, {date}, {from} to {to}\n")?;
        writeln!(f, "{}", self.verdict())?;
        writeln!(f, "{DECIDES}\n")?;
        self.met(f)?;
        self.unknown(f)?;
        self.made(f)?;
        self.due(f)?;
        self.rest(f)?;
        writeln!(f, "Codes")?;
        for code in &self.codes {
            writeln!(f, "  {:<11} {}", code.name, code.source)?;
        }
        Ok(())
    }
}

/// A figure, or a blank.
fn shown(value: Option<f64>, digits: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{value:.digits$}"))
}

impl DaySheet {
    fn met(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Conditions that were met")?;
        let all = self.conditions.iter().filter(|it| it.is_met);
        let mut is_none = true;
        for one in all {
            is_none = false;
            condition(f, one)?;
        }
        if is_none {
            writeln!(f, "  none in what was recorded")?;
        }
        writeln!(f)
    }

    fn unknown(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Cannot tell")?;
        let all = self.unknowns();
        if all.is_empty() {
            writeln!(f, "  nothing of what these codes ask")?;
        }
        for one in &all {
            let stands = if one.stands { ", and stands" } else { "" };
            let (from, to, codes) = (&one.from, &one.to, one.codes.join(", "));
            writeln!(f, "  {from} to {to}{stands}: {} ({codes})", one.figure)?;
        }
        writeln!(f)
    }

    fn made(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Tests, with the probes beside them")?;
        let head = ["pH kit", "probe", "off", "free", "combined", "ORP", "water"];
        write!(f, "  {:<6}", "time")?;
        for name in head {
            write!(f, "{name:>9}")?;
        }
        writeln!(f)?;
        for test in &self.tests {
            row(f, test)?;
        }
        if self.tests.is_empty() {
            writeln!(f, "  none")?;
        }
        writeln!(
            f,
            "  free and combined chlorine in mg/L, ORP in mV, water in C; off: probe less kit\n"
        )
    }

    fn due(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "Tests due: each 4 h, each 12 h while the unit's probes are recorded (Ohio OAC 3701-31-06)"
        )?;
        for Due {
            what,
            due,
            made,
            late_min,
        } in &self.dues
        {
            let became = match (made, late_min) {
                (Some(made), 0) => format!("made {made}"),
                (Some(made), late) => format!("made {made}, {late} min LATE"),
                (None, _) => "MISSING".to_owned(),
            };
            writeln!(f, "  {what:<14} due {due:<6} {became}")?;
        }
        for Due { what, due, .. } in &self.next {
            writeln!(f, "  {what:<14} next {due}")?;
        }
        writeln!(f)
    }

    fn rest(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "The day")?;
        for fed in &self.fed {
            match fed.amount {
                Some(amount) => writeln!(f, "  {:<14} {amount:.0} {} fed", fed.feeder, fed.unit)?,
                None => writeln!(f, "  {:<14} not recorded", fed.feeder)?,
            }
        }
        match self.bathers {
            Some(count) => writeln!(f, "  {:<14} {count:.0}", "bathers")?,
            None => writeln!(f, "  {:<14} not entered", "bathers")?,
        }
        match &self.alarms {
            None => writeln!(f, "  {:<14} not recorded", "alarms")?,
            Some(none) if none.is_empty() => writeln!(f, "  {:<14} none", "alarms")?,
            Some(all) => {
                for one in all {
                    writeln!(f, "  alarm {} from {} to {}", one.what, one.from, one.to)?;
                }
            }
        }
        for gap in &self.gaps {
            writeln!(f, "  {} from {} to {}", gap.what, gap.from, gap.to)?;
        }
        writeln!(f, "\nTo be looked at ({BY_EYE_DECIDES})")?;
        for question in BY_EYE {
            writeln!(f, "  [ ] {question}")?;
        }
        writeln!(f)
    }
}

fn condition(f: &mut fmt::Formatter<'_>, one: &Condition) -> fmt::Result {
    let Condition {
        code,
        past,
        asks,
        from,
        to,
        ..
    } = one;
    let stands = if one.stands { ", and stands" } else { "" };
    writeln!(f, "  {from} to {to}{stands}: {past} ({code}: {asks})")?;
    if one.closes {
        let tested = match &one.tested_after {
            Some(time) => format!("tested inside at {time}"),
            None => "no such test after it".to_owned(),
        };
        writeln!(f, "    to open again: {}; {tested}", one.wants)?;
    }
    Ok(())
}

fn row(f: &mut fmt::Formatter<'_>, test: &TestMade) -> fmt::Result {
    let off = test.ph_difference;
    let off = off.map_or_else(|| "-".to_owned(), |off| format!("{off:+.2}"));
    let all = [
        shown(test.ph, 2),
        shown(test.ph_probe, 2),
        off,
        shown(test.free_chlorine_mg_l, 1),
        shown(test.combined_chlorine_mg_l, 1),
        shown(test.orp_probe_mv, 0),
        shown(test.temperature_c, 1),
    ];
    write!(f, "  {:<6}", test.time)?;
    for figure in all {
        write!(f, "{figure:>9}")?;
    }
    writeln!(f)
}
