//! Filled bands between contour lines of a field on triangles.
//!
//! In: points (any unit, any frame), triangles that all run the same way round, a value from -1 to 1 at every point. Out: closed rings
//! of the areas where the linear field lies in each of so many equal steps; neighbours share their border exactly. With one
//! step the rings are the silhouette of the triangles.

use modalith_mesher::geometry::{Point, Ring};
use std::collections::{BTreeSet, HashMap, HashSet};

/// Rings of every band, the lowest first. Openings run the other way round than outer borders.
///
/// A value that is not finite counts as 0, one outside -1 to 1 as the nearest end.
///
/// ```
/// use modalith::output::bands::bands;
/// let found = bands(&[[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]], &[[0, 1, 2]], &[-1.0, 1.0, -1.0], 2);
/// assert_eq!(found[0], [vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 2.0]]]);
/// ```
pub fn bands(points: &[Point], triangles: &[[u32; 3]], values: &[f64], steps: u16) -> Vec<Vec<Ring>> {
    let mut places = points.to_vec();
    let mut crossings: HashMap<(u32, u32, u16), u32> = HashMap::new();
    let mut borders = vec![HashSet::new(); usize::from(steps)];
    let level = |i: u32| {
        let v = values.get(i as usize).copied().filter(|v| v.is_finite()).unwrap_or(0.0);
        0.5 * (v.clamp(-1.0, 1.0) + 1.0) * f64::from(steps)
    };
    let mut walk: Vec<(u32, f64)> = Vec::new();
    for triangle in triangles {
        if triangle.iter().any(|&i| i as usize >= points.len()) {
            continue;
        }
        // The perimeter with every crossing of a contour line: a band's part of the triangle is the perimeter's part in it.
        walk.clear();
        for k in 0..3 {
            let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
            let (from, to) = (level(a), level(b));
            walk.push((a, from));
            let between: Vec<u16> = (1..steps).filter(|&c| (f64::from(c) - from) * (f64::from(c) - to) < 0.0).collect();
            let mut cross = |c: u16| {
                let id = *crossings.entry((a.min(b), a.max(b), c)).or_insert_with(|| {
                    let t = (f64::from(c) - from) / (to - from);
                    let (p, q) = (points[a as usize], points[b as usize]);
                    places.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
                    (places.len() - 1) as u32
                });
                walk.push((id, f64::from(c)));
            };
            if from < to {
                between.into_iter().for_each(&mut cross);
            } else {
                between.into_iter().rev().for_each(&mut cross);
            }
        }
        for (step, border) in borders.iter_mut().enumerate() {
            let (low, high) = (step as f64, step as f64 + 1.0);
            let piece: Vec<u32> = walk.iter().filter(|w| w.1 >= low && w.1 <= high).map(|w| w.0).collect();
            if piece.len() > 2 {
                for (k, &a) in piece.iter().enumerate() {
                    let b = piece[(k + 1) % piece.len()];
                    if !border.remove(&(b, a)) {
                        border.insert((a, b));
                    }
                }
            }
        }
    }
    // Ordered only now: inner edges come and go by the hundred thousand.
    borders.into_iter().map(|border| rings(border.into_iter().collect(), &places)).collect()
}

/// Joins directed edges into rings. Every vertex is left as often as it is entered, so each walk comes back.
fn rings(mut border: BTreeSet<(u32, u32)>, places: &[Point]) -> Vec<Ring> {
    let mut found = Vec::new();
    while let Some((start, mut at)) = border.pop_first() {
        let mut ring = vec![places[start as usize]];
        while at != start {
            ring.push(places[at as usize]);
            let Some(&next) = border.range((at, 0)..=(at, u32::MAX)).next() else { break };
            border.remove(&next);
            at = next.1;
        }
        found.push(ring);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use modalith_mesher::geometry::ring_area;
    use modalith_mesher::mesh::Mesh;

    fn area(rings: &[Ring]) -> f64 {
        rings.iter().map(|r| ring_area(r)).sum()
    }

    #[test]
    fn bands_of_a_ramp_share_a_rectangle_evenly() {
        let mesh = Mesh::rectangle(10.0, 3.0, 7, 4).unwrap();
        let values: Vec<f64> = mesh.points.iter().map(|p| p[0] / 5.0 - 1.0).collect();
        let found = bands(&mesh.points, &mesh.triangles, &values, 5);
        for rings in &found {
            assert_eq!(rings.len(), 1);
            assert!((area(rings) - 6.0).abs() < 1e-12, "{}", area(rings));
        }
    }

    #[test]
    fn silhouette_keeps_openings() {
        let mesh = Mesh::rectangle(3.0, 3.0, 3, 3).unwrap();
        let centre = |t: &&[u32; 3]| {
            let sum = |c: usize| t.iter().map(|&i| mesh.points[i as usize][c]).sum::<f64>() / 3.0;
            !((1.0..2.0).contains(&sum(0)) && (1.0..2.0).contains(&sum(1)))
        };
        let frame: Vec<[u32; 3]> = mesh.triangles.iter().filter(centre).copied().collect();
        let found = bands(&mesh.points, &frame, &[], 1);
        assert_eq!(found[0].len(), 2);
        assert!((area(&found[0]) - 8.0).abs() < 1e-12);
    }
}
