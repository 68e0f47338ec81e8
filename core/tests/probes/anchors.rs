//! The set point of ORP, anchored to a DPD test.

use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::guard::{Health, Reading};
use dosewarden::probe::{
    Age, Anchor, AnchorDue, AnchorRefused, Beside, CentiCelsius, ChlorineTest, Conditioned,
    Finding, MicrogramsPerL,
};

const WANTED: MicrogramsPerL = MicrogramsPerL(2000);

fn test(chlorine: u32) -> ChlorineTest {
    ChlorineTest {
        chlorine: MicrogramsPerL(chlorine),
        diluted: false,
        ph: MilliPh(7500),
        cyanurate: MicrogramsPerL(0),
        temperature: CentiCelsius::from_whole(26),
        at: None,
    }
}

fn beside(orp: i32, fed: Option<u32>) -> Beside {
    Beside {
        orp: Conditioned {
            reading: Reading::now(Millivolts(orp)),
            finding: Finding::Fine,
        },
        fed_last_day: fed.map(MicrogramsPerL::from_mg_l),
        wanted: WANTED,
    }
}

fn take(test: ChlorineTest, orp: i32) -> Result<i32, AnchorRefused> {
    Anchor::take(test, &beside(orp, Some(3)), None).map(|anchor| anchor.orp.0)
}

fn may_be_bleached<T>(result: &Result<T, AnchorRefused>) -> bool {
    matches!(result, Err(AnchorRefused::MayBeBleached { .. }))
}

#[test]
fn the_reading_beside_the_wanted_chlorine_is_the_set_point() {
    assert_eq!(take(test(2000), 705), Ok(705));
    assert_eq!(take(test(2500), 720), Ok(720));
    let not_wanted = AnchorRefused::NotWanted {
        found: MicrogramsPerL(2501),
        wanted: WANTED,
    };
    assert_eq!(take(test(2501), 720), Err(not_wanted));
    assert!(take(test(1499), 690).is_err());
    // Of much a quarter is a kit's step.
    let much = Beside {
        wanted: MicrogramsPerL(4000),
        ..beside(720, None)
    };
    let takes = |chlorine| Anchor::take(test(chlorine), &much, None).is_ok();
    assert!(takes(3000) && !takes(2999));
}

#[test]
fn a_bleached_test_is_refused_until_it_is_diluted() {
    // 0.2 mg/L at 800 mV is what a DPD test says of much chlorine.
    let low = Anchor::take(test(200), &beside(800, None), None);
    assert!(may_be_bleached(&low));
    assert!(
        low.expect_err("refused")
            .to_string()
            .contains("test again with the sample diluted")
    );
    // At 749 mV the probe alone does not speak against it; the ledger does.
    assert!(!may_be_bleached(&Anchor::take(
        test(200),
        &beside(749, None),
        None
    )));
    assert!(!may_be_bleached(&Anchor::take(
        test(200),
        &beside(749, Some(7)),
        None
    )));
    assert!(may_be_bleached(&Anchor::take(
        test(200),
        &beside(749, Some(8)),
        None
    )));
    assert!(!may_be_bleached(&Anchor::take(
        test(200),
        &beside(649, Some(8)),
        None
    )));
    // Diluted, it is believed: and then it is not the wanted chlorine.
    let diluted = ChlorineTest {
        diluted: true,
        ..test(12_000)
    };
    let refused = Anchor::take(diluted, &beside(800, Some(9)), None);
    assert!(matches!(refused, Err(AnchorRefused::NotWanted { .. })));
    assert_eq!(
        take(test(5000), 780),
        Err(AnchorRefused::OverScale(MicrogramsPerL(5000)))
    );
}

#[test]
fn far_over_the_last_anchor_with_less_than_half_of_its_chlorine_is_doubted() {
    let last = Anchor::take(test(2500), &beside(680, None), None).expect("anchored");
    let now = |chlorine, orp| Anchor::take(test(chlorine), &beside(orp, None), Some(&last));
    assert!(may_be_bleached(&now(1249, 720)));
    assert!(!may_be_bleached(&now(1249, 719)));
    assert!(!may_be_bleached(&now(1250, 720)));
}

#[test]
fn the_probe_has_to_be_in_order_and_the_water_in_range() {
    let mut old = beside(700, None);
    old.orp.finding = Finding::CheckOld;
    old.orp.reading.health = Health::MaintenanceRequired;
    let refused = Anchor::take(test(2000), &old, None);
    assert_eq!(refused, Err(AnchorRefused::ProbeNotTrusted));
    let at = |ph| {
        let ph = MilliPh(ph);
        take(ChlorineTest { ph, ..test(2000) }, 700)
    };
    assert!(at(7200).is_ok() && at(7800).is_ok());
    assert_eq!(at(7199), Err(AnchorRefused::Ph(MilliPh(7199))));
    assert_eq!(at(7801), Err(AnchorRefused::Ph(MilliPh(7801))));
    assert_eq!(take(test(2000), 500), Ok(500));
    let low = AnchorRefused::ProbeReadsLow(Millivolts(499));
    assert_eq!(take(test(2000), 499), Err(low));
}

#[test]
fn an_anchor_is_due_when_its_water_has_changed() {
    let mut anchor = Anchor::take(test(2000), &beside(700, None), None).expect("anchored");
    let due = |anchor: &Anchor, ph, cyanurate, celsius| {
        let cyanurate = MicrogramsPerL::from_mg_l(cyanurate);
        let at = CentiCelsius::from_whole(celsius);
        anchor.due(30, Some(MilliPh(ph)), Some(cyanurate), Some(at))
    };
    assert_eq!(due(&anchor, 7799, 14, 33), None);
    assert_eq!(due(&anchor, 7800, 14, 33), Some(AnchorDue::PhMoved));
    assert_eq!(due(&anchor, 7200, 0, 26), Some(AnchorDue::PhMoved));
    assert_eq!(due(&anchor, 7500, 15, 26), Some(AnchorDue::CyanurateMoved));
    assert_eq!(due(&anchor, 7500, 0, 34), Some(AnchorDue::TemperatureMoved));
    assert_eq!(anchor.due(30, None, None, None), None);
    anchor.age = Age::from_days(30);
    assert_eq!(anchor.due(30, None, None, None), None);
    anchor.age = Age::from_days(31);
    assert_eq!(anchor.due(30, None, None, None), Some(AnchorDue::Age));
}
