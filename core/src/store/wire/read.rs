//! Values from bytes.

use serde::de::value::U32Deserializer;
use serde::de::{
    DeserializeSeed, Deserializer, EnumAccess, IntoDeserializer, SeqAccess, VariantAccess, Visitor,
};

use super::{Misfit, unzigzag};

/// Reads from the front of some bytes.
pub(crate) struct Reader<'de> {
    left: &'de [u8],
    /// So many last fields of a variant with named ones are not in these bytes: they are read as their defaults.
    missing: usize,
}

impl<'de> Reader<'de> {
    /// Of bytes that were written before each variant with named fields got so many, its last ones.
    pub(crate) const fn without(bytes: &'de [u8], missing: usize) -> Self {
        Self {
            left: bytes,
            missing,
        }
    }

    /// The bytes that are left.
    pub(crate) const fn left(&self) -> &'de [u8] {
        self.left
    }

    fn byte(&mut self) -> Result<u8, Misfit> {
        let (first, rest) = self.left.split_first().ok_or(Misfit)?;
        self.left = rest;
        Ok(*first)
    }

    /// A number in so many bytes at most, seven bits in each.
    fn number(&mut self, bytes_max: u32) -> Result<u64, Misfit> {
        let mut value = 0_u64;
        let mut shift = 0_u32;
        for _ in 0..bytes_max {
            let byte = self.byte()?;
            let bits = u64::from(byte & 0x7F);
            let moved = bits.wrapping_shl(shift);
            if moved.wrapping_shr(shift) != bits {
                return Err(Misfit);
            }
            value |= moved;
            if byte & 0x80 == 0 {
                return Ok(value);
            }
            shift = shift.wrapping_add(7);
        }
        Err(Misfit)
    }

    fn u32(&mut self) -> Result<u32, Misfit> {
        u32::try_from(self.number(5)?).map_err(|_| Misfit)
    }

    fn bool(&mut self) -> Result<bool, Misfit> {
        match self.byte()? {
            0 => Ok(false),
            1 => Ok(true),
            _ => Err(Misfit),
        }
    }
}

macro_rules! in_no_image {
    ($($name:ident),*) => {
        $(fn $name<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Misfit> {
            Err(Misfit)
        })*
    };
}

/// Each with the most bytes that it takes.
macro_rules! numbers {
    ($($name:ident: $visit:ident, $type:ty, $bytes:literal;)*) => {
        $(fn $name<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
            let value = self.number($bytes)?;
            visitor.$visit(<$type>::try_from(value).map_err(|_| Misfit)?)
        })*
    };
    (signed $($name:ident: $visit:ident, $type:ty, $unsigned:ty, $bytes:literal;)*) => {
        $(fn $name<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
            let value = <$unsigned>::try_from(self.number($bytes)?).map_err(|_| Misfit)?;
            let value = unzigzag(u64::from(value));
            visitor.$visit(<$type>::try_from(value).map_err(|_| Misfit)?)
        })*
    };
}

impl<'de> Deserializer<'de> for &mut Reader<'de> {
    type Error = Misfit;

    numbers! {
        deserialize_u16: visit_u16, u16, 3;
        deserialize_u32: visit_u32, u32, 5;
        deserialize_u64: visit_u64, u64, 10;
    }
    numbers! { signed
        deserialize_i16: visit_i16, i16, u16, 3;
        deserialize_i32: visit_i32, i32, u32, 5;
        deserialize_i64: visit_i64, i64, u64, 10;
    }
    in_no_image!(
        deserialize_any,
        deserialize_ignored_any,
        deserialize_identifier
    );
    in_no_image!(
        deserialize_f32,
        deserialize_f64,
        deserialize_char,
        deserialize_str
    );
    in_no_image!(deserialize_string, deserialize_bytes, deserialize_byte_buf);
    in_no_image!(deserialize_seq, deserialize_map);

    fn is_human_readable(&self) -> bool {
        false
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_bool(self.bool()?)
    }

    fn deserialize_u8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_u8(self.byte()?)
    }

    fn deserialize_i8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_i8(i8::from_le_bytes([self.byte()?]))
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        if self.bool()? {
            visitor.visit_some(self)
        } else {
            visitor.visit_none()
        }
    }

    fn deserialize_unit<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Misfit> {
        visitor.visit_unit()
    }

    fn deserialize_unit_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_unit()
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_tuple<V: Visitor<'de>>(
        self,
        count: usize,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_seq(Elements {
            reader: self,
            count,
        })
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        count: usize,
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(count, visitor)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(fields.len(), visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        visitor.visit_enum(self)
    }
}

/// So many values, one after the other.
struct Elements<'r, 'de> {
    reader: &'r mut Reader<'de>,
    count: usize,
}

impl<'de> SeqAccess<'de> for Elements<'_, 'de> {
    type Error = Misfit;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Misfit> {
        let Some(left) = self.count.checked_sub(1) else {
            return Ok(None);
        };
        self.count = left;
        seed.deserialize(&mut *self.reader).map(Some)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.count)
    }
}

impl<'de> EnumAccess<'de> for &mut Reader<'de> {
    type Error = Misfit;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Self), Misfit> {
        let index: U32Deserializer<Misfit> = self.u32()?.into_deserializer();
        Ok((seed.deserialize(index)?, self))
    }
}

impl<'de> VariantAccess<'de> for &mut Reader<'de> {
    type Error = Misfit;

    fn unit_variant(self) -> Result<(), Misfit> {
        Ok(())
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Misfit> {
        seed.deserialize(self)
    }

    fn tuple_variant<V: Visitor<'de>>(self, count: usize, visitor: V) -> Result<V::Value, Misfit> {
        self.deserialize_tuple(count, visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Misfit> {
        let there = fields.len().saturating_sub(self.missing);
        self.deserialize_tuple(there, visitor)
    }
}
