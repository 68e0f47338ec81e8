//! The explanation, in words.

use core::fmt;

use super::Explained;
use super::fit::NOTHING;

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
        if let Some(rows) = &self.left_out {
            writeln!(
                f,
                "  Not used: {rows}. This is the pool alone, and what was fed went to both bodies of water."
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
        let Some((moved, stands)) = self.probe_words() else {
            return Ok(());
        };
        writeln!(f, "\n{moved}")?;
        match stands {
            Some(stands) => writeln!(f, "{stands}"),
            None => Ok(()),
        }
    }

    /// How the probe moved beside the kit, and what follows where it is off.
    pub(super) fn probe_words(&self) -> Option<(String, Option<String>)> {
        let drift = self.drift.as_ref()?;
        let moved = format!(
            "The probe moved by {} beside the kit, and shows {} above it now.",
            drift.drift, drift.off
        );
        let off = drift.off.value;
        let side = if off > 0.0 { "lower" } else { "higher" };
        let stands = (off.abs() > 2.0 * drift.off.error).then(|| format!(
            "The unit holds what it shows: the water stands {:.2} {side} than that. Hold the probe into a buffer;\nan old reagent of the kit looks the same.",
            off.abs()
        ));
        Some((moved, stands))
    }

    /// What the remainder says.
    pub(super) const fn conclusion(&self) -> &'static str {
        if !self.suspects.is_empty() {
            if self.is_certain {
                "One cause alone fits the remainder"
            } else {
                "Not certain: each of these alone would fit the remainder, the best first"
            }
        } else if self.rest_size <= NOTHING {
            "The remainder is no larger than errors make it: beside the parts that were booked and expected, nothing is to blame."
        } else {
            "The remainder is larger than errors make it, and no single cause fits: test again, and look at what was entered."
        }
    }

    fn suspected(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "\n{}", self.conclusion())?;
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
