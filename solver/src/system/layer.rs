//! The structural layer as a model sees it: material, thickness, displacement fields, order in the plane.

use crate::element::basis::Order;
use crate::element::prism::{Prism, SHEAR_CORRECTION, Stiffness};
use crate::element::through::{Field, SHELL};
use crate::material::Law;

/// A layer of one material and thickness under one model.
#[derive(Clone, Debug)]
pub struct Layer {
    /// Order of the triangles in the plane.
    pub order: Order,
    /// Displacement fields through the thickness.
    pub fields: Vec<Field>,
    /// Thickness, m.
    pub thickness_m: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    stiffness: Stiffness,
    z_mirror: bool,
}

impl Layer {
    /// A shear-flexible shell of order 4 with κ = 5/6, `thickness_um` µm thick.
    pub fn shell(law: &Law, thickness_um: f64) -> Self {
        Self::shell_with(law, thickness_um, Order::DEFAULT, SHEAR_CORRECTION)
    }

    /// A shear-flexible shell of a given order and shear correction κ.
    pub fn shell_with(law: &Law, thickness_um: f64, order: Order, shear_correction: f64) -> Self {
        Self {
            order,
            fields: SHELL.to_vec(),
            thickness_m: thickness_um * 1e-6,
            density_kg_m3: law.density_kg_m3,
            stiffness: Stiffness::shell(law, shear_correction),
            z_mirror: law.has_z_mirror(),
        }
    }

    /// A solid with the full law: in-plane displacement up to degree `in_plane` through the thickness, deflection up to
    /// degree `normal`.
    pub fn solid(law: &Law, thickness_um: f64, order: Order, in_plane: u8, normal: u8) -> Self {
        let fields = [(0, in_plane), (1, in_plane), (2, normal)]
            .into_iter()
            .flat_map(|(axis, top)| (0..=top).map(move |degree| Field { axis, degree }))
            .collect();
        Self {
            order,
            fields,
            thickness_m: thickness_um * 1e-6,
            density_kg_m3: law.density_kg_m3,
            stiffness: Stiffness::solid(law),
            z_mirror: law.has_z_mirror(),
        }
    }

    /// The same layer with only some of its fields; the others are zero.
    pub fn keeping(&self, keep: impl Fn(Field) -> bool) -> Self {
        let fields = self.fields.iter().copied().filter(|f| keep(*f)).collect();
        Self { fields, ..self.clone() }
    }

    /// The layer's motions that do not couple: in-plane and out-of-plane apart where the material has the mirror
    /// z → −z (physics: walls are vertical here), else all in one.
    pub fn uncoupled(&self) -> Vec<Self> {
        if self.z_mirror {
            vec![self.keeping(Field::is_in_plane), self.keeping(|f| !f.is_in_plane())]
        } else {
            vec![self.clone()]
        }
    }

    /// Speed of stretch waves along x, √(C_xx/ρ), m/s.
    pub fn sound_speed_m_s(&self) -> f64 {
        (self.stiffness.along_x() / self.density_kg_m3).sqrt()
    }

    pub(super) fn prism(&self) -> Prism {
        Prism::new(&self.fields, &self.stiffness, self.density_kg_m3, self.thickness_m)
    }

    /// A prism that resists only twist of a bar along `angle` (radians from x); in-plane fields must be masked out.
    pub(crate) fn twist_prism(&self, angle: f64) -> Prism {
        Prism::new(&self.fields, &self.stiffness.only_shear_along(angle), self.density_kg_m3, self.thickness_m)
    }
}
