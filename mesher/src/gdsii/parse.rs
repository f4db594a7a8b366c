//! From the bytes of a GDSII stream to a [`Library`].
//!
//! Strict about the frame (lengths of records, cells and elements that begin and end, units). What stands inside a cell is
//! judged by whoever uses it: an element that cannot be drawn is kept in [`Cell::unsound`] under its layer, two cells of
//! one name both stay. Records about editing sessions, plot styles, properties, nodes and linked libraries are passed over.

use super::fault::{GdsError, StreamFault};
use super::layer::LayerSpec;
use super::library::{Array, Cell, DrawnPolygon, Library, Path, PathEnd, Reference, Text};
use super::record::{Record, Records, kind, name_of};

/// Reads a GDSII stream. Memory is bounded by a small multiple of the stream's length.
///
/// # Errors
/// [`GdsError::Stream`] for bytes that are no sound stream. Elements at fault are no error here, see [`Cell::unsound`].
///
/// ```
/// use modalith_mesher::gdsii::{GdsError, read};
/// assert!(matches!(read(b"not a layout"), Err(GdsError::Stream { offset: 0, .. })));
/// ```
pub fn read(bytes: &[u8]) -> Result<Library, GdsError> {
    check_start(bytes)?;
    let mut records = Records::new(bytes);
    let mut library = Library::default();
    let mut units_found = false;
    records.next()?;
    loop {
        let record = records.next()?;
        match record.kind {
            kind::BGNLIB => {}
            kind::LIBNAME => {
                // Nothing depends on it.
                if let Ok(name) = record.string() {
                    library.name = name;
                }
            }
            kind::UNITS => {
                (library.user_unit_m, library.database_unit_m) = units(&record)?;
                units_found = true;
            }
            kind::BGNSTR => library.cells.push(cell(record.offset, &mut records)?),
            kind::ENDLIB => {
                if !units_found {
                    return Err(record.error(StreamFault::Missing { of: "the library", missing: "UNITS" }));
                }
                records.finish()?;
                return Ok(library);
            }
            _ if stands_inside(record.kind) => return Err(misplaced(&record, "a library, outside a cell")),
            _ => record.check_kind()?,
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
    loop {
        let record = records.next()?;
        match record.kind {
            kind::ENDSTR => return Ok(cell),
            // Electrical, no geometry.
            kind::NODE => drop(Fields::collect(record.offset, records)?),
            kind::BOUNDARY..=kind::TEXT | kind::BOX => {
                let fields = Fields::collect(record.offset, records)?;
                if let Err(fault) = fields.add_to(&mut cell, record.kind) {
                    let places = matches!(record.kind, kind::SREF | kind::AREF);
                    let layer = if places { None } else { fields.layer_if_known() };
                    cell.unsound.entry(layer).or_insert(fault);
                }
            }
            _ if stands_outside(record.kind) => return Err(misplaced(&record, "a cell, outside an element")),
            _ if stands_inside(record.kind) => {
                cell.unsound.entry(None).or_insert(misplaced(&record, "a cell, outside an element"));
            }
            _ => {
                if let Err(fault) = record.check_kind() {
                    cell.unsound.entry(None).or_insert(fault);
                }
            }
        }
    }
}

/// The records of one element, whatever its kind; of records that come once the last one. They are looked into when the
/// element's kind asks for them.
#[derive(Default)]
struct Fields<'a> {
    offset: usize,
    layer: Option<Record<'a>>,
    datatype: Option<Record<'a>>,
    /// Large polygons come with more than one.
    points: Vec<Record<'a>>,
    width: Option<Record<'a>>,
    path_type: Option<Record<'a>>,
    extensions: [Option<Record<'a>>; 2],
    name: Option<Record<'a>>,
    columns_rows: Option<Record<'a>>,
    flags: Option<Record<'a>>,
    magnification: Option<Record<'a>>,
    angle_deg: Option<Record<'a>>,
    text: Option<Record<'a>>,
    /// A record that the format does not define.
    unknown: Option<Record<'a>>,
}

impl<'a> Fields<'a> {
    /// Reads up to and including ENDEL.
    fn collect(offset: usize, records: &mut Records<'a>) -> Result<Self, GdsError> {
        let mut fields = Self { offset, ..Self::default() };
        loop {
            let record = records.next()?;
            match record.kind {
                kind::ENDEL => return Ok(fields),
                kind::LAYER => fields.layer = Some(record),
                kind::DATATYPE | kind::BOXTYPE | kind::TEXTTYPE => fields.datatype = Some(record),
                kind::XY => fields.points.push(record),
                kind::WIDTH => fields.width = Some(record),
                kind::PATHTYPE => fields.path_type = Some(record),
                kind::BGNEXTN => fields.extensions[0] = Some(record),
                kind::ENDEXTN => fields.extensions[1] = Some(record),
                kind::SNAME => fields.name = Some(record),
                kind::STRING => fields.text = Some(record),
                kind::COLROW => fields.columns_rows = Some(record),
                kind::STRANS => fields.flags = Some(record),
                kind::MAG => fields.magnification = Some(record),
                kind::ANGLE => fields.angle_deg = Some(record),
                _ if stands_outside(record.kind)
                    || matches!(record.kind, kind::ENDSTR..=kind::TEXT | kind::BOX | kind::NODE) =>
                {
                    return Err(misplaced(&record, "an element that has no ENDEL yet"));
                }
                _ if name_of(record.kind).is_none() => fields.unknown = Some(record),
                _ => {}
            }
        }
    }

    /// Adds the element to its cell.
    fn add_to(&self, cell: &mut Cell, number: u8) -> Result<(), GdsError> {
        if let Some(record) = &self.unknown {
            record.check_kind()?;
        }
        match number {
            kind::BOUNDARY => cell.polygons.push(self.polygon("a BOUNDARY", "DATATYPE")?),
            kind::BOX => cell.polygons.push(self.polygon("a BOX", "BOXTYPE")?),
            kind::PATH => cell.paths.push(self.path()?),
            kind::TEXT => cell.texts.push(self.text()?),
            kind::SREF => cell.references.push(self.reference("an SREF", false)?),
            _ => cell.references.push(self.reference("an AREF", true)?),
        }
        Ok(())
    }

    fn error(&self, fault: StreamFault) -> GdsError {
        GdsError::Stream { offset: self.offset, fault }
    }

    fn required<T>(&self, value: Option<T>, of: &'static str, missing: &'static str) -> Result<T, GdsError> {
        value.ok_or_else(|| self.error(StreamFault::Missing { of, missing }))
    }

    /// The layer of an element at fault, where at least that is sound.
    fn layer_if_known(&self) -> Option<LayerSpec> {
        self.layer("an element", "DATATYPE").ok()
    }

    fn layer(&self, of: &'static str, second: &'static str) -> Result<LayerSpec, GdsError> {
        // Unsigned in practice: layers above 32767 are in use.
        let number = |record: &Record<'_>| Ok(record.integers_2::<1>()?[0] as u16);
        let layer = number(self.required(self.layer.as_ref(), of, "LAYER")?)?;
        let datatype = number(self.required(self.datatype.as_ref(), of, second)?)?;
        Ok(LayerSpec { layer, datatype })
    }

    /// All points, consecutive equal ones once.
    fn points(&self) -> Result<Vec<[i32; 2]>, GdsError> {
        let mut points = Vec::new();
        for record in &self.points {
            record.points(&mut points)?;
        }
        points.dedup();
        points.shrink_to_fit();
        Ok(points)
    }

    fn first_point(&self, of: &'static str) -> Result<[i32; 2], GdsError> {
        self.required(self.points()?.first().copied(), of, "XY")
    }

    fn polygon(&self, of: &'static str, second: &'static str) -> Result<DrawnPolygon, GdsError> {
        let layer = self.layer(of, second)?;
        let mut points = self.points()?;
        // The last point repeats the first one by the format, but is sometimes left off.
        while points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        if points.len() < 3 {
            return Err(self.error(StreamFault::TooFewPoints { of, found: points.len(), needed: 3 }));
        }
        Ok(DrawnPolygon { offset: self.offset, layer, points })
    }

    fn path(&self) -> Result<Path, GdsError> {
        let layer = self.layer("a PATH", "DATATYPE")?;
        let points = self.points()?;
        if points.len() < 2 {
            return Err(self.error(StreamFault::TooFewPoints { of: "a PATH", found: points.len(), needed: 2 }));
        }
        let long = |record: &Option<Record<'_>>| record.as_ref().map_or(Ok(0), Record::integer_4);
        let end = match &self.path_type {
            None => PathEnd::Flush,
            Some(record) => match record.integers_2::<1>()?[0] {
                0 => PathEnd::Flush,
                1 => PathEnd::Round,
                2 => PathEnd::HalfWidth,
                4 => PathEnd::Extended { begin: long(&self.extensions[0])?, end: long(&self.extensions[1])? },
                other => return Err(bad(record, f64::from(other), "0, 1, 2 or 4")),
            },
        };
        let width = long(&self.width)?;
        let (width, absolute_width) = (width.unsigned_abs(), width < 0);
        Ok(Path { offset: self.offset, layer, points, width, absolute_width, end })
    }

    fn text(&self) -> Result<Text, GdsError> {
        let layer = self.layer("a TEXT", "TEXTTYPE")?;
        let at = self.first_point("a TEXT")?;
        let text = self.required(self.text.as_ref(), "a TEXT", "STRING")?.string()?;
        Ok(Text { offset: self.offset, layer, at, text })
    }

    fn reference(&self, of: &'static str, array: bool) -> Result<Reference, GdsError> {
        let cell = self.required(self.name.as_ref(), of, "SNAME")?.string()?;
        let origin = self.first_point(of)?;
        let array = if array { Some(self.array(of)?) } else { None };
        let flags = self.flags.as_ref().map_or(Ok(0), Record::bits)?;
        let magnification = match &self.magnification {
            None => 1.0,
            Some(record) => match record.reals::<1>()? {
                [value] if value > 0.0 => value,
                [value] => return Err(bad(record, value, "positive")),
            },
        };
        let [angle_deg] = self.angle_deg.as_ref().map_or(Ok([0.0]), Record::reals::<1>)?;
        Ok(Reference {
            offset: self.offset,
            cell,
            // Bits are numbered from the left: 0 mirrors, 13 and 14 make magnification and angle absolute.
            mirrored: flags & 0x8000 != 0,
            absolute_magnification: flags & 0x0004 != 0,
            absolute_angle: flags & 0x0002 != 0,
            magnification,
            angle_deg,
            origin,
            array,
        })
    }

    fn array(&self, of: &'static str) -> Result<Array, GdsError> {
        let record = self.required(self.columns_rows.as_ref(), of, "COLROW")?;
        let counts = record.integers_2::<2>()?;
        if let Some(&count) = counts.iter().find(|&&n| n < 1) {
            return Err(bad(record, f64::from(count), "at least 1"));
        }
        let mut points = Vec::new();
        for record in &self.points {
            record.points(&mut points)?;
        }
        let &[_, columns_end, rows_end] = points.as_slice() else {
            let fault = StreamFault::WrongCount { record: "XY of an AREF", expected: 3, found: points.len() };
            return Err(self.error(fault));
        };
        Ok(Array { columns: counts[0] as u16, rows: counts[1] as u16, columns_end, rows_end })
    }
}

fn bad(record: &Record<'_>, value: f64, allowed: &'static str) -> GdsError {
    record.error(StreamFault::BadValue { record: record.name(), value, allowed })
}
