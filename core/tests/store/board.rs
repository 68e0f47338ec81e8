//! The image of a board: its bytes stand, a faulty one is refused whole, and what a new board takes
//! up is never looser than what either board held.

use dosewarden::guard::units::{ClockSeconds, Dose, Millis};
use dosewarden::guard::{Authority, Ledger, Limits, LockoutSet, Product, Record, Stage, State};
use dosewarden::store::{
    BoardError, BoardImage, Ceilings, Holding, ImageError, KeptError, KeptRecord,
};
use dosewarden_guard::RecordError;
use proptest::prelude::*;

use crate::image_site::{LIMITS, before_the_fall, checked_image};
use crate::kept_record::record;
use crate::sealed::{self, refused_if_damaged, sealed};

/// Written by the release in which the version was new. Never written again.
const VERSION_1: &[u8] = include_bytes!("images/board-v1.bin");
/// With settings of version 4 in it, which the first has of version 3.
const VERSION_1_FALLING: &[u8] = include_bytes!("images/board-v1-settings-v4.bin");
/// With a kept record of version 4 in it, which those have of version 3.
const VERSION_1_BODIES: &[u8] = include_bytes!("images/board-v1-kept-v4.bin");

type Image = BoardImage<2, 1, 7, 25>;
type Guards = Record<2, 1, 7, 25>;

const NOON: u32 = 1_700_000_000;
const DAY: u32 = 86_400;

fn guards() -> Guards {
    let mut state = State::POWER_ON;
    state.ledger.add(0, 0, Dose::from_ml(123));
    state.ledger.age(Millis::from_hours(2));
    state.ledger.add(1, 0, Dose::from_ml(456));
    state.stage = Stage::Full;
    state.feeder_lockouts = [0x0200, 0x0080].map(|bits| LockoutSet::from_bits(bits).unwrap());
    state.site_lockouts = LockoutSet::from_bits(0x0004).unwrap();
    state.fallback_left = Millis::from_hours(3);
    state.off_bank = Millis::from_hours(1);
    Guards {
        sequence: 4711,
        stamp: Some(ClockSeconds(NOON)),
        limits_crc: 0x0BAD_CAFE,
        products: Some([Some(Product::Acid), Some(Product::Hypochlorite)]),
        state,
    }
}

fn image() -> Image {
    Image {
        settings: checked_image(),
        kept: record(),
        record: guards(),
    }
}

fn bytes(image: &Image) -> Vec<u8> {
    let mut bytes = vec![0; 2048];
    let length = image.encode(&mut bytes).unwrap();
    bytes.truncate(length);
    bytes
}

#[test]
fn the_committed_image_is_read_and_this_version_writes_the_same_bytes() {
    let mut kept = record();
    kept.restraints.by_hand[0].body = None;
    let read = Image::decode(VERSION_1).unwrap();
    let settings = before_the_fall(checked_image());
    assert_eq!((read.settings, &read.kept), (settings, &kept));
    let read = Image::decode(VERSION_1_FALLING).unwrap();
    assert_eq!((read.settings, read.kept), (checked_image(), kept));
    let read = Image::decode(VERSION_1_BODIES).unwrap();
    assert_eq!((read.settings, read.kept), (checked_image(), record()));
    let (ledger, own) = (read.record.state.ledger, guards().state.ledger);
    assert_eq!(ledger, own);
    assert_eq!(
        read.record.state.feeder_lockouts,
        guards().state.feeder_lockouts
    );
    let same = bytes(&image()) == VERSION_1_BODIES;
    assert!(same, "the format has changed: raise the version");
}

#[test]
fn every_flipped_bit_and_every_cut_is_refused() {
    refused_if_damaged(
        VERSION_1_BODIES,
        Image::decode,
        |out| {
            image().encode(out).map_err(|error| match error {
                // Which part found it too short says nothing more.
                BoardError::Settings(ImageError::Space) | BoardError::Kept(KeptError::Space) => {
                    BoardError::Space
                }
                other => other,
            })
        },
        (BoardError::NotWhole, BoardError::Space),
    );
}

#[test]
fn a_whole_image_with_a_part_out_of_place_is_refused_by_name() {
    let with = |at, byte| Image::decode(&sealed::with(VERSION_1_BODIES, at, byte)).map(drop);
    assert_eq!(with(0, b'X'), Err(BoardError::NotWhole));
    assert_eq!(with(4, 2), Err(BoardError::Version(2)));
    assert_eq!(with(6, 1), Err(BoardError::Shape));
    assert_eq!(with(7, 2), Err(BoardError::Shape));
    assert_eq!(with(9, 0xFF), Err(BoardError::Meaning));
    assert_eq!(with(11, 0xFF), Err(BoardError::Meaning));
    let [settings, kept] = [VERSION_1_BODIES[8], VERSION_1_BODIES[10]];
    assert_eq!(with(8, settings - 1), Err(BoardError::Meaning));
    let one_to_kept = sealed::with(
        &sealed::with(VERSION_1_BODIES, 8, settings - 1),
        10,
        kept + 1,
    );
    let not_whole = BoardError::Settings(ImageError::NotWhole);
    assert_eq!(Image::decode(&one_to_kept).map(drop), Err(not_whole));
    let not_whole = BoardError::Kept(KeptError::NotWhole);
    assert_eq!(with(10, kept + 1), Err(not_whole));
    let longer = Image::decode(&sealed::longer(VERSION_1_BODIES)).map(drop);
    assert_eq!(longer, Err(BoardError::Meaning));
    let last = with(VERSION_1_BODIES.len() - 6, 0xAA);
    assert_eq!(last, Err(BoardError::Record(RecordError::NotWhole)));
}

fn kept(bits: u8, number: u16) -> KeptRecord<2> {
    let mut kept = KeptRecord::NEW;
    kept.restraints.is_laid_up = bits & 1 != 0;
    kept.restraints.evidence.is_observing = bits & 2 != 0;
    kept.restraints.paused = Millis(u32::from(bits) * 100_000);
    kept.handover.number = number;
    kept
}

/// The lockouts that bits below name; those that there are.
fn lockouts(bits: u16) -> LockoutSet {
    LockoutSet::from_bits(bits & 0x07FF).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn any_bytes_are_an_image_that_holds_or_an_error(
        noise in prop::collection::vec(any::<u8>(), 0..300),
        flips in prop::collection::vec((0..VERSION_1_BODIES.len() - 4, any::<u8>()), 0..4),
    ) {
        prop_assert!(Image::decode(&noise).is_err());
        let mut near = VERSION_1_BODIES.to_vec();
        for (at, byte) in flips {
            near[at] = byte;
        }
        if let Ok(image) = Image::decode(&sealed(near)) {
            prop_assert_eq!(Image::decode(&bytes(&image)), Ok(image));
        }
    }

    #[test]
    fn what_is_taken_up_is_never_looser_than_what_either_board_held(
        sets in any::<[u16; 4]>(),
        (full, has_own, bits) in any::<(bool, bool, [u8; 2])>(),
        (fed, own_fed, sequences) in any::<(u32, u32, [u32; 2])>(),
        numbers in any::<[u8; 2]>(),
        off in -1000_i64..200_000,
        clock in any::<bool>(),
    ) {
        let mut brought = image();
        brought.kept = kept(bits[0], u16::from(numbers[0]));
        brought.kept.handover.is_given_away = true;
        brought.record.sequence = sequences[0];
        let state = &mut brought.record.state;
        state.ledger = Ledger::EMPTY;
        state.ledger.add(0, 0, Dose(fed));
        state.stage = if full { Stage::Full } else { Stage::Reduced };
        (state.site_lockouts, state.feeder_lockouts[1]) = (lockouts(sets[0]), lockouts(sets[1]));
        let mut own = guards();
        own.sequence = sequences[1];
        own.state.ledger.add(0, 0, Dose(own_fed));
        let state = &mut own.state;
        (state.site_lockouts, state.feeder_lockouts[1]) = (lockouts(sets[2]), lockouts(sets[3]));
        let own_kept = kept(bits[1], u16::from(numbers[1]));
        let holds = Holding {
            record: Ok(has_own.then_some(&own)),
            kept: has_own.then_some(&own_kept),
        };
        let limits = Limits::try_new(LIMITS).unwrap();
        let now = clock.then(|| ClockSeconds((i64::from(NOON) + off) as u32));
        let told = brought.clone().take_up(Authority::Technician, &Ceilings::of(&limits), now, holds);
        let arrival = told.unwrap();
        let state = &arrival.record.state;
        let either = |own: LockoutSet, of: LockoutSet| if has_own { own.union(of) } else { of };
        let site = either(own.state.site_lockouts, brought.record.state.site_lockouts);
        let feeder = either(own.state.feeder_lockouts[1], brought.record.state.feeder_lockouts[1]);
        prop_assert_eq!((state.site_lockouts, state.feeder_lockouts[1]), (site, feeder));
        prop_assert_eq!((state.stage, state.fallback_left), (Stage::Reduced, Millis(0)));
        prop_assert_eq!((state.off_bank, arrival.record.stamp), (Millis(0), None));
        let day = limits.caps(0, 0, Stage::Full).day.0;
        let total = state.ledger.totals(0, 0).1.0;
        let newer = !has_own || numbers[0] > numbers[1];
        let survives = clock && (0..=i64::from(DAY)).contains(&off) && newer && numbers[0] > 0;
        prop_assert_eq!(arrival.day_used.is_none(), survives);
        prop_assert_eq!(total, if survives { fed } else { fed.saturating_add(day) });
        let own_number = if has_own { u16::from(numbers[1]) } else { 0 };
        prop_assert!(arrival.kept.handover.number >= own_number);
        let restraints = &arrival.kept.restraints;
        let bits = if has_own { bits[0] | bits[1] } else { bits[0] };
        prop_assert_eq!(restraints.is_laid_up, bits & 1 != 0);
        prop_assert_eq!(restraints.evidence.is_observing, bits & 2 != 0);
        prop_assert!(arrival.between().handover.is_given_away);
    }
}
