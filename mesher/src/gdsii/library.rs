//! What a GDSII stream holds: cells of polygons, paths, texts and references, in integer database units.

use super::fault::GdsError;
use super::layer::LayerSpec;
use std::collections::{BTreeMap, BTreeSet};

/// A GDSII library as read; see [`super::read`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Library {
    /// Its name, may be empty.
    pub name: String,
    /// Length of the unit its authors worked in, metres.
    pub user_unit_m: f64,
    /// Length of the unit of all coordinates, metres.
    pub database_unit_m: f64,
    /// Its cells, in the order of the stream. Two of one name are an error for whoever names or places that name.
    pub cells: Vec<Cell>,
}

/// A cell (the format says structure).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// Its name.
    pub name: String,
    /// Where it begins in the stream, bytes.
    pub offset: usize,
    /// Boundaries and boxes.
    pub polygons: Vec<DrawnPolygon>,
    /// Paths.
    pub paths: Vec<Path>,
    /// Texts.
    pub texts: Vec<Text>,
    /// Single and arrayed references to other cells.
    pub references: Vec<Reference>,
    /// The first fault of its elements on each layer, which are in none of the lists above; under `None` the first fault of
    /// an element without a sound layer, of a reference, or of a record between elements. For whoever takes that layer of
    /// this cell it is an error, for others it is nothing: layout programs keep data of their own in cells never drawn.
    pub unsound: BTreeMap<Option<LayerSpec>, GdsError>,
}

impl Cell {
    /// Refuses a cell of which something on these layers (`None`: on any) cannot be drawn.
    ///
    /// # Errors
    /// The fault that stands first in the stream.
    pub(super) fn check_sound(&self, layers: Option<&BTreeSet<LayerSpec>>) -> Result<(), GdsError> {
        let concerns = |layer: &LayerSpec| layers.is_none_or(|l| l.contains(layer));
        let faults = self.unsound.iter().filter(|(layer, _)| layer.as_ref().is_none_or(concerns)).map(|(_, f)| f);
        match faults.min_by_key(|f| if let GdsError::Stream { offset, .. } = f { *offset } else { 0 }) {
            None => Ok(()),
            Some(fault) => Err(fault.clone()),
        }
    }
}

/// A boundary or a box.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnPolygon {
    /// Where it begins in the stream, bytes.
    pub offset: usize,
    /// Its layer and datatype or boxtype.
    pub layer: LayerSpec,
    /// At least three points in database units, not closed, no two consecutive ones equal, running either way.
    pub points: Vec<[i32; 2]>,
}

/// How a path ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathEnd {
    /// At its last point (PATHTYPE 0).
    Flush,
    /// With a half circle around its last point (PATHTYPE 1).
    Round,
    /// Half a width beyond its last point (PATHTYPE 2).
    HalfWidth,
    /// A stated length beyond its points, database units (PATHTYPE 4); may be negative.
    Extended {
        /// Beyond the first point (BGNEXTN).
        begin: i32,
        /// Beyond the last point (ENDEXTN).
        end: i32,
    },
}

/// A path.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// Where it begins in the stream, bytes.
    pub offset: usize,
    /// Its layer and datatype.
    pub layer: LayerSpec,
    /// Points of its centre line, database units, no two consecutive ones equal.
    pub points: Vec<[i32; 2]>,
    /// Its width, database units; 0 for a mere line.
    pub width: u32,
    /// Whether the width stays when the cell is magnified (the format writes such a width as a negative number).
    pub absolute_width: bool,
    /// How it ends, at both ends.
    pub end: PathEnd,
}

/// A text.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where it begins in the stream, bytes.
    pub offset: usize,
    /// Its layer and texttype.
    pub layer: LayerSpec,
    /// Where it stands, database units.
    pub at: [i32; 2],
    /// What it says.
    pub text: String,
}

/// A reference to another cell: mirrored about the x axis, then magnified, then turned, then moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Where it begins in the stream, bytes.
    pub offset: usize,
    /// Name of the cell it places.
    pub cell: String,
    /// Whether it mirrors (y to −y) first.
    pub mirrored: bool,
    /// Magnification, a positive factor.
    pub magnification: f64,
    /// Whether the magnification ignores those of the cells around.
    pub absolute_magnification: bool,
    /// Turn, degrees anticlockwise.
    pub angle_deg: f64,
    /// Whether the turn ignores those of the cells around.
    pub absolute_angle: bool,
    /// Where the other cell's origin goes, database units.
    pub origin: [i32; 2],
    /// Its array, if it is one.
    pub array: Option<Array>,
}

/// The array of a reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Array {
    /// Columns, at least 1.
    pub columns: u16,
    /// Rows, at least 1.
    pub rows: u16,
    /// One past the last column's origin (that of column number `columns`), database units.
    pub columns_end: [i32; 2],
    /// One past the last row's origin, database units.
    pub rows_end: [i32; 2],
}

impl Reference {
    /// How many copies it places.
    pub fn copies(&self) -> u64 {
        self.array.map_or(1, |a| u64::from(a.columns) * u64::from(a.rows))
    }

    /// Origin of copy number `copy`, database units: along the first row first.
    pub fn origin_of(&self, copy: u64) -> [f64; 2] {
        let origin = self.origin.map(f64::from);
        let Some(a) = self.array else { return origin };
        let (columns, rows) = (u64::from(a.columns), u64::from(a.rows));
        let (column, row) = ((copy % columns) as f64, (copy / columns) as f64);
        // Multiplied before divided: exact where the pitch is a whole number.
        [0, 1].map(|k| {
            origin[k]
                + column * (f64::from(a.columns_end[k]) - origin[k]) / columns as f64
                + row * (f64::from(a.rows_end[k]) - origin[k]) / rows as f64
        })
    }
}

/// From database units to µm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    factor: f64,
    divide: bool,
}

impl Grid {
    /// The grid of a database unit in metres.
    pub fn new(database_unit_m: f64) -> Self {
        let unit_um = database_unit_m * 1e6;
        let per_um = 1.0 / unit_um;
        // A whole number of units in 1 µm (the usual 1000, 2000): dividing by it gives the double nearest to the decimal
        // number, the same that a written-out layout reads. The unit itself is rarely exact in binary.
        let whole = per_um.round();
        if whole >= 1.0 && (per_um - whole).abs() < 1e-9 * whole {
            Self { factor: whole, divide: true }
        } else {
            Self { factor: unit_um, divide: false }
        }
    }

    /// A length in µm.
    pub fn um(&self, database_units: f64) -> f64 {
        if self.divide { database_units / self.factor } else { database_units * self.factor }
    }

    /// A length in database units.
    pub fn database_units(&self, um: f64) -> f64 {
        if self.divide { um * self.factor } else { um / self.factor }
    }
}

impl Library {
    /// The grid of its coordinates.
    pub fn grid(&self) -> Grid {
        Grid::new(self.database_unit_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn micrometres_are_the_nearest_doubles() {
        let nm = Grid::new(1e-9);
        assert_eq!([nm.um(1234.0), nm.um(-3.0), nm.um(100_001.0)], [1.234, -0.003, 100.001]);
        assert_eq!(Grid::new(5e-10).um(2469.0), 1.2345);
        // 1e-9 read from a stream is off by a unit in the last place.
        assert_eq!(Grid::new(1.0000000000000003e-9).um(7.0), 0.007);
        assert!((Grid::new(2.54e-5).um(2.0) - 50.8).abs() < 1e-13);
        assert_eq!(nm.database_units(2.5), 2500.0);
    }

    #[test]
    fn array_origins() {
        let array = Array { columns: 3, rows: 2, columns_end: [40, 20], rows_end: [10, 40] };
        let reference = Reference {
            offset: 0,
            cell: String::new(),
            mirrored: false,
            magnification: 1.0,
            absolute_magnification: false,
            angle_deg: 0.0,
            absolute_angle: false,
            origin: [10, 20],
            array: Some(array),
        };
        let origins: Vec<_> = (0..reference.copies()).map(|i| reference.origin_of(i)).collect();
        assert_eq!(origins, [[10.0, 20.0], [20.0, 20.0], [30.0, 20.0], [10.0, 30.0], [20.0, 30.0], [30.0, 30.0]]);
    }
}
