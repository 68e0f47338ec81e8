//! What chance draws for the faults of a trial: sizes, times and how long each stands.
//!
//! Invariant: what is drawn for one thing of a campaign depends on the seed and that thing only.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::fault::{Chosen, Fault, Part};
use crate::scenario::Scenario;

/// Sizes of a fault that changes the site from the start. They are few, since each has days to live before its trials;
/// the gravest first, for campaigns of few trials.
pub(super) const LEVELS: [f64; 5] = [1.0, 0.0, 0.5, 0.25, 0.75];
/// The shortest time for which a fault is drawn to stand, s.
const LASTS_MIN_S: f64 = 60.0;
/// The longest, s.
const LASTS_MAX_S: f64 = 12.0 * 3_600.0;

/// A generator for one thing of a campaign.
pub(super) fn draw(seed: u64, what: u64, at: u64) -> Pcg64Mcg {
    let mixed = seed
        ^ what.wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ at.wrapping_mul(0xD1B5_4A32_D192_ED03).rotate_left(17);
    Pcg64Mcg::seed_from_u64(mixed)
}

/// From 0 to 1.
pub(super) fn share(rng: &mut Pcg64Mcg) -> f64 {
    f64::from(rng.next_u32()) / f64::from(u32::MAX)
}

/// A number under `bound`, which is over 0.
pub(super) fn under(rng: &mut Pcg64Mcg, bound: u64) -> u64 {
    rng.next_u64() % bound.max(1)
}

/// A number for an id, so that what is drawn for a fault stays when others come.
pub(super) fn id_number(id: &str) -> u64 {
    id.bytes().fold(0, |sum, byte| sum * 61 + u64::from(byte))
}

/// How long a fault stands: in half of all cases as the catalogue says (`None`), in the others for whole seconds from a
/// minute to twelve hours, by ratio.
fn lasts_ms(rng: &mut Pcg64Mcg) -> Option<u64> {
    let (as_usual, length) = (under(rng, 2) == 0, length_ms(rng));
    (!as_usual).then_some(length)
}

/// Whole seconds from a minute to twelve hours, by ratio, ms.
pub(super) fn length_ms(rng: &mut Pcg64Mcg) -> u64 {
    let seconds = LASTS_MIN_S * libm::pow(LASTS_MAX_S / LASTS_MIN_S, share(rng));
    seconds.round() as u64 * 1_000
}

/// A fault from this onset on, its size and how long it stands drawn. What changes the site from the start has one of
/// [`LEVELS`] and stands to the end.
pub(super) fn chosen(
    fault: &'static Fault,
    part: Part,
    rng: &mut Pcg64Mcg,
    at_ms: u64,
    scenario: &Scenario,
) -> Chosen {
    let severity = share(rng);
    let (level, for_ms) = (under(rng, LEVELS.len() as u64), lasts_ms(rng));
    let mut one = Chosen {
        fault,
        part,
        severity,
        at_ms,
        for_ms: None,
    };
    if one.stands_from_the_start(scenario) {
        one.severity = level_of(level);
    } else if one.can_end(scenario) {
        one.for_ms = for_ms;
    }
    one
}

/// The size of a fault from the start in the trial with this number of its case: each in turn.
pub(super) fn level_of(trial: u64) -> f64 {
    let at = (trial % LEVELS.len() as u64) as usize;
    LEVELS.get(at).copied().unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_of_all_stand_as_the_catalogue_says_and_the_others_from_a_minute_to_twelve_hours() {
        let mut rng = draw(1, 9, 0);
        let all: Vec<Option<u64>> = (0..10_000).map(|_| lasts_ms(&mut rng)).collect();
        let drawn: Vec<u64> = all.iter().filter_map(|one| *one).collect();
        assert!((4_800..5_200).contains(&drawn.len()), "{}", drawn.len());
        let (least, most) = (drawn.iter().min(), drawn.iter().max());
        assert!(least >= Some(&60_000) && least < Some(&62_000), "{least:?}");
        assert!(
            most <= Some(&43_200_000) && most > Some(&42_000_000),
            "{most:?}"
        );
        // By ratio: as many under the middle of the two, 27 min, as over it.
        let short = drawn.iter().filter(|ms| **ms < 1_610_000).count();
        let half = drawn.len() / 2;
        assert!(short.abs_diff(half) < 200, "{short} of {}", drawn.len());
    }

    #[test]
    fn five_trials_have_each_level_once_the_gravest_first() {
        let mut levels: Vec<f64> = (0..5).map(level_of).collect();
        assert_eq!((levels[0], level_of(5)), (1.0, 1.0));
        levels.sort_by(f64::total_cmp);
        assert_eq!(levels, [0.0, 0.25, 0.5, 0.75, 1.0]);
    }
}
