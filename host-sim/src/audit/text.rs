//! Figures and findings as text.

use core::fmt;

use super::check::{Shown, Verdict};
use super::{Audit, Finding};
use crate::plant::Product;

/// A figure with about three digits that count.
fn figure(value: f64) -> String {
    match value.abs() {
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        size if size >= 0.1 || size == 0.0 => format!("{value:.2}"),
        _ => format!("{value:.4}"),
    }
}

/// A time in ms as people say it.
pub(super) fn seconds(ms: f64) -> String {
    let ms = ms.max(0.0);
    match ms / 1000.0 {
        s if s >= 36_000.0 => format!("{:.1} h", s / 3600.0),
        s if s >= 6_000.0 => format!("{:.1} min", s / 60.0),
        s if s == s.trunc() => format!("{s:.0} s"),
        s => format!("{s:.1} s"),
    }
}

/// How amounts of a product are shown.
pub(super) fn amounts(product: Product) -> Shown {
    match product {
        Product::GeneratorChlorine => |mg| format!("{} g", figure(mg / 1000.0)),
        Product::Acid | Product::Hypochlorite => |ul| format!("{} mL", figure(ul / 1000.0)),
    }
}

impl Verdict {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::Broken => "BROKEN",
            Self::CannotTell => "cannot tell",
            Self::NotAtThisSite => "not at this site",
        }
    }
}

impl Audit {
    /// The verdict on the whole log, in one sentence.
    #[must_use]
    pub fn verdict_words(&self) -> String {
        let count = |verdict| {
            self.findings
                .iter()
                .filter(|f| f.verdict == verdict)
                .count()
        };
        let (held, broken, unsure) = (
            count(Verdict::Held),
            count(Verdict::Broken),
            count(Verdict::CannotTell),
        );
        let first = if broken > 0 {
            let names: Vec<&str> = self.broken().collect();
            format!("BROKEN: {}", names.join(", "))
        } else if unsure > 0 {
            "no rule was seen broken, and NOT ALL CAN BE TOLD".to_owned()
        } else {
            "HELD".to_owned()
        };
        format!("{first} ({held} held, {broken} broken, {unsure} cannot be told from this log)")
    }
}

impl fmt::Display for Audit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}, judged by the limits of {}", self.log, self.site)?;
        writeln!(
            f,
            "{} rows, {} apart, {} in all. What comes and goes between two rows is not in it.",
            self.rows,
            seconds(self.row_s * 1000.0),
            seconds(self.length_s * 1000.0)
        )?;
        writeln!(f)?;
        for finding in &self.findings {
            told(f, finding)?;
        }
        writeln!(f)?;
        for note in &self.notes {
            writeln!(f, "Note: {note}")?;
        }
        writeln!(f, "Verdict: {}", self.verdict_words())
    }
}

fn told(f: &mut fmt::Formatter<'_>, finding: &Finding) -> fmt::Result {
    let (verdict, rule) = (finding.verdict.words(), finding.rule);
    writeln!(f, "{verdict:<16} {rule:<16} {}", finding.holds_that)?;
    for one in &finding.breaks {
        writeln!(
            f,
            "    line {} ({}): {} {}",
            one.line, one.clock, one.feeder, one.words
        )?;
    }
    let more = finding.broken_times - finding.breaks.len() as u64;
    if more > 0 {
        writeln!(f, "    and {more} more")?;
    }
    for doubt in &finding.doubts {
        write!(f, "    cannot tell: {}", doubt.why)?;
        match (doubt.first_line, doubt.times) {
            (None, _) => writeln!(f)?,
            (Some(line), 1) => writeln!(f, " (line {line})")?,
            (Some(line), times) => writeln!(f, " (line {line}, and {} more)", times - 1)?,
        }
    }
    Ok(())
}
