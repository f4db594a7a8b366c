//! The element matrices of a layer on a mesh, triangle by triangle. In: mesh (µm) and layer. Out: constants and plane integrals, SI.

use super::{Layer, Regions, SystemError};
use crate::element::plane::{PlaneIntegrals, PlaneTable};
use crate::element::prism::Prism;
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;

/// The element matrices of a layer on a mesh, triangle by triangle.
pub struct ElementMatrices<'a> {
    mesh: &'a Mesh,
    table: PlaneTable,
    regions: Regions,
    prisms: Vec<Prism>,
}

impl<'a> ElementMatrices<'a> {
    /// Element matrices of `layer` on `mesh`.
    pub fn new(mesh: &'a Mesh, layer: &Layer) -> Self {
        let (regions, prisms) = (layer.regions.clone(), layer.prisms());
        Self { mesh, table: PlaneTable::new(layer.order), regions, prisms }
    }

    /// Constants of the layer at a triangle, with the fields that it has there.
    pub fn of(&self, triangle: usize) -> &Prism {
        &self.prisms[self.regions.set_of(triangle)]
    }

    /// Tables of the plane integrals.
    pub fn table(&self) -> &PlaneTable {
        &self.table
    }

    /// Corners and mid-side points of a triangle, m.
    pub fn sides_m(&self, triangle: usize) -> [[f64; 2]; 6] {
        self.mesh.geometry(triangle).map(|p| p.map(|x| x * 1e-6))
    }

    /// Which functions of a triangle change sign because their edge runs from the higher corner to the lower.
    pub fn flips(&self, triangle: usize) -> Vec<bool> {
        let corners = self.mesh.triangles[triangle];
        let order = self.table.order();
        (0..order.functions()).map(|a| order.odd_edge(a).is_some_and(|k| corners[k] > corners[(k + 1) % 3])).collect()
    }

    /// Plane integrals of a triangle, its edge functions in the mesh's direction.
    ///
    /// # Errors
    /// [`SystemError::Folded`].
    pub fn integrate(&self, triangle: usize) -> Result<PlaneIntegrals, SystemError> {
        let mut plane = self
            .table
            .integrate(&self.sides_m(triangle))
            .map_err(|folded| SystemError::Folded { triangle, at_um: folded.0.map(|x| x * 1e6) })?;
        plane.flip(&self.flips(triangle));
        Ok(plane)
    }

    /// How the plane integrals of a triangle change along a mesh motion, per metre of it.
    ///
    /// # Errors
    /// [`SystemError::Folded`].
    pub fn derivative(&self, triangle: usize, motion: &MeshMotion) -> Result<PlaneIntegrals, SystemError> {
        let mut plane = self
            .table
            .derivative(&self.sides_m(triangle), &motion.of_triangle(self.mesh, triangle))
            .map_err(|folded| SystemError::Folded { triangle, at_um: folded.0.map(|x| x * 1e6) })?;
        plane.flip(&self.flips(triangle));
        Ok(plane)
    }
}
