//! How good a mesh is: counts, sizes, angles, and where the worst triangle lies. In: a mesh, µm. Out: figures in µm and
//! degrees.

use crate::geometry::{Point, centroid, cross, distance, dot};
use crate::mesh::{EdgeKind, LongIn, Mesh};

/// Figures of a mesh.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Quality {
    /// Number of corners.
    pub points: usize,
    /// Number of triangles.
    pub triangles: usize,
    /// Number of edges.
    pub edges: usize,
    /// Edges along anchors.
    pub held_edges: usize,
    /// Edges along etched walls.
    pub free_edges: usize,
    /// Edges on borders of named masses.
    pub interface_edges: usize,
    /// Area of the curved triangles, µm².
    pub area_um2: f64,
    /// Shortest edge (its chord), µm.
    pub smallest_edge_um: f64,
    /// Longest edge (its chord), µm.
    pub largest_edge_um: f64,
    /// Smallest angle between the chords of a triangle, degrees; long ones in plain fingers and
    /// straight stretches of flexures left out.
    pub smallest_angle_deg: f64,
    /// Centre of the triangle with that angle, µm.
    pub smallest_angle_at: Point,
    /// Number of long triangles in plain fingers, and in stretches of flexures.
    pub long: [usize; 2],
    /// Smallest angle of those, degrees; `None` where there are none.
    pub smallest_angle_of_long_deg: Option<f64>,
    /// Number of triangles, long ones too, whose smallest angle is in [0, 5), [5, 10), … [55, 60] degrees.
    pub angle_histogram: [usize; 12],
    /// Smallest Jacobian of a quadratic map as a share of its triangle's mean; 1 where edges are straight.
    pub smallest_jacobian: f64,
    /// Centre of the triangle with that Jacobian, µm.
    pub smallest_jacobian_at: Point,
    /// Number of the worst triangle that is not long on purpose: smallest angle in units of 60° times the Jacobian share.
    pub worst_triangle: usize,
    /// Its centre, µm.
    pub worst_at: Point,
}

/// Smallest determinant of the quadratic map over a set of sample points, divided by its mean (twice the area); 1 for
/// straight edges with centred mid-side points, 0 or less where the map folds. `g`: three corners, three mid-side points
/// (mid-side `k` between corners `k` and `k + 1`), µm.
pub fn smallest_jacobian(g: &[Point; 6]) -> f64 {
    const SAMPLES: [[f64; 2]; 10] = [
        [0.0, 0.0],
        [1.0, 0.0],
        [0.0, 1.0],
        [0.5, 0.0],
        [0.5, 0.5],
        [0.0, 0.5],
        [1.0 / 3.0, 1.0 / 3.0],
        [0.2, 0.2],
        [0.6, 0.2],
        [0.2, 0.6],
    ];
    let det = |[x, y]: [f64; 2]| {
        let z = 1.0 - x - y;
        // Derivatives of the shape functions z(2z−1), x(2x−1), y(2y−1), 4zx, 4xy, 4yz by x and y.
        let by_x = [1.0 - 4.0 * z, 4.0 * x - 1.0, 0.0, 4.0 * (z - x), 4.0 * y, -4.0 * y];
        let by_y = [1.0 - 4.0 * z, 0.0, 4.0 * y - 1.0, -4.0 * x, 4.0 * x, 4.0 * (z - y)];
        let sum = |d: &[f64; 6], c: usize| (0..6).map(|i| d[i] * g[i][c]).sum::<f64>();
        sum(&by_x, 0) * sum(&by_y, 1) - sum(&by_x, 1) * sum(&by_y, 0)
    };
    // The determinant is quadratic: its mean over the triangle is the mean of the three mid-side values.
    let mean = (det(SAMPLES[3]) + det(SAMPLES[4]) + det(SAMPLES[5])) / 3.0;
    let least = SAMPLES.iter().map(|&s| det(s)).fold(f64::INFINITY, f64::min);
    if mean > 0.0 { least / mean } else { -1.0 }
}

/// Smallest angle of a triangle, degrees.
pub fn smallest_angle(a: Point, b: Point, c: Point) -> f64 {
    let angle = |p: Point, q: Point, r: Point| {
        let (u, v) = ([q[0] - p[0], q[1] - p[1]], [r[0] - p[0], r[1] - p[1]]);
        cross(u, v).atan2(dot(u, v)).to_degrees()
    };
    angle(a, b, c).min(angle(b, c, a)).min(angle(c, a, b))
}

impl Quality {
    /// Figures of a mesh; all zero for an empty one.
    pub fn of(mesh: &Mesh) -> Self {
        let mut q = Self {
            points: mesh.points.len(),
            triangles: mesh.triangles.len(),
            edges: mesh.edges.len(),
            ..Self::default()
        };
        if mesh.triangles.is_empty() {
            return q;
        }
        q.smallest_edge_um = f64::INFINITY;
        for edge in &mesh.edges {
            let [a, b] = edge.ends.map(|i| mesh.points[i as usize]);
            let length = distance(a, b);
            q.smallest_edge_um = q.smallest_edge_um.min(length);
            q.largest_edge_um = q.largest_edge_um.max(length);
            match edge.kind {
                EdgeKind::Inner => {}
                EdgeKind::Interface => q.interface_edges += 1,
                EdgeKind::Free => q.free_edges += 1,
                EdgeKind::Held => q.held_edges += 1,
            }
        }
        q.smallest_angle_deg = f64::INFINITY;
        q.smallest_jacobian = f64::INFINITY;
        let mut worst = f64::INFINITY;
        for t in 0..mesh.triangles.len() {
            let g = mesh.geometry(t);
            let centre = centroid([g[0], g[1], g[2]]);
            let (angle, jacobian) = (smallest_angle(g[0], g[1], g[2]), smallest_jacobian(&g));
            q.area_um2 += mesh.area(t);
            q.angle_histogram[((angle / 5.0).max(0.0) as usize).min(11)] += 1;
            if jacobian < q.smallest_jacobian {
                (q.smallest_jacobian, q.smallest_jacobian_at) = (jacobian, centre);
            }
            if let Some(within) = mesh.long_in[t] {
                q.long[usize::from(within == LongIn::Flexure)] += 1;
                q.smallest_angle_of_long_deg = Some(q.smallest_angle_of_long_deg.unwrap_or(angle).min(angle));
                continue;
            }
            if angle < q.smallest_angle_deg {
                (q.smallest_angle_deg, q.smallest_angle_at) = (angle, centre);
            }
            if angle / 60.0 * jacobian < worst {
                worst = angle / 60.0 * jacobian;
                (q.worst_triangle, q.worst_at) = (t, centre);
            }
        }
        q
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_of_a_rectangle() {
        let q = Quality::of(&Mesh::rectangle(2.0, 1.0, 2, 1).unwrap());
        assert_eq!((q.points, q.triangles, q.edges, q.free_edges), (6, 4, 9, 6));
        assert!((q.area_um2 - 2.0).abs() < 1e-15 && (q.smallest_angle_deg - 45.0).abs() < 1e-12);
        assert!((q.largest_edge_um - 2.0_f64.sqrt()).abs() < 1e-15 && q.smallest_edge_um == 1.0);
        assert!((q.smallest_jacobian - 1.0).abs() < 1e-15);
        assert_eq!(q.angle_histogram[9], 4);
        assert_eq!(Quality::of(&Mesh::default()), Quality::default());
    }

    #[test]
    fn a_bent_edge_lowers_the_jacobian_and_folds_at_a_quarter() {
        // One side of the unit right triangle bowed inward by s: the determinant at a corner falls to 1 − 4 s.
        let bowed = |s: f64| smallest_jacobian(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.5, s], [0.5, 0.5], [0.0, 0.5]]);
        assert_eq!(bowed(0.0), 1.0);
        assert!(bowed(0.1) > 0.0 && bowed(0.1) < 0.8);
        assert!(bowed(0.26) < 0.0);
    }
}
