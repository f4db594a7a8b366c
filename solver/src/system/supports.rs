//! What holds the layer and what is added to its mass, unknown by unknown, so that published benchmarks can be posed.

use super::SystemError;
use crate::element::through::Field;
use modalith_mesher::mesh::{EdgeKind, Mesh};

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

    /// Added mass per area on a triangle, kg/m².
    pub(crate) fn per_area(&self, triangle: usize) -> f64 {
        self.per_area.get(triangle).copied().unwrap_or(0.0)
    }

    pub(super) fn points(&self, mesh: &Mesh) -> Result<&[(u32, f64)], SystemError> {
        for &(corner, kilograms) in &self.points {
            if corner as usize >= mesh.points.len() || !kilograms.is_finite() || kilograms <= 0.0 {
                return Err(SystemError::AddedMass { corner, kilograms });
            }
        }
        Ok(&self.points)
    }
}
