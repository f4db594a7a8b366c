//! Central solutions of a prismatic beam of any anisotropy: motion of the section plus warping, for six unit resultants.
//!
//! V. Giavotto, M. Borri, P. Mantegazza, G. Ghiringhelli, V. Carmaschi, G. C. Maffiodi, F. Mussi, "Anisotropic beam theory and
//! applications", Computers & Structures 16 (1983) 403-413. The displacement is v = Z(y, z) r(x) + N(y, z) g(x), with r the
//! motion of the section and g the warping; with generalized strains ψ = r' + T r the strain is S Z ψ + B N g + S N g', where S
//! takes slopes along x and B those across. Away from the ends ψ and g are linear in x when the resultants θ are, θ' = Tᵀ θ:
//!
//! - E g' + R ψ' = 0 and Rᵀ g' + A ψ' = θ';
//! - E g + R ψ = (Cᵀ − C) g' + L ψ' and Rᵀ g + A ψ = θ − Lᵀ g',
//!
//! E = ∫ Bᵀ D B, C = ∫ Bᵀ D S N, M = ∫ Nᵀ Sᵀ D S N, R = C Z, L = M Z, A = Zᵀ M Z for a law D. One spectral element, so E is small
//! and dense.
//!
//! Motion and warping are told apart by work: the tractions of any unit resultant do no work on the warping of any other, so
//! r is the motion that the resultants do work on, and ψ = F θ with F the symmetric matrix of the strain energy ½ θᵀ F θ per
//! length.
//!
//! In: a law in the beam's axes and corners, of order one (the caller scales). Out: F, stresses and warping.

use super::error::SectionError;
use super::patch::{At, Patch};
use crate::material::VOIGT;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt;
use faer::{Mat, Par};
use nalgebra::{DMatrix, Dyn, Matrix3x6, Matrix4, Matrix6, OMatrix, U6};

/// A field's unknowns, component by component, a column each resultant or strain.
type Columns = OMatrix<f64, Dyn, U6>;

/// Generalized strains that exist without a change of the resultants along the beam: stretch, twist, two curvatures.
const UNIFORM: [usize; 4] = [0, 3, 4, 5];

/// The six central solutions, a column each.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Central {
    patch: Patch,
    law: Matrix6<f64>,
    /// ψ per θ, symmetric.
    pub compliance: Matrix6<f64>,
    /// g per θ, component by component.
    warping: Columns,
    /// g' per θ.
    warping_rate: Columns,
}

/// Displacement at (y, z) per motion of the section.
pub(super) fn motion_at([y, z]: [f64; 2]) -> Matrix3x6<f64> {
    #[rustfmt::skip]
    let motion = Matrix3x6::new(
        1.0, 0.0, 0.0, 0.0, z, -y,
        0.0, 1.0, 0.0, -z, 0.0, 0.0,
        0.0, 0.0, 1.0, y, 0.0, 0.0,
    );
    motion
}

/// T of ψ = r' + T r: γ_y = u_y' − φ_z, γ_z = u_z' + φ_y.
fn shear_by_turning() -> Matrix6<f64> {
    let mut t = Matrix6::zeros();
    t[(1, 5)] = -1.0;
    t[(2, 4)] = 1.0;
    t
}

/// Σ D_{iα jβ} ∫ ∂_α N_a ∂_β N_b over the axes α in `rows` and β in `columns`, axis 0 standing for the plain value.
fn block(
    law: &Matrix6<f64>,
    products: &[[DMatrix<f64>; 3]; 3],
    rows: std::ops::Range<usize>,
    columns: std::ops::Range<usize>,
) -> DMatrix<f64> {
    let n = products[0][0].nrows();
    let mut sum = DMatrix::zeros(3 * n, 3 * n);
    for i in 0..3 {
        for j in 0..3 {
            let mut view = sum.view_mut((i * n, j * n), (n, n));
            for a in rows.clone() {
                for b in columns.clone() {
                    let factor = law[(VOIGT[i][a], VOIGT[j][b])];
                    if factor != 0.0 {
                        view.zip_apply(&products[a][b], |x, y| *x += factor * y);
                    }
                }
            }
        }
    }
    sum
}

/// E⁻¹ on loads without resultants; three translations and the turn about x are taken out at corners.
struct Across {
    factor: Mat<f64>,
    pinned: [usize; 4],
}

impl Across {
    fn new(mut e: DMatrix<f64>, patch: &Patch) -> Result<Self, SectionError> {
        let n = patch.functions();
        let corners = patch.corner_functions();
        let ((near, first), (far, last)) = (corners[0], corners[2]);
        // The turn about x moves the far corner mostly square to the diagonal.
        let axis = if (far[0] - near[0]).abs() > (far[1] - near[1]).abs() { 2 } else { 1 };
        let pinned = [first, n + first, 2 * n + first, axis * n + last];
        for p in pinned {
            e.row_mut(p).fill(0.0);
            e.column_mut(p).fill(0.0);
            e[(p, p)] = 1.0;
        }
        let mut factor = Mat::from_fn(3 * n, 3 * n, |i, j| e[(i, j)]);
        let scratch = llt::factor::cholesky_in_place_scratch::<f64>(3 * n, Par::Seq, Default::default());
        let mut buffer = MemBuffer::try_new(scratch).map_err(|_| SectionError::NotPositiveDefinite)?;
        llt::factor::cholesky_in_place(
            factor.as_mut(),
            Default::default(),
            Par::Seq,
            MemStack::new(&mut buffer),
            Default::default(),
        )
        .map_err(|_| SectionError::NotPositiveDefinite)?;
        Ok(Self { factor, pinned })
    }

    fn solve(&self, loads: &Columns) -> Columns {
        let mut x =
            Mat::from_fn(
                loads.nrows(),
                loads.ncols(),
                |i, j| {
                    if self.pinned.contains(&i) { 0.0 } else { loads[(i, j)] }
                },
            );
        // Solving needs no scratch.
        llt::solve::solve_in_place(self.factor.as_ref(), x.as_mut(), Par::Seq, MemStack::new(&mut []));
        Columns::from_fn(loads.nrows(), |i, j| x[(i, j)])
    }
}

impl Central {
    /// Solves for a law in the beam's axes and a convex quadrilateral, corners anticlockwise.
    pub fn solve(law: &Matrix6<f64>, corners: [[f64; 2]; 4]) -> Result<Self, SectionError> {
        let patch = Patch::new(corners);
        let n = patch.functions();
        let products = patch.products();
        let mut rigid = Columns::zeros(3 * n);
        for (position, function) in patch.corner_functions() {
            let motion = motion_at(position);
            for i in 0..3 {
                rigid.row_mut(i * n + function).copy_from(&motion.row(i));
            }
        }
        let across = Across::new(block(law, &products, 1..3, 1..3), &patch)?;
        let c = block(law, &products, 1..3, 0..1);
        let m = block(law, &products, 0..1, 0..1);
        let (r, l) = (&c * &rigid, &m * &rigid);
        let t = shear_by_turning();

        // Uniform strains: warping per strain, and strain per resultant.
        let uniform_warping = -across.solve(&r);
        let stiffness = rigid.tr_mul(&l) + r.tr_mul(&uniform_warping);
        let inverse = Matrix4::from_fn(|i, j| stiffness[(UNIFORM[i], UNIFORM[j])])
            .cholesky()
            .ok_or(SectionError::NotPositiveDefinite)?
            .inverse();
        let mut uniform = Matrix6::zeros();
        for i in 0..4 {
            for j in 0..4 {
                uniform[(UNIFORM[i], UNIFORM[j])] = inverse[(i, j)];
            }
        }

        // Rates along x, then the solution at the section; the shear strains are settled by work, below.
        let strain_rate = uniform * t.transpose();
        let warping_rate = &uniform_warping * strain_rate;
        let loads = c.tr_mul(&warping_rate) - &c * &warping_rate + &l * strain_rate;
        let by_rate = across.solve(&loads);
        let left = Matrix6::identity() - l.tr_mul(&warping_rate) - r.tr_mul(&by_rate);
        let strain = uniform * left;
        let warping = &uniform_warping * strain + by_rate;

        let tractions = &l * strain + c.tr_mul(&warping) + &m * &warping_rate;
        let work = tractions.tr_mul(&warping);
        let compliance = strain + work * t.transpose() + t * work;
        let warping = warping - &rigid * work;
        let warping_rate = warping_rate - &rigid * (work * t.transpose());
        Ok(Self { patch, law: *law, compliance: 0.5 * (compliance + compliance.transpose()), warping, warping_rate })
    }

    /// Values of a field's three components at a point, a column each resultant.
    fn field(functions: &[f64], unknowns: &Columns) -> Matrix3x6<f64> {
        let n = functions.len();
        Matrix3x6::from_fn(|i, k| functions.iter().enumerate().map(|(a, f)| f * unknowns[(i * n + a, k)]).sum())
    }

    /// Degree along y, and half of the extent there.
    pub fn across(&self) -> (usize, f64) {
        self.patch.across()
    }

    /// The functions at a point (y, z).
    fn at(&self, point: [f64; 2]) -> At {
        self.patch.at(self.patch.locate(point))
    }

    /// Stress, Voigt order xx, yy, zz, yz, xz, xy, a column each unit resultant.
    pub fn stress(&self, point: [f64; 2]) -> Matrix6<f64> {
        let at = self.at(point);
        let along = motion_at(at.position) * self.compliance + Self::field(&at.functions[0], &self.warping_rate);
        let slopes =
            [along, Self::field(&at.functions[1], &self.warping), Self::field(&at.functions[2], &self.warping)];
        let mut strain = Matrix6::zeros();
        for (axis, slope) in slopes.iter().enumerate() {
            for (component, values) in slope.row_iter().enumerate() {
                let mut row = strain.row_mut(VOIGT[component][axis]);
                row += values;
            }
        }
        self.law * strain
    }

    /// Warping displacement, a column each unit resultant.
    pub fn warping(&self, point: [f64; 2]) -> Matrix3x6<f64> {
        Self::field(&self.at(point).functions[0], &self.warping)
    }
}
