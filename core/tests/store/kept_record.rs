//! What the committed kept record holds. Written out in full, but for what only the controller makes:
//! that is read from its figures.

use dosewarden::guard::units::{Body, ClockSeconds, Dose, MilliPh, Millis, Millivolts};
use dosewarden::probe::{
    Age, Anchor, Calibration, CentiCelsius, ChlorineTest, MicrogramsPerL, Microvolts, ProbeKind,
    ReferenceCheck, Trend, Trim,
};
use dosewarden::regulate::CureAge;
use dosewarden::response::Estimate;
use dosewarden::season::{Opening, OpeningStep, Owed};
use dosewarden::stages::Evidence;
use dosewarden::stock::DrumVerdict;
use dosewarden::store::KeptRecord;
use dosewarden::upkeep::Kept;
use dosewarden::water_tests::{TestedSet, TestedValue, WaterTests};
use dosewarden::{HandDoses, Handover, Restraints, Under};
use serde_json::{from_value, json};

type Record = KeptRecord<2>;

pub(crate) fn line(zero: i32, ppm: u32, hours: u16) -> Calibration {
    Calibration::restore(Microvolts(zero), ppm, Age::from_hours(hours)).unwrap()
}

fn upkeep() -> Kept {
    let mut trend = Trend::NEW;
    trend.push(&line(-1200, 981_000, 0), 0);
    trend.push(&line(-3400, 962_000, 0), 2209);
    let mut tests = WaterTests::NONE;
    for (value, mg_l) in TestedValue::ALL.into_iter().zip([83, 34, 3100]) {
        tests.enter(value, MicrogramsPerL::from_mg_l(mg_l)).unwrap();
    }
    tests.pass(Millis::from_hours(77));
    Kept {
        calibration: Some(line(-3400, 962_000, 301)),
        trim: Trim::restore(MilliPh(-110), Age::from_hours(55)).unwrap(),
        trend,
        check: Some(ReferenceCheck {
            error: Millivolts(-7),
            age: Age::from_hours(302),
        }),
        anchor: Some(Anchor {
            orp: Millivolts(715),
            test: ChlorineTest {
                chlorine: MicrogramsPerL(2100),
                diluted: true,
                ph: MilliPh(7430),
                cyanurate: MicrogramsPerL(34_000),
                temperature: CentiCelsius(2710),
                at: Some(ClockSeconds(1_700_000_001)),
            },
            age: Age::from_hours(303),
        }),
        tests,
        out: Some(ProbeKind::Orp),
    }
}

pub(crate) fn record() -> Record {
    let proof = |hours: u16, took: u16| json!({"hours": hours, "took_ms": took});
    let never = || proof(u16::MAX, 0);
    let three = || json!([proof(12, 250), never(), proof(13, u16::MAX)]);
    KeptRecord {
        upkeep: upkeep(),
        restraints: Restraints {
            paused: Millis(3_700_001),
            is_laid_up: true,
            by_hand: [
                HandDoses {
                    dose: Dose::from_ml(333),
                    body: Some(Body(1)),
                    counts_for: Millis(80_000_001),
                    spreads_for: Millis(600_001),
                },
                HandDoses::NONE,
            ],
            evidence: Evidence {
                is_observing: true,
                kit_agreed: true,
                would_feed: 300,
                sound: Age::from_hours(18),
            },
        },
        proofs: from_value(json!({
            "site": [proof(11, 1900), never(), never(), proof(14, 80), never()],
            "feeders": [three(), three()],
            "part_ms": 1_234_567,
        }))
        .unwrap(),
        stocks: [
            from_value(json!({"known": 18_000_000, "booked": 4_321_000})).unwrap(),
            from_value(json!({"known": null, "booked": 77})).unwrap(),
        ],
        answers: [Some(answers(-1900)), None],
        drums: [None, Some(drum(0xD3_0BA5))],
        cures: [
            Some(Under {
                found: CureAge {
                    age: Age::from_hours(305),
                    left: Dose::from_ml(444),
                },
                settings: 0xC0_7E51,
            }),
            None,
        ],
        is_too_cold: true,
        is_lost: false,
        handover: Handover {
            number: 301,
            is_given_away: true,
        },
        opening: Opening {
            step: OpeningStep::Asks,
            owed: Owed {
                tests: TestedSet::NONE.with(TestedValue::Salt),
                slope: true,
                drums: 2,
            },
        },
    }
}

pub(crate) fn answers(ratio: i32) -> Under<Estimate> {
    let figures = json!({
        "ratio": ratio, "variance": 14_400, "doses": 200, "odd": 1,
        "verdict": "wrong_way", "learned": 1000, "step": 1130,
    });
    Under {
        found: from_value(figures).unwrap(),
        settings: 0xA5_E770,
    }
}

pub(crate) const fn drum(settings: u32) -> Under<DrumVerdict> {
    Under {
        found: DrumVerdict::High,
        settings,
    }
}

#[test]
fn as_much_as_water_may_have_is_kept() {
    let mut most = record();
    for value in TestedValue::ALL {
        most.upkeep.tests.enter(value, value.most()).unwrap();
    }
    let mut bytes = [0; 1024];
    let length = most.encode(&mut bytes).unwrap();
    assert_eq!(Record::decode(&bytes[..length]), Ok(most));
}
