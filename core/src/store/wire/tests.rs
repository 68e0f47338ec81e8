//! The same bytes as the crate whose format it is, both ways.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::fmt::Debug;
use std::vec;
use std::vec::Vec;

use super::*;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Unit;

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Wrapped(i32);

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Pair(u16, i16);

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
enum Choice {
    Nothing,
    One(Wrapped),
    Two(u8, i8),
    Named { yes: bool, often: Option<u32> },
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct All {
    unit: Unit,
    pair: Pair,
    wide: (u64, i64),
    choices: [Choice; 4],
    none: (),
}

fn written<T: Serialize + ?Sized>(value: &T, room: usize) -> Result<Vec<u8>, Misfit> {
    let mut bytes = vec![0xEE; room];
    let mut writer = Writer::new(&mut bytes);
    value.serialize(&mut writer)?;
    let left = writer.into_left().len();
    bytes.truncate(room - left);
    Ok(bytes)
}

fn read<T: DeserializeOwned>(bytes: &[u8]) -> Option<(T, usize)> {
    let mut reader = Reader::without(bytes, 0);
    let value = T::deserialize(&mut reader).ok()?;
    Some((value, reader.left().len()))
}

/// Written as the crate writes it and not into less room; and read back, with what follows left over.
fn same<T: Serialize + DeserializeOwned + Debug + PartialEq>(value: &T) {
    let theirs = postcard::to_slice(value, &mut [0; 256]).unwrap().to_vec();
    assert_eq!(written(value, 256).as_deref(), Ok(&theirs[..]), "{value:?}");
    for room in 0..theirs.len() {
        assert_eq!(written(value, room), Err(Misfit), "{value:?} in {room}");
        assert!(read::<T>(&theirs[..room]).is_none(), "{value:?} of {room}");
    }
    let more = [&theirs[..], &[7, 7]].concat();
    let (back, left) = read::<T>(&more).expect("it is whole");
    assert_eq!((&back, left), (value, 2));
}

/// Read as the crate reads them, or refused where it refuses.
fn same_reading<T: DeserializeOwned + Debug + PartialEq>(bytes: &[u8]) {
    let theirs = postcard::take_from_bytes::<T>(bytes).ok();
    let theirs = theirs.map(|(value, left)| (value, left.len()));
    assert_eq!(read::<T>(bytes), theirs, "{bytes:?}");
}

/// Around each power of two, of both signs.
fn edges() -> Vec<i128> {
    let powers = (0..64).map(|bits| 1_i128 << bits);
    let near = powers.flat_map(|one| [one - 1, one, one + 1, 2 * one - 1]);
    near.flat_map(|one| [one, -one]).collect()
}

#[test]
fn numbers_are_those_of_the_crate() {
    for value in edges() {
        macro_rules! as_each {
            ($($type:ty),*) => {
                $(if let Ok(value) = <$type>::try_from(value) { same(&value); })*
            };
        }
        as_each!(u8, u16, u32, u64, i8, i16, i32, i64);
    }
}

#[test]
fn structs_and_choices_are_those_of_the_crate() {
    let all = All {
        unit: Unit,
        pair: Pair(65_535, -32_768),
        wide: (u64::MAX, i64::MIN),
        choices: [
            Choice::Nothing,
            Choice::One(Wrapped(-300)),
            Choice::Two(200, -100),
            Choice::Named {
                yes: true,
                often: Some(70_000),
            },
        ],
        none: (),
    };
    same(&all);
    same(&[true, false]);
    same(&Choice::Named {
        yes: false,
        often: None,
    });
}

#[test]
fn any_few_bytes_are_read_as_the_crate_reads_them() {
    let tails = [0x00, 0x01, 0x02, 0x03, 0x04, 0x0F, 0x10, 0x7F, 0x80, 0xFF];
    for first in 0..=u8::MAX {
        for (second, third) in tails.iter().flat_map(|a| tails.map(|b| (*a, b))) {
            for last in tails {
                let bytes = [first, second, third, 0x80, last, 0x01];
                same_reading::<u16>(&bytes);
                same_reading::<i16>(&bytes);
                same_reading::<u32>(&bytes);
                same_reading::<i32>(&bytes);
                same_reading::<(bool, u8)>(&bytes);
                same_reading::<Option<u16>>(&bytes);
                same_reading::<Choice>(&bytes);
            }
        }
    }
    for last in 0..=u8::MAX {
        let mut bytes = [0x80; 10];
        bytes[9] = last;
        same_reading::<u64>(&bytes);
        same_reading::<i64>(&bytes);
    }
}

#[test]
fn what_no_image_holds_is_refused() {
    assert_eq!(written(&1.0_f32, 9), Err(Misfit));
    assert_eq!(written(&'a', 9), Err(Misfit));
    assert_eq!(written("text", 9), Err(Misfit));
    assert_eq!(written(&[1_u8][..], 9), Err(Misfit), "of no fixed length");
    assert!(read::<f64>(&[0; 9]).is_none() && read::<char>(&[1, 65]).is_none());
}

#[test]
fn addresses_are_bytes_and_not_text_as_in_every_format_that_nobody_reads() {
    let address = std::net::Ipv4Addr::new(192, 0, 2, 1); // of RFC 5737's range for examples
    let bytes = written(&address, 9).unwrap();
    assert_eq!(bytes, [192, 0, 2, 1]);
    let mut reader = Reader::without(&bytes, 0);
    assert_eq!(std::net::Ipv4Addr::deserialize(&mut reader), Ok(address));
    assert_eq!(std::format!("{Misfit}"), "does not fit");
}

/// How many values are left, before each of two.
#[derive(Debug, PartialEq)]
struct Left(Vec<Option<usize>>);

impl<'de> Deserialize<'de> for Left {
    fn deserialize<D: serde::Deserializer<'de>>(reader: D) -> Result<Self, D::Error> {
        struct Counts;
        impl<'de> serde::de::Visitor<'de> for Counts {
            type Value = Left;
            fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.write_str("two bytes")
            }
            fn visit_seq<A: serde::de::SeqAccess<'de>>(self, mut seq: A) -> Result<Left, A::Error> {
                let mut left = vec![seq.size_hint()];
                while seq.next_element::<u8>()?.is_some() {
                    left.push(seq.size_hint());
                }
                Ok(Left(left))
            }
        }
        reader.deserialize_tuple(2, Counts)
    }
}

#[test]
fn an_array_says_how_many_values_it_has_left() {
    let left = Left::deserialize(&mut Reader::without(&[7, 8], 0));
    assert_eq!(left, Ok(Left(vec![Some(2), Some(1), Some(0)])));
}
