//! What holds the layer and what is added to its mass, unknown by unknown, so that published benchmarks can be posed.

use super::SystemError;
use crate::element::through::Field;
use modalith_mesher::geometry::{Point, Polygon, bounds, ring_area};
use modalith_mesher::mesh::{EdgeKind, Mesh};

/// How far an opening's missing mass is spread, in units of its own extent.
const SPREAD: f64 = 2.0;

/// Fields held at mesh edges and corners.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Supports {
    pub(super) edges: Vec<(u32, Vec<Field>)>,
    pub(super) corners: Vec<(u32, Vec<Field>)>,
    pub(super) anchored: Vec<u32>,
    pub(super) below: Vec<u32>,
}

impl Supports {
    /// Nothing held.
    pub fn none() -> Self {
        Self::default()
    }

    /// Every field held along the edges that the mesh marks as held.
    pub fn anchors(mesh: &Mesh) -> Self {
        let anchored =
            (0..mesh.edges.len()).filter(|&e| mesh.edges[e].kind == EdgeKind::Held).map(|e| e as u32).collect();
        Self { anchored, ..Self::default() }
    }

    /// Holds fields along every boundary edge whose middle (µm) satisfies `at`.
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// use modalith_solver::{element::through::Field, system::Supports};
    /// let plate = Mesh::rectangle(100.0, 100.0, 4, 4)?;
    /// let mut supports = Supports::none();
    /// // Hard simple support along y = 0: no deflection, no turn about the edge's normal.
    /// supports.hold_edges(&plate, |m| m[1] == 0.0, &[Field::DEFLECTION, Field::TILT_X]);
    /// # Ok::<(), modalith_mesher::mesh::MeshError>(())
    /// ```
    pub fn hold_edges(&mut self, mesh: &Mesh, at: impl Fn([f64; 2]) -> bool, fields: &[Field]) {
        for (e, edge) in mesh.edges.iter().enumerate() {
            if matches!(edge.kind, EdgeKind::Free | EdgeKind::Held) && at(edge.middle) {
                self.edges.push((e as u32, fields.to_vec()));
            }
        }
    }

    /// Holds the lower face, z = −t/2, of some triangles in all directions; the rest of them moves. It takes the fields of a
    /// solid: a shell, which knows no strain along z, would only turn about that face. It ties in-plane motion to out-of-plane.
    pub fn hold_below(&mut self, triangles: impl IntoIterator<Item = u32>) {
        self.below.extend(triangles);
    }

    /// Whether the supports treat the two faces of the layer differently.
    pub fn are_one_sided(&self) -> bool {
        !self.below.is_empty()
    }

    /// Holds fields at a corner of the mesh.
    pub fn hold_corner(&mut self, corner: u32, fields: &[Field]) {
        self.corners.push((corner, fields.to_vec()));
    }
}

/// Mass beyond the layer's own.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AddedMass {
    points: Vec<(u32, f64)>,
    per_area: Vec<f64>,
    open: Vec<f64>,
}

impl AddedMass {
    /// No added mass.
    pub fn none() -> Self {
        Self::default()
    }

    /// Adds a point mass, kg, at mid-layer on a mesh corner.
    pub fn point(&mut self, corner: u32, kilograms: f64) {
        self.points.push((corner, kilograms));
    }

    /// Adds a mass spread evenly over one triangle at mid-layer, kg/m²; a coating, or fingers left out of the mesh.
    pub fn spread(&mut self, mesh: &Mesh, triangle: usize, kg_per_m2: f64) {
        self.per_area.resize(mesh.triangles.len(), 0.0);
        if let Some(sum) = self.per_area.get_mut(triangle) {
            *sum += kg_per_m2;
        }
    }

    /// Takes the material of small openings out of the triangles around them: mass by the share φ of the area that is open,
    /// stretching stiffness by (1 − φ)/(1 + 2φ), the bound of Hashin & Shtrikman for a plane with round openings (J. Mech. Phys.
    /// Solids 11 (1963) 127), bending stiffness by (1 − φ)/(1 + 0.6 φ): a round hole takes 2φ/(1 − ν) of a plate's stiffness
    /// against stretch alike in all directions and 2φ/(1 + ν) of that against bending (derived from Lamé's hole and its
    /// plate analogue). Each opening is spread over twice its extent, so that none takes all of a triangle; its mass
    /// is conserved.
    pub fn subtract_hole_mass(&mut self, mesh: &Mesh, holes: &[Polygon]) {
        self.open.resize(mesh.triangles.len(), 0.0);
        let triangles: Vec<[Point; 3]> =
            mesh.triangles.iter().map(|corners| corners.map(|c| mesh.points[c as usize])).collect();
        for hole in holes {
            let Some([a, b]) = bounds(&hole.outer) else { continue };
            let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
            let spread: Vec<Point> =
                hole.outer.iter().map(|p| [0, 1].map(|c| middle[c] + SPREAD * (p[c] - middle[c]))).collect();
            let Some([a, b]) = bounds(&spread) else { continue };
            let near =
                |t: &[Point; 3]| bounds(t).is_some_and(|[low, high]| (0..2).all(|k| a[k] < high[k] && b[k] > low[k]));
            let shares: Vec<(usize, f64)> = triangles
                .iter()
                .enumerate()
                .filter(|(_, t)| near(t))
                .map(|(i, t)| (i, ring_area(&common(&spread, t)).abs()))
                .collect();
            let covered: f64 = shares.iter().map(|s| s.1).sum();
            for (t, share) in shares {
                self.open[t] += hole.area().abs() * share / (covered * mesh.area(t));
            }
        }
    }

    /// Share of a triangle that is material.
    pub(crate) fn solid(&self, triangle: usize) -> f64 {
        1.0 - self.open.get(triangle).copied().unwrap_or(0.0)
    }

    /// The least share of any triangle that is material.
    pub fn least_solid(&self) -> f64 {
        self.open.iter().fold(1.0, |least, open| (1.0 - open).min(least))
    }

    /// Share of a triangle's stiffness that its openings leave, in stretching or in bending.
    pub(crate) fn stiffness(&self, triangle: usize, bends: bool) -> f64 {
        let open = 1.0 - self.solid(triangle);
        (1.0 - open) / (1.0 + if bends { 0.6 } else { 2.0 } * open)
    }

    /// Added mass per area on a triangle, kg/m².
    pub(crate) fn per_area(&self, triangle: usize) -> f64 {
        self.per_area.get(triangle).copied().unwrap_or(0.0)
    }

    /// Point masses: mesh corner and kg.
    pub(crate) fn points(&self, mesh: &Mesh) -> Result<&[(u32, f64)], SystemError> {
        for &(corner, kilograms) in &self.points {
            if corner as usize >= mesh.points.len() || !kilograms.is_finite() || kilograms <= 0.0 {
                return Err(SystemError::AddedMass { corner, kilograms });
            }
        }
        Ok(&self.points)
    }
}

/// What a ring and a triangle that runs anticlockwise have in common (Sutherland & Hodgman 1974).
pub(crate) fn common(ring: &[Point], triangle: &[Point; 3]) -> Vec<Point> {
    let mut left = ring.to_vec();
    for k in 0..3 {
        let (a, b) = (triangle[k], triangle[(k + 1) % 3]);
        let side = |p: Point| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        let mut kept = Vec::with_capacity(left.len() + 3);
        for (i, &p) in left.iter().enumerate() {
            let q = left[(i + 1) % left.len()];
            let (sp, sq) = (side(p), side(q));
            if sp >= 0.0 {
                kept.push(p);
            }
            if (sp >= 0.0) != (sq >= 0.0) {
                let share = sp / (sp - sq);
                kept.push([0, 1].map(|c| p[c] + share * (q[c] - p[c])));
            }
        }
        left = kept;
    }
    left
}
