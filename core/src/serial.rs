//! What `serde` needs besides: arrays of any length, and types of the guard that have numbers.

pub(crate) mod array {
    //! `serde` derives for arrays up to 32 only, of a fixed length.

    use core::fmt;
    use core::marker::PhantomData;

    use serde::de::{Deserialize, Deserializer, Error, SeqAccess, Visitor};
    use serde::ser::{Serialize, SerializeTuple, Serializer};

    pub(crate) fn serialize<S: Serializer, T: Serialize, const N: usize>(
        array: &[T; N],
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        let mut tuple = serializer.serialize_tuple(N)?;
        for one in array {
            tuple.serialize_element(one)?;
        }
        tuple.end()
    }

    struct Elements<T, const N: usize>(PhantomData<T>);

    impl<'de, T: Deserialize<'de>, const N: usize> Visitor<'de> for Elements<T, N> {
        type Value = [T; N];

        fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
            write!(formatter, "{N} elements")
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<[T; N], A::Error> {
            let mut all = heapless::Vec::<T, N>::new();
            while let Some(one) = seq.next_element()? {
                if all.push(one).is_err() {
                    return Err(A::Error::invalid_length(N.saturating_add(1), &self));
                }
            }
            let found = all.len();
            all.into_array()
                .map_err(|_| A::Error::invalid_length(found, &self))
        }
    }

    pub(crate) fn deserialize<'de, D, T, const N: usize>(
        deserializer: D,
    ) -> Result<[T; N], D::Error>
    where
        D: Deserializer<'de>,
        T: Deserialize<'de>,
    {
        deserializer.deserialize_tuple(N, Elements(PhantomData))
    }
}

pub(crate) mod lockout {
    //! A lockout, by its number.

    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;

    use crate::guard::{Lockout, LockoutSet};

    pub(crate) fn serialize<S: Serializer>(
        one: &Lockout,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        let bits = LockoutSet::NONE.with(*one).bits();
        serializer.serialize_u32(bits.trailing_zeros())
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Lockout, D::Error> {
        let number = u32::deserialize(from)?;
        let found = Lockout::ALL
            .into_iter()
            .find(|one| LockoutSet::NONE.with(*one).bits().trailing_zeros() == number);
        found.ok_or_else(|| D::Error::custom("there is no lockout of this number"))
    }
}

pub(crate) mod authority {
    //! An authority, by its number, from the owner as 0.

    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;

    use crate::guard::Authority;

    const ALL: [(Authority, u8); 4] = [
        (Authority::Owner, 0),
        (Authority::Operator, 1),
        (Authority::Technician, 2),
        (Authority::Maker, 3),
    ];

    pub(crate) fn serialize<S: Serializer>(one: &Authority, to: S) -> Result<S::Ok, S::Error> {
        let found = ALL.iter().find(|(authority, _)| authority == one);
        to.serialize_u8(found.map_or(0, |(_, number)| *number))
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Authority, D::Error> {
        let number = u8::deserialize(from)?;
        ALL.iter()
            .find(|(_, its)| *its == number)
            .map(|(authority, _)| *authority)
            .ok_or_else(|| D::Error::custom("there is no authority of this number"))
    }
}
