//! Settings and events, as data and back.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a test that panics has failed, as it should"
)]

mod pool;

use dosewarden::event::{Event, EventKind};
use dosewarden::guard::{Limits, Lockout};
use dosewarden::settings::SettingsSpec;
use dosewarden::stock::Stock;
use dosewarden::{Phase, Settings};

use pool::{Pool, SETTINGS};

#[test]
fn settings_come_back_and_are_checked_on_the_way() {
    let settings = Settings::try_new(SETTINGS).unwrap();
    let text = serde_json::to_string(&settings).unwrap();
    assert_eq!(
        serde_json::from_str::<Settings<2>>(&text).unwrap(),
        settings
    );
    let broken = text.replace("\"low\":7000", "\"low\":7900");
    assert_ne!(broken, text);
    let error = serde_json::from_str::<Settings<2>>(&broken).unwrap_err();
    assert!(error.to_string().contains("ph"), "{error}");
}

#[test]
fn a_settings_key_that_nobody_knows_is_refused_and_so_is_another_number_of_feeders() {
    let text = serde_json::to_string(&SETTINGS).unwrap();
    let more = text.replacen('{', "{\"extra\":1,", 1);
    assert!(serde_json::from_str::<SettingsSpec<2>>(&more).is_err());
    assert!(serde_json::from_str::<SettingsSpec<2>>(&text).is_ok());
    for (wrong, right) in [
        (
            serde_json::from_str::<SettingsSpec<1>>(&text).err(),
            "1 elements",
        ),
        (
            serde_json::from_str::<SettingsSpec<3>>(&text).err(),
            "3 elements",
        ),
    ] {
        let error = wrong.unwrap().to_string();
        let named = error.contains("length 2") && error.contains(right);
        assert!(named, "{error}");
    }
}

#[test]
fn the_events_of_a_day_come_back() {
    let mut pool = Pool::begun();
    let mut kinds = Vec::new();
    for _ in 0..3000 {
        pool.tick();
        while let Some(event) = pool.controller.events_mut().take_oldest() {
            let text = serde_json::to_string(&event).unwrap();
            assert_eq!(
                serde_json::from_str::<Event>(&text).unwrap(),
                event,
                "{text}"
            );
            kinds.push(event.kind.number());
        }
    }
    for number in [1, 2, 3, 4, 5, 6, 7, 8] {
        assert!(kinds.contains(&number), "event {number} of {kinds:?}");
    }
    let stock = pool.controller.stock(0).unwrap();
    let text = serde_json::to_string(&stock).unwrap();
    assert_eq!(serde_json::from_str::<Stock>(&text).unwrap(), stock);
}

#[test]
fn lockouts_stand_by_their_numbers() {
    for (number, lockout) in Lockout::ALL.into_iter().enumerate() {
        let feeder = None;
        let kind = EventKind::LockedOut { feeder, lockout };
        let text = serde_json::to_string(&kind).unwrap();
        assert!(text.contains(&format!("\"lockout\":{number}")), "{text}");
        assert_eq!(serde_json::from_str::<EventKind>(&text).unwrap(), kind);
    }
    let none = "{\"locked_out\":{\"feeder\":null,\"lockout\":99}}";
    assert!(serde_json::from_str::<EventKind>(none).is_err());
    let phase = serde_json::to_string(&Phase::Feeding).unwrap();
    assert_eq!(phase, "\"feeding\"");
}

#[test]
fn limits_come_back_through_their_checks() {
    type Checked = Limits<2, 1>;
    let pool = Pool::begun();
    let limits = pool.controller.guard().limits();
    let text = serde_json::to_string(limits).unwrap();
    assert_eq!(&serde_json::from_str::<Checked>(&text).unwrap(), limits);
    assert_eq!(text, serde_json::to_string(limits.spec()).unwrap());
    let broken = text.replace("\"purge\":45000", "\"purge\":0");
    assert_ne!(broken, text);
    let error = serde_json::from_str::<Checked>(&broken).unwrap_err();
    assert!(error.to_string().contains("purge is 0"), "{error}");
    // Of other numbers of feeders and bodies.
    let one = serde_json::from_str::<Limits<1, 1>>(&text).unwrap_err();
    let three = serde_json::from_str::<Limits<3, 1>>(&text).unwrap_err();
    let bodies = serde_json::from_str::<Limits<2, 2>>(&text).unwrap_err();
    let none = text.replace("\"bodies\":[{", "\"bodies\":[],\"bodies\":[{");
    assert!(one.to_string().contains("1 elements"), "{one}");
    assert!(three.to_string().contains("3 elements"), "{three}");
    assert!(bodies.to_string().contains("2 elements"), "{bodies}");
    let empty = serde_json::from_str::<Checked>(&none).unwrap_err();
    assert!(empty.to_string().contains("length 0"), "{empty}");
}
