//! The structural layer as a model sees it: material, thickness, displacement fields, order in the plane.

use crate::element::basis::Order;
use crate::element::prism::{Prism, SHEAR_CORRECTION, Stiffness};
use crate::element::through::{Field, SHELL};
use crate::material::Law;
use crate::system::{Regions, Supports};
use modalith_mesher::mesh::Mesh;
use nalgebra::Vector6;

/// A layer of one material and thickness under one model.
#[derive(Clone, Debug)]
pub struct Layer {
    /// Order of the triangles in the plane.
    pub order: Order,
    /// Displacement fields through the thickness that some triangle has.
    pub fields: Vec<Field>,
    /// Which triangle has which of them.
    pub regions: Regions,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    stiffness: Stiffness,
    /// κ of a shell; none of a solid.
    shear_correction: Option<f64>,
    /// Whether the law has a mirror across x, y and z.
    mirrors: [bool; 3],
}

impl Layer {
    /// A shear-flexible shell of order 4 with κ = 5/6, `thickness_um` µm thick.
    pub fn shell(law: &Law, thickness_um: f64) -> Self {
        Self::shell_with(law, thickness_um, Order::DEFAULT, SHEAR_CORRECTION)
    }

    /// A shear-flexible shell of a given order and shear correction κ.
    pub fn shell_with(law: &Law, thickness_um: f64, order: Order, shear_correction: f64) -> Self {
        let regions = Regions::uniform(SHELL.to_vec());
        Self::with(law, thickness_um, order, regions, Some(shear_correction))
    }

    /// A solid with the full law: in-plane displacement up to degree `in_plane` through the thickness, deflection up to
    /// degree `normal`.
    pub fn solid(law: &Law, thickness_um: f64, order: Order, in_plane: u8, normal: u8) -> Self {
        Self::solid_with(law, thickness_um, order, Regions::uniform(up_to(in_plane, normal)))
    }

    /// A solid with the full law, of order 4 in the plane, whose degrees through the thickness follow the width of the
    /// material: low where it is wide, high in flexures taller than wide ([`Regions::of_solid`]).
    pub fn solid_by_region(law: &Law, thickness_um: f64, mesh: &Mesh) -> Self {
        Self::solid_with(law, thickness_um, Order::DEFAULT, Regions::of_solid(mesh, thickness_um, &[]))
    }

    /// The same for a mesh of which some triangles are to be held from below ([`Supports::hold_below`]).
    pub fn solid_held_below(law: &Law, thickness_um: f64, mesh: &Mesh, held_below: &[u32]) -> Self {
        Self::solid_with(law, thickness_um, Order::DEFAULT, Regions::of_solid(mesh, thickness_um, held_below))
    }

    /// A solid with the full law and fields by region.
    pub fn solid_with(law: &Law, thickness_um: f64, order: Order, regions: Regions) -> Self {
        Self::with(law, thickness_um, order, regions, None)
    }

    fn with(law: &Law, thickness_um: f64, order: Order, regions: Regions, shear_correction: Option<f64>) -> Self {
        Self {
            order,
            fields: regions.all(),
            regions,
            thickness_m: thickness_um * 1e-6,
            density_kg_m3: law.density_kg_m3,
            stiffness: stiffness(law, shear_correction),
            shear_correction,
            mirrors: mirrors(law),
        }
    }

    /// The same layer, fields and all, in another thickness, µm.
    pub fn with_thickness(&self, thickness_um: f64) -> Self {
        Self { thickness_m: thickness_um * 1e-6, ..self.clone() }
    }

    /// The same layer, fields and all, of another material.
    pub fn with_law(&self, law: &Law) -> Self {
        let stiffness = stiffness(law, self.shear_correction);
        Self { stiffness, density_kg_m3: law.density_kg_m3, mirrors: mirrors(law), ..self.clone() }
    }

    /// The fields that a triangle has, in the order of its unknowns.
    pub(crate) fn fields_of(&self, triangle: usize) -> &[Field] {
        &self.regions.sets()[self.regions.set_of(triangle)]
    }

    /// The order of a triangle's inside; its corners and edges have the lowest order around them.
    pub fn order_of(&self, triangle: usize) -> Order {
        self.order.lowered(self.regions.lowered(triangle))
    }

    /// The same layer, fields and all, that resists nothing of itself.
    pub(crate) fn without_stiffness(&self) -> Self {
        Self { stiffness: self.stiffness.less(&self.stiffness), ..self.clone() }
    }

    /// The same layer with only some of its fields; the others are zero.
    pub fn keeping(&self, keep: impl Fn(Field) -> bool) -> Self {
        let regions = self.regions.keeping(keep);
        Self { fields: regions.all(), regions, ..self.clone() }
    }

    /// The same layer one order richer in the plane and, where it is a solid, through the thickness: what its modes are
    /// measured against.
    pub fn enriched(&self) -> Self {
        let solid = self.shear_correction.is_none();
        let regions = if solid { self.regions.enriched() } else { self.regions.clone() };
        Self { order: self.order.raised(), fields: regions.all(), regions, ..self.clone() }
    }

    /// The layer's motions that do not couple: in-plane and out-of-plane apart where material and supports have the mirror
    /// z → −z (physics: walls are vertical here), else all in one.
    pub fn uncoupled(&self, supports: &Supports) -> Vec<Self> {
        if self.mirrors[2] && !supports.are_one_sided() {
            vec![self.keeping(Field::is_in_plane), self.keeping(|f| !f.is_in_plane())]
        } else {
            vec![self.clone()]
        }
    }

    /// Whether a plane across the axis `normal` (0: x, 1: y, 2: z) is a mirror of the material.
    pub(super) fn has_mirror(&self, normal: usize) -> bool {
        self.mirrors[normal]
    }

    /// The same layer on some of its triangles, in their order.
    pub(super) fn on(&self, triangles: &[u32]) -> Self {
        Self { regions: self.regions.on(triangles), ..self.clone() }
    }

    /// κ of a shell; none of a solid.
    pub(crate) fn shear_correction(&self) -> Option<f64> {
        self.shear_correction
    }

    /// What resists the shears of a bar along `angle` (radians from x), Pa: against the normal (of a shell with its κ), and in the plane.
    pub(crate) fn shears_along(&self, angle: f64) -> [f64; 2] {
        self.stiffness.shears_along(angle)
    }

    /// Speed of stretch waves along x, √(C_xx/ρ), m/s.
    pub fn sound_speed_m_s(&self) -> f64 {
        (self.stiffness.along_x() / self.density_kg_m3).sqrt()
    }

    /// Stress of a strain (Voigt order, engineering shears), Pa; of a shell with σ_zz = 0 and its κ.
    pub(super) fn stress_pa(&self, strain: &Vector6<f64>) -> Vector6<f64> {
        self.stiffness.stress(strain)
    }

    /// One prism for every set of fields.
    pub(super) fn prisms(&self) -> Vec<Prism> {
        self.prisms_of(&self.stiffness)
    }

    /// ElementMatrices, one for every set of fields, that resist only twist of a bar along `angle` (radians from x); in-plane
    /// fields must be masked out.
    pub(crate) fn twist_prisms(&self, angle: f64) -> Vec<Prism> {
        self.prisms_of(&self.stiffness.only_shear_along(angle))
    }

    /// How the prisms change with the thickness, per metre.
    pub(crate) fn thickness_rate(&self) -> Vec<Prism> {
        let rate_of = |f: &Vec<Field>| Prism::thickness_rate(f, &self.stiffness, self.density_kg_m3, self.thickness_m);
        self.regions.sets().iter().map(rate_of).collect()
    }

    /// ElementMatrices of one law less those of another, both for this layer's fields.
    pub(crate) fn law_difference(&self, [plus, minus]: [&Law; 2]) -> Vec<Prism> {
        let stiffness = stiffness(plus, self.shear_correction).less(&stiffness(minus, self.shear_correction));
        let density = plus.density_kg_m3 - minus.density_kg_m3;
        self.regions.sets().iter().map(|f| Prism::new(f, &stiffness, density, self.thickness_m)).collect()
    }

    fn prisms_of(&self, stiffness: &Stiffness) -> Vec<Prism> {
        let sets = self.regions.sets().iter();
        sets.map(|fields| Prism::new(fields, stiffness, self.density_kg_m3, self.thickness_m)).collect()
    }
}

fn mirrors(law: &Law) -> [bool; 3] {
    [0, 1, 2].map(|normal| law.has_mirror(normal))
}

fn stiffness(law: &Law, shear_correction: Option<f64>) -> Stiffness {
    shear_correction.map_or_else(|| Stiffness::solid(law), |kappa| Stiffness::shell(law, kappa))
}

/// In-plane displacement up to degree `in_plane` through the thickness, deflection up to degree `normal`.
fn up_to(in_plane: u8, normal: u8) -> Vec<Field> {
    [(0, in_plane), (1, in_plane), (2, normal)]
        .into_iter()
        .flat_map(|(axis, top)| (0..=top).map(move |degree| Field { axis, degree }))
        .collect()
}
