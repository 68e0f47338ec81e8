//! An image of a board, in words.

use core::fmt;

use super::{Aged, BoardSheet, FeederSheet};

/// So many settings that differ are shown; JSON has all of them.
const APART_SHOWN: usize = 20;

impl fmt::Display for BoardSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            file,
            bytes,
            crc,
            version,
            ..
        } = self;
        writeln!(
            f,
            "Board: {file}, {bytes} bytes, whole (CRC-32 {crc}), version {version}\n"
        )?;
        let bodies = self.bodies;
        writeln!(
            f,
            "  for            {} feeders in use, {bodies} body or bodies of water",
            self.feeders.len()
        )?;
        writeln!(
            f,
            "  change         number {} of this pool's boards",
            self.change
        )?;
        let clock = self.sealed_s.map_or_else(
            || "no trusted clock: on the next board the day counts as used".to_owned(),
            |s| format!("at second {s} of its clock"),
        );
        writeln!(f, "  record         number {}, {clock}", self.record)?;
        writeln!(f, "  limits         CRC-32 {}", self.limits_crc)?;
        writeln!(
            f,
            "  stage          {}; the next board begins reduced",
            self.stage
        )?;
        let yes = |is: bool| if is { "yes" } else { "no" };
        writeln!(f, "  observes only  {}", yes(self.is_observing))?;
        writeln!(f, "  laid up        {}", yes(self.is_laid_up))?;
        writeln!(
            f,
            "  ledger         {}",
            if self.ledger_is_trusted {
                "trusted"
            } else {
                "NOT trusted"
            }
        )?;
        let lockouts = self.lockouts.join("; ");
        let lockouts = if lockouts.is_empty() {
            "none"
        } else {
            &lockouts
        };
        writeln!(f, "  lockouts       {lockouts}\n")?;
        for one in &self.feeders {
            feeder(f, one)?;
        }
        list(f, "Probes", &self.probes)?;
        list(f, "Tests of the water", &self.tests)?;
        list(
            f,
            "Proof tests, all of them due anew on the next board",
            &self.proofs,
        )?;
        self.fits(f)?;
        writeln!(
            f,
            "Nothing was taken up: that the new board does, by a technician, inside of its own ceilings. Not a certified \
             safety function; local codes and licensed practice come first."
        )
    }
}

impl BoardSheet {
    fn fits(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(fit) = &self.fit else {
            return Ok(());
        };
        if fit.apart.is_empty() {
            return writeln!(
                f,
                "Settings: those of {} (regulators not compared)\n",
                fit.site
            );
        }
        let count = fit.apart.len();
        writeln!(f, "Settings: NOT those of {}; {count} differ", fit.site)?;
        for one in fit.apart.iter().take(APART_SHOWN) {
            writeln!(
                f,
                "  {}: image {}, site {}",
                one.setting, one.image, one.site
            )?;
        }
        if count > APART_SHOWN {
            writeln!(f, "  and {} more; --json has all", count - APART_SHOWN)?;
        }
        writeln!(f)
    }
}

fn feeder(f: &mut fmt::Formatter<'_>, one: &FeederSheet) -> fmt::Result {
    let FeederSheet { feeder, unit, .. } = one;
    let product = one.product.unwrap_or("not in use");
    writeln!(
        f,
        "Feeder {feeder}: {product}, {:.0} {unit}/h",
        one.rate_per_h
    )?;
    let bodies = one.day_used.iter().zip(&one.hour_used).zip(&one.day_cap);
    for (body, ((day, hour), cap)) in bodies.enumerate() {
        writeln!(
            f,
            "  body {body}: {day:.1} {unit} of the day's {cap:.1}, {hour:.1} {unit} of them in the last hour"
        )?;
    }
    if one.open_charge > 0.0 {
        writeln!(
            f,
            "  a cycle stood open: {:.1} {unit}, counted in full",
            one.open_charge
        )?;
    }
    match one.drum_left {
        Some(left) => writeln!(f, "  drum: {left:.0} mL left")?,
        None => writeln!(f, "  drum: not known")?,
    }
    for lockout in &one.lockouts {
        writeln!(f, "  locked out: {lockout}")?;
    }
    writeln!(f)
}

fn list(f: &mut fmt::Formatter<'_>, title: &str, all: &[Aged]) -> fmt::Result {
    writeln!(f, "{title}")?;
    for Aged { what, value, days } in all {
        let age = days.map_or_else(String::new, |days| format!(", {days} d old"));
        writeln!(f, "  {what}: {value}{age}")?;
    }
    if all.is_empty() {
        writeln!(f, "  none")?;
    }
    writeln!(f)
}
