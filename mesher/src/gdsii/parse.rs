//! From the bytes of a GDSII stream to a [`Library`].
//!
//! Strict where a value is used (data type, length, range), lenient where it is not: records about editing sessions, plot
//! styles, properties, nodes and linked libraries are passed over.

use super::fault::{GdsError, StreamFault};
use super::library::{Array, Cell, DrawnPolygon, LayerSpec, Library, Path, PathEnd, Reference, Text};
use super::record::{Record, Records, kind};
use std::collections::HashMap;

/// Reads a GDSII stream. Memory is bounded by a small multiple of the stream's length.
///
/// # Errors
/// [`GdsError::Stream`] for bytes that are no sound stream, [`GdsError::DuplicateCell`].
///
/// ```
/// use modalith_mesher::gdsii::{GdsError, read};
/// assert!(matches!(read(b"not a layout"), Err(GdsError::Stream { offset: 0, .. })));
/// ```
pub fn read(bytes: &[u8]) -> Result<Library, GdsError> {
    check_start(bytes)?;
    let mut records = Records::new(bytes);
    let mut library = Library::default();
    let mut seen = HashMap::new();
    let mut units_found = false;
    records.next()?;
    loop {
        let record = records.next()?;
        match record.kind {
            kind::BGNLIB => {}
            kind::LIBNAME => library.name = record.string()?,
            kind::UNITS => {
                (library.user_unit_m, library.database_unit_m) = units(&record)?;
                units_found = true;
            }
            kind::BGNSTR => {
                let cell = cell(record.offset, &mut records)?;
                if let Some(&first) = seen.get(&cell.name) {
                    return Err(GdsError::DuplicateCell { name: cell.name, first, second: cell.offset });
                }
                seen.insert(cell.name.clone(), cell.offset);
                library.cells.push(cell);
            }
            kind::ENDLIB => {
                if !units_found {
                    return Err(record.error(StreamFault::Missing { of: "the library", missing: "UNITS" }));
                }
                records.finish()?;
                return Ok(library);
            }
            _ if stands_inside(record.kind) => return Err(misplaced(&record, "a library, outside a cell")),
            _ => {}
        }
    }
}

/// The first record must be HEADER, and what other files begin with deserves a word.
fn check_start(bytes: &[u8]) -> Result<(), GdsError> {
    let hint = match bytes {
        [_, _, kind::HEADER, ..] => return Ok(()),
        [] => "the file is empty",
        [0x1F, 0x8B, ..] | [b'P', b'K', ..] => "it is compressed; unpack it first",
        [b'%', b'S', b'E', b'M', b'I', ..] => "it is an OASIS file; export GDSII instead",
        _ => "it is no GDSII stream; export the layout as GDSII",
    };
    Err(GdsError::Stream { offset: 0, fault: StreamFault::NotGds { hint } })
}

fn misplaced(record: &Record<'_>, inside: &'static str) -> GdsError {
    record.error(StreamFault::Misplaced { record: record.name(), inside })
}

/// Records of the frame of a library, which cannot stand inside a cell.
fn stands_outside(number: u8) -> bool {
    matches!(
        number,
        kind::HEADER | kind::BGNLIB | kind::LIBNAME | kind::UNITS | kind::ENDLIB | kind::BGNSTR | kind::STRNAME
    )
}

/// Records of cells and elements that carry geometry and cannot stand outside a cell.
fn stands_inside(number: u8) -> bool {
    matches!(number, kind::HEADER | kind::STRNAME..=kind::COLROW | kind::NODE..=kind::TEXTTYPE)
        || matches!(number, kind::STRING..=kind::ANGLE | kind::PATHTYPE | kind::BOX | kind::BOXTYPE)
        || matches!(number, kind::BGNEXTN | kind::ENDEXTN)
}

/// User unit and database unit, metres.
fn units(record: &Record<'_>) -> Result<(f64, f64), GdsError> {
    let [in_user_units, in_metres] = record.reals::<2>()?;
    for (value, range) in [(in_user_units, 1e-15..=1e15), (in_metres, 1e-15..=1.0)] {
        if !range.contains(&value) {
            let allowed = "positive lengths, the second of at most 1 m";
            return Err(record.error(StreamFault::BadValue { record: "UNITS", value, allowed }));
        }
    }
    Ok((in_metres / in_user_units, in_metres))
}

/// The rest of a cell after its BGNSTR.
fn cell(offset: usize, records: &mut Records<'_>) -> Result<Cell, GdsError> {
    let name = records.next()?;
    if name.kind != kind::STRNAME {
        return Err(name.error(StreamFault::Missing { of: "a cell", missing: "STRNAME" }));
    }
    let mut cell = Cell { name: name.string()?, offset, ..Cell::default() };
    let mut fields = Fields::default();
    loop {
        let record = records.next()?;
        match record.kind {
            kind::ENDSTR => return Ok(cell),
            kind::BOUNDARY..=kind::TEXT | kind::BOX | kind::NODE => {
                fields.collect(record.offset, records)?;
                match record.kind {
                    kind::BOUNDARY => cell.polygons.push(fields.polygon("a BOUNDARY", "DATATYPE")?),
                    kind::BOX => cell.polygons.push(fields.polygon("a BOX", "BOXTYPE")?),
                    kind::PATH => cell.paths.push(fields.path()?),
                    kind::TEXT => cell.texts.push(fields.text()?),
                    kind::SREF => cell.references.push(fields.reference("an SREF", false)?),
                    kind::AREF => cell.references.push(fields.reference("an AREF", true)?),
                    _ => {} // NODE: electrical, no geometry
                }
            }
            _ if stands_outside(record.kind) || stands_inside(record.kind) => {
                return Err(misplaced(&record, "a cell, outside an element"));
            }
            _ => {}
        }
    }
}

/// The records of one element, whatever its kind; reused from element to element.
#[derive(Default)]
struct Fields {
    offset: usize,
    layer: Option<u16>,
    datatype: Option<u16>,
    points: Vec<[i32; 2]>,
    width: i32,
    path_type: i16,
    extensions: [i32; 2],
    name: Option<String>,
    columns_rows: Option<[i16; 2]>,
    flags: u16,
    magnification: Option<f64>,
    angle_deg: f64,
    text: Option<String>,
}

impl Fields {
    /// Reads up to and including ENDEL.
    fn collect(&mut self, offset: usize, records: &mut Records<'_>) -> Result<(), GdsError> {
        let mut points = std::mem::take(&mut self.points);
        points.clear();
        *self = Self { offset, points, ..Self::default() };
        loop {
            let record = records.next()?;
            match record.kind {
                kind::ENDEL => return Ok(()),
                // Unsigned in practice: layers above 32767 are in use.
                kind::LAYER => self.layer = Some(record.integers_2::<1>()?[0] as u16),
                kind::DATATYPE | kind::BOXTYPE | kind::TEXTTYPE => {
                    self.datatype = Some(record.integers_2::<1>()?[0] as u16);
                }
                // Large polygons come with more than one XY record.
                kind::XY => record.points(&mut self.points)?,
                kind::WIDTH => self.width = record.integer_4()?,
                kind::PATHTYPE => {
                    self.path_type = record.integers_2::<1>()?[0];
                    if !matches!(self.path_type, 0 | 1 | 2 | 4) {
                        return Err(bad(&record, f64::from(self.path_type), "0, 1, 2 or 4"));
                    }
                }
                kind::BGNEXTN => self.extensions[0] = record.integer_4()?,
                kind::ENDEXTN => self.extensions[1] = record.integer_4()?,
                kind::SNAME => self.name = Some(record.string()?),
                kind::STRING => self.text = Some(record.string()?),
                kind::COLROW => {
                    let counts = record.integers_2::<2>()?;
                    if let Some(&count) = counts.iter().find(|&&n| n < 1) {
                        return Err(bad(&record, f64::from(count), "at least 1"));
                    }
                    self.columns_rows = Some(counts);
                }
                kind::STRANS => self.flags = record.bits()?,
                kind::MAG => {
                    let [value] = record.reals::<1>()?;
                    if value <= 0.0 {
                        return Err(bad(&record, value, "positive"));
                    }
                    self.magnification = Some(value);
                }
                kind::ANGLE => [self.angle_deg] = record.reals::<1>()?,
                _ if stands_outside(record.kind)
                    || matches!(record.kind, kind::ENDSTR..=kind::TEXT | kind::BOX | kind::NODE) =>
                {
                    return Err(misplaced(&record, "an element that has no ENDEL yet"));
                }
                _ => {}
            }
        }
    }

    fn error(&self, fault: StreamFault) -> GdsError {
        GdsError::Stream { offset: self.offset, fault }
    }

    fn required<T>(&self, value: Option<T>, of: &'static str, missing: &'static str) -> Result<T, GdsError> {
        value.ok_or_else(|| self.error(StreamFault::Missing { of, missing }))
    }

    fn layer(&self, of: &'static str, second: &'static str) -> Result<LayerSpec, GdsError> {
        let layer = self.required(self.layer, of, "LAYER")?;
        let datatype = self.required(self.datatype, of, second)?;
        Ok(LayerSpec { layer, datatype })
    }

    fn polygon(&mut self, of: &'static str, second: &'static str) -> Result<DrawnPolygon, GdsError> {
        let layer = self.layer(of, second)?;
        let mut points = self.points.clone();
        points.dedup();
        // The last point repeats the first one by the format, but is sometimes left off.
        while points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        if points.len() < 3 {
            return Err(self.error(StreamFault::TooFewPoints { of, found: points.len(), needed: 3 }));
        }
        Ok(DrawnPolygon { offset: self.offset, layer, points })
    }

    fn path(&mut self) -> Result<Path, GdsError> {
        let layer = self.layer("a PATH", "DATATYPE")?;
        let mut points = self.points.clone();
        points.dedup();
        if points.len() < 2 {
            return Err(self.error(StreamFault::TooFewPoints { of: "a PATH", found: points.len(), needed: 2 }));
        }
        let [begin, end] = self.extensions;
        let end = match self.path_type {
            1 => PathEnd::Round,
            2 => PathEnd::HalfWidth,
            4 => PathEnd::Extended { begin, end },
            _ => PathEnd::Flush,
        };
        let (width, absolute_width) = (self.width.unsigned_abs(), self.width < 0);
        Ok(Path { offset: self.offset, layer, points, width, absolute_width, end })
    }

    fn text(&mut self) -> Result<Text, GdsError> {
        let layer = self.layer("a TEXT", "TEXTTYPE")?;
        let at = self.required(self.points.first().copied(), "a TEXT", "XY")?;
        let text = self.text.take();
        Ok(Text { offset: self.offset, layer, at, text: self.required(text, "a TEXT", "STRING")? })
    }

    fn reference(&mut self, of: &'static str, array: bool) -> Result<Reference, GdsError> {
        let name = self.name.take();
        let cell = self.required(name, of, "SNAME")?;
        let origin = self.required(self.points.first().copied(), of, "XY")?;
        let array = if array {
            let [columns, rows] = self.required(self.columns_rows, of, "COLROW")?;
            let &[_, columns_end, rows_end] = self.points.as_slice() else {
                return Err(self.error(StreamFault::WrongCount {
                    record: "XY of an AREF",
                    expected: 3,
                    found: self.points.len(),
                }));
            };
            Some(Array { columns: columns as u16, rows: rows as u16, columns_end, rows_end })
        } else {
            None
        };
        Ok(Reference {
            offset: self.offset,
            cell,
            // Bits are numbered from the left: 0 mirrors, 13 and 14 make magnification and angle absolute.
            mirrored: self.flags & 0x8000 != 0,
            absolute_magnification: self.flags & 0x0004 != 0,
            absolute_angle: self.flags & 0x0002 != 0,
            magnification: self.magnification.unwrap_or(1.0),
            angle_deg: self.angle_deg,
            origin,
            array,
        })
    }
}

fn bad(record: &Record<'_>, value: f64, allowed: &'static str) -> GdsError {
    record.error(StreamFault::BadValue { record: record.name(), value, allowed })
}
