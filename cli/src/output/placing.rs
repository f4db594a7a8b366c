//! Where the things of a drawing lie: what it shows, and where names stand. In: outlines, µm. Out: boxes and points, µm.

use modalith_mesher::geometry::{Point, Polygon, Ring, bounds, ring_area};
use modalith_mesher::outline::Outline;

/// What a drawing shows: the free parts and what is near them, µm.
pub(super) fn view(outline: &Outline) -> [Point; 2] {
    let parts = || outline.parts.iter().flat_map(|p| &p.polygon.outer);
    let held = [&outline.anchors, &outline.idle_anchors, &outline.islands];
    let held = held.into_iter().flatten().flat_map(|p| &p.outer);
    let Some([low, high]) = bounds(parts()).or_else(|| bounds(held.clone())) else { return [[0.0; 2], [1.0; 2]] };
    let Some([lowest, highest]) = bounds(parts().chain(held)) else { return [low, high] };
    let rim = 0.15 * diagonal([low, high]);
    [[0, 1].map(|c| lowest[c].max(low[c] - rim)), [0, 1].map(|c| highest[c].min(high[c] + rim))]
}

/// A box that also holds these points with a rim of a share of its diagonal.
pub(super) fn grown<'a>([low, high]: [Point; 2], points: impl Iterator<Item = &'a Point>, share: f64) -> [Point; 2] {
    let Some([a, b]) = bounds(points) else { return [low, high] };
    let rim = share * diagonal([low, high]);
    [[0, 1].map(|c| low[c].min(a[c] - rim)), [0, 1].map(|c| high[c].max(b[c] + rim))]
}

pub(super) fn diagonal([low, high]: [Point; 2]) -> f64 {
    (high[0] - low[0]).hypot(high[1] - low[1])
}

/// The larger side of a ring's box, µm.
pub(super) fn extent(ring: &Ring) -> f64 {
    bounds(ring).map_or(0.0, |[low, high]| (high[0] - low[0]).max(high[1] - low[1]))
}

/// Where the name of an area stands, µm: its centre, or, where that is no material (a ring), the middle of the widest
/// stretch of material on the level of the centre.
pub(super) fn name_place(polygons: &[Polygon]) -> Option<Point> {
    let [x, y] = middle(polygons)?;
    let mut at: Vec<f64> = Vec::new();
    for ring in polygons.iter().flat_map(Polygon::rings) {
        for (i, a) in ring.iter().enumerate() {
            let b = ring[(i + 1) % ring.len()];
            if (a[1] > y) != (b[1] > y) {
                at.push(a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]));
            }
        }
    }
    at.sort_by(f64::total_cmp);
    let stretches: Vec<[f64; 2]> = at.chunks_exact(2).map(|s| [s[0], s[1]]).collect();
    // A release hole at the centre is no reason to move the name: only an opening wider than all material beside it is.
    let widest = stretches.iter().copied().reduce(|a, b| if b[1] - b[0] > a[1] - a[0] { b } else { a })?;
    let left = stretches.iter().map(|s| s[1]).filter(|&e| e <= x).fold(f64::NEG_INFINITY, f64::max);
    let right = stretches.iter().map(|s| s[0]).filter(|&e| e >= x).fold(f64::INFINITY, f64::min);
    let covered = stretches.iter().any(|s| s[0] <= x && x <= s[1]);
    Some(if covered || right - left <= widest[1] - widest[0] { [x, y] } else { [0.5 * (widest[0] + widest[1]), y] })
}

/// Centre of area of polygons, µm; nothing without area.
fn middle(polygons: &[Polygon]) -> Option<Point> {
    let mut sums = [0.0; 3];
    for ring in polygons.iter().flat_map(Polygon::rings) {
        let Some(&[x0, y0]) = ring.first() else { continue };
        let area = ring_area(ring);
        let mut moment = [0.0; 2];
        for pair in ring.windows(2) {
            let (a, b) = ([pair[0][0] - x0, pair[0][1] - y0], [pair[1][0] - x0, pair[1][1] - y0]);
            let cross = a[0] * b[1] - b[0] * a[1];
            moment[0] += (a[0] + b[0]) * cross / 6.0;
            moment[1] += (a[1] + b[1]) * cross / 6.0;
        }
        sums[0] += area;
        sums[1] += moment[0] + x0 * area;
        sums[2] += moment[1] + y0 * area;
    }
    (sums[0] > 0.0).then(|| [sums[1] / sums[0], sums[2] / sums[0]])
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn names_stand_on_material() {
        let ring = |r: f64| -> Ring {
            (0..48).map(|k| (f64::from(k) * TAU / 48.0).sin_cos()).map(|(s, c)| [r * c, r * s]).collect()
        };
        let annulus = |inner: f64| {
            let mut hole = ring(inner);
            hole.reverse();
            name_place(&[Polygon { outer: ring(10.0), holes: vec![hole] }]).unwrap()
        };
        let [x, y] = annulus(8.0);
        assert!((8.0..10.0).contains(&x.hypot(y)), "{x} {y}");
        // A release hole at the centre moves nothing.
        assert!(annulus(1.0).iter().all(|c| c.abs() < 1e-9));
    }

    #[test]
    fn centre_of_area_knows_holes() {
        let square = |a: f64, b: f64| vec![[a, a], [b, a], [b, b], [a, b]];
        let mut hole = square(0.0, 1.0);
        hole.reverse();
        let found = middle(&[Polygon { outer: square(0.0, 2.0), holes: vec![hole] }]).unwrap();
        assert!((found[0] - 3.5 / 3.0).abs() < 1e-14 && (found[1] - 3.5 / 3.0).abs() < 1e-14);
    }
}
