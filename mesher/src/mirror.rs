//! Mirror axes of an outline: in come the free parts, anchors and masses, out come the axes (µm, degrees) with the
//! largest distance between the outline and its mirror image.
//!
//! An axis passes through the centroid of the free material. Candidates are the principal axes of its area, the layout's
//! own axes, and every axis that maps the farthest corner onto another corner as far away: for an exactly symmetric
//! outline that list is complete, since a mirror image keeps distances from the centroid.

mod borders;
mod near;

pub(crate) use borders::Borders;
pub use borders::LISTED_UM;

use crate::geometry::{MirrorAxis, Point, Polygon, distance, sides};
use crate::outline::{Mirror, Outline};

/// A deviation below this marks an axis that the mesher may use as exact, µm: the grid of the outline and slanted
/// crossings on it account for a tenth of it.
pub const EXACT_UM: f64 = 2e-4;

/// More axes than this mean a round outline or one nearly so; [`ROUND_AXES`] of them are listed.
const MOST_AXES: usize = 24;
/// Axes that are listed of an outline that may have more.
pub const ROUND_AXES: usize = 12;

/// Candidates closer than this are one axis, degrees.
const SAME_DEG: f64 = 0.2;

/// Most candidates tried from the farthest corners.
const MOST_CANDIDATES: usize = 4000;

/// Area, centroid and second moments about it (xx, yy, xy) of polygons.
fn moments(polygons: &[&Polygon]) -> (f64, Point, [f64; 3]) {
    let origin = polygons.first().and_then(|p| p.outer.first()).copied().unwrap_or_default();
    let (mut area, mut first, mut second) = (0.0, [0.0; 2], [0.0; 3]);
    for ring in polygons.iter().flat_map(|p| p.rings()) {
        for [a, b] in sides(ring) {
            let (p, q) = ([a[0] - origin[0], a[1] - origin[1]], [b[0] - origin[0], b[1] - origin[1]]);
            let cross = p[0] * q[1] - q[0] * p[1];
            area += cross / 2.0;
            for k in 0..2 {
                first[k] += cross * (p[k] + q[k]) / 6.0;
                second[k] += cross * (p[k] * p[k] + p[k] * q[k] + q[k] * q[k]) / 12.0;
            }
            second[2] += cross * (2.0 * (p[0] * p[1] + q[0] * q[1]) + p[0] * q[1] + q[0] * p[1]) / 24.0;
        }
    }
    let c = first.map(|m| m / area);
    let central = [second[0] - area * c[0] * c[0], second[1] - area * c[1] * c[1], second[2] - area * c[0] * c[1]];
    (area, [origin[0] + c[0], origin[1] + c[1]], central)
}

/// All mirror axes within [`LISTED_UM`], best first, then by angle.
///
/// Limits: an outline that is symmetric only roughly is found through its principal axes and the layout's own axes; of
/// three or more equal lobes that miss symmetry by more than `LISTED_UM` nothing is listed.
pub fn axes(outline: &Outline) -> Vec<Mirror> {
    let parts: Vec<&Polygon> = outline.parts.iter().map(|p| &p.polygon).collect();
    let (area, centre, [xx, yy, xy]) = moments(&parts);
    if area.is_nan() || area <= 0.0 {
        return Vec::new();
    }
    let mut candidates = vec![0.0, 90.0];
    if (xx - yy).hypot(2.0 * xy) > 1e-9 * (xx + yy) {
        let principal = 0.5 * (2.0 * xy).atan2(xx - yy).to_degrees();
        candidates.extend([principal, principal + 90.0]);
    }
    let corners: Vec<Point> = parts.iter().flat_map(|p| p.rings()).flatten().copied().collect();
    candidates.extend(bisectors(&corners, centre));
    let borders = Borders::of(outline);
    let mut found: Vec<Mirror> = Vec::new();
    for deg in candidates {
        let angle_deg = tidy(deg);
        let axis = MirrorAxis { point: centre, angle_deg };
        let deviation_um = borders.deviation_um(&axis);
        if deviation_um > LISTED_UM {
            continue;
        }
        let mirror = Mirror { axis, deviation_um };
        match found.iter_mut().find(|m| apart_deg(m.axis.angle_deg, angle_deg) < SAME_DEG) {
            Some(same) if choice(&mirror) < choice(same) => *same = mirror,
            Some(_) => {}
            None => found.push(mirror),
        }
    }
    if found.len() > MOST_AXES {
        found = (0..ROUND_AXES)
            .filter_map(|k| {
                let ideal = 180.0 / ROUND_AXES as f64 * k as f64;
                let off = |m: &Mirror| apart_deg(m.axis.angle_deg, ideal);
                found.iter().min_by(|a, b| off(a).total_cmp(&off(b))).copied()
            })
            .collect();
    }
    found.retain(|m| borders.covers_its_image(&m.axis, m.deviation_um));
    found.sort_by(|a, b| rank(a).total_cmp(&rank(b)).then(a.axis.angle_deg.total_cmp(&b.axis.angle_deg)));
    found
}

/// Deviations within the grid are equal: among exact axes only the angle orders.
fn rank(m: &Mirror) -> f64 {
    (m.deviation_um / EXACT_UM).floor()
}

/// Of axes too near each other to be told apart the smallest is kept. The facets of a circle have axes through every corner and
/// every middle: only those that make a group with the others are of use.
fn choice(m: &Mirror) -> [f64; 3] {
    let step = 180.0 / ROUND_AXES as f64;
    let off = apart_deg(m.axis.angle_deg, (m.axis.angle_deg / step).round() * step);
    [rank(m), off, m.deviation_um]
}

fn apart_deg(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(180.0);
    d.min(180.0 - d)
}

/// In [0, 180), rounding noise about whole quarter degrees taken off.
fn tidy(deg: f64) -> f64 {
    let nearest = (deg * 4.0).round() / 4.0;
    let deg = if (deg - nearest).abs() < 1e-6 { nearest } else { deg };
    let deg = deg.rem_euclid(180.0);
    if deg < 180.0 { deg } else { 0.0 }
}

/// Axes that map the farthest corner onto itself or onto another corner as far from the centre.
fn bisectors(corners: &[Point], centre: Point) -> Vec<f64> {
    let far = |p: &Point| distance(*p, centre);
    let largest = corners.iter().map(far).fold(0.0, f64::max);
    let angle = |p: &Point| (p[1] - centre[1]).atan2(p[0] - centre[0]).to_degrees();
    let outermost: Vec<f64> = corners.iter().filter(|p| far(p) > largest - LISTED_UM).map(angle).collect();
    let Some(first) = outermost.first() else { return Vec::new() };
    outermost.iter().take(MOST_CANDIDATES).map(|a| 0.5 * (first + a)).collect()
}

#[cfg(test)]
mod tests;
