//! What the drawings show, in words, for those who cannot see them.

use crate::run::{Dose, Stood, figure};
use crate::scenario::clock;
use crate::scenario::words::time;

/// Most stretches that are told one by one.
const TOLD_MAX: usize = 12;

/// When each of these stretches began, and how long it was.
fn when(spans: &[(u64, u64)]) -> String {
    let one = |(from, to): &(u64, u64)| format!("{} for {}", clock::show(*from), time(to - from));
    let shown: Vec<String> = spans.iter().take(TOLD_MAX).map(one).collect();
    let more = match (spans.len() - shown.len(), spans.last()) {
        (0, _) | (_, None) => String::new(),
        (more, Some((last, _))) => format!("; and {more} more, the last {}", clock::show(*last)),
    };
    format!("{}{more}", shown.join("; "))
}

/// Something that stood: how often, how long, when.
pub(super) fn stood(name: &str, seen: &Stood) -> String {
    let (times, long) = (seen.times, time(seen.ms));
    let most = time(seen.longest_ms);
    let often = if times == 1 {
        format!("once, {long}")
    } else {
        format!("{times} times, {long} in all, at most {most} at once")
    };
    format!("{name}: {often} ({}).", when(seen.spans.all()))
}

/// Stretches of which nothing but when is kept.
pub(super) fn stretches(name: &str, spans: &[(u64, u64)]) -> String {
    format!("{name}: {}.", when(spans))
}

/// Doses of one feeder.
pub(super) fn fed(doses: &[&Dose], unit: &str) -> String {
    let amount: f64 = doses.iter().map(|dose| dose.amount / 1000.0).sum();
    match (doses.first(), doses.last()) {
        (Some(first), Some(last)) => format!(
            "fed: {} {unit} in {} dose{}, the first {}, the last {}.",
            figure(amount),
            doses.len(),
            if doses.len() == 1 { "" } else { "s" },
            clock::show(first.from_ms),
            clock::show(last.from_ms),
        ),
        _ => "fed: nothing.".to_owned(),
    }
}

/// A curve: where it began and ended, its lowest and its highest.
pub(super) fn curve(name: &str, points: &[(u64, f64)]) -> Option<String> {
    let by = |one: &&(u64, f64), other: &&(u64, f64)| one.1.total_cmp(&other.1);
    let (low, high) = (points.iter().min_by(by)?, points.iter().max_by(by)?);
    let last = points.last()?;
    if (high.1 - low.1).abs() < 1e-9 {
        return Some(format!("{name}: {} throughout.", figure(low.1)));
    }
    let at = |point: &(u64, f64)| format!("{} ({})", figure(point.1), clock::show(point.0));
    Some(format!(
        "{name}: lowest {}, highest {}, at the end {}.",
        at(low),
        at(high),
        figure(last.1)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: u64 = 3_600_000;

    #[test]
    fn what_stood_is_told_with_its_times() {
        let mut seen = Stood::default();
        seen.add(HOUR, 2 * HOUR);
        assert_eq!(
            stood("settling", &seen),
            "settling: once, 1 h (day 1 01:00 for 1 h)."
        );
        seen.add(3 * HOUR, 6 * HOUR);
        assert_eq!(
            stood("settling", &seen),
            "settling: 2 times, 4 h in all, at most 3 h at once (day 1 01:00 for 1 h; day 1 03:00 for 3 h)."
        );
    }

    #[test]
    fn many_stretches_are_counted() {
        let spans: Vec<(u64, u64)> = (0..40).map(|n| (n * HOUR, n * HOUR + HOUR / 2)).collect();
        let told = stretches("refused: day_cap", &spans);
        assert_eq!(told.matches("30 min").count(), TOLD_MAX, "{told}");
        assert!(
            told.ends_with("and 28 more, the last day 2 15:00."),
            "{told}"
        );
    }

    #[test]
    fn a_curve_is_told_by_its_ends() {
        let points = [(0, 7.4), (HOUR, 7.9), (2 * HOUR, 7.1), (3 * HOUR, 7.5)];
        assert_eq!(
            curve("pH", &points).unwrap(),
            "pH: lowest 7.10 (day 1 02:00), highest 7.90 (day 1 01:00), at the end 7.50."
        );
        assert_eq!(
            curve("set point", &points[..1]).unwrap(),
            "set point: 7.40 throughout."
        );
        assert_eq!(curve("nothing", &[]), None);
    }
}
