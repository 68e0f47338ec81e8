//! Records: what is written is what is read; a bit, a byte or a version off, and it is not whole.

use dosewarden_guard::{Product, Record, RecordError, Ticket};
use proptest::prelude::*;

use crate::engine::R;
use crate::grants::shot;
use crate::script::{Script, lives};
use crate::{check, dispatch};

fn record<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    sequence: u32,
) -> Option<(R<N, B>, Vec<u8>, Ticket)> {
    let (_, shot) = shot::<N, B>(script, pick);
    let record = R::<N, B> {
        sequence,
        stamp: (!sequence.is_multiple_of(3))
            .then_some(dosewarden_guard::units::ClockSeconds(sequence)),
        limits_crc: sequence.rotate_left(7),
        products: Some(core::array::from_fn(|feeder| {
            let all = [
                Product::Acid,
                Product::Base,
                Product::Hypochlorite,
                Product::GeneratedChlorine,
            ];
            all.get((pick.wrapping_add(feeder)) % 5).copied()
        })),
        state: shot?.state,
    };
    let mut bytes = vec![0; R::<N, B>::LEN];
    let ticket = record.encode(&mut bytes).unwrap();
    Some((record, bytes, ticket))
}

fn round<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    sequence: u32,
) -> Result<(), String> {
    let Some((record, bytes, ticket)) = record::<N, B>(script, pick, sequence) else {
        return Ok(());
    };
    if Ticket::of(&bytes) != Some(ticket) || ticket.sequence != sequence {
        return Err("the ticket is another one".into());
    }
    let back = R::<N, B>::decode(&bytes).map_err(|error| format!("{error:?}"))?;
    let mut again = vec![0; R::<N, B>::LEN];
    back.encode(&mut again).unwrap();
    if again != bytes {
        return Err("read and written again, it is another one".into());
    }
    let (old, new) = (&record.state, &back.state);
    let same = back.stamp == record.stamp
        && back.limits_crc == record.limits_crc
        && back.products == record.products
        && new.ledger == old.ledger
        && new.trust == old.trust
        && new.site_lockouts == old.site_lockouts
        && new.feeder_lockouts == old.feeder_lockouts
        && new.ran_against == old.ran_against
        && new.stage == old.stage
        && new.since_cycle == old.since_cycle
        && new.since_drive == old.since_drive
        && new.line == old.line
        && new.response == old.response
        && new.fallback_left == old.fallback_left
        && new.new_probe == old.new_probe
        && new.off_bank == old.off_bank
        && new.selected == old.selected
        && (0..N).all(|feeder| new.feeders[feeder].charged() == old.feeders[feeder].charged());
    if same {
        Ok(())
    } else {
        Err("something is lost".into())
    }
}

fn damaged<const N: usize, const B: usize>(
    script: &Script,
    pick: usize,
    (bit, length): (usize, usize),
) -> Result<(), String> {
    let Some((_, bytes, _)) = record::<N, B>(script, pick, 7) else {
        return Ok(());
    };
    let mut flipped = bytes.clone();
    let bit = bit % (bytes.len() * 8);
    flipped[bit / 8] ^= 1 << (bit % 8);
    if R::<N, B>::decode(&flipped).is_ok() || Ticket::of(&flipped).is_some() {
        return Err(format!("bit {bit} flipped, and it is whole"));
    }
    let short = &bytes[..length % bytes.len()];
    if R::<N, B>::decode(short).is_ok() || Ticket::of(short).is_some() {
        return Err(format!("{} bytes of it are whole", short.len()));
    }
    let mut space = vec![0; length % bytes.len()];
    let needed = R::<N, B>::LEN;
    let encoded = record::<N, B>(script, pick, 7)
        .unwrap()
        .0
        .encode(&mut space);
    if encoded != Err(RecordError::Space { needed }) {
        return Err("written where it does not fit".into());
    }
    if Record::<N, B, 8, 25>::decode(&bytes).is_ok()
        || Record::<N, B, 7, 24>::decode(&bytes).is_ok()
    {
        return Err("read with other buckets".into());
    }
    Ok(())
}

#[test]
fn a_record_comes_back_as_it_was() {
    check(
        (lives(), any::<usize>(), any::<u32>()),
        |(script, pick, sequence)| dispatch!(script, round(&script, pick, sequence)),
    );
}

#[test]
fn a_damaged_record_is_not_whole() {
    let damage = (any::<usize>(), any::<usize>());
    check(
        (lives(), any::<usize>(), damage),
        |(script, pick, damage)| dispatch!(script, damaged(&script, pick, damage)),
    );
}

/// The same bytes with another version, and a CRC that fits.
#[test]
fn another_version_or_shape_is_named() {
    let (mut guard, _) =
        crate::engine::G::<2, 1>::restore(crate::site::a_plan().limits(), None, None);
    let mut bytes = vec![0; R::<2, 1>::LEN];
    guard.seal_record(&mut bytes).unwrap();
    let crc = |bytes: &mut Vec<u8>| {
        let body = bytes.len() - 4;
        let digest = dosewarden_guard::Crc32::of(&bytes[..body]);
        bytes[body..].copy_from_slice(&digest.to_le_bytes());
    };
    let mut other = bytes.clone();
    other[4] = 9;
    crc(&mut other);
    assert_eq!(R::<2, 1>::decode(&other), Err(RecordError::Version(9)));
    let mut other = bytes.clone();
    other[6] = 3;
    crc(&mut other);
    assert_eq!(R::<2, 1>::decode(&other), Err(RecordError::Shape));
    let mut other = bytes.clone();
    other[0] = b'X';
    crc(&mut other);
    assert_eq!(R::<2, 1>::decode(&other), Err(RecordError::NotWhole));
    assert_eq!(R::<3, 1>::decode(&bytes).err(), Some(RecordError::Shape));
}
