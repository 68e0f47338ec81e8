//! Values as bytes.

use serde::ser::{
    Impossible, Serialize, SerializeStruct, SerializeStructVariant, SerializeTuple,
    SerializeTupleStruct, SerializeTupleVariant, Serializer,
};

use super::{Misfit, zigzag};

type Done = Result<(), Misfit>;

/// Writes from the front of some room.
pub(crate) struct Writer<'a> {
    left: &'a mut [u8],
}

impl<'a> Writer<'a> {
    pub(crate) const fn new(room: &'a mut [u8]) -> Self {
        Self { left: room }
    }

    /// The room that is left.
    pub(crate) fn into_left(self) -> &'a mut [u8] {
        self.left
    }

    fn byte(&mut self, byte: u8) -> Done {
        let room = core::mem::take(&mut self.left);
        let (first, rest) = room.split_first_mut().ok_or(Misfit)?;
        *first = byte;
        self.left = rest;
        Ok(())
    }

    /// Seven bits a byte, the lowest first; all but the last with the high bit.
    fn number(&mut self, mut value: u64) -> Done {
        loop {
            let [low, ..] = value.to_le_bytes();
            value >>= 7;
            if value == 0 {
                return self.byte(low & 0x7F);
            }
            self.byte(low | 0x80)?;
        }
    }
}

macro_rules! numbers {
    ($($name:ident: $type:ty),*) => {
        $(fn $name(self, value: $type) -> Done {
            self.number(u64::from(value))
        })*
    };
    (signed $($name:ident: $type:ty),*) => {
        $(fn $name(self, value: $type) -> Done {
            self.number(zigzag(i64::from(value)))
        })*
    };
}

macro_rules! in_no_image {
    ($($name:ident: $type:ty),*) => {
        $(fn $name(self, _: $type) -> Done {
            Err(Misfit)
        })*
    };
}

impl Serializer for &mut Writer<'_> {
    type Ok = ();
    type Error = Misfit;
    type SerializeSeq = Impossible<(), Misfit>;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Impossible<(), Misfit>;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    numbers!(serialize_u16: u16, serialize_u32: u32, serialize_u64: u64);
    numbers!(signed serialize_i16: i16, serialize_i32: i32, serialize_i64: i64);
    in_no_image!(serialize_f32: f32, serialize_f64: f64, serialize_char: char);
    in_no_image!(serialize_str: &str, serialize_bytes: &[u8]);

    fn is_human_readable(&self) -> bool {
        false
    }

    fn serialize_bool(self, value: bool) -> Done {
        self.byte(u8::from(value))
    }

    fn serialize_u8(self, value: u8) -> Done {
        self.byte(value)
    }

    fn serialize_i8(self, value: i8) -> Done {
        let [byte] = value.to_le_bytes();
        self.byte(byte)
    }

    fn serialize_none(self) -> Done {
        self.byte(0)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Done {
        self.byte(1)?;
        value.serialize(self)
    }

    fn serialize_unit(self) -> Done {
        Ok(())
    }

    fn serialize_unit_struct(self, _: &'static str) -> Done {
        Ok(())
    }

    fn serialize_unit_variant(self, _: &'static str, index: u32, _: &'static str) -> Done {
        self.number(u64::from(index))
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _: &'static str, value: &T) -> Done {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        value: &T,
    ) -> Done {
        self.number(u64::from(index))?;
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Self::SerializeSeq, Misfit> {
        Err(Misfit)
    }

    fn serialize_tuple(self, _: usize) -> Result<Self, Misfit> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Self, Misfit> {
        Ok(self)
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Misfit> {
        self.number(u64::from(index))?;
        Ok(self)
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Self::SerializeMap, Misfit> {
        Err(Misfit)
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Self, Misfit> {
        Ok(self)
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        index: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Self, Misfit> {
        self.number(u64::from(index))?;
        Ok(self)
    }

    fn collect_str<T: core::fmt::Display + ?Sized>(self, _: &T) -> Done {
        Err(Misfit)
    }
}

macro_rules! one_after_the_other {
    ($($trait:ident: $name:ident$(($key:ty))?),*) => {
        $(impl $trait for &mut Writer<'_> {
            type Ok = ();
            type Error = Misfit;

            fn $name<T: Serialize + ?Sized>(&mut self, $(_: $key,)? value: &T) -> Done {
                value.serialize(&mut **self)
            }

            fn end(self) -> Done {
                Ok(())
            }
        })*
    };
}

one_after_the_other!(
    SerializeTuple: serialize_element,
    SerializeTupleStruct: serialize_field,
    SerializeTupleVariant: serialize_field,
    SerializeStruct: serialize_field(&'static str),
    SerializeStructVariant: serialize_field(&'static str)
);
