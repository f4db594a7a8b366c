//! What is solved: a layer on a mesh, what holds it, what mass it carries and what is attached to it. Everything from system to modes,
//! error bars, couplings and first-order terms takes this one value, so that none of them can be told of another mesh or mass.

use super::{AddedMass, Attachments, Layer, PointSpring, PreStress, Supports, Unknowns};
use modalith_mesher::mesh::Mesh;
use std::sync::Arc;

/// A structure. Its parts are shared: a clone costs little and never a mesh.
#[derive(Clone, Debug)]
pub struct Structure {
    mesh: Arc<Mesh>,
    layer: Layer,
    supports: Arc<Supports>,
    added: Arc<AddedMass>,
    attachments: Arc<Attachments>,
    pre_stress: Option<Arc<PreStress>>,
}

impl Structure {
    /// A layer on a mesh (µm) with what holds it; no added mass, nothing attached. Edges and corners of the supports are the mesh's.
    pub fn new(mesh: impl Into<Arc<Mesh>>, layer: Layer, supports: Supports) -> Self {
        Self {
            mesh: mesh.into(),
            layer,
            supports: Arc::new(supports),
            added: Arc::default(),
            attachments: Arc::default(),
            pre_stress: None,
        }
    }

    /// A layer on a mesh (µm), held where the mesh marks edges as held.
    ///
    /// ```
    /// use modalith_mesher::mesh::Mesh;
    /// use modalith_solver::{material::Law, system::{Layer, Structure}};
    /// let mut strip = Mesh::rectangle(200.0, 10.0, 16, 1)?;
    /// strip.hold(|middle| middle[0] == 0.0);
    /// let film = Structure::anchored(strip, Layer::shell(&Law::isotropic(2330.0, 160e9, 0.22)?, 2.0));
    /// // In the plane and out of it apart: the law has the mirror z → −z.
    /// assert_eq!(film.uncoupled().len(), 2);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn anchored(mesh: impl Into<Arc<Mesh>>, layer: Layer) -> Self {
        let mesh = mesh.into();
        let supports = Supports::anchors(&mesh);
        Self::new(mesh, layer, supports)
    }

    /// The same with mass beyond the layer's own, kg at corners and kg/m² on triangles of its mesh.
    #[must_use]
    pub fn with_added_mass(self, added: AddedMass) -> Self {
        Self { added: Arc::new(added), ..self }
    }

    /// The same with beams, rigid appendages and springs on its mesh.
    #[must_use]
    pub fn with_attachments(self, attachments: Attachments) -> Self {
        Self { attachments: Arc::new(attachments), ..self }
    }

    /// The same with these springs to the ground, N/m, instead of its own.
    #[must_use]
    pub fn with_springs(&self, springs: Vec<PointSpring>) -> Self {
        let attachments = Arc::new(Attachments { springs, ..Attachments::clone(&self.attachments) });
        Self { attachments, ..self.clone() }
    }

    /// The same with a stress in it before it moves.
    #[must_use]
    pub(crate) fn with_pre_stress(&self, stress: PreStress) -> Self {
        Self { pre_stress: Some(Arc::new(stress)), ..self.clone() }
    }

    /// The same under another layer.
    pub(crate) fn with_layer(&self, layer: Layer) -> Self {
        Self { layer, ..self.clone() }
    }

    /// Its mesh, µm.
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// Its layer.
    pub fn layer(&self) -> &Layer {
        &self.layer
    }

    /// What holds it.
    pub fn supports(&self) -> &Supports {
        &self.supports
    }

    /// Mass beyond the layer's own.
    pub fn added_mass(&self) -> &AddedMass {
        &self.added
    }

    /// What is attached to its mesh.
    pub fn attachments(&self) -> &Arc<Attachments> {
        &self.attachments
    }

    /// The stress in it before it moves, if there is any.
    pub fn pre_stress(&self) -> Option<&PreStress> {
        self.pre_stress.as_deref()
    }

    /// Its motions that do not couple, each a structure with fewer fields: in-plane and out-of-plane apart where material and supports
    /// have the mirror z → −z and so has the stress in it, else all in one.
    pub fn uncoupled(&self) -> Vec<Self> {
        if self.pre_stress().is_some_and(|stress| !stress.film().is_even()) {
            return vec![self.clone()];
        }
        let layers = self.layer.uncoupled(&self.supports);
        layers.into_iter().map(|layer| Self { layer, ..self.clone() }).collect()
    }

    /// The unknowns of its layer on its mesh, those of what is attached not among them.
    pub(crate) fn unknowns(&self) -> Unknowns {
        Unknowns::new(&self.mesh, &self.layer, &self.supports)
    }

    /// Whether anything holds it.
    pub(crate) fn is_held(&self) -> bool {
        *self.supports != Supports::none()
    }

    /// Whether it is a layer at anchors and nothing else: no other supports, no added mass, nothing attached, and of stress only what has the
    /// mirrors of the plane.
    pub(super) fn is_plain(&self) -> bool {
        let supports = &self.supports;
        self.pre_stress().is_none_or(|stress| stress.film().has_mirrors())
            && self.attachments.is_empty()
            && *self.added == AddedMass::none()
            && supports.edges.is_empty()
            && supports.corners.is_empty()
    }
}
