//! δK and δM between modes, element by element: one pass over the triangles for all parameters.

use crate::element::plane::PlaneIntegrals;
use crate::element::prism::Prism;
use crate::material::Law;
use crate::modal::Modal;
use crate::system::{AddedMass, ElementMatrices, Motion, SystemError};
use modalith_mesher::mesh::Mesh;
use modalith_mesher::motion::MeshMotion;
use nalgebra::DMatrix;
use rayon::prelude::*;
use std::ops::{AddAssign, MulAssign};

/// Triangles a worker sums before the partial sums are added in order: results do not depend on threads.
const CHUNK: usize = 256;

/// δK and δM between modes per unit of a parameter; rows and columns in the order in which the modes were named.
#[derive(Clone, Debug, PartialEq)]
pub struct ModalSensitivity {
    /// φᵢᵀ δK φⱼ, s⁻² per unit.
    pub stiffness: DMatrix<f64>,
    /// φᵢᵀ δM φⱼ, per unit.
    pub mass: DMatrix<f64>,
}

impl ModalSensitivity {
    /// No change: zeros, `modes` × `modes`.
    pub fn zeros(modes: usize) -> Self {
        Self { stiffness: DMatrix::zeros(modes, modes), mass: DMatrix::zeros(modes, modes) }
    }

    /// φᵢᵀ (δK − ω² δM) φⱼ, s⁻² per unit. For i = j and ω the mode's own it is δ(ω²); for a drive mode i and a sense mode j
    /// and the drive's ω the coupling through which the drive moves the sense.
    pub fn at(&self, i: usize, j: usize, omega_squared: f64) -> f64 {
        self.stiffness[(i, j)] - omega_squared * self.mass[(i, j)]
    }

    /// [`Self::at`] for all pairs, modes × modes, each at the mean ω² (rad²/s²) of its two modes.
    pub fn matrix(&self, omega_squared: &[f64]) -> DMatrix<f64> {
        let n = self.stiffness.nrows();
        DMatrix::from_fn(n, n, |i, j| self.at(i, j, 0.5 * (omega_squared[i] + omega_squared[j])))
    }

    /// Shift of a frequency, Hz per unit; zero for a motion without frequency.
    pub fn hz(&self, mode: usize, frequency_hz: f64) -> f64 {
        if frequency_hz <= 0.0 {
            return 0.0;
        }
        let omega = std::f64::consts::TAU * frequency_hz;
        self.at(mode, mode, omega * omega) / (2.0 * omega) / std::f64::consts::TAU
    }
}

impl ModalSensitivity {
    /// Takes over the sensitivities between some of the modes, `own`, whose numbers are `places`.
    pub(super) fn place(&mut self, own: &Self, places: &[usize]) {
        for (i, &a) in places.iter().enumerate() {
            for (j, &b) in places.iter().enumerate() {
                self.stiffness[(a, b)] = own.stiffness[(i, j)];
                self.mass[(a, b)] = own.mass[(i, j)];
            }
        }
    }

    /// The same between combinations of the modes: one a column of `of`.
    pub fn between(&self, of: &DMatrix<f64>) -> Self {
        Self { stiffness: of.tr_mul(&self.stiffness) * of, mass: of.tr_mul(&self.mass) * of }
    }
}

impl AddAssign<&ModalSensitivity> for ModalSensitivity {
    fn add_assign(&mut self, other: &ModalSensitivity) {
        self.stiffness += &other.stiffness;
        self.mass += &other.mass;
    }
}

impl MulAssign<f64> for ModalSensitivity {
    fn mul_assign(&mut self, factor: f64) {
        self.stiffness *= factor;
        self.mass *= factor;
    }
}

/// What changes.
#[derive(Clone, Copy)]
pub(super) enum Parameter<'a> {
    /// Points of the mesh move, per µm.
    Edges(&'a MeshMotion),
    /// The layer's thickness, per µm.
    Thickness,
    /// The material, from the second law to the first.
    Law([&'a Law; 2]),
    /// The share of small openings in triangles, from the second to the first.
    Openings([&'a AddedMass; 2]),
}

/// The modes on their elements.
pub(super) struct Elements<'a> {
    mesh: &'a Mesh,
    added: &'a AddedMass,
    parts: Vec<Part<'a>>,
    modes: usize,
}

/// The modes of one uncoupled motion.
struct Part<'a> {
    motion: &'a Motion,
    prisms: ElementMatrices<'a>,
    /// Their places among the modes named.
    places: Vec<usize>,
    shapes: Vec<&'a [f64]>,
    bends: bool,
}

/// A triangle's change of stiffness where there is one, ∫ N_a N_b dA or its change, and the factor of that for every field.
struct Change {
    stiffness: Option<DMatrix<f64>>,
    value: DMatrix<f64>,
    factors: Vec<f64>,
}

impl<'a> Elements<'a> {
    /// The modes `which` (numbers from 0, in the order of rows and columns to come) of a solution, on its elements. Panics for a number
    /// beyond the list.
    pub fn new(modal: &'a Modal, which: &[usize]) -> Self {
        let (mesh, added) = (modal.structure.mesh(), modal.structure.added_mass());
        let part_of = |(m, motion): (usize, &'a Motion)| {
            let places: Vec<usize> = (0..which.len()).filter(|&i| modal.motion_of[which[i]] == m).collect();
            Part {
                motion,
                prisms: ElementMatrices::new(mesh, &motion.layer),
                shapes: places.iter().map(|&i| modal.modes[which[i]].shape.as_slice()).collect(),
                places,
                bends: motion.layer.fields.iter().all(|f| !f.is_in_plane()),
            }
        };
        let parts = modal.motions.iter().enumerate().map(part_of).filter(|p| !p.places.is_empty()).collect();
        Self { mesh, added, parts, modes: which.len() }
    }

    /// The sensitivities of every parameter, summed over some triangles.
    ///
    /// # Errors
    /// A curved triangle that folds over.
    pub fn sensitivities(
        &self,
        triangles: &[usize],
        parameters: &[Parameter],
    ) -> Result<Vec<ModalSensitivity>, SystemError> {
        let mut sums = vec![ModalSensitivity::zeros(self.modes); parameters.len()];
        for part in &self.parts {
            let rates: Vec<Vec<Prism>> = parameters.iter().map(|p| part.rates(p)).collect();
            let only_edges = parameters.iter().all(|p| matches!(p, Parameter::Edges(_)));
            let partial = triangles
                .par_chunks(CHUNK)
                .map(|chunk| {
                    let mut sums = vec![ModalSensitivity::zeros(part.places.len()); parameters.len()];
                    for &t in chunk {
                        let q = part.coefficients(self.mesh, t);
                        let base = if only_edges { None } else { Some(part.prisms.integrate(t)?) };
                        for ((sum, parameter), rates) in sums.iter_mut().zip(parameters).zip(&rates) {
                            let change = match (parameter, &base) {
                                (Parameter::Edges(motion), _) => {
                                    let moves = motion.of_triangle(self.mesh, t).iter().any(|v| *v != [0.0; 2]);
                                    moves.then(|| part.moved(self.added, motion, t)).transpose()?
                                }
                                (Parameter::Openings([to, from]), Some(base)) => {
                                    (to.solid(t) != from.solid(t)).then(|| part.opened([to, from], base, t))
                                }
                                (_, Some(base)) => {
                                    let rate = &rates[part.motion.layer.regions.set_of(t)];
                                    Some(part.changed(self.added, rate, base, t))
                                }
                                (_, None) => None,
                            };
                            change.iter().for_each(|change| change.add(sum, &q));
                        }
                    }
                    Ok(sums)
                })
                .collect::<Result<Vec<_>, SystemError>>()?;
            for (p, sum) in sums.iter_mut().enumerate() {
                let mut own = ModalSensitivity::zeros(part.places.len());
                partial.iter().for_each(|sensitivities| own += &sensitivities[p]);
                sum.place(&own, &part.places);
            }
        }
        for (sum, parameter) in sums.iter_mut().zip(parameters) {
            if matches!(parameter, Parameter::Edges(_) | Parameter::Thickness) {
                *sum *= 1e-6;
            }
        }
        Ok(sums)
    }
}

impl Part<'_> {
    /// How the layer's constants change, by set of fields; none where they do not.
    fn rates(&self, parameter: &Parameter) -> Vec<Prism> {
        match parameter {
            Parameter::Edges(_) | Parameter::Openings(_) => Vec::new(),
            Parameter::Thickness => self.motion.layer.thickness_rate(),
            Parameter::Law(laws) => self.motion.layer.law_difference(*laws),
        }
    }

    /// Coefficients of the modes on a triangle, one column a mode.
    fn coefficients(&self, mesh: &Mesh, t: usize) -> DMatrix<f64> {
        self.motion.unknowns.gather_all(mesh, t, &self.shapes)
    }

    fn moved(&self, added: &AddedMass, motion: &MeshMotion, t: usize) -> Result<Change, SystemError> {
        let prism = self.prisms.of(t);
        let plane = self.prisms.derivative(t, motion)?;
        let per_area = |f: usize| if prism.fields()[f].degree == 0 { added.per_area(t) } else { 0.0 };
        Ok(Change {
            stiffness: Some(prism.stiffness(&plane) * added.stiffness(t, self.bends)),
            factors: (0..prism.fields().len()).map(|f| prism.mass_factor(f) * added.solid(t) + per_area(f)).collect(),
            value: plane.value,
        })
    }

    fn opened(&self, [to, from]: [&AddedMass; 2], plane: &PlaneIntegrals, t: usize) -> Change {
        let prism = self.prisms.of(t);
        let solid = to.solid(t) - from.solid(t);
        Change {
            stiffness: Some(prism.stiffness(plane) * (to.stiffness(t, self.bends) - from.stiffness(t, self.bends))),
            value: plane.value.clone(),
            factors: (0..prism.fields().len()).map(|f| prism.mass_factor(f) * solid).collect(),
        }
    }

    fn changed(&self, added: &AddedMass, rate: &Prism, plane: &PlaneIntegrals, t: usize) -> Change {
        Change {
            stiffness: rate.has_stiffness().then(|| rate.stiffness(plane) * added.stiffness(t, self.bends)),
            value: plane.value.clone(),
            factors: (0..rate.fields().len()).map(|f| rate.mass_factor(f) * added.solid(t)).collect(),
        }
    }
}

impl Change {
    fn add(&self, sum: &mut ModalSensitivity, q: &DMatrix<f64>) {
        if let Some(stiffness) = &self.stiffness {
            sum.stiffness.gemm(1.0, &q.transpose(), &(stiffness * q), 1.0);
        }
        let (functions, fields) = (self.value.nrows(), self.factors.len());
        for (f, &factor) in self.factors.iter().enumerate().filter(|(_, x)| **x != 0.0) {
            let own = q.rows_with_step(f, functions, fields - 1).into_owned();
            sum.mass.gemm(factor, &own.transpose(), &(&self.value * &own), 1.0);
        }
    }
}
