//! A shape repeated in an array and mirrored: in comes one shape, out come all its polygons, µm.

use super::error::{LayoutError, length, point};
use super::limits::MOST_CORNERS;
use super::shape::LayoutShape;
use crate::geometry::{Point, Polygon, dot};

/// A regular grid of copies; the first copy is the shape where it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Array {
    /// Number along the first step.
    pub columns: u32,
    /// Number along the second step.
    pub rows: u32,
    /// From one column to the next, µm.
    pub column_step: Point,
    /// From one row to the next, µm.
    pub row_step: Point,
}

impl Array {
    /// How many copies it makes.
    pub fn copies(&self) -> u64 {
        u64::from(self.columns) * u64::from(self.rows)
    }
}

/// A line to mirror about, µm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line {
    /// The vertical line at this x.
    Vertical(f64),
    /// The horizontal line at this y.
    Horizontal(f64),
    /// The line through two points.
    Through(Point, Point),
}

/// What to do with the mirror image.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mirroring {
    /// The mirror line.
    pub line: Line,
    /// Whether the original stays beside its image.
    pub keep_original: bool,
}

/// A shape with its copies: the array first, then the mirror image of the whole array.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// What is drawn.
    pub shape: LayoutShape,
    /// Copies in an array.
    pub array: Option<Array>,
    /// Mirror image of all copies.
    pub mirror: Option<Mirroring>,
}

impl From<LayoutShape> for Placed {
    fn from(shape: LayoutShape) -> Self {
        Self { shape, array: None, mirror: None }
    }
}

impl Line {
    /// The mirror image of a point.
    fn image(&self, p: Point) -> Point {
        match *self {
            Line::Vertical(x) => [2.0 * x - p[0], p[1]],
            Line::Horizontal(y) => [p[0], 2.0 * y - p[1]],
            Line::Through(a, b) => {
                let d = [b[0] - a[0], b[1] - a[1]];
                let r = [p[0] - a[0], p[1] - a[1]];
                let along = 2.0 * dot(r, d) / dot(d, d);
                [a[0] + along * d[0] - r[0], a[1] + along * d[1] - r[1]]
            }
        }
    }

    fn check(&self) -> Result<(), LayoutError> {
        match *self {
            Line::Vertical(v) | Line::Horizontal(v) => length("the mirror line", v).map(|_| ()),
            Line::Through(a, b) => {
                let (a, b) = (point(a)?, point(b)?);
                if a == b { Err(LayoutError::MirrorLine { at: a }) } else { Ok(()) }
            }
        }
    }
}

impl Placed {
    /// All polygons of the shape and its copies, outer rings anticlockwise, holes clockwise, µm.
    ///
    /// # Errors
    /// See [`LayoutError`]; copies that leave the metre-wide drawing are an error too.
    pub fn polygons(&self, chord_error_um: f64) -> Result<Vec<Polygon>, LayoutError> {
        let one = self.shape.polygons(chord_error_um)?;
        let mut out = Vec::new();
        match self.array {
            None => out = one,
            Some(array @ Array { columns, rows, column_step, row_step }) => {
                let copies = array.copies();
                let corners: usize = one.iter().flat_map(Polygon::rings).map(Vec::len).sum();
                if copies == 0 || copies.saturating_mul(corners as u64) > MOST_CORNERS {
                    return Err(LayoutError::Copies { columns, rows });
                }
                let (c, r) = (point(column_step)?, point(row_step)?);
                for j in 0..rows {
                    for i in 0..columns {
                        let (i, j) = (f64::from(i), f64::from(j));
                        let by = point([i * c[0] + j * r[0], i * c[1] + j * r[1]])?;
                        out.extend(one.iter().map(|p| p.moved(|q| [q[0] + by[0], q[1] + by[1]])));
                    }
                }
            }
        }
        if let Some(Mirroring { line, keep_original }) = self.mirror {
            line.check()?;
            let image = |p: &Polygon| {
                let mut image = p.moved(|q| line.image(q));
                image.holes.iter_mut().chain([&mut image.outer]).for_each(|ring| ring.reverse());
                image
            };
            let images: Vec<Polygon> = out.iter().map(image).collect();
            if keep_original {
                out.extend(images);
            } else {
                out = images;
            }
        }
        for p in out.iter().flat_map(|p| p.outer.iter()) {
            point(*p)?;
        }
        Ok(out)
    }
}
