//! The record layer of a GDSII stream: bytes in, records out, each with its byte offset.
//!
//! A record is a big-endian 2-byte length (of the whole record, header included), a type byte, a data-type byte and the
//! data. Source: the GDSII Stream Format, release 6.0, an open description of the format.

use super::fault::{GdsError, StreamFault};

/// Record types of the stream format, by number.
pub(super) mod kind {
    pub const HEADER: u8 = 0x00;
    pub const BGNLIB: u8 = 0x01;
    pub const LIBNAME: u8 = 0x02;
    pub const UNITS: u8 = 0x03;
    pub const ENDLIB: u8 = 0x04;
    pub const BGNSTR: u8 = 0x05;
    pub const STRNAME: u8 = 0x06;
    pub const ENDSTR: u8 = 0x07;
    pub const BOUNDARY: u8 = 0x08;
    pub const PATH: u8 = 0x09;
    pub const SREF: u8 = 0x0A;
    pub const AREF: u8 = 0x0B;
    pub const TEXT: u8 = 0x0C;
    pub const LAYER: u8 = 0x0D;
    pub const DATATYPE: u8 = 0x0E;
    pub const WIDTH: u8 = 0x0F;
    pub const XY: u8 = 0x10;
    pub const ENDEL: u8 = 0x11;
    pub const SNAME: u8 = 0x12;
    pub const COLROW: u8 = 0x13;
    pub const NODE: u8 = 0x15;
    /// Type of a text, one two-byte integer.
    pub const TEXTTYPE: u8 = 0x16;
    pub const STRING: u8 = 0x19;
    pub const STRANS: u8 = 0x1A;
    pub const MAG: u8 = 0x1B;
    pub const ANGLE: u8 = 0x1C;
    pub const PATHTYPE: u8 = 0x21;
    pub const BOX: u8 = 0x2D;
    pub const BOXTYPE: u8 = 0x2E;
    pub const BGNEXTN: u8 = 0x30;
    pub const ENDEXTN: u8 = 0x31;
}

/// Names of the record types, by number.
const NAMES: [&str; 60] = [
    "HEADER",
    "BGNLIB",
    "LIBNAME",
    "UNITS",
    "ENDLIB",
    "BGNSTR",
    "STRNAME",
    "ENDSTR",
    "BOUNDARY",
    "PATH",
    "SREF",
    "AREF",
    "TEXT",
    "LAYER",
    "DATATYPE",
    "WIDTH",
    "XY",
    "ENDEL",
    "SNAME",
    "COLROW",
    "TEXTNODE",
    "NODE",
    "TEXTTYPE",
    "PRESENTATION",
    "SPACING",
    "STRING",
    "STRANS",
    "MAG",
    "ANGLE",
    "UINTEGER",
    "USTRING",
    "REFLIBS",
    "FONTS",
    "PATHTYPE",
    "GENERATIONS",
    "ATTRTABLE",
    "STYPTABLE",
    "STRTYPE",
    "ELFLAGS",
    "ELKEY",
    "LINKTYPE",
    "LINKKEYS",
    "NODETYPE",
    "PROPATTR",
    "PROPVALUE",
    "BOX",
    "BOXTYPE",
    "PLEX",
    "BGNEXTN",
    "ENDEXTN",
    "TAPENUM",
    "TAPECODE",
    "STRCLASS",
    "RESERVED",
    "FORMAT",
    "MASK",
    "ENDMASKS",
    "LIBDIRSIZE",
    "SRFNAME",
    "LIBSECUR",
];

/// Data types of the stream format that the reader takes values from.
const BITS: u8 = 1;
const INTEGER_2: u8 = 2;
const INTEGER_4: u8 = 3;
const REAL_8: u8 = 5;
const TEXT: u8 = 6;

/// The format's name of a record type; `None` for a number it does not define.
pub(super) fn name_of(kind: u8) -> Option<&'static str> {
    NAMES.get(usize::from(kind)).copied()
}

/// One record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Record<'a> {
    /// Where its length bytes stand, bytes from the start.
    pub offset: usize,
    /// Its type, see [`kind`].
    pub kind: u8,
    data_type: u8,
    data: &'a [u8],
}

impl<'a> Record<'a> {
    pub fn name(&self) -> &'static str {
        name_of(self.kind).unwrap_or("unknown")
    }

    /// Refuses a record number outside the format.
    pub fn check_kind(&self) -> Result<(), GdsError> {
        let (kind, data_type) = (self.kind, self.data_type);
        let known = name_of(kind).is_some();
        if known { Ok(()) } else { Err(self.error(StreamFault::UnknownRecord { kind, data_type })) }
    }

    pub fn error(&self, fault: StreamFault) -> GdsError {
        GdsError::Stream { offset: self.offset, fault }
    }

    /// The data as items of `N` bytes, after a check of data type and length.
    fn items<const N: usize>(
        &self,
        data_type: u8,
        expected: &'static str,
    ) -> Result<impl Iterator<Item = [u8; N]> + use<'a, N>, GdsError> {
        let (chunks, rest) = self.data.as_chunks::<N>();
        if self.data_type != data_type || !rest.is_empty() {
            let fault = StreamFault::WrongData {
                record: self.name(),
                expected,
                data_type: self.data_type,
                length: self.data.len(),
            };
            return Err(self.error(fault));
        }
        Ok(chunks.iter().copied())
    }

    /// Exactly `N` values out of an iterator of the record's data.
    fn exactly<T: Copy + Default, const N: usize>(&self, items: impl Iterator<Item = T>) -> Result<[T; N], GdsError> {
        let mut values = [T::default(); N];
        let mut count = 0;
        for item in items {
            if let Some(slot) = values.get_mut(count) {
                *slot = item;
            }
            count += 1;
        }
        if count == N {
            Ok(values)
        } else {
            Err(self.error(StreamFault::WrongCount { record: self.name(), expected: N, found: count }))
        }
    }

    /// `N` two-byte signed integers.
    ///
    /// # Errors
    /// [`StreamFault`]: another data type, a length that is no multiple of a value's, another number of them.
    pub fn integers_2<const N: usize>(&self) -> Result<[i16; N], GdsError> {
        self.exactly(self.items(INTEGER_2, "two-byte integers")?.map(i16::from_be_bytes))
    }

    /// A four-byte signed integer.
    ///
    /// # Errors
    /// [`StreamFault`]: another data type, a length that is no multiple of a value's, more than one.
    pub fn integer_4(&self) -> Result<i32, GdsError> {
        self.exactly::<_, 1>(self.items(INTEGER_4, "a four-byte integer")?.map(i32::from_be_bytes)).map(|[v]| v)
    }

    /// Sixteen flags.
    ///
    /// # Errors
    /// [`StreamFault`]: another data type, a length that is no multiple of a value's, more than one.
    pub fn bits(&self) -> Result<u16, GdsError> {
        self.exactly::<_, 1>(self.items(BITS, "sixteen flags")?.map(u16::from_be_bytes)).map(|[v]| v)
    }

    /// `N` eight-byte reals.
    ///
    /// # Errors
    /// [`StreamFault`]: another data type, a length that is no multiple of a value's, another number of them.
    pub fn reals<const N: usize>(&self) -> Result<[f64; N], GdsError> {
        self.exactly(self.items(REAL_8, "eight-byte reals")?.map(real))
    }

    /// Adds the coordinate pairs of an XY record to `points`, database units.
    ///
    /// # Errors
    /// [`StreamFault`]: another data type, a length that is no multiple of a value's.
    pub fn points(&self, points: &mut Vec<[i32; 2]>) -> Result<(), GdsError> {
        let pairs = self.items::<8>(INTEGER_4, "pairs of four-byte integers")?;
        points.extend(
            pairs.map(|[a, b, c, d, e, f, g, h]| [i32::from_be_bytes([a, b, c, d]), i32::from_be_bytes([e, f, g, h])]),
        );
        Ok(())
    }

    /// A string: UTF-8 where it is, else Latin-1, the padding of zeros left off.
    pub fn string(&self) -> Result<String, GdsError> {
        let _ = self.items::<1>(TEXT, "a string")?;
        let end = self.data.iter().rposition(|&b| b != 0).map_or(0, |last| last + 1);
        let bytes = &self.data[..end];
        Ok(match std::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            // Every byte is a Latin-1 character of the same number.
            Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
        })
    }
}

/// An eight-byte excess-64 real: sign bit, 7 bits of exponent to the base 16 less 64, 56 bits of fraction. Rounded to the
/// nearest double (56 bits to 53); no value over- or underflows.
pub(super) fn real(bytes: [u8; 8]) -> f64 {
    let raw = u64::from_be_bytes(bytes);
    let exponent = ((raw >> 56) & 0x7F) as i32;
    let fraction = (raw & 0x00FF_FFFF_FFFF_FFFF) as f64;
    // fraction / 2^56 × 16^(exponent − 64) as one power of two, between 2^-312 and 2^196: a normal double.
    let power = f64::from_bits(((1023 + 4 * (exponent - 64) - 56) as u64) << 52);
    let value = fraction * power;
    if raw >> 63 == 1 { -value } else { value }
}

/// Walks through the records of a stream.
#[derive(Clone, Debug)]
pub(super) struct Records<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Records<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// The next record; the end of the bytes is an error, for a stream ends at its ENDLIB record.
    pub fn next(&mut self) -> Result<Record<'a>, GdsError> {
        let offset = self.at;
        let fail = |fault| Err(GdsError::Stream { offset, fault });
        let rest = &self.bytes[offset..];
        let Some((&[high, low, kind, data_type], data)) = rest.split_first_chunk::<4>() else {
            return fail(StreamFault::Ends { left: rest.len() });
        };
        let length = usize::from(u16::from_be_bytes([high, low]));
        if length < 4 || length % 2 == 1 {
            return fail(StreamFault::BadLength { length });
        }
        let Some(data) = data.get(..length - 4) else {
            return fail(StreamFault::CutOff { record: name_of(kind).unwrap_or("unknown"), length, left: rest.len() });
        };
        self.at = offset + length;
        Ok(Record { offset, kind, data_type, data })
    }

    /// Checks that only zeros follow (a tape's last block is filled up with them).
    pub fn finish(self) -> Result<(), GdsError> {
        match self.bytes[self.at..].iter().position(|&b| b != 0) {
            None => Ok(()),
            Some(n) => Err(GdsError::Stream { offset: self.at + n, fault: StreamFault::AfterEnd }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reals_convert_exactly() {
        // 1.0 = 1/16 × 16^1; the other encodings follow from the definition.
        assert_eq!(real([0x41, 0x10, 0, 0, 0, 0, 0, 0]), 1.0);
        assert_eq!(real([0xC1, 0x20, 0, 0, 0, 0, 0, 0]), -2.0);
        assert_eq!(real([0x40, 0x80, 0, 0, 0, 0, 0, 0]), 0.5);
        assert_eq!(real([0x42, 0x5A, 0, 0, 0, 0, 0, 0]), 90.0);
        assert_eq!(real([0; 8]), 0.0);
        // 1e-3 and 1e-9, as commonly written in UNITS.
        assert_eq!(real([0x3E, 0x41, 0x89, 0x37, 0x4B, 0xC6, 0xA7, 0xEF]), 1e-3);
        assert!((real([0x39, 0x44, 0xB8, 0x2F, 0xA0, 0x9B, 0x5A, 0x54]) / 1e-9 - 1.0).abs() < 1e-15);
        // Both ends of the range stay normal numbers.
        assert_eq!(real([0x7F, 0x80, 0, 0, 0, 0, 0, 0]), 2f64.powi(251));
        assert_eq!(real([0x00, 0, 0, 0, 0, 0, 0, 1]), 2f64.powi(-312));
    }

    #[test]
    fn numbers_of_records_match_their_names() {
        assert_eq!(name_of(kind::ENDEXTN), Some("ENDEXTN"));
        assert_eq!(name_of(kind::BOX), Some("BOX"));
        assert_eq!(name_of(kind::PATHTYPE), Some("PATHTYPE"));
        assert_eq!(name_of(kind::STRANS), Some("STRANS"));
        assert_eq!(name_of(0x3B), Some("LIBSECUR"));
        assert_eq!(name_of(0x3C), None);
    }

    #[test]
    fn strings_that_are_not_utf8_are_latin_1() {
        let record = |data| Record { offset: 0, kind: kind::STRNAME, data_type: TEXT, data };
        assert_eq!(record(b"10\xB5m\0").string().unwrap(), "10µm");
        assert_eq!(record("10µm".as_bytes()).string().unwrap(), "10µm");
        assert_eq!(record(b"").string().unwrap(), "");
        assert!(Record { data_type: BITS, ..record(b"ab") }.string().is_err());
    }
}
