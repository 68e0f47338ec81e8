//! Each relation is refused when broken.

use super::*;
use crate::bench::SETTINGS_SPEC;

#[test]
fn each_broken_relation_names_its_field() {
    let fails = |change: fn(&mut SettingsSpec<2>)| {
        let mut spec = SETTINGS_SPEC;
        change(&mut spec);
        match Settings::try_new(spec) {
            Err(SettingsError::Range { field, .. } | SettingsError::Crossed { field, .. }) => field,
            Ok(_) => "nothing",
        }
    };
    assert_eq!(fails(|_| ()), "nothing");
    assert_eq!(fails(|spec| spec.alarms.ph.high = 7100), "ph");
    assert_eq!(fails(|spec| spec.alarms.orp.low = 900), "orp");
    assert_eq!(fails(|spec| spec.alarms.ph.dead_band = -1), "dead_band");
    assert_eq!(
        fails(|spec| spec.alarms.demand_unmet_after = Millis(0)),
        "demand_unmet_after"
    );
    assert_eq!(
        fails(|spec| spec.alarms.on_delay = Millis(WEEK_MS + 1)),
        "on_delay"
    );
    let rate = |change_max, within| {
        move |spec: &mut SettingsSpec<2>| {
            spec.alarms.ph.rate = Some(RateLimit { change_max, within });
        }
    };
    let fails_rate = |change: &dyn Fn(&mut SettingsSpec<2>)| {
        let mut spec = SETTINGS_SPEC;
        change(&mut spec);
        Settings::try_new(spec).is_err()
    };
    assert!(!fails_rate(&rate(300, Millis(600_000))));
    assert!(fails_rate(&rate(0, Millis(600_000))));
    assert!(fails_rate(&rate(300, Millis(1))));
    let drum = |low, size, low_days| {
        let mut spec = SETTINGS_SPEC;
        let low = Dose(low);
        let size = Dose(size);
        spec.drums = [Fitted::Fitted(DrumSettings {
            size,
            low,
            low_days,
        }); 2];
        Settings::try_new(spec).is_err()
    };
    assert!(!drum(1, 2, 365));
    assert!(drum(0, 0, 0) && drum(2, 2, 0) && drum(1, 2, 366));
}

#[test]
fn a_refusal_reads_as_a_sentence() {
    let mut spec = SETTINGS_SPEC;
    spec.alarms.ph.dead_band = -5;
    let error = Settings::try_new(spec).unwrap_err();
    assert_eq!(
        std::format!("{error}"),
        "dead_band is -5; right is 0 to 2000"
    );
}

type Change = fn(&mut ExpectedResponse);

const WATER: BufferingWater = BufferingWater {
    alkalinity_mg_l: 90,
    cyanuric_acid_mg_l: 30,
    borate_mg_l: 0,
    tds_mg_l: 1000,
    temperature_c: 28,
};

const EXPECTED: ExpectedResponse = ExpectedResponse {
    feeder: 1,
    dose: Dose::from_ml(100),
    moves: 100,
    at: 7400,
    more_per_tenth_percent: 18,
    error_percent: 20,
    settle_s: 300,
    other_dose: Dose(1),
    other_raises: 0,
    learns: false,
    water: Fitted::Fitted(WATER),
};

/// The field that is wrong after a change.
fn fails(change: Change) -> &'static str {
    let mut expected = EXPECTED;
    change(&mut expected);
    let spec = SettingsSpec {
        response: Fitted::Fitted(expected),
        ..SETTINGS_SPEC
    };
    match Settings::try_new(spec) {
        Err(SettingsError::Range { field, .. }) => field,
        Err(SettingsError::Crossed { .. }) => "crossed",
        Ok(_) => "nothing",
    }
}

#[test]
fn what_is_expected_of_the_water_has_bounds_and_names_a_feeder() {
    let wrong: [(&str, Change); 15] = [
        ("nothing", |_| ()),
        ("nothing", |one| one.water = Fitted::NotFitted),
        ("response.feeder", |one| one.feeder = 2),
        ("response.dose", |one| one.dose = Dose(0)),
        ("response.moves", |one| one.moves = 0),
        ("response.moves", |one| one.moves = 2001),
        ("response.at", |one| one.at = 6099),
        ("response.at", |one| one.at = 8901),
        ("response.more_per_tenth_percent", |one| {
            one.more_per_tenth_percent = 26;
        }),
        ("response.error_percent", |one| one.error_percent = 4),
        ("response.error_percent", |one| one.error_percent = 41),
        ("response.settle_s", |one| one.settle_s = 59),
        ("response.settle_s", |one| one.settle_s = 7201),
        ("response.other_dose", |one| one.other_dose = Dose(0)),
        ("response.other_raises", |one| one.other_raises = 2001),
    ];
    for (field, change) in wrong {
        assert_eq!(fails(change), field);
    }
}

#[test]
fn the_water_of_which_it_is_true_has_bounds() {
    let fails = |change: fn(&mut BufferingWater)| {
        let mut water = WATER;
        change(&mut water);
        let spec = SettingsSpec {
            response: Fitted::Fitted(ExpectedResponse {
                water: Fitted::Fitted(water),
                ..EXPECTED
            }),
            ..SETTINGS_SPEC
        };
        Settings::try_new(spec).is_err()
    };
    assert!(!fails(|_| ()) && !fails(|one| one.alkalinity_mg_l = 500));
    assert!(fails(|one| one.alkalinity_mg_l = 9) && fails(|one| one.alkalinity_mg_l = 501));
    assert!(fails(|one| one.cyanuric_acid_mg_l = 301));
    assert!(fails(|one| one.borate_mg_l = 101));
    assert!(fails(|one| one.tds_mg_l = 10_001));
    assert!(fails(|one| one.temperature_c = 46));
}

#[test]
fn bounds_are_inside_and_the_next_is_refused() {
    let holds = |change: &dyn Fn(&mut SettingsSpec<2>)| {
        let mut spec = SETTINGS_SPEC;
        change(&mut spec);
        Settings::try_new(spec).is_ok()
    };
    let delay = |ms| holds(&|spec| spec.alarms.demand_unmet_after = Millis(ms));
    assert!(delay(60_000) && !delay(59_999));
    assert!(delay(604_800_000) && !delay(604_800_001), "seven days");
    // Wide enough for any dead band.
    let band = |dead_band| {
        holds(&|spec| {
            let (low, high) = (1000, 14_000);
            let ph = &spec.alarms.ph;
            spec.alarms.ph = ValueAlarms {
                low,
                high,
                dead_band,
                ..*ph
            };
        })
    };
    assert!(band(0) && !band(-1) && band(2000) && !band(2001));
    let change = |change_max| {
        holds(&|spec| {
            let within = Millis(600_000);
            spec.alarms.ph.rate = Some(RateLimit { change_max, within });
        })
    };
    assert!(change(1) && !change(0) && change(14_000) && !change(14_001));
}
