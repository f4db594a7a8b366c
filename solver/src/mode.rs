//! Modes: frequency, shape, and what the shape says in the words of the trade.

mod analysis;
mod bars;
mod crossing;
mod follow;
mod inside;
mod intent;
pub mod label;
mod mac;
mod mass;
mod matching;
mod rigid_fit;
mod sample;
mod softness;
#[cfg(test)]
mod specimen;
mod station;

pub use analysis::describe;
pub use bars::{MeshError, mesh_errors};
pub use crossing::{Approach, Crossing, crossings, mover};
pub use follow::{DrawnModes, FoundAgain, ITSELF, MULTIPLE, SampledModes};
pub use intent::{Candidate, Pattern, Target, best, candidates, mac_to_pattern};
pub use mac::{ModeShape, PointWeights};
pub use mass::rigid_mass;
pub use matching::{ModelModes, Pair, clusters, matching};
pub use sample::{sample, sample_coarse, sample_shapes, sampling_points};
pub use station::{PointOutsideMesh, Stations};

use modalith_mesher::mesh::Mesh;

/// A mode at points: displacement along x, y, z at mid-layer, kg^-½, and slopes ∂u/∂z, ∂v/∂z, m⁻¹·kg^-½.
pub type Fields = (Vec<[f64; 3]>, Vec<[f64; 2]>);

/// How one named mass moves in a mode, as the rigid motion nearest to it (least squares weighted by mass).
#[derive(Clone, Debug, PartialEq)]
pub struct MassMotion {
    /// The user's name of the mass.
    pub name: String,
    /// Mass of the named part, kg.
    pub mass_kg: f64,
    /// Centre of mass, µm in the layout frame, mid-layer.
    pub centre_um: [f64; 2],
    /// Inertia about the centre of mass, kg·m², rows and columns about x, y, z.
    pub inertia_kg_m2: [[f64; 3]; 3],
    /// Translation of the centre of mass along x, y, z, kg^-½ (mass-normalised).
    pub translation: [f64; 3],
    /// Turn about x, y, z through the centre of mass, rad·m⁻¹·kg^-½ (mass-normalised).
    pub turn: [f64; 3],
    /// Share of this mass's kinetic energy in each of its six rigid motions taken alone (along x, y, z, about x, y, z).
    pub motion_share: [f64; 6],
    /// Share of the mode's kinetic energy in this mass, 0 to 1.
    pub kinetic_share: f64,
    /// Share of this mass's kinetic energy that its rigid motion explains, 0 to 1.
    pub rigid_share: f64,
}

/// One mode of vibration, normalised to ∫ ρ φ·φ dV = 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mode {
    /// Frequency, Hz.
    pub frequency_hz: f64,
    /// ‖Kφ − ω²Mφ‖ / ((‖K‖₁ + ω²‖M‖₁)‖φ‖).
    pub backward_error: f64,
    /// Kinetic energy by direction x, y, z; adds up to 1.
    pub kinetic_share: [f64; 3],
    /// What base acceleration sees of the mode, with its sign: ∫ ρ φ·e dV along x, y, z, kg^½, then ∫ ρ φ·(e × r) dV about
    /// x, y, z, m·kg^½, r from the layout's origin at mid-layer. Held material moves nothing and is not in.
    pub participation: [f64; 6],
    /// Motion of every named mass, in the order of the mesh's names.
    pub masses: Vec<MassMotion>,
    /// Share of the strain energy in each flexure, in the order of the outline.
    pub flexure_strain_share: Vec<f64>,
    /// Share of the strain energy in each named mass, in the order of the mesh's names.
    pub mass_strain_share: Vec<f64>,
    /// Share of the strain energy in twist of flexures (shear along each one's own axis, out-of-plane fields),
    /// 0 to 1. Short flexures' shear in bending counts with it.
    pub twist_strain_share: f64,
    /// How far shells may be too soft in the twist of slender strips, a share of the mode's λ: of every strip its share of the strain
    /// energy times what its shell lacks against a bar's twist, all of the strain counted as twist. 0 in the plane and in solids.
    pub shell_twist_share: f64,
    /// Coefficients over the system's unknowns (constrained ones left out).
    pub shape: Vec<f64>,
}

impl Mode {
    /// Effective mass for base acceleration along x, y, z: (∫ ρ φ·e dV)², kg; held material left out.
    pub fn effective_mass_kg(&self) -> [f64; 3] {
        [0, 1, 2].map(|k| self.participation[k] * self.participation[k])
    }

    /// The same as shares of the mass that moves, kg; zero where nothing does.
    pub fn effective_share(&self, moving_mass_kg: f64) -> [f64; 3] {
        self.effective_mass_kg().map(|m| if moving_mass_kg > 0.0 { m / moving_mass_kg } else { 0.0 })
    }

    /// Angular frequency, rad/s.
    pub fn omega(&self) -> f64 {
        std::f64::consts::TAU * self.frequency_hz
    }

    /// Stiffness at unit modal mass, N/m.
    pub fn modal_stiffness_n_per_m(&self) -> f64 {
        self.omega() * self.omega()
    }

    /// The mass that holds most of the kinetic energy, and mass (kg) and stiffness (N/m) of the mode as seen at its centre, where that
    /// moves; none without named masses.
    pub fn at_reference(&self) -> Option<(&MassMotion, Option<[f64; 2]>)> {
        let reference = self.masses.iter().max_by(|a, b| a.kinetic_share.total_cmp(&b.kinetic_share))?;
        let speed = reference.translation.iter().map(|x| x * x).sum::<f64>().sqrt();
        let square = speed * speed;
        Some((reference, (speed > 0.0).then(|| [1.0 / square, self.modal_stiffness_n_per_m() / square])))
    }
}

/// Mid-layer displacement of all modes at the points of a six-node triangulation, for pictures and VTK.
#[derive(Clone, Debug, PartialEq)]
pub struct Sampled {
    /// Points, µm in the layout frame, mid-layer.
    pub points: Vec<[f64; 2]>,
    /// Six-node triangles in VTK's order: corners anticlockwise, then the mid-side points of edges 0-1, 1-2, 2-0.
    pub cells: Vec<[u32; 6]>,
    /// For each cell the triangle of the mesh it was cut from.
    pub triangle_of: Vec<u32>,
    /// For each mode, the displacement at every point along x, y, z, kg^-½.
    pub modes: Vec<Vec<[f64; 3]>>,
    /// For each mode, the slope of the layer at every point: ∂u/∂z and ∂v/∂z, m⁻¹·kg^-½ (displacement at height z is
    /// the mid-layer one plus z times this; in a solid, up to higher powers of z).
    pub tilts: Vec<Vec<[f64; 2]>>,
}

impl Sampled {
    /// Largest motion of the middle of the layer in its plane and out of it, of every mode, kg^-½.
    pub(crate) fn largest_motions(&self) -> Vec<[f64; 2]> {
        let of_mode = |points: &Vec<[f64; 3]>| {
            let at = |[within, across]: [f64; 2], u: &[f64; 3]| {
                [within.max(u[0].abs()).max(u[1].abs()), across.max(u[2].abs())]
            };
            points.iter().fold([0.0; 2], at)
        };
        self.modes.iter().map(of_mode).collect()
    }

    /// Mean over a named mass of values at every point, in their unit: the mid-sides of a six-node triangle carry its mean, exactly
    /// for squares. `None` where the mass has no triangles.
    pub fn mean_over_mass(&self, mesh: &Mesh, mass: usize, values: &[[f64; 3]]) -> Option<[f64; 3]> {
        let (mut sum, mut area) = ([0.0; 3], 0.0);
        let own = |t: u32| mesh.mass_of.get(t as usize).is_some_and(|m| m.map(usize::from) == Some(mass));
        for (cell, _) in self.cells.iter().zip(&self.triangle_of).filter(|(_, t)| own(**t)) {
            let [a, b, c] = [0, 1, 2].map(|k| self.points[cell[k] as usize]);
            let size = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs();
            area += size;
            for side in &cell[3..] {
                (0..3).for_each(|k| sum[k] += size / 3.0 * values[*side as usize][k]);
            }
        }
        (area > 0.0).then(|| sum.map(|s| s / area))
    }
}
