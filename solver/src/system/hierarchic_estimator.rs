//! How far the squared frequencies of a system would fall if every triangle had one order more, and a solid one degree more
//! of each parity through the thickness. In: the modes of a motion. Out: for every mode the fall of ω², s⁻², by place.
//!
//! Hierarchic error estimate (R. E. Bank, A. Weiser, Math. Comp. 44 (1985) 283; M. Ainsworth, J. T. Oden, A Posteriori Error
//! Estimation in Finite Element Analysis, 2000, ch. 5; for eigenvalues R. G. Durán, C. Padra, R. Rodríguez, Math. Models Methods
//! Appl. Sci. 13 (2003) 1219; all from memory). The residual r = (K − λM)φ of the richer system is zero on what the system
//! has and not on what it has not; the fall is rᵀA⁻¹r with A the richer stiffness, of which only blocks are kept:
//! interiors exactly, and after they are condensed one block an edge and a corner.

use super::assemble::Element;
use super::{ElementMatrices, Motion, Places, PointSpring, Structure, SystemError, Unknowns};
use modalith_mesher::mesh::Mesh;
use nalgebra::{DMatrix, Matrix3, Vector3};
use rayon::prelude::*;

/// Triangles whose matrices are held at a time.
const BATCH: usize = 512;

/// Fall of ω² of one mode, s⁻².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct EnergyFall {
    /// All of it, s⁻².
    pub all: f64,
    /// What of it comes from triangles at singular corners, s⁻².
    pub singular: f64,
}

impl EnergyFall {
    fn add(&mut self, fall: f64, weight: &Weight) {
        self.all += weight.factor * fall;
        self.singular += if weight.singular { weight.factor * fall } else { 0.0 };
    }
}

/// What a triangle misses over what the blocks of one order more find of it, without unit (`mode/bars`): multiplies the fall that is found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weight {
    /// What is missing over what is found.
    pub factor: f64,
    /// Whether a corner of the triangle is singular.
    pub singular: bool,
}

/// Weights of corners, edges and triangles from those of the triangles: the largest around.
fn of_entities(mesh: &Mesh, unknowns: &Unknowns, weights: &[Weight]) -> Vec<Weight> {
    let mut all = vec![Weight::default(); unknowns.entities()];
    for (t, weight) in weights.iter().enumerate() {
        for entity in unknowns.entities_of(mesh, t) {
            let own = &mut all[entity];
            *own = Weight { factor: own.factor.max(weight.factor), singular: own.singular || weight.singular };
        }
    }
    all
}

/// The fall of every mode (ω², s⁻², and unit-mass shape), each triangle's share times its weight. Limits: no beams and no appendages on
/// the mesh; springs are counted.
///
/// # Errors
/// A curved triangle that folds over; a block that is not positive definite, which would make a bar smaller than it is.
pub fn hierarchic_estimator(
    structure: &Structure,
    motion: &Motion,
    weights: &[Weight],
    modes: &[(f64, &[f64])],
) -> Result<Vec<EnergyFall>, SystemError> {
    let mesh = structure.mesh();
    let layer = motion.layer.enriched();
    let unknowns = structure.with_layer(layer.clone()).unknowns();
    let prisms = ElementMatrices::new(mesh, &layer);
    let places = Places::new(mesh, &layer, &unknowns);
    let mut springs: Vec<PointSpring> = motion.beams.springs().to_vec();
    springs.sort_by_key(|s| s.triangle);
    let bends = layer.fields.iter().all(|f| !f.is_in_plane());
    let shapes: Vec<Vec<f64>> = modes.iter().map(|(_, shape)| motion.unknowns.carried_into(&unknowns, shape)).collect();
    let of_entity = of_entities(mesh, &unknowns, weights);
    let rim = mesh.points.len() + mesh.edges.len();
    let mut patches: Vec<Patch> = counts(&unknowns, rim).into_iter().map(|own| Patch::new(own, modes.len())).collect();
    let mut sums = vec![EnergyFall::default(); modes.len()];
    let triangles: Vec<usize> = (0..mesh.triangles.len()).collect();
    for batch in triangles.chunks(BATCH) {
        let condensed = batch
            .par_iter()
            .map(|&t| {
                let element = Element::new(structure, &prisms, &unknowns, t, bends)?;
                let mut residual = residual(&element, &shapes, modes);
                for spring in &springs[springs.partition_point(|s| s.triangle < t)..] {
                    if spring.triangle != t {
                        break;
                    }
                    pulled(&mut residual, spring, &element, &places, &shapes);
                }
                Condensed::new(&element, &unknowns, rim, residual)
                    .ok_or_else(|| SystemError::NotDefinite { at_um: middle(mesh, t) })
            })
            .collect::<Result<Vec<_>, SystemError>>()?;
        for (element, &t) in condensed.iter().zip(batch) {
            sums.iter_mut().zip(&element.interior).for_each(|(sum, fall)| sum.add(*fall, &weights[t]));
            for (entity, stiffness, force) in &element.rim {
                patches[*entity].stiffness += stiffness;
                patches[*entity].force += force;
            }
        }
    }
    let falls = |(entity, patch): (usize, Patch)| {
        patch.falls().ok_or_else(|| SystemError::NotDefinite { at_um: place(mesh, entity) })
    };
    let falls = patches.into_par_iter().enumerate().map(falls).collect::<Result<Vec<_>, SystemError>>()?;
    for (entity, falls) in falls.iter().enumerate() {
        sums.iter_mut().zip(falls).for_each(|(sum, fall)| sum.add(*fall, &of_entity[entity]));
    }
    Ok(sums)
}

/// Middle of a triangle, µm.
fn middle(mesh: &Mesh, triangle: usize) -> [f64; 2] {
    let corners = mesh.triangles[triangle].map(|c| mesh.points[c as usize]);
    [0, 1].map(|k| corners.iter().map(|p| p[k]).sum::<f64>() / 3.0)
}

/// Where a corner or an edge is, µm.
fn place(mesh: &Mesh, entity: usize) -> [f64; 2] {
    match entity.checked_sub(mesh.points.len()) {
        None => mesh.points[entity],
        Some(edge) => {
            let [a, b] = mesh.edges[edge].ends.map(|c| mesh.points[c as usize]);
            [0, 1].map(|k| 0.5 * (a[k] + b[k]))
        }
    }
}

/// How many unknowns every entity has; they are numbered entity by entity.
fn counts(unknowns: &Unknowns, entities: usize) -> Vec<usize> {
    let groups = unknowns.groups();
    let start = |entity: usize| groups.partition_point(|&g| (g as usize) < entity);
    (0..entities).map(|entity| start(entity + 1) - start(entity)).collect()
}

/// (K − λM)φ of a triangle for every mode, a column each.
fn residual(element: &Element, shapes: &[Vec<f64>], modes: &[(f64, &[f64])]) -> DMatrix<f64> {
    let x = DMatrix::from_fn(element.numbers.len(), modes.len(), |i, m| {
        element.numbers[i].map_or(0.0, |n| shapes[m][n as usize])
    });
    let mut inertia = element.inertia(&x);
    inertia.column_iter_mut().zip(modes).for_each(|(mut column, (lambda, _))| column *= *lambda);
    &element.stiffness * &x - inertia
}

/// Adds what a spring at a place of the triangle pulls to its residual.
fn pulled(residual: &mut DMatrix<f64>, spring: &PointSpring, element: &Element, places: &Places, shapes: &[Vec<f64>]) {
    let rows: Vec<(Option<usize>, usize, Vector3<f64>)> = places
        .rows(spring.triangle, spring.at)
        .into_iter()
        .map(|(n, u)| (element.numbers.iter().position(|own| *own == Some(n as u32)), n, Vector3::from(u)))
        .collect();
    let stiffness = Matrix3::from(spring.stiffness);
    for (m, shape) in shapes.iter().enumerate() {
        let force = stiffness * rows.iter().fold(Vector3::zeros(), |sum, (_, n, u)| sum + u * shape[*n]);
        rows.iter().for_each(|(i, _, u)| {
            if let Some(i) = i {
                residual[(*i, m)] += u.dot(&force);
            }
        });
    }
}

/// A triangle with its interior condensed.
struct Condensed {
    /// What its interior gives, by mode.
    interior: Vec<f64>,
    /// For each corner and edge its own block and the residual of every mode.
    rim: Vec<(usize, DMatrix<f64>, DMatrix<f64>)>,
}

impl Condensed {
    /// `None` where the interior is not positive definite.
    fn new(element: &Element, unknowns: &Unknowns, rim: usize, residual: DMatrix<f64>) -> Option<Self> {
        let free: Vec<(usize, usize)> =
            element.numbers.iter().enumerate().filter_map(|(i, n)| n.map(|n| (i, n as usize))).collect();
        let entity = |n: usize| unknowns.groups()[n] as usize;
        let (n, border) = (free.len(), free.partition_point(|f| entity(f.1) < rim));
        let kept: Vec<usize> = free.iter().map(|f| f.0).collect();
        let (stiffness, residual) =
            (element.stiffness.select_rows(&kept).select_columns(&kept), residual.select_rows(&kept));
        let inner = stiffness.view((border, border), (n - border, n - border)).into_owned();
        let mut force = residual.rows(border, n - border).into_owned();
        let mut coupling = stiffness.view((border, 0), (n - border, border)).into_owned();
        if border < n {
            let factor = inner.cholesky()?;
            factor.l_dirty().solve_lower_triangular_mut(&mut force);
            factor.l_dirty().solve_lower_triangular_mut(&mut coupling);
        }
        let interior = force.column_iter().map(|column| column.norm_squared()).collect();
        let mut blocks = Vec::with_capacity(6);
        for own in free[..border].chunk_by(|a, b| entity(a.1) == entity(b.1)) {
            let start = free.partition_point(|f| f.0 < own[0].0);
            let w = coupling.columns(start, own.len());
            blocks.push((
                entity(own[0].1),
                stiffness.view((start, start), (own.len(), own.len())) - w.tr_mul(&w),
                residual.rows(start, own.len()) - w.tr_mul(&force),
            ));
        }
        Some(Self { interior, rim: blocks })
    }
}

/// A corner or an edge with all triangles around it.
struct Patch {
    stiffness: DMatrix<f64>,
    force: DMatrix<f64>,
}

impl Patch {
    fn new(unknowns: usize, modes: usize) -> Self {
        Self { stiffness: DMatrix::zeros(unknowns, unknowns), force: DMatrix::zeros(unknowns, modes) }
    }

    /// What it gives, by mode; `None` where its stiffness is not positive definite.
    fn falls(self) -> Option<Vec<f64>> {
        let mut force = self.force;
        if force.nrows() > 0 {
            self.stiffness.cholesky()?.l_dirty().solve_lower_triangular_mut(&mut force);
        }
        Some(force.column_iter().map(|column| column.norm_squared()).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_that_is_not_definite_gives_no_bar_instead_of_a_smaller_one() {
        let patch = |bend: f64| Patch {
            stiffness: DMatrix::from_row_slice(2, 2, &[2.0, 0.0, 0.0, bend]),
            force: DMatrix::from_row_slice(2, 1, &[2.0, 1.0]),
        };
        assert!((patch(1.0).falls().unwrap()[0] - 3.0).abs() < 1e-12);
        assert_eq!(patch(-1.0).falls(), None);
        assert_eq!(Patch::new(0, 2).falls(), Some(vec![0.0; 2]));
    }
}
