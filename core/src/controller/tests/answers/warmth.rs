//! Water that is not as warm as that of the settings.

use super::*;
use crate::guard::Reading;
use crate::probe::CentiCelsius;

/// At 25 C in the settings ([`EXPECTED`]): 100 mg/L and no cyanurate.
///
/// By closed forms, not by the code: 2.303 [H] / (K1 + [H]) of the alkalinity (Stumm and Morgan, Aquatic Chemistry), pK1 of
/// Harned and Davis 1943 6.46 at 8 C and 6.35 at 25 C, less 0.06 for the salts (from memory). At pH 7.4, the set point,
/// that is 0.0723 over 0.0911.
const AT_8_C: f64 = 0.79;

fn at(hundredths: i32) -> Pool {
    let mut pool = Pool::new(AT_8_C);
    pool.bench.inputs.care.temperature = Reading::now(CentiCelsius(hundredths));
    pool
}

#[test]
fn cold_water_answers_less_and_its_rate_is_not_named_wrong() {
    let mut cold = at(800);
    cold.until_judged(5);
    let ratio = cold.found().ratio_milli().unwrap();
    assert!((930..=1060).contains(&ratio), "{ratio}");
    // A regulator divides its dose by how far it moves this water.
    let learned = cold.bench.controller.around.learned();
    let (_, learned) = learned.expect("it learns");
    assert!((740..=860).contains(&learned), "{learned}");
    // Told warm, the same answers are a lower rate.
    let mut warm = at(2500);
    warm.until_judged(5);
    let ratio = warm.found().ratio_milli().unwrap();
    assert!((760..=820).contains(&ratio), "{ratio}");
}

#[test]
fn a_sensor_that_fails_changes_nothing_and_a_small_change_neither() {
    let mut pool = at(800);
    pool.tick();
    let cold = pool.bench.controller.around.warmth;
    assert!(cold.milli() < 900, "{cold:?}");
    for care in [
        Reading::unknown(CentiCelsius(2500)),
        Reading::now(CentiCelsius(999)),
        Reading::now(CentiCelsius(601)),
    ] {
        pool.bench.inputs.care.temperature = care;
        pool.tick();
        assert_eq!(pool.bench.controller.around.warmth, cold);
    }
    pool.bench.inputs.care.temperature = Reading::now(CentiCelsius(1000));
    pool.tick();
    assert!(pool.bench.controller.around.warmth.milli() > cold.milli());
    // Nothing that water is.
    pool.bench.inputs.care.temperature = Reading::now(CentiCelsius(-4000));
    pool.tick();
    assert_eq!(pool.bench.controller.around.warmth.milli(), 1000);
    // Other settings: worked out anew.
    pool.bench.inputs.care.temperature = Reading::now(CentiCelsius(2500));
    pool.tick();
    assert_eq!(pool.bench.controller.around.warmth.milli(), 1000);
    let mut expected = EXPECTED;
    expected.water = Fitted::Fitted(BufferingWater {
        temperature_c: 8,
        ..EXPECTED.water.get().expect("fitted")
    });
    let other = settings(Fitted::Fitted(expected));
    pool.bench.controller.set_settings(other);
    pool.tick();
    assert!(pool.bench.controller.around.warmth.milli() > 1150);
    // Settings that name no water: the answer is expected as they say it, however warm.
    expected.water = Fitted::NotFitted;
    pool.bench
        .controller
        .set_settings(settings(Fitted::Fitted(expected)));
    pool.tick();
    assert_eq!(pool.bench.controller.around.warmth.milli(), 1000);
}
