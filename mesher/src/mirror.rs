//! Mirror axes of an outline: in come the free parts, anchors and masses, out come the axes (µm, degrees) with the
//! largest distance between the outline and its mirror image.
//!
//! An axis passes through the centroid of the free material. Candidates are the principal axes of its area, the layout's
//! own axes, and every axis that maps the farthest corner onto another corner as far away: for an exactly symmetric
//! outline that list is complete, since a mirror image keeps distances from the centroid.

mod near;

use crate::geometry::{Point, Polygon, Ring};
use crate::mesh::MirrorAxis;
use crate::outline::{Mirror, Outline};
use near::Near;

/// A deviation below this marks an axis that the mesher may use as exact, µm: the grid of the outline and slanted
/// crossings on it account for a tenth of it.
pub const EXACT_UM: f64 = 2e-4;

/// Axes that the outline misses by more are not listed, µm.
pub const LISTED_UM: f64 = 0.1;

/// More axes than this mean a round outline, which has infinitely many; [`ROUND_AXES`] of them are listed.
const MOST_AXES: usize = 24;
const ROUND_AXES: usize = 12;

/// Candidates closer than this are one axis, degrees.
const SAME_DEG: f64 = 0.2;

/// Most candidates tried from the farthest corners.
const MOST_CANDIDATES: usize = 4000;

/// Area, centroid and second moments about it (xx, yy, xy) of polygons.
fn moments(polygons: &[&Polygon]) -> (f64, Point, [f64; 3]) {
    let origin = polygons.first().and_then(|p| p.outer.first()).copied().unwrap_or_default();
    let (mut area, mut first, mut second) = (0.0, [0.0; 2], [0.0; 3]);
    for ring in polygons.iter().flat_map(|p| p.rings()) {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
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

/// Rings of one kind: a mirror image must fall on rings of the same kind.
struct Kind {
    corners: Vec<Point>,
    borders: Near,
}

impl Kind {
    fn of<'a>(polygons: impl Iterator<Item = &'a Polygon>) -> Self {
        let rings: Vec<&Ring> = polygons.flat_map(|p| p.rings()).collect();
        let segments = rings.iter().flat_map(|r| (0..r.len()).map(|i| [r[i], r[(i + 1) % r.len()]]));
        Self {
            borders: Near::new(segments.collect(), 2.0 * LISTED_UM),
            corners: rings.iter().flat_map(|r| r.iter().copied()).collect(),
        }
    }

    /// The largest distance of mirrored corners (every `stride`-th) from the borders; stops above `enough`.
    fn deviation(&self, image: impl Fn(Point) -> Point, stride: usize, enough: f64) -> f64 {
        let mut worst: f64 = 0.0;
        for p in self.corners.iter().step_by(stride.max(1)) {
            worst = worst.max(self.borders.distance(image(*p)));
            if worst > enough {
                break;
            }
        }
        worst
    }
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
    let kinds = [
        Kind::of(parts.iter().copied()),
        Kind::of(outline.anchors.iter()),
        Kind::of(outline.masses.iter().flat_map(|m| &m.polygons)),
    ];
    let deviation = |deg: f64, stride: usize| {
        let [c, s] = double(deg);
        let image = |p: Point| {
            let r = [p[0] - centre[0], p[1] - centre[1]];
            [centre[0] + c * r[0] + s * r[1], centre[1] + s * r[0] - c * r[1]]
        };
        kinds.iter().map(|k| k.deviation(image, stride.min(k.corners.len() / 16), LISTED_UM)).fold(0.0, f64::max)
    };
    let mut candidates = vec![0.0, 90.0];
    if (xx - yy).hypot(2.0 * xy) > 1e-9 * (xx + yy) {
        let principal = 0.5 * (2.0 * xy).atan2(xx - yy).to_degrees();
        candidates.extend([principal, principal + 90.0]);
    }
    candidates.extend(bisectors(&kinds[0].corners, centre));
    let stride = kinds.iter().map(|k| k.corners.len()).sum::<usize>() / 256;
    let mut found: Vec<Mirror> = Vec::new();
    for deg in candidates {
        let angle_deg = tidy(deg);
        if stride > 1 && deviation(angle_deg, stride) > LISTED_UM {
            continue;
        }
        let deviation_um = deviation(angle_deg, 1);
        if deviation_um > LISTED_UM {
            continue;
        }
        let mirror = Mirror { axis: MirrorAxis { point: centre, angle_deg }, deviation_um };
        match found.iter_mut().find(|m| apart_deg(m.axis.angle_deg, angle_deg) < SAME_DEG) {
            Some(same) if deviation_um < same.deviation_um => *same = mirror,
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
    // Deviations within the grid are equal: among exact axes only the angle orders.
    let rank = |m: &Mirror| (m.deviation_um / EXACT_UM).floor();
    found.sort_by(|a, b| rank(a).total_cmp(&rank(b)).then(a.axis.angle_deg.total_cmp(&b.axis.angle_deg)));
    found
}

/// Cosine and sine of twice an angle in degrees, exact on the layout's axes and diagonals.
fn double(deg: f64) -> Point {
    match (2.0 * deg).rem_euclid(360.0) {
        0.0 => [1.0, 0.0],
        90.0 => [0.0, 1.0],
        180.0 => [-1.0, 0.0],
        270.0 => [0.0, -1.0],
        twice => [twice.to_radians().cos(), twice.to_radians().sin()],
    }
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
    let far = |p: &Point| (p[0] - centre[0]).hypot(p[1] - centre[1]);
    let largest = corners.iter().map(far).fold(0.0, f64::max);
    let angle = |p: &Point| (p[1] - centre[1]).atan2(p[0] - centre[0]).to_degrees();
    let outermost: Vec<f64> = corners.iter().filter(|p| far(p) > largest - LISTED_UM).map(angle).collect();
    let Some(first) = outermost.first() else { return Vec::new() };
    outermost.iter().take(MOST_CANDIDATES).map(|a| 0.5 * (first + a)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{Anchoring, Drawing, Film};
    use crate::geometry::NamedArea;
    use crate::layout::Shape;
    use crate::outline::{Etch, OutlineError};

    fn outline(structure: Vec<Polygon>, holes: Vec<Polygon>, masses: Vec<NamedArea>) -> Result<Outline, OutlineError> {
        let film = Film::Drawn { structure, holes };
        Outline::build(&Drawing { film, anchoring: Anchoring::Free, masses, electrodes: vec![] }, &Etch::default())
    }

    fn rect(a: Point, b: Point) -> Polygon {
        Polygon::solid(vec![a, [b[0], a[1]], b, [a[0], b[1]]])
    }

    /// A bar from the centre outward, at an angle.
    fn spoke(deg: f64, from: f64, to: f64, width: f64) -> Polygon {
        let (s, c) = deg.to_radians().sin_cos();
        let p = |r: f64, h: f64| [r * c - h * s, r * s + h * c];
        Polygon::solid(vec![p(from, -0.5 * width), p(to, -0.5 * width), p(to, 0.5 * width), p(from, 0.5 * width)])
    }

    fn angles(mirrors: &[Mirror]) -> Vec<f64> {
        mirrors.iter().filter(|m| m.deviation_um < EXACT_UM).map(|m| m.axis.angle_deg).collect()
    }

    #[test]
    fn rectangles_squares_and_oblique_shapes() -> Result<(), OutlineError> {
        assert_eq!(angles(&outline(vec![rect([3.0, 5.0], [43.0, 25.0])], vec![], vec![])?.mirrors), [0.0, 90.0]);
        let square = outline(vec![rect([3.0, 5.0], [43.0, 45.0])], vec![], vec![])?;
        assert_eq!(angles(&square.mirrors), [0.0, 45.0, 90.0, 135.0]);
        assert!(square.mirrors.iter().all(|m| m.axis.point == [23.0, 25.0]));
        // A bar at 17° has its two axes; a Z has none.
        let bar = outline(vec![spoke(17.0, -50.0, 50.0, 7.0)], vec![], vec![])?;
        let found = angles(&bar.mirrors);
        assert!(found.len() == 2 && (found[0] - 17.0).abs() < 1e-4 && (found[1] - 107.0).abs() < 1e-4, "{found:?}");
        let z = vec![rect([0.0, 0.0], [50.0, 4.0]), rect([0.0, 0.0], [4.0, 20.0]), rect([46.0, -16.0], [50.0, 4.0])];
        assert_eq!(outline(z, vec![], vec![])?.mirrors, vec![]);
        Ok(())
    }

    #[test]
    fn all_axes_of_dihedral_groups() -> Result<(), OutlineError> {
        for n in [3u32, 5, 6, 8, 12] {
            let ring = Shape::Ring { centre: [0.0, 0.0], inner: 90.0, outer: 100.0 }.polygons(0.001).unwrap();
            let hub = Shape::Circle { centre: [0.0, 0.0], radius: 20.0 }.polygons(0.001).unwrap();
            let turn = 360.0 / f64::from(n);
            let spokes = (0..n).map(|k| spoke(turn * f64::from(k), 0.0, 95.0, 5.0));
            let found = outline([ring, hub, spokes.collect()].concat(), vec![], vec![])?.mirrors;
            assert_eq!(found.iter().filter(|m| m.deviation_um < 2e-3).count(), n as usize, "{n}: {found:?}");
            let mut angles: Vec<f64> = found.iter().map(|m| m.axis.angle_deg).collect();
            angles.sort_by(f64::total_cmp);
            for (k, a) in angles.iter().enumerate() {
                assert!((a - 0.5 * turn * k as f64).abs() < 1e-3, "{n}: {angles:?}");
            }
        }
        Ok(())
    }

    #[test]
    fn a_round_outline_lists_twelve_axes() -> Result<(), OutlineError> {
        let disc = Shape::Circle { centre: [10.0, 20.0], radius: 80.0 }.polygons(0.001).unwrap();
        let every_15_degrees: Vec<f64> = (0..12).map(|k| 15.0 * f64::from(k)).collect();
        assert_eq!(angles(&outline(disc, vec![], vec![])?.mirrors), every_15_degrees);
        Ok(())
    }

    #[test]
    fn deviation_is_the_flaw() -> Result<(), OutlineError> {
        // One arm 30 nm longer: the mirror image of its end misses by 30 nm, less the centroid's move.
        let arms = vec![rect([-100.0, -5.0], [100.03, 5.0]), rect([-20.0, -30.0], [20.0, 40.0])];
        let mirrors = outline(arms, vec![], vec![])?.mirrors;
        assert_eq!((mirrors.len(), mirrors[0].axis.angle_deg), (1, 90.0));
        // Areas 2000.3 + 2400 µm²: the extra 0.3 µm² at x = 100.015 moves the centroid by 6.8 nm.
        let moved: f64 = 0.3 * 100.015 / (2000.3 + 70.0 * 40.0 - 40.0 * 10.0);
        let exact: f64 = (0.03f64 - 2.0 * moved).max(2.0 * moved);
        assert!((mirrors[0].deviation_um - exact).abs() < 1e-4, "{} {exact}", mirrors[0].deviation_um);
        Ok(())
    }

    #[test]
    fn masses_may_swap_but_must_match() -> Result<(), OutlineError> {
        let plate = || vec![rect([-100.0, -50.0], [100.0, 50.0])];
        let mass = |name: &str, a: Point, b: Point| NamedArea { name: name.into(), polygons: vec![rect(a, b)] };
        let pair = vec![mass("left", [-90.0, -40.0], [-10.0, 40.0]), mass("right", [10.0, -40.0], [90.0, 40.0])];
        assert_eq!(angles(&outline(plate(), vec![], pair)?.mirrors), [0.0, 90.0]);
        let one = vec![mass("left", [-90.0, -40.0], [-10.0, 40.0])];
        assert_eq!(angles(&outline(plate(), vec![], one)?.mirrors), [0.0]);
        Ok(())
    }
}
