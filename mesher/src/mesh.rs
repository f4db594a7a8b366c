//! The triangle mesh of the free material: topology, curved edges, and what each edge and triangle belongs to.
//!
//! Coordinates are micrometres in the layout frame. Triangles run anticlockwise; local edge `k` joins local corners `k`
//! and `(k + 1) % 3`. Every edge carries a mid-side point: the geometry of a triangle is the quadratic map through its
//! three corners and three mid-side points, so an edge whose mid-side point lies on a circle follows that circle.

pub use crate::geometry::MirrorAxis;

use crate::geometry::{Point, middle};
use std::collections::HashMap;

/// What lies along a mesh edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EdgeKind {
    /// Between two triangles of the same area.
    Inner,
    /// On the boundary of a named mass, between two triangles.
    Interface,
    /// An etched wall, free to move.
    Free,
    /// Along an anchor: held in all directions.
    Held,
}

/// An edge of the mesh.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// Its two corners, the lower number first.
    pub ends: [u32; 2],
    /// The point half-way along it, µm; on the curve where the edge is curved.
    pub middle: Point,
    /// What lies along it.
    pub kind: EdgeKind,
}

/// What is meshed in long triangles.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LongIn {
    /// A plain finger of a comb.
    Finger,
    /// A straight stretch of a flexure.
    Flexure,
}

/// A conforming mesh of triangles with straight or curved edges.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Corners, µm.
    pub points: Vec<Point>,
    /// Corner numbers of each triangle, anticlockwise.
    pub triangles: Vec<[u32; 3]>,
    /// Edges, each once.
    pub edges: Vec<Edge>,
    /// Edge numbers of each triangle; edge `k` joins corners `k` and `(k + 1) % 3`.
    pub triangle_edges: Vec<[u32; 3]>,
    /// For each triangle the number of its named mass in `mass_names`, if it is in one.
    pub mass_of: Vec<Option<u16>>,
    /// Names of the masses.
    pub mass_names: Vec<String>,
    /// For each triangle the number of its flexure, if it is in one (counted from 0).
    pub flexure_of: Vec<Option<u16>>,
    /// For each triangle what it lies in where triangles are long on purpose.
    pub long_in: Vec<Option<LongIn>>,
    /// Mirror axes that the mesh has exactly (to rounding of the coordinates).
    pub mirrors: Vec<MirrorAxis>,
}

/// Why triangles do not make a mesh.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MeshError {
    /// A corner number past the end of the points.
    #[error("triangle {triangle} names corner {corner}, but there are {points} points")]
    NoSuchCorner {
        /// Number of the triangle.
        triangle: usize,
        /// The corner it names.
        corner: u32,
        /// How many points there are.
        points: usize,
    },
    /// A triangle with no area or that runs clockwise.
    #[error("triangle {triangle} near ({:.3}, {:.3}) µm has area {area_um2:.3e} µm²; corners must run anticlockwise", .at[0], .at[1])]
    NotPositive {
        /// Number of the triangle.
        triangle: usize,
        /// Its first corner, µm.
        at: Point,
        /// Its signed area, µm².
        area_um2: f64,
    },
    /// More than two triangles on an edge.
    #[error("the edge from ({:.3}, {:.3}) to ({:.3}, {:.3}) µm belongs to more than two triangles", .from[0], .from[1], .to[0], .to[1])]
    Crowded {
        /// One end, µm.
        from: Point,
        /// The other end, µm.
        to: Point,
    },
}

impl Mesh {
    /// Builds the topology from corners and triangles. Boundary edges become [`EdgeKind::Free`], the others
    /// [`EdgeKind::Inner`]; all edges are straight. Edges are numbered in the order in which triangles meet them.
    ///
    /// # Errors
    /// See [`MeshError`].
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// let mesh = Mesh::from_triangles(
    ///     vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]],
    ///     vec![[0, 1, 2], [0, 2, 3]],
    /// )?;
    /// assert_eq!(mesh.edges.len(), 5);
    /// # Ok::<(), modalith_mesher::mesh::MeshError>(())
    /// ```
    pub fn from_triangles(points: Vec<Point>, triangles: Vec<[u32; 3]>) -> Result<Self, MeshError> {
        let mut number: HashMap<[u32; 2], u32> = HashMap::with_capacity(triangles.len() * 3 / 2);
        let mut edges: Vec<Edge> = Vec::with_capacity(triangles.len() * 3 / 2);
        let mut uses: Vec<u8> = Vec::with_capacity(triangles.len() * 3 / 2);
        let mut triangle_edges = Vec::with_capacity(triangles.len());
        for (t, corners) in triangles.iter().enumerate() {
            for &corner in corners {
                if corner as usize >= points.len() {
                    return Err(MeshError::NoSuchCorner { triangle: t, corner, points: points.len() });
                }
            }
            let [a, b, c] = corners.map(|i| points[i as usize]);
            let area = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]));
            if area.is_nan() || area <= 0.0 {
                return Err(MeshError::NotPositive { triangle: t, at: a, area_um2: area });
            }
            let mut of_triangle = [0; 3];
            for k in 0..3 {
                let (i, j) = (corners[k], corners[(k + 1) % 3]);
                let ends = [i.min(j), i.max(j)];
                let e = *number.entry(ends).or_insert_with(|| {
                    let (p, q) = (points[ends[0] as usize], points[ends[1] as usize]);
                    edges.push(Edge { ends, middle: middle(p, q), kind: EdgeKind::Free });
                    uses.push(0);
                    (edges.len() - 1) as u32
                });
                uses[e as usize] += 1;
                if uses[e as usize] > 2 {
                    return Err(MeshError::Crowded { from: points[ends[0] as usize], to: points[ends[1] as usize] });
                }
                of_triangle[k] = e;
            }
            triangle_edges.push(of_triangle);
        }
        for (edge, &n) in edges.iter_mut().zip(&uses) {
            if n == 2 {
                edge.kind = EdgeKind::Inner;
            }
        }
        let n = triangles.len();
        Ok(Self {
            points,
            triangles,
            edges,
            triangle_edges,
            mass_of: vec![None; n],
            mass_names: Vec::new(),
            flexure_of: vec![None; n],
            long_in: vec![None; n],
            mirrors: Vec::new(),
        })
    }

    /// A rectangle `[0, width] × [0, height]` (µm) cut into `columns × rows` cells of two triangles each, the diagonals
    /// alternating so that the pattern has no preferred direction. For benchmarks of plates and strips.
    ///
    /// # Errors
    /// [`MeshError::NotPositive`] where a side is not positive; no cells give an empty mesh.
    pub fn rectangle(width: f64, height: f64, columns: u32, rows: u32) -> Result<Self, MeshError> {
        let mut points = Vec::new();
        for j in 0..=rows {
            for i in 0..=columns {
                points.push([width * f64::from(i) / f64::from(columns), height * f64::from(j) / f64::from(rows)]);
            }
        }
        let at = |i: u32, j: u32| j * (columns + 1) + i;
        let mut triangles = Vec::new();
        for j in 0..rows {
            for i in 0..columns {
                let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
                if (i + j) % 2 == 0 {
                    triangles.extend([[a, b, c], [a, c, d]]);
                } else {
                    triangles.extend([[a, b, d], [b, c, d]]);
                }
            }
        }
        Self::from_triangles(points, triangles)
    }

    /// Whether a triangle lies in a plain finger.
    pub fn in_finger(&self, triangle: usize) -> bool {
        self.long_in[triangle] == Some(LongIn::Finger)
    }

    /// Marks every boundary edge whose middle satisfies `at` as held.
    pub fn hold(&mut self, at: impl Fn(Point) -> bool) {
        for edge in &mut self.edges {
            if edge.kind == EdgeKind::Free && at(edge.middle) {
                edge.kind = EdgeKind::Held;
            }
        }
    }

    /// Moves mid-side points of boundary edges onto a curve: `on_curve` gets the straight middle and returns the point
    /// on the curve, or `None` to leave the edge straight.
    pub fn bend(&mut self, on_curve: impl Fn(&Edge, [Point; 2]) -> Option<Point>) {
        for edge in &mut self.edges {
            if edge.kind != EdgeKind::Inner {
                let ends = edge.ends.map(|i| self.points[i as usize]);
                if let Some(middle) = on_curve(edge, ends) {
                    edge.middle = middle;
                }
            }
        }
    }

    /// The three corners and three mid-side points of a triangle, µm, mid-side point `k` on edge `k`.
    pub fn geometry(&self, triangle: usize) -> [Point; 6] {
        let [a, b, c] = self.triangles[triangle].map(|i| self.points[i as usize]);
        let [d, e, f] = self.triangle_edges[triangle].map(|i| self.edges[i as usize].middle);
        [a, b, c, d, e, f]
    }

    /// The triangle on the other side of every edge of every triangle.
    pub fn neighbours(&self) -> Vec<[Option<u32>; 3]> {
        let mut sides = vec![[None; 2]; self.edges.len()];
        for (t, edges) in self.triangle_edges.iter().enumerate() {
            for &e in edges {
                let side: &mut [Option<u32>; 2] = &mut sides[e as usize];
                side[usize::from(side[0].is_some())] = Some(t as u32);
            }
        }
        let other = |t: usize, e: u32| sides[e as usize].into_iter().flatten().find(|&o| o as usize != t);
        self.triangle_edges.iter().enumerate().map(|(t, edges)| edges.map(|e| other(t, e))).collect()
    }

    /// Area of a triangle, µm², its curved edges included.
    pub fn area(&self, triangle: usize) -> f64 {
        let [a, b, c, d, e, f] = self.geometry(triangle);
        // A parabolic segment over a chord adds 2/3 of chord × rise; the rise is the mid-side point's offset.
        let bulge = |p: Point, q: Point, m: Point| {
            let rise = [m[0] - 0.5 * (p[0] + q[0]), m[1] - 0.5 * (p[1] + q[1])];
            2.0 / 3.0 * (rise[0] * (q[1] - p[1]) - rise[1] * (q[0] - p[0]))
        };
        0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]))
            + bulge(a, b, d)
            + bulge(b, c, e)
            + bulge(c, a, f)
    }
}
