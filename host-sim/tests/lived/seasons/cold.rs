//! The winter of the scenario, hour by hour.

use dosewarden_sim::{DosewardenUnit, SimPool};

use super::table::LONG;
use super::{moment, read};

#[test]
#[ignore = "a winter: a minute, and in release only"]
fn a_winter_is_not_fed_and_raises_no_alarm_until_it_is_open_again() {
    let one = LONG.iter().find(|one| one.file == "winter.toml");
    let scenario = read(one.expect("there"));
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    let all_fed = |pool: &SimPool<DosewardenUnit>| -> f64 {
        pool.truth().feeders.iter().map(|one| one.fed_total).sum()
    };
    let until = |pool: &mut SimPool<DosewardenUnit>, at: u64| pool.run_for_ms(at - pool.clock_ms());
    until(&mut pool, moment("day 12 10:05"));
    let before = all_fed(&pool);
    assert!(before > 1e6, "it was fed in autumn");
    until(&mut pool, moment("day 12 10:20"));
    let (mut flowed, mut dried, mut strength) = (0_u64, 0_u64, 1.0);
    while pool.clock_ms() < moment("day 122 10:04") {
        pool.tick();
        assert_eq!(pool.status().alarms, 0, "{} ms", pool.clock_ms());
        let is_winter = pool.clock_ms() < moment("day 121 08:00");
        if is_winter {
            strength = pool.truth().feeders[1].strength;
        }
        flowed += u64::from(is_winter && pool.truth().water_moving);
        dried += u64::from(is_winter && pool.truth().faulty);
        assert!(!is_winter || !pool.truth().pump_due, "its timetable is off");
    }
    assert_eq!(all_fed(&pool), before);
    // Under 5 C for some seventy days, four hours a day.
    assert!((200..400).contains(&(flowed / 3600)), "{} h", flowed / 3600);
    assert!(dried / 86_400 > 70, "{} days", dried / 86_400);
    assert!(
        (0.45..0.6).contains(&strength),
        "half of it is left: {strength}"
    );
    until(&mut pool, moment("day 126 08:00"));
    assert!(all_fed(&pool) > before + 1e6, "and fed again in spring");
}
