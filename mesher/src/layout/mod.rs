//! Written-out shapes of a device file: in come rectangles, polygons, paths, circles, rings and arcs in µm, placed in
//! arrays and mirrored; out come polygons in µm with curves faceted to a stated chord error.

mod crossing;
mod curve;
mod error;
mod limits;
pub mod path;
mod placed;
mod shape;
mod size;

pub(crate) use crossing::at_corner;
pub use crossing::self_crossing;
pub use error::LayoutError;
pub use limits::{CHORD_ERROR_UM, LARGEST_UM, MOST_CORNERS};
pub use placed::{Array, Line, Mirroring, Placed};
pub use shape::{Ends, LayoutShape};

use crate::boolean::area_lost;
use crate::geometry::{Point, Polygon, Ring, cross, dot, inside, ring_area};
use error::{chord, point, positive};

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
                match polygon.holes.first().filter(|_| area_lost(&polygon).is_some()) {
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
        let (along, length2) = (dot(u, v), dot(u, u));
        cross(u, v).abs() <= 1e-9 * length2.max(1e-12).sqrt() && along >= 0.0 && along <= length2
    })
}

#[cfg(test)]
mod tests;
