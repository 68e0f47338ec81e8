//! The kept record: its bytes stand, a faulty one is refused whole and by name, a cut leaves one,
//! and it is written at changes and else once an hour.

use dosewarden::guard::units::{Body, Dose, Millis};
use dosewarden::probe::{Age, MicrogramsPerL, Trend, Trim};
use dosewarden::proof::Proofs;
use dosewarden::season::Opening;
use dosewarden::stages::Evidence;
use dosewarden::store::{Found, KeepError, KeptError, KeptRecord, KeptStore, LoadedKept};
use dosewarden::water_tests::TestedValue;
use dosewarden::{HandDoses, Handover};
use proptest::prelude::*;
use serde_json::{from_value, json};

use crate::flash::Flash;
use crate::kept_record::{answers, drum, line, record};
use crate::sealed::{self, refused_if_damaged, sealed};

/// Written by the release in which the version was new. Never written again.
const VERSION_1: &[u8] = include_bytes!("images/kept-v1.bin");
const VERSION_2: &[u8] = include_bytes!("images/kept-v2.bin");
const VERSION_3: &[u8] = include_bytes!("images/kept-v3.bin");
const VERSION_4: &[u8] = include_bytes!("images/kept-v4.bin");

type Record = KeptRecord<2>;
type Chip = Flash<4, 1024>;

fn bytes(record: &Record) -> Vec<u8> {
    let mut bytes = vec![0; 1024];
    let length = record.encode(&mut bytes).unwrap();
    bytes.truncate(length);
    bytes
}

#[test]
fn the_committed_records_are_read_and_this_version_writes_the_same_bytes() {
    let mut third = record();
    third.restraints.by_hand[0].body = None;
    let second = Record {
        handover: Handover::FIRST,
        opening: Opening::NONE,
        ..third.clone()
    };
    let before = Record {
        answers: [None; 2],
        drums: [None; 2],
        cures: [None; 2],
        is_too_cold: false,
        is_lost: false,
        ..second.clone()
    };
    assert_eq!(Record::decode(VERSION_1), Ok(before), "answers begin anew");
    assert_eq!(Record::decode(VERSION_2), Ok(second));
    let told = "a dose by hand counts against each body";
    assert_eq!(Record::decode(VERSION_3), Ok(third), "{told}");
    assert_eq!(Record::decode(VERSION_4), Ok(record()));
    let same = bytes(&record()) == VERSION_4;
    assert!(same, "the format has changed: raise the version");
    for new in [Record::NEW, Record::LOST] {
        assert_eq!(Record::decode(&bytes(&new)), Ok(new));
    }
}

#[test]
fn a_damaged_record_is_refused_and_a_short_buffer_told() {
    refused_if_damaged(
        VERSION_4,
        Record::decode,
        |out| record().encode(out),
        (KeptError::NotWhole, KeptError::Space),
    );
    let with = |at, byte| Record::decode(&sealed::with(VERSION_4, at, byte));
    assert_eq!(with(0, b'X'), Err(KeptError::NotWhole));
    assert_eq!(with(4, 5), Err(KeptError::Version(5)));
    assert_eq!(with(4, 0), Err(KeptError::Version(0)));
    assert_eq!(with(6, 3), Err(KeptError::Shape));
    assert_eq!(with(7, 1), Err(KeptError::Shape));
    for version in [VERSION_1, VERSION_2, VERSION_3, VERSION_4] {
        let longer = Record::decode(&sealed::longer(version));
        assert_eq!(longer, Err(KeptError::Meaning));
    }
}

/// Other bytes in place of these, sealed anew.
fn exchanged(old: &[u8], new: &[u8]) -> Result<Record, KeptError> {
    let mut places = VERSION_4.windows(old.len()).enumerate();
    let mut found = places.by_ref().filter(|(_, bytes)| *bytes == old);
    let at = found.next().expect("it is in the record").0;
    let mut other = VERSION_4.to_vec();
    other[at..at + new.len()].copy_from_slice(new);
    Record::decode(&sealed(other))
}

#[test]
fn a_bad_figure_in_a_whole_record_is_named() {
    let says = |old: &[u8], new: &[u8]| exchanged(old, new).unwrap_err().to_string();
    // In the format of the record: 7 bits a byte, the lowest first; signed ones zigzag.
    let ppm = [0xD0, 0xDB, 0x3A]; // 962,000
    let slope = says(&ppm, &[0xD0, 0xDB, 0x6A]);
    assert!(
        slope.starts_with("kept calibration: the slope is 174 %"),
        "{slope}"
    );
    let trim = says(&[0xDB, 0x01], &[0xDB, 0x03]); // -110 becomes -238
    assert!(
        trim.starts_with("kept trim: the trim would be -238"),
        "{trim}"
    );
    let salt = says(&[0xE0, 0x9A, 0xBD, 0x01], &[0xE0, 0x9A, 0xBD, 0x31]); // 3100 mg/L
    assert!(salt.starts_with("kept test of the water: 10"), "{salt}");
}

#[test]
fn a_bad_figure_is_neither_written_nor_read() {
    for (change, name) in [
        (
            (|one| one.upkeep.check.as_mut().unwrap().error.0 = 101) as fn(&mut Record),
            "kept check.error is 101; right is -100 to 100",
        ),
        (
            |one| one.upkeep.anchor.as_mut().unwrap().orp.0 = 499,
            "kept anchor.orp is 499; right is 500 to 1200",
        ),
        (
            |one| one.upkeep.anchor.as_mut().unwrap().test.ph.0 = 7801,
            "kept anchor.ph is 7801; right is 7200 to 7800",
        ),
        (
            |one| one.upkeep.anchor.as_mut().unwrap().test.chlorine.0 = 50_001,
            "kept anchor.chlorine is 50001; right is 0 to 50000",
        ),
        (
            |one| one.upkeep.anchor.as_mut().unwrap().test.cyanurate.0 = 300_001,
            "kept anchor.cyanurate is 300001; right is 0 to 300000",
        ),
        (
            |one| one.upkeep.anchor.as_mut().unwrap().test.temperature.0 = 5001,
            "kept anchor.temperature is 5001; right is -100 to 5000",
        ),
        (
            |one| one.restraints.paused.0 = 86_400_001,
            "kept paused is 86400001; right is 0 to 86400000",
        ),
        (
            |one| one.restraints.by_hand[1].counts_for.0 = 86_400_001,
            "kept by_hand.counts_for is 86400001; right is 0 to 86400000",
        ),
        (
            |one| one.restraints.by_hand[0].spreads_for.0 = 86_400_001,
            "kept by_hand.spreads_for is 86400001; right is 0 to 86400000",
        ),
        (
            |one| one.answers[1] = Some(answers(20_001)),
            "kept answers is 0; right is 1 to 1",
        ),
        (
            |one| {
                let points = json!({"points": [null, {"at_h": 0, "slope_ppm": 900_000, "zero_uv": 0}, null, null]});
                one.upkeep.trend = from_value(points).unwrap();
            },
            "kept trend is 0; right is 1 to 1",
        ),
    ] {
        let mut broken = record();
        change(&mut broken);
        let error = broken.encode(&mut [0; 1024]).unwrap_err();
        assert_eq!(error.to_string(), name);
    }
    // And read: 715 mV is 1430 as zigzag, 96 0B; 96 07 is 459 mV.
    let error = exchanged(&[0x96, 0x0B], &[0x96, 0x07]).unwrap_err();
    assert_eq!(
        error.to_string(),
        "kept anchor.orp is 459; right is 500 to 1200"
    );
}

#[test]
fn the_largest_record_of_two_feeders_fits_into_a_slot() {
    let age = json!({"hours": u16::MAX, "part_ms": u32::MAX});
    let old: Age = from_value(age.clone()).unwrap();
    let mut full = record();
    let own = &mut full.upkeep;
    let calibration = own.calibration.as_mut().unwrap();
    calibration.age = old;
    own.trim.age = old;
    own.check.as_mut().unwrap().age = old;
    own.anchor.as_mut().unwrap().age = old;
    let point = json!({"at_h": i32::MAX, "slope_ppm": 1_050_000, "zero_uv": -30_000});
    own.trend = from_value(json!({"points": [point, point, point, point]})).unwrap();
    for value in TestedValue::ALL {
        own.tests.enter(value, value.most()).unwrap();
    }
    own.tests.pass_off(Some(u16::MAX));
    own.tests.pass(Millis(3_599_999));
    let hand = HandDoses {
        dose: Dose(u32::MAX),
        body: Some(Body(u8::MAX)),
        counts_for: Millis(86_400_000),
        spreads_for: Millis(86_400_000),
    };
    full.restraints.by_hand = [hand; 2];
    full.restraints.paused = Millis(86_400_000);
    full.restraints.evidence.sound = old;
    full.restraints.evidence.would_feed = u16::MAX;
    full.answers = [Some(answers(-20_000)); 2];
    full.drums = [Some(drum(u32::MAX)); 2];
    let cure = json!({"found": {"age": age, "left": u32::MAX}, "settings": u32::MAX});
    full.cures = [Some(from_value(cure).unwrap()); 2];
    full.handover.number = u16::MAX;
    let stock = json!({"known": u32::MAX, "booked": u32::MAX});
    full.stocks = [from_value(stock).unwrap(); 2];
    let proof = json!({"hours": u16::MAX, "took_ms": u16::MAX});
    let (five, three) = (vec![&proof; 5], vec![&proof; 3]);
    let proofs = json!({"site": five, "feeders": [three, three], "part_ms": u32::MAX});
    full.proofs = from_value(proofs).unwrap();
    let length = bytes(&full).len();
    assert!(length <= 512 - 20, "{length} bytes");
    let mut store = KeptStore::new(Chip::new(4), [0..2048, 2048..4096]).unwrap();
    store.save(&full, &mut [0; 512]).unwrap();
    assert_eq!(store.load().record, Ok(full));
}

fn load(flash: &mut Chip) -> LoadedKept<2> {
    KeptStore::new(flash, [0..2048, 2048..4096]).unwrap().load()
}

fn save(flash: &mut Chip, record: &Record) -> Result<(), KeepError> {
    KeptStore::new(flash, [0..2048, 2048..4096])
        .unwrap()
        .save(record, &mut [0; 512])
}

fn numbered(number: u32) -> Record {
    let mut record = record();
    record.restraints.paused = Millis(number + 1);
    record
}

#[test]
fn a_cut_at_any_byte_leaves_the_record_before_or_this_one() {
    let mut flash = Chip::new(4);
    assert_eq!(load(&mut flash).record, Err(KeptError::Empty));
    save(&mut flash, &numbered(0)).unwrap();
    let mut cuts = 0;
    for number in 1..4 {
        let (this, before) = (numbered(number), numbered(number - 1));
        flash.each_cut(
            |cut| save(cut, &this),
            |mut cut| {
                let found = load(&mut cut).record.unwrap();
                assert!(found == this || found == before, "neither of both");
                cuts += 1;
            },
        );
        save(&mut flash, &numbered(number)).unwrap();
        let loaded = load(&mut flash);
        assert_eq!(loaded.record, Ok(numbered(number)));
        assert_eq!(loaded.found, [Found::Whole; 2]);
    }
    assert!(cuts > 1500, "{cuts} cuts");
}

#[test]
fn a_lost_record_only_observes_and_an_older_one_never_stands_in_for_it() {
    let mut flash = Chip::new(4);
    save(&mut flash, &Record::NEW).unwrap();
    save(&mut flash, &record()).unwrap();
    let newest = bytes(&record());
    let slots: Vec<usize> = (0..4096)
        .step_by(512)
        .filter(|at| flash.bytes[at + 20..].starts_with(&newest))
        .collect();
    assert_eq!(slots.len(), 2);
    flash.bytes[slots[0] + 60] ^= 1;
    assert_eq!(load(&mut flash).record, Ok(record()));
    flash.bytes[slots[1] + 90] ^= 1;
    let lost = load(&mut flash).record;
    assert_eq!(lost, Err(KeptError::NotWhole), "the older one had no pause");
    for is_new in [true, false] {
        assert_eq!(Record::to_start(lost.clone(), is_new), Record::LOST);
    }
    let empty = || Err(KeptError::Empty);
    assert_eq!(Record::to_start(empty(), true), Record::NEW);
    assert_eq!(Record::to_start(empty(), false), Record::LOST);
    assert_eq!(Record::to_start(Ok(record()), false), record());
    let lost = Record::LOST;
    assert!(lost.restraints.evidence.is_observing);
    assert!(!lost.restraints.is_laid_up, "takes alarms away");
    assert!(lost.is_lost && !Record::NEW.is_lost);
}

/// As after an hour in which nobody did anything.
fn aged(mut record: Record) -> Record {
    let hour = Millis::from_hours(1);
    record.upkeep.calibration.as_mut().unwrap().age.pass(hour);
    record.upkeep.trim.age.pass(hour);
    record.upkeep.check.as_mut().unwrap().age.pass(hour);
    record.upkeep.anchor.as_mut().unwrap().age.pass(hour);
    record.upkeep.tests.pass(hour);
    record.proofs.pass(hour);
    record.restraints.paused.0 -= hour.0;
    record.restraints.by_hand[0].counts_for.0 -= hour.0;
    record.restraints.by_hand[0].spreads_for.0 -= 600_000;
    record.restraints.evidence.sound.pass(hour);
    record.restraints.evidence.would_feed += 1;
    record.cures[0].as_mut().unwrap().found.age.pass(hour);
    record
}

#[test]
fn time_alone_is_written_once_an_hour_and_all_else_at_once() {
    let (then, now) = (record(), aged(record()));
    let minutes = |minutes| Millis::from_mins(minutes);
    assert!(!now.is_due(&then, minutes(59)));
    assert!(now.is_due(&then, minutes(60)));
    assert!(!then.is_due(&then, minutes(6000)), "nothing has changed");
    let over = |mut one: Record| {
        one.restraints.paused = Millis(0);
        one.restraints.by_hand = [HandDoses::NONE; 2];
        one
    };
    let (long_over, still) = (over(then.clone()), over(now.clone()));
    assert!(!still.is_due(&long_over, minutes(59)), "no pause, no dose");
    let anew: [fn(&mut Record); 31] = [
        |one| one.upkeep.calibration.as_mut().unwrap().age = Age::NEW,
        |one| one.upkeep.calibration = Some(line(-3401, 962_000, 302)),
        |one| one.upkeep.trim.age = Age::NEW,
        |one| one.upkeep.trim = Trim::NONE,
        |one| one.upkeep.trend = Trend::NEW,
        |one| one.upkeep.check.as_mut().unwrap().age = Age::NEW,
        |one| one.upkeep.anchor.as_mut().unwrap().age = Age::NEW,
        |one| {
            let found = MicrogramsPerL::from_mg_l(83);
            one.upkeep
                .tests
                .enter(TestedValue::Alkalinity, found)
                .unwrap();
        },
        |one| one.upkeep.out = None,
        |one| one.restraints.paused = Millis(0),
        |one| one.restraints.paused = Millis(3_700_002),
        |one| one.restraints.is_laid_up = false,
        |one| one.restraints.by_hand[0].dose.0 += 1,
        |one| one.restraints.by_hand[0].body = None,
        |one| one.restraints.by_hand[0].counts_for = Millis(86_400_000),
        |one| one.restraints.evidence = Evidence::OBSERVING,
        |one| one.restraints.evidence.sound = Age::NEW,
        |one| one.restraints.evidence.kit_agreed = false,
        |one| one.proofs = tested_anew(),
        |one| one.stocks[1] = from_value(json!({"known": null, "booked": 78})).unwrap(),
        |one| one.answers[0] = Some(answers(-1901)),
        |one| one.answers[0].as_mut().unwrap().settings += 1,
        |one| one.drums[1] = None,
        |one| one.cures[0].as_mut().unwrap().found.age = Age::NEW,
        |one| one.cures[0].as_mut().unwrap().found.left.0 -= 1,
        |one| one.is_too_cold = false,
        |one| one.is_lost = true,
        |one| one.handover.number += 1,
        |one| one.handover.is_given_away = false,
        |one| one.opening.owed.slope = false,
        |one| one.opening = Opening::NONE,
    ];
    for (number, change) in anew.into_iter().enumerate() {
        let mut changed = now.clone();
        change(&mut changed);
        assert!(changed.is_due(&then, Millis(0)), "change {number}");
    }
}

/// The flow switch tested anew, in the same time.
fn tested_anew() -> Proofs<2> {
    let mut figures = serde_json::to_value(record().proofs).unwrap();
    figures["site"][0]["hours"] = json!(0);
    from_value(figures).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn any_bytes_are_a_record_that_holds_or_an_error(
        noise in prop::collection::vec(any::<u8>(), 0..300),
        flips in prop::collection::vec((8..VERSION_4.len() - 4, any::<u8>()), 0..4),
    ) {
        prop_assert!(Record::decode(&noise).is_err());
        let mut near = VERSION_4.to_vec();
        for (at, byte) in flips {
            near[at] = byte;
        }
        if let Ok(record) = Record::decode(&sealed(near)) {
            prop_assert_eq!(Record::decode(&bytes(&record)), Ok(record));
        }
    }
}
