//! What a feeder gives, and which products must never meet.

/// What one feeder gives to the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Product {
    /// An acid that lowers pH.
    Acid,
    /// An alkali that raises pH.
    Base,
    /// Liquid hypochlorite.
    Hypochlorite,
    /// Chlorine from a generator's cell, counted in milligrams.
    GeneratedChlorine,
}

impl Product {
    /// Its byte in a record; 0 stands for none.
    pub(crate) const fn code(this: Option<Self>) -> u8 {
        match this {
            None => 0,
            Some(Self::Acid) => 1,
            Some(Self::Base) => 2,
            Some(Self::Hypochlorite) => 3,
            Some(Self::GeneratedChlorine) => 4,
        }
    }

    /// From its byte in a record; `None` if that stands for nothing.
    pub(crate) const fn from_code(code: u8) -> Option<Option<Self>> {
        match code {
            0 => Some(None),
            1 => Some(Some(Self::Acid)),
            2 => Some(Some(Self::Base)),
            3 => Some(Some(Self::Hypochlorite)),
            4 => Some(Some(Self::GeneratedChlorine)),
            _ => None,
        }
    }

    /// Equality that a `const fn` can use.
    #[must_use]
    pub(crate) const fn same(self, other: Self) -> bool {
        matches!(
            (self, other),
            (Self::Acid, Self::Acid)
                | (Self::Base, Self::Base)
                | (Self::Hypochlorite, Self::Hypochlorite)
                | (Self::GeneratedChlorine, Self::GeneratedChlorine)
        )
    }

    /// Whether it sanitises.
    #[must_use]
    pub const fn is_oxidiser(self) -> bool {
        matches!(self, Self::Hypochlorite | Self::GeneratedChlorine)
    }

    /// Whether the two must never stand in one line: acid and anything that is not acid. Acid and
    /// hypochlorite release chlorine (CDC MMWR 2017;66(19):498-501); acid and alkali boil.
    #[must_use]
    pub const fn incompatible_with(self, other: Self) -> bool {
        matches!(self, Self::Acid) != matches!(other, Self::Acid)
    }

    /// Whether it has the turn before an incompatible one: acid does.
    #[must_use]
    pub const fn goes_first(self) -> bool {
        matches!(self, Self::Acid)
    }
}

#[cfg(test)]
mod tests {
    use super::Product::{self, Acid, Base, GeneratedChlorine, Hypochlorite};

    #[test]
    fn each_has_a_byte_of_its_own_and_other_bytes_stand_for_nothing() {
        let all = [
            None,
            Some(Acid),
            Some(Base),
            Some(Hypochlorite),
            Some(GeneratedChlorine),
        ];
        for (byte, product) in (0..=u8::MAX).zip(all) {
            assert_eq!(Product::code(product), byte);
            assert_eq!(Product::from_code(byte), Some(product));
        }
        assert!((5..=u8::MAX).all(|byte| Product::from_code(byte).is_none()));
    }

    #[test]
    fn acid_meets_nothing_else_and_the_relation_is_symmetric() {
        let all = [Acid, Base, Hypochlorite, GeneratedChlorine];
        for one in all {
            for two in all {
                let expected = (one == Acid) != (two == Acid);
                assert_eq!(one.incompatible_with(two), expected, "{one:?} {two:?}");
                assert_eq!(two.incompatible_with(one), expected);
            }
        }
    }
}
