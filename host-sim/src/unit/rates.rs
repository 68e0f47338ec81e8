//! What our unit found of a feeder's real rate, in words.

use super::RateFound;
use super::ours::Ours;

/// `None` if nothing is looked at: neither the water's answers nor the drum's level.
pub(super) fn found<const N: usize, const B: usize>(
    controller: &Ours<N, B>,
    feeder: usize,
    by_level: bool,
) -> Option<RateFound> {
    let answers = controller.response(feeder);
    if answers.is_none() && !by_level {
        return None;
    }
    let by_water = answers.and_then(|found| {
        let ratio = f64::from(found.ratio_milli()?) / 1000.0;
        Some((ratio, f64::from(found.deviation_milli()) / 1000.0))
    });
    Some(RateFound {
        by_water,
        doses: answers.map_or(0, |found| found.doses()),
        verdict: answers.map_or_else(
            || "not followed".to_owned(),
            |found| words(&format!("{:?}", found.verdict())),
        ),
        by_drum: words(&format!("{:?}", controller.drum_verdict(feeder))),
    })
}

/// "AsConfigured" as "as configured".
fn words(name: &str) -> String {
    let mut words = String::new();
    for letter in name.chars() {
        if letter.is_uppercase() && !words.is_empty() {
            words.push(' ');
        }
        words.extend(letter.to_lowercase());
    }
    words
}
