//! Filled bands between contour lines of a field on triangles.
//!
//! In: triangles that all run the same way round, points (any unit, any frame), a value from -1 to 1 at every point. Out: closed
//! rings of the areas where the linear field lies in each of so many equal steps; neighbours share their border exactly. The
//! silhouette is the border of all triangles.

use modalith_mesher::geometry::{Point, Ring};
use std::collections::{BTreeSet, HashMap};

/// Triangles and their border, found once for all fields and all places of their points.
pub struct Triangles {
    corners: Vec<[u32; 3]>,
    /// Whether another triangle lies beyond the edge from corner k to the next.
    inner: Vec<[bool; 3]>,
    silhouette: Vec<Vec<u32>>,
}

impl Triangles {
    /// Of corners by number of point.
    pub fn new(corners: Vec<[u32; 3]>) -> Self {
        let number = |t: usize, k: usize| {
            let (a, b) = (corners[t][k], corners[t][(k + 1) % 3]);
            (a.min(b), a.max(b), t as u32, k as u8)
        };
        let mut edges: Vec<_> =
            (0..corners.len()).flat_map(|t| (0..3).map(move |k| (t, k))).map(|(t, k)| number(t, k)).collect();
        edges.sort_unstable();
        let mut inner = vec![[false; 3]; corners.len()];
        let mut border = BTreeSet::new();
        for same in edges.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            for &(_, _, t, k) in same {
                let (t, k) = (t as usize, usize::from(k));
                if same.len() > 1 {
                    inner[t][k] = true;
                } else {
                    border.insert((corners[t][k], corners[t][(k + 1) % 3]));
                }
            }
        }
        Self { silhouette: rings(border), corners, inner }
    }

    /// Rings around all triangles. Openings run the other way round than outer borders.
    ///
    /// ```
    /// use modalith::output::bands::Triangles;
    /// let found = Triangles::new(vec![[0, 1, 2]]).silhouette(&[[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]]);
    /// assert_eq!(found, [vec![[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]]]);
    /// ```
    pub fn silhouette(&self, points: &[Point]) -> Vec<Ring> {
        placed(&self.silhouette, points)
    }

    /// Rings of every band, the lowest first. Openings run the other way round than outer borders.
    ///
    /// A value that is not finite counts as 0, one outside -1 to 1 as the nearest end.
    ///
    /// ```
    /// use modalith::output::bands::Triangles;
    /// let one = Triangles::new(vec![[0, 1, 2]]);
    /// let found = one.bands(&[[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]], &[-1.0, 1.0, -1.0], 2);
    /// assert_eq!(found[0], [vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 2.0]]]);
    /// ```
    pub fn bands(&self, points: &[Point], values: &[f64], steps: u16) -> Vec<Vec<Ring>> {
        let mut places = points.to_vec();
        let mut crossings: HashMap<(u32, u32, u16), u32> = HashMap::new();
        // Edges of every band's pieces: ends by rising number, and whether they run that way.
        let mut borders: Vec<Vec<(u32, u32, bool)>> = vec![Vec::new(); usize::from(steps)];
        let level = |i: u32| {
            let v = values.get(i as usize).copied().filter(|v| v.is_finite()).unwrap_or(0.0);
            0.5 * (v.clamp(-1.0, 1.0) + 1.0) * f64::from(steps)
        };
        // Point, level, and the edge that it lies on or starts.
        let mut walk: Vec<(u32, f64, usize)> = Vec::new();
        let mut piece: Vec<usize> = Vec::new();
        for (triangle, inner) in self.corners.iter().zip(&self.inner) {
            // The perimeter with every crossing of a contour line: a band's part of the triangle is the perimeter's part in it.
            walk.clear();
            for k in 0..3 {
                let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
                let (from, to) = (level(a), level(b));
                walk.push((a, from, k));
                let between = |c: &u16| (f64::from(*c) - from) * (f64::from(*c) - to) < 0.0;
                let mut cross = |c: u16| {
                    let id = *crossings.entry((a.min(b), a.max(b), c)).or_insert_with(|| {
                        let t = (f64::from(c) - from) / (to - from);
                        let (p, q) = (points[a as usize], points[b as usize]);
                        places.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
                        (places.len() - 1) as u32
                    });
                    walk.push((id, f64::from(c), k));
                };
                if from < to {
                    (1..steps).filter(between).for_each(&mut cross);
                } else {
                    (1..steps).rev().filter(between).for_each(&mut cross);
                }
            }
            for (step, border) in borders.iter_mut().enumerate() {
                let (low, high) = (step as f64, step as f64 + 1.0);
                piece.clear();
                piece.extend((0..walk.len()).filter(|&i| walk[i].1 >= low && walk[i].1 <= high));
                if piece.len() < 3 {
                    continue;
                }
                for (&i, &j) in piece.iter().zip(piece.iter().cycle().skip(1)) {
                    let ((a, at_a, edge), (b, at_b, _)) = (walk[i], walk[j]);
                    // The neighbour runs back along the same piece of their common edge, unless that is a contour line itself.
                    let shared = j == (i + 1) % walk.len() && inner[edge];
                    if !shared || (at_a == at_b && (at_a == low || at_a == high)) {
                        border.push((a.min(b), a.max(b), a < b));
                    }
                }
            }
        }
        borders.into_iter().map(|border| placed(&rings(outer(border)), &places)).collect()
    }
}

fn placed(rings: &[Vec<u32>], places: &[Point]) -> Vec<Ring> {
    rings.iter().map(|ring| ring.iter().map(|&i| places[i as usize]).collect()).collect()
}

/// The edges that no neighbour runs along the other way.
fn outer(mut edges: Vec<(u32, u32, bool)>) -> BTreeSet<(u32, u32)> {
    edges.sort_unstable();
    let same = edges.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1));
    let alone = same.filter_map(|all| match all {
        [(a, b, true)] => Some((*a, *b)),
        [(a, b, false)] => Some((*b, *a)),
        _ => None,
    });
    alone.collect()
}

/// Joins directed edges into rings. Every vertex is left as often as it is entered, so each walk comes back.
fn rings(mut border: BTreeSet<(u32, u32)>) -> Vec<Vec<u32>> {
    let mut found = Vec::new();
    while let Some((start, mut at)) = border.pop_first() {
        let mut ring = vec![start];
        while at != start {
            ring.push(at);
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
        let found = Triangles::new(mesh.triangles).bands(&mesh.points, &values, 5);
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
        let frame = Triangles::new(frame);
        for found in [frame.silhouette(&mesh.points), frame.bands(&mesh.points, &[], 1).remove(0)] {
            assert_eq!(found.len(), 2);
            assert!((area(&found) - 8.0).abs() < 1e-12);
        }
    }
}
