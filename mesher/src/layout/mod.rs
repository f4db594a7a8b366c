//! Written-out shapes of a device file: in come rectangles, polygons, paths, circles, rings and arcs in µm, placed in
//! arrays and mirrored; out come polygons in µm with curves faceted to a stated chord error.

mod crossing;
mod curve;
pub mod path;
mod placed;
mod size;

pub(crate) use crossing::at_corner;
pub use crossing::self_crossing;
pub use placed::{Array, Line, Mirroring, Placed};
pub use size::MOST_CORNERS;

use crate::geometry::{Point, Polygon, Ring, ring_area};

/// Chord error of faceted curves unless stated otherwise, µm.
pub const CHORD_ERROR_UM: f64 = 0.001;

/// Largest coordinate, width or radius, µm: a metre, far beyond any wafer.
pub const LARGEST_UM: f64 = 1e6;

/// How a path or an arc ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ends {
    /// Cut square at the last point.
    #[default]
    Flush,
    /// Cut square half a width beyond the last point.
    Square,
    /// A half circle around the last point.
    Round,
}

/// One drawn shape, µm, angles in degrees anticlockwise from x.
#[derive(Clone, Debug, PartialEq)]
pub enum LayoutShape {
    /// A rectangle by two opposite corners.
    Rect {
        /// Opposite corners.
        corners: [Point; 2],
    },
    /// A polygon with openings, in either direction.
    Polygon {
        /// Outer boundary.
        outer: Ring,
        /// Openings inside it.
        holes: Vec<Ring>,
    },
    /// A line with a width.
    Path {
        /// Points of the middle line.
        points: Vec<Point>,
        /// Full width.
        width: f64,
        /// Both ends.
        ends: Ends,
    },
    /// A disc.
    Circle {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
    },
    /// A disc with a round opening.
    Ring {
        /// Centre.
        centre: Point,
        /// Radius of the opening.
        inner: f64,
        /// Outer radius.
        outer: f64,
    },
    /// A bent bar, anticlockwise from one angle to the other.
    Arc {
        /// Centre.
        centre: Point,
        /// Radius of the middle line.
        radius: f64,
        /// Full width.
        width: f64,
        /// Where it starts.
        from_deg: f64,
        /// Where it ends; less than the start means a turn further.
        to_deg: f64,
        /// Both ends.
        ends: Ends,
    },
}

/// Why a shape cannot be drawn; coordinates in µm.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LayoutError {
    /// A number that is not finite or far too large.
    #[error("{what} {value} µm is not a length on a wafer; give a finite number of at most a metre")]
    NotALength {
        /// What the number is.
        what: &'static str,
        /// The number.
        value: f64,
    },
    /// A width, radius or side that is not positive.
    #[error("{what} is {value} µm at ({:.4}, {:.4}) µm; it must be positive", at[0], at[1])]
    NotPositive {
        /// What the number is.
        what: &'static str,
        /// The number, µm.
        value: f64,
        /// Where.
        at: Point,
    },
    /// A ring or path with too few different points.
    #[error("{found} different points near ({:.4}, {:.4}) µm; {needed} are needed", at[0], at[1])]
    TooFewPoints {
        /// Different points given.
        found: usize,
        /// Different points needed.
        needed: usize,
        /// The first point.
        at: Point,
    },
    /// A polygon whose outline encloses nothing.
    #[error("the polygon at ({:.4}, {:.4}) µm encloses no area; its points lie on one line", at[0], at[1])]
    NoArea {
        /// Its first point.
        at: Point,
    },
    /// An outline that crosses itself.
    #[error("the outline crosses itself at ({:.4}, {:.4}) µm; draw it as separate polygons", at[0], at[1])]
    Crossing {
        /// Where.
        at: Point,
    },
    /// A hole that is not inside its polygon.
    #[error("the hole at ({:.4}, {:.4}) µm is not inside its polygon; list it under holes of the layout", at[0], at[1])]
    HoleOutside {
        /// A point of the hole.
        at: Point,
    },
    /// Openings of one polygon that overlap one another or its border.
    #[error("openings of the polygon overlap one another or run over its border, the first of them at ({:.4}, {:.4}) µm; list them under holes of the layout", at[0], at[1])]
    HolesOverlap {
        /// A corner of the first opening.
        at: Point,
    },
    /// An inner radius not below the outer one.
    #[error("the opening of radius {inner} µm leaves nothing of the disc of radius {outer} µm at ({:.4}, {:.4}) µm", at[0], at[1])]
    NothingLeft {
        /// Inner radius.
        inner: f64,
        /// Outer radius.
        outer: f64,
        /// Centre.
        at: Point,
    },
    /// An arc through more than a full turn or through nothing.
    #[error("the arc around ({:.4}, {:.4}) µm runs through {sweep_deg} degrees; more than 0 and at most 360 are possible", at[0], at[1])]
    Sweep {
        /// Its turn.
        sweep_deg: f64,
        /// Centre.
        at: Point,
    },
    /// An array with no copy, or with more corners than a device may have.
    #[error("an array of {columns} × {rows} copies; at least 1 copy and at most {MOST_CORNERS} corners are possible")]
    Copies {
        /// Columns asked.
        columns: u32,
        /// Rows asked.
        rows: u32,
    },
    /// A mirror line without a direction.
    #[error("the mirror line through ({:.4}, {:.4}) µm has no direction; give two different points", at[0], at[1])]
    MirrorLine {
        /// Its point.
        at: Point,
    },
    /// A chord error that is not positive.
    #[error("a chord error of {value} µm; it must be positive")]
    ChordError {
        /// The number asked.
        value: f64,
    },
}

fn length(what: &'static str, value: f64) -> Result<f64, LayoutError> {
    if value.abs() <= LARGEST_UM { Ok(value) } else { Err(LayoutError::NotALength { what, value }) }
}

fn point(p: Point) -> Result<Point, LayoutError> {
    Ok([length("x", p[0])?, length("y", p[1])?])
}

fn positive(what: &'static str, value: f64, at: Point) -> Result<f64, LayoutError> {
    if length(what, value)? > 0.0 { Ok(value) } else { Err(LayoutError::NotPositive { what, value, at }) }
}

fn chord(value: f64) -> Result<f64, LayoutError> {
    if value > 0.0 && value.is_finite() { Ok(value) } else { Err(LayoutError::ChordError { value }) }
}

/// Drops repeats of one point and checks what is left; the closing point may be repeated.
fn checked_ring(ring: &[Point], anticlockwise: bool) -> Result<Ring, LayoutError> {
    let mut out = Ring::with_capacity(ring.len());
    for p in ring {
        let p = point(*p)?;
        if out.last() != Some(&p) {
            out.push(p);
        }
    }
    while out.len() > 1 && out.last() == out.first() {
        out.pop();
    }
    let at = out.first().copied().unwrap_or_default();
    if out.len() < 3 {
        return Err(LayoutError::TooFewPoints { found: out.len(), needed: 3, at });
    }
    if let Some(at) = self_crossing(&out) {
        return Err(LayoutError::Crossing { at });
    }
    let area = ring_area(&out);
    if area == 0.0 {
        return Err(LayoutError::NoArea { at });
    }
    if (area > 0.0) != anticlockwise {
        out.reverse();
    }
    Ok(out)
}

/// Whether a point lies inside a ring (even-odd; the border counts as either).
pub(crate) fn inside(ring: &[Point], p: Point) -> bool {
    let mut within = false;
    for (i, a) in ring.iter().enumerate() {
        let b = ring[(i + 1) % ring.len()];
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
            within = !within;
        }
    }
    within
}

impl LayoutShape {
    /// The polygons of the shape, outer rings anticlockwise, holes clockwise; curves have their corners on the curve and
    /// stay within `chord_error_um` of it. A full circle has a multiple of 24 corners, the first at angle 0, so that a
    /// symmetric drawing stays symmetric.
    ///
    /// # Errors
    /// See [`LayoutError`].
    ///
    /// ```
    /// use modalith_mesher::layout::LayoutShape;
    /// let disc = LayoutShape::Circle { centre: [3.0, 4.0], radius: 50.0 };
    /// let area = disc.polygons(0.001)?[0].area();
    /// assert!((area / (std::f64::consts::PI * 2500.0) - 1.0).abs() < 3e-5);
    /// # Ok::<(), modalith_mesher::layout::LayoutError>(())
    /// ```
    pub fn polygons(&self, chord_error_um: f64) -> Result<Vec<Polygon>, LayoutError> {
        let e = chord(chord_error_um)?;
        match self {
            LayoutShape::Rect { corners } => {
                let [a, b] = [point(corners[0])?, point(corners[1])?];
                positive("the rectangle's width", (a[0] - b[0]).abs(), a)?;
                positive("the rectangle's height", (a[1] - b[1]).abs(), a)?;
                let (x, y) = ([a[0].min(b[0]), a[0].max(b[0])], [a[1].min(b[1]), a[1].max(b[1])]);
                Ok(vec![Polygon::solid(vec![[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]])])
            }
            LayoutShape::Polygon { outer, holes } => {
                let outer = checked_ring(outer, true)?;
                let holes = holes.iter().map(|h| checked_ring(h, false)).collect::<Result<Vec<_>, _>>()?;
                for hole in &holes {
                    if let Some(&at) = hole.iter().find(|p| !inside(&outer, **p) && !on_ring(&outer, **p)) {
                        return Err(LayoutError::HoleOutside { at });
                    }
                }
                let polygon = Polygon { outer, holes };
                // Each ring is simple by now: only openings over one another or over the border lose area.
                match polygon.holes.first().filter(|_| crate::boolean::area_lost(&polygon).is_some()) {
                    Some(hole) => Err(LayoutError::HolesOverlap { at: hole[0] }),
                    None => Ok(vec![polygon]),
                }
            }
            LayoutShape::Path { points, width, ends } => path::outline(points, *width, *ends, 0.0, 0.0, e),
            LayoutShape::Circle { centre, radius } => {
                let centre = point(*centre)?;
                positive("the circle's radius", *radius, centre)?;
                Ok(vec![Polygon::solid(curve::circle(centre, *radius, e))])
            }
            LayoutShape::Ring { centre, inner, outer } => {
                let centre = point(*centre)?;
                positive("the ring's inner radius", *inner, centre)?;
                positive("the ring's outer radius", *outer, centre)?;
                if inner >= outer {
                    return Err(LayoutError::NothingLeft { inner: *inner, outer: *outer, at: centre });
                }
                Ok(vec![curve::ring(centre, *inner, *outer, e)])
            }
            LayoutShape::Arc { centre, radius, width, from_deg, to_deg, ends } => {
                let centre = point(*centre)?;
                positive("the arc's radius", *radius, centre)?;
                positive("the arc's width", *width, centre)?;
                curve::arc(centre, *radius, *width, [*from_deg, *to_deg], *ends, e)
            }
        }
    }
}

fn on_ring(ring: &[Point], p: Point) -> bool {
    (0..ring.len()).any(|i| {
        let (a, b) = (ring[i], ring[(i + 1) % ring.len()]);
        let (u, v) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let (along, length2) = (u[0] * v[0] + u[1] * v[1], u[0] * u[0] + u[1] * u[1]);
        (u[0] * v[1] - u[1] * v[0]).abs() <= 1e-9 * length2.max(1e-12).sqrt() && along >= 0.0 && along <= length2
    })
}

#[cfg(test)]
mod tests;
