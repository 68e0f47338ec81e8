//! Limits as data (feature `serde`). Deserialising goes through [`Limits::try_new`]: no way in
//! leads past the checks.

use core::fmt;
use core::marker::PhantomData;

use serde::de::{Error, SeqAccess, Visitor};
use serde::ser::SerializeTuple;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{Limits, LimitsSpec};

impl<const N: usize, const B: usize> Serialize for Limits<N, B> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.spec.serialize(serializer)
    }
}

impl<'de, const N: usize, const B: usize> Deserialize<'de> for Limits<N, B> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let spec = LimitsSpec::deserialize(deserializer)?;
        Self::try_new(spec).map_err(D::Error::custom)
    }
}

/// Arrays of any length: serde itself knows those of up to 32.
pub(super) mod array {
    use super::{
        Deserialize, Deserializer, Elements, PhantomData, Serialize, SerializeTuple, Serializer,
    };

    pub(in super::super) fn serialize<S, T, const L: usize>(
        array: &[T; L],
        serializer: S,
    ) -> Result<S::Ok, S::Error>
    where
        S: Serializer,
        T: Serialize,
    {
        let mut tuple = serializer.serialize_tuple(L)?;
        for element in array {
            tuple.serialize_element(element)?;
        }
        tuple.end()
    }

    pub(in super::super) fn deserialize<'de, D, T, const L: usize>(
        deserializer: D,
    ) -> Result<[T; L], D::Error>
    where
        D: Deserializer<'de>,
        T: Deserialize<'de> + Copy,
    {
        deserializer.deserialize_tuple(L, Elements::<T, L>(PhantomData))
    }
}

struct Elements<T, const L: usize>(PhantomData<T>);

impl<'de, T: Deserialize<'de> + Copy, const L: usize> Visitor<'de> for Elements<T, L> {
    type Value = [T; L];

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{L} elements")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let first = seq
            .next_element()?
            .ok_or_else(|| A::Error::invalid_length(0, &self))?;
        let mut all = [first; L];
        if let Some((_, rest)) = all.split_first_mut() {
            for (index, place) in (1..L).zip(rest) {
                *place = seq
                    .next_element()?
                    .ok_or_else(|| A::Error::invalid_length(index, &self))?;
            }
        }
        if seq.next_element::<T>()?.is_some() {
            return Err(A::Error::invalid_length(L.saturating_add(1), &self));
        }
        Ok(all)
    }
}

#[cfg(test)]
mod tests {
    use serde::de::value::SeqDeserializer;
    use std::string::{String, ToString};

    use super::*;

    /// What a reader says of data that it cannot take.
    #[derive(Debug, PartialEq)]
    struct Said(String);

    impl fmt::Display for Said {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str(&self.0)
        }
    }

    impl core::error::Error for Said {}

    impl Error for Said {
        fn custom<T: fmt::Display>(message: T) -> Self {
            Self(message.to_string())
        }
    }

    #[test]
    fn an_array_of_another_length_is_refused_with_both_lengths() {
        let read = |length: u32| array::deserialize(SeqDeserializer::new(1..=length));
        let said = |words: &str| Err(Said(words.to_string()));
        assert_eq!(read(3), Ok([1, 2, 3]));
        assert_eq!(read(0), said("invalid length 0, expected 3 elements"));
        assert_eq!(read(2), said("invalid length 2, expected 3 elements"));
        assert_eq!(read(4), said("invalid length 4, expected 3 elements"));
    }
}
