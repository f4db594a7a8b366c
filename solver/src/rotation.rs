//! Rotation: how the modes of a turning device couple, and what that does to their frequencies.
//!
//! In: mesh and mode shapes of unit modal mass, frame as the layout, z along the wafer's normal. Out: for every pair of
//! modes G_k\[i\]\[j\] = 2 ∫ ρ φ_i · (e_k × φ_j) dV and C\[i\]\[j\] = ∫ ρ (φ_i·φ_j − (e·φ_i)(e·φ_j)) dV, dimensionless, so that
//! in a frame turning at Ω about e
//!
//! q̈ + Ω G q̇ + (Λ − Ω² C) q = f
//!
//! (Meirovitch, *Computational Methods in Structural Dynamics*, 1980, ch. 3, on gyroscopic systems). Static centrifugal
//! prestress, also of order Ω², is left out. All fields count, so an out-of-plane tilt, which moves material in the plane
//! at z ≠ 0, has its share.

mod products;
mod turning;

pub use products::coriolis;
pub use turning::{Supercritical, frequencies_at_rate};

use nalgebra::DMatrix;

/// Coupling of modes by rotation.
///
/// In a cluster of equal frequencies the modes are a matter of choice, and only the singular values of the cluster's blocks
/// mean something; elsewhere the signs do not.
#[derive(Clone, Debug, PartialEq)]
pub struct Coriolis {
    /// ∫ ρ φ_ia φ_ja dV for axis a.
    squares: [DMatrix<f64>; 3],
    /// ∫ ρ φ_ib φ_jc dV for axes (b, c) = (y, z), (z, x), (x, y): entry a follows the axis a of the rotation.
    crosses: [DMatrix<f64>; 3],
}

impl Coriolis {
    /// From momenta: `squares[a]` holds ∫ ρ φ_ia φ_ja dV, `crosses[a]` ∫ ρ φ_ib φ_jc dV with (b, c) = (y, z), (z, x), (x, y)
    /// for a = x, y, z; row i, column j. For models that are not meshes: a body of mass m adds m φ_ib φ_jc, and what its
    /// turns move by its second moments.
    ///
    /// ```
    /// use modalith_solver::rotation::{Coriolis, frequencies_at_rate};
    /// use nalgebra::{DMatrix, dmatrix};
    /// // A point mass on springs alike along x and y: φ₁ = e_x, φ₂ = e_y at unit modal mass.
    /// let zero = DMatrix::zeros(2, 2);
    /// let squares = [dmatrix![1.0, 0.0; 0.0, 0.0], dmatrix![0.0, 0.0; 0.0, 1.0], zero.clone()];
    /// let point = Coriolis::from_momenta(squares, [zero.clone(), zero, dmatrix![0.0, 1.0; 0.0, 0.0]]);
    /// assert_eq!(point.about(2), dmatrix![0.0, -2.0; 2.0, 0.0]);
    /// assert_eq!(point.coupling(2, 0, 1), 1.0);
    /// // Seen from a turntable it swings at ω₀ ± Ω (Foucault).
    /// let omega = frequencies_at_rate(&point, &[1.0, 1.0], [0.0, 0.0, 1.0], 0.01)?;
    /// assert!((omega[0] - 0.99).abs() < 1e-14 && (omega[1] - 1.01).abs() < 1e-14);
    /// # Ok::<(), modalith_solver::rotation::Supercritical>(())
    /// ```
    pub fn from_momenta(squares: [DMatrix<f64>; 3], crosses: [DMatrix<f64>; 3]) -> Self {
        Self { squares, crosses }
    }

    /// How many modes.
    pub fn len(&self) -> usize {
        self.squares[0].nrows()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// G for a rotation about axis `a` (0, 1, 2 for x, y, z): row i, column j, without unit, skew to the last bit.
    pub fn about(&self, a: usize) -> DMatrix<f64> {
        let cross = &self.crosses[a];
        // Adding zero makes −0 a plain 0.
        DMatrix::from_fn(self.len(), self.len(), |i, j| 2.0 * (cross[(j, i)] - cross[(i, j)]) + 0.0)
    }

    /// G for a rotation about any unit vector: the axes' matrices weighted by its components.
    pub fn along(&self, axis: [f64; 3]) -> DMatrix<f64> {
        let [x, y, z] = [0, 1, 2].map(|a| self.about(a) * axis[a]);
        x + y + z
    }

    /// |G|/2 of a pair about axis `a`: the share of an ideal point mass, 0 to 1. On a ring this is the frequency-split
    /// factor 2n/(n² + 1), n times the lag of the pattern (Bryan, Proc. Camb. Phil. Soc. 7 (1890) 101).
    pub fn coupling(&self, a: usize, i: usize, j: usize) -> f64 {
        let cross = &self.crosses[a];
        (cross[(j, i)] - cross[(i, j)]).abs()
    }

    /// The same modes with the coupling that another model finds between those of them that it has: mode i is mode
    /// `which[i]` of `other`, turned alike.
    pub fn substituted(&self, other: &Self, which: &[Option<usize>]) -> Self {
        let congruent = |own: &DMatrix<f64>, theirs: &DMatrix<f64>| {
            DMatrix::from_fn(self.len(), self.len(), |i, j| match (which[i], which[j]) {
                (Some(a), Some(b)) => theirs[(a, b)],
                _ => own[(i, j)],
            })
        };
        Self {
            squares: [0, 1, 2].map(|a| congruent(&self.squares[a], &other.squares[a])),
            crosses: [0, 1, 2].map(|a| congruent(&self.crosses[a], &other.crosses[a])),
        }
    }

    /// How combinations of the modes couple: one a column of `of`.
    pub fn between(&self, of: &DMatrix<f64>) -> Self {
        let both = |own: &DMatrix<f64>| of.tr_mul(own) * of;
        Self { squares: [0, 1, 2].map(|a| both(&self.squares[a])), crosses: [0, 1, 2].map(|a| both(&self.crosses[a])) }
    }

    /// C for a rotation about a unit vector, symmetric.
    pub fn centrifugal(&self, axis: [f64; 3]) -> DMatrix<f64> {
        let n = self.len();
        let mut c = DMatrix::zeros(n, n);
        for a in 0..3 {
            c += &self.squares[a] * (1.0 - axis[a] * axis[a]);
            let mixed = axis[(a + 1) % 3] * axis[(a + 2) % 3];
            c -= (&self.crosses[a] + self.crosses[a].transpose()) * mixed;
        }
        c
    }
}
