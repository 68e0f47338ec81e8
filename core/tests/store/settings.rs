//! The settings image: its bytes stand, a faulty one is refused whole, and a cut leaves one.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Fitted, LimitsError};
use dosewarden::probe::CentiCelsius;
use dosewarden::proof::ProofSettings;
use dosewarden::regulate::Direction;
use dosewarden::stages::StageSettings;
use dosewarden::store::{
    Found, ImageError, LoadedSettings, RegulatorSpec, SaveError, SettingsImage, SettingsStore,
};
use proptest::prelude::*;

use crate::flash::Flash;
use crate::image_site::{
    LEVEL_ERRORS, LIMITS, REGULATORS, RESPONSE, SETTINGS, before_the_fall, checked_image, image,
};
use crate::sealed::{self, refused_if_damaged, sealed};

/// Written by the release in which the version was new. Never written again.
const VERSION_1: &[u8] = include_bytes!("images/settings-v1.bin");
const VERSION_2: &[u8] = include_bytes!("images/settings-v2.bin");
const VERSION_3: &[u8] = include_bytes!("images/settings-v3.bin");
const VERSION_4: &[u8] = include_bytes!("images/settings-v4.bin");

type Image = SettingsImage<2, 1>;
type Chip = Flash<4, 1024>;

const NEVER: [RegulatorSpec; 2] = [RegulatorSpec::Never; 2];

fn bytes(image: &Image) -> Vec<u8> {
    let mut bytes = vec![0; 1024];
    let length = image.encode(&mut bytes).unwrap();
    bytes.truncate(length);
    bytes
}

#[test]
fn the_committed_images_are_read_and_this_version_writes_the_same_bytes() {
    let (old, version) = Image::decode(VERSION_1).unwrap();
    assert_eq!(
        (old, version),
        (before_the_fall(image(NEVER)), 1),
        "feeders never ask"
    );
    let (old, version) = Image::decode(VERSION_2).unwrap();
    assert_eq!(
        (&old, version),
        (&before_the_fall(image(REGULATORS)), 2),
        "no checks"
    );
    assert_eq!(old.settings.spec(), &SETTINGS);
    let (old, version) = Image::decode(VERSION_3).unwrap();
    assert_eq!((old, version), (before_the_fall(checked_image()), 3));
    let (new, version) = Image::decode(VERSION_4).unwrap();
    assert_eq!((&new, version), (&checked_image(), 4));
    assert_eq!(new.limits.spec(), &LIMITS);
    assert_eq!(new.settings.spec().level_errors, LEVEL_ERRORS);
    assert_eq!(new.settings.spec().response, RESPONSE);
    assert_eq!(
        bytes(&new),
        VERSION_4,
        "the format has changed: raise the version"
    );
}

#[test]
fn a_damaged_image_is_refused_and_a_short_buffer_told() {
    refused_if_damaged(
        VERSION_4,
        Image::decode,
        |out| checked_image().encode(out),
        (ImageError::NotWhole, ImageError::Space),
    );
}

#[test]
fn what_is_whole_and_wrong_is_named() {
    let with = |at, byte| Image::decode(&sealed::with(VERSION_4, at, byte));
    assert_eq!(with(0, b'X'), Err(ImageError::NotWhole));
    assert_eq!(with(4, 5), Err(ImageError::Version(5)));
    assert_eq!(with(4, 0), Err(ImageError::Version(0)));
    assert_eq!(with(6, 3), Err(ImageError::Shape));
    assert_eq!(with(7, 2), Err(ImageError::Shape));
    let longer = Image::decode(&sealed::longer(VERSION_4));
    assert_eq!(longer, Err(ImageError::Meaning));
    // The first field is `tick_gap_max`, 2000 as D0 0F.
    assert_eq!(VERSION_4[8..10], [0xD0, 0x0F]);
    let Err(ImageError::Limits(error)) = with(9, 0x7F) else {
        panic!("a tick of 16 s is not refused");
    };
    assert!(matches!(
        error,
        LimitsError::SiteRange {
            field: "tick_gap_max",
            value: 16_336,
            ..
        }
    ));
    let text = ImageError::Limits(error).to_string();
    assert!(
        text.contains("tick_gap_max") && text.contains("16336"),
        "{text}"
    );
    // Every other byte, sealed anew: an error, or an image that holds all relations.
    for at in 8..VERSION_4.len() - 4 {
        for byte in [0, 1, 0x7F, 0x80, 0xFF] {
            if let Ok((image, _)) = with(at, byte) {
                assert!(Image::decode(&bytes(&image)).is_ok());
            }
        }
    }
}

#[test]
fn a_regulator_that_cannot_be_built_is_neither_written_nor_read() {
    let reversed = RegulatorSpec::Band {
        direction: Direction::Raises,
        start: 720,
        stop: 680,
        dose: Dose(1),
    };
    let broken = image([RegulatorSpec::Never, reversed]);
    let error = broken.encode(&mut [0; 1024]);
    assert!(matches!(
        error,
        Err(ImageError::Regulator { feeder: 1, .. })
    ));
    let mut store = SettingsStore::new(Chip::new(4), [0..2048, 2048..4096]).unwrap();
    let saved = store.save(&broken, &mut [0; 1024]);
    assert!(matches!(saved, Err(SaveError::Image(_))));
    assert_eq!(store.load::<2, 1>().image, Err(ImageError::Empty));
    // Behind the regulators stand 16 bytes: no care, no proof tests, the usual rules. `stop` is the
    // value before the dose of one byte.
    let good = image([
        RegulatorSpec::Never,
        RegulatorSpec::Band {
            direction: Direction::Raises,
            start: 680,
            stop: 720,
            dose: Dose(1),
        },
    ]);
    let mut other = bytes(&good);
    let start = other.len() - 4 - 16 - 1 - 4;
    other.copy_within(start + 2..start + 4, start);
    let read = Image::decode(&sealed(other));
    assert!(matches!(read, Err(ImageError::Regulator { feeder: 1, .. })));
}

#[test]
fn care_out_of_range_is_neither_written_nor_read_and_its_field_is_named() {
    const fn stages(observe_hours: u16, reduced_hours: u16) -> Fitted<StageSettings> {
        Fitted::Fitted(StageSettings {
            begins_observing: true,
            observe_hours,
            reduced_hours,
        })
    }
    let with = |change: fn(&mut Image)| {
        let mut broken = checked_image();
        change(&mut broken);
        let error = broken.encode(&mut [0; 1024]).unwrap_err();
        error.to_string()
    };
    for (change, text) in [
        (
            (|image| image.care.stages = stages(0, 1)) as fn(&mut Image),
            "care: observe_hours is 0; right is 1 to 1000",
        ),
        (
            |image| image.care.stages = stages(1000, 1001),
            "care: reduced_hours is 1001; right is 1 to 1000",
        ),
        (
            |image| image.care.cold_below = Fitted::Fitted(CentiCelsius(99)),
            "care: cold_below is 99; right is 100 to 2500",
        ),
        (
            |image| image.care.cold_below = Fitted::Fitted(CentiCelsius(2501)),
            "care: cold_below is 2501; right is 100 to 2500",
        ),
        (
            |image| {
                image.proof = Fitted::Fitted(ProofSettings {
                    every_days: 367,
                    emergency_stop: true,
                    master_contact: true,
                });
            },
            "proof tests: every_days is 367; right is 1 to 366",
        ),
        (
            |image| image.tests[2].every_days = 0,
            "tests of Salt: every_days is 0; right is 1 to 366",
        ),
    ] {
        assert_eq!(with(change), text);
    }
    // 310 hours are B6 02 in the image; 1 more in the high byte is 438, 8 more 1334.
    let at = VERSION_4
        .windows(3)
        .position(|three| three == [9, 0xB6, 0x02]);
    let mut other = VERSION_4.to_vec();
    other[at.unwrap() + 2] = 0x0A;
    let read = Image::decode(&sealed(other)).unwrap_err();
    assert_eq!(
        read.to_string(),
        "care: reduced_hours is 1334; right is 1 to 1000"
    );
}

fn load(flash: &mut Chip) -> LoadedSettings<2, 1> {
    SettingsStore::new(flash, [0..2048, 2048..4096])
        .unwrap()
        .load()
}

fn save(flash: &mut Chip, image: &Image) -> Result<(), SaveError> {
    SettingsStore::new(flash, [0..2048, 2048..4096])
        .unwrap()
        .save(image, &mut [0; 1024])
}

/// Images that differ.
fn numbered(number: u32) -> Image {
    let mut limits = LIMITS;
    limits.save_max = Millis(5000 + number);
    let mut image = image(REGULATORS);
    image.limits = dosewarden::guard::Limits::try_new(limits).unwrap();
    image
}

#[test]
fn a_cut_at_any_byte_leaves_the_image_before_or_this_one() {
    let mut flash = Chip::new(4);
    assert_eq!(load(&mut flash).image, Err(ImageError::Empty));
    save(&mut flash, &numbered(0)).unwrap();
    let mut cuts = 0;
    for number in 1..6 {
        let (this, before) = (numbered(number), numbered(number - 1));
        flash.each_cut(
            |cut| save(cut, &this),
            |mut cut| {
                let found = load(&mut cut).image.unwrap();
                assert!(found == this || found == before, "neither of both");
                cuts += 1;
                if cuts % 50 == 0 {
                    save(&mut cut, &numbered(77)).unwrap();
                    assert_eq!(load(&mut cut).image, Ok(numbered(77)));
                }
            },
        );
        save(&mut flash, &numbered(number)).unwrap();
        let loaded = load(&mut flash);
        assert_eq!(loaded.image, Ok(numbered(number)));
        assert_eq!((loaded.version, loaded.found), (Some(4), [Found::Whole; 2]));
    }
    assert!(cuts > 5000, "{cuts} cuts");
}

#[test]
fn rot_in_one_copy_costs_nothing_and_in_both_never_gives_older_limits() {
    let mut flash = Chip::new(4);
    for number in 1..4 {
        save(&mut flash, &numbered(number)).unwrap();
    }
    let length = 20 + bytes(&numbered(3)).len();
    let wanted = bytes(&numbered(3));
    let slots: Vec<usize> = (0..4096)
        .step_by(1024)
        .filter(|at| flash.bytes[at + 20..].starts_with(&wanted))
        .collect();
    assert_eq!(slots.len(), 2);
    for at in 0..length {
        for slot in &slots {
            let mut rotten = flash.clone();
            rotten.bytes[slot + at] ^= 2;
            let loaded = load(&mut rotten);
            assert_eq!(loaded.image, Ok(numbered(3)));
            assert_ne!(loaded.found, [Found::Whole; 2], "not told");
        }
        let mut rotten = flash.clone();
        rotten.bytes[slots[0] + at] ^= 2;
        rotten.bytes[slots[1] + (at * 7) % length] ^= 16;
        assert_eq!(load(&mut rotten).image, Err(ImageError::NotWhole));
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn any_bytes_are_an_image_that_holds_or_an_error(
        noise in prop::collection::vec(any::<u8>(), 0..300),
        flips in prop::collection::vec((8..VERSION_4.len() - 4, any::<u8>()), 0..4),
    ) {
        prop_assert!(Image::decode(&noise).is_err());
        let mut near = VERSION_4.to_vec();
        for (at, byte) in flips {
            near[at] = byte;
        }
        if let Ok((image, _)) = Image::decode(&sealed(near)) {
            prop_assert_eq!(Image::decode(&bytes(&image)), Ok((image, 4)));
        }
    }
}
