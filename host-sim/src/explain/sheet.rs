//! The explanation, in words.

use core::fmt;

use super::Explained;

impl fmt::Display for Explained {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "{}: {} to {}, {:.1} days\n",
            self.site, self.from, self.to, self.days
        )?;
        let [before, now] = self.tested;
        writeln!(
            f,
            "  {:<28} {:>8} {:>12} {:>12}",
            "", "pH", "alkalinity", "chlorine"
        )?;
        row(f, "first test", before, false)?;
        for part in &self.parts {
            let moved = [part.ph, part.alkalinity_mg_l, part.chlorine_mg_l];
            if moved.iter().any(|one| one.abs() >= 0.005) {
                row(f, part.source.words(), moved, true)?;
            }
        }
        let [ph, alkalinity, chlorine] = &self.rest;
        row(
            f,
            "not explained",
            [ph.value, alkalinity.value, chlorine.value],
            true,
        )?;
        row(
            f,
            "  known to",
            [ph.error, alkalinity.error, chlorine.error],
            false,
        )?;
        row(f, "second test", now, false)?;
        if self.without_chlorine {
            writeln!(
                f,
                "  Free chlorine was not tested at both ends and counts for nothing here."
            )?;
        }
        self.probe(f)?;
        self.suspected(f)?;
        writeln!(
            f,
            "Advice, not a permission; computed, not certified. Figures that are not tested come from the site file."
        )
    }
}

impl Explained {
    fn probe(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(drift) = &self.drift else {
            return Ok(());
        };
        writeln!(
            f,
            "\nThe probe moved by {} beside the kit, and shows {} above it now.",
            drift.drift, drift.off
        )?;
        let off = drift.off.value;
        if off.abs() > 2.0 * drift.off.error {
            let side = if off > 0.0 { "lower" } else { "higher" };
            writeln!(
                f,
                "The unit holds what it shows: the water stands {:.2} {side} than that. Hold the probe into a buffer;\nan old reagent of the kit looks the same.",
                off.abs()
            )?;
        }
        Ok(())
    }

    fn suspected(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = self.rest_size;
        if self.suspects.is_empty() && size <= 7.81 {
            return writeln!(
                f,
                "\nThe remainder is no larger than errors make it: beside the parts above, nothing is to blame.\n"
            );
        }
        if self.suspects.is_empty() {
            return writeln!(
                f,
                "\nThe remainder is larger than errors make it, and no single cause fits: test again, and look at what was entered.\n"
            );
        }
        if self.is_certain {
            writeln!(f, "\nOne cause alone fits the remainder")?;
        } else {
            writeln!(
                f,
                "\nNot certain: each of these alone would fit the remainder, the best first"
            )?;
        }
        for one in &self.suspects {
            writeln!(f, "  {} ({})", one.words, one.name)?;
        }
        writeln!(f)
    }
}

fn row(
    f: &mut fmt::Formatter<'_>,
    what: &str,
    [ph, alkalinity, chlorine]: [f64; 3],
    signed: bool,
) -> fmt::Result {
    if signed {
        writeln!(
            f,
            "  {what:<28} {ph:>+8.2} {alkalinity:>+12.1} {chlorine:>+12.1}"
        )
    } else {
        writeln!(
            f,
            "  {what:<28} {ph:>8.2} {alkalinity:>12.1} {chlorine:>12.1}"
        )
    }
}
