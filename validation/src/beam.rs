//! Exact Timoshenko beam frequencies (Timoshenko, Phil. Mag. 41 (1921) 744; 43 (1922) 125): the independent reference
//! for strips.
//!
//! With x over L, the state (w/L, ψ, M L/EI, V L²/EI) obeys w' = ψ + s²V, ψ' = M, M' = −V − b²r²ψ, V' = −b²w, where
//! r² = I/(AL²), s² = EI/(κGAL²) and b = ω √(ρAL⁴/EI). Two entries vanish at each end; a frequency makes the 2 × 2 block
//! of the state's transfer matrix that joins them singular.

use nalgebra::{Matrix2, Matrix4};

/// How an end is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// w = ψ = 0.
    Clamped,
    /// w = M = 0.
    Pinned,
    /// M = V = 0.
    Free,
}

impl End {
    /// Entries of the state that vanish.
    fn zero(self) -> [usize; 2] {
        match self {
            Self::Clamped => [0, 1],
            Self::Pinned => [0, 2],
            Self::Free => [2, 3],
        }
    }

    /// Entries of the state that do not.
    fn open(self) -> [usize; 2] {
        match self {
            Self::Clamped => [2, 3],
            Self::Pinned => [1, 3],
            Self::Free => [0, 1],
        }
    }
}

/// The usual supports.
pub const CASES: [(&str, [End; 2]); 4] = [
    ("clamped-free", [End::Clamped, End::Free]),
    ("clamped-clamped", [End::Clamped, End::Clamped]),
    ("pinned-pinned", [End::Pinned, End::Pinned]),
    ("clamped-pinned", [End::Clamped, End::Pinned]),
];

/// ω √(ρAL⁴/EI) for ν = 0.3, κ = 5/6: of every support in the order of [`CASES`], at L/h = 5, 10, 20, 50, modes 1 to 3; derived by a
/// spectral method, six digits.
pub const TABLE: [[[f64; 3]; 4]; 4] = [
    [
        [3.40978, 18.3637, 43.7091],
        [3.48835, 20.9069, 54.9884],
        [3.50903, 21.7346, 59.7603],
        [3.51489, 21.9856, 61.3727],
    ],
    [
        [17.9947, 41.1899, 68.6465],
        [20.9723, 53.7468, 97.1430],
        [21.9953, 59.3442, 113.213],
        [22.3114, 61.2803, 119.555],
    ],
    [
        [9.27404, 32.1665, 61.4581],
        [9.70748, 37.0962, 78.1547],
        [9.82813, 38.8299, 85.6619],
        [9.86292, 39.3719, 88.2907],
    ],
    [
        [13.4367, 36.8774, 65.1955],
        [14.8361, 45.3006, 87.7203],
        [15.2658, 48.6475, 99.1282],
        [15.3935, 49.7459, 103.366],
    ],
];

/// A rectangular Timoshenko beam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beam {
    /// Length over depth in the direction of bending.
    pub slenderness: f64,
    /// Poisson's ratio.
    pub poissons_ratio: f64,
    /// Shear coefficient.
    pub shear_correction: f64,
    /// End masses apart, how the ends are held.
    pub ends: [End; 2],
}

impl Beam {
    /// The determinant that vanishes at a natural b.
    fn determinant(&self, b: f64) -> f64 {
        let r2 = 1.0 / (12.0 * self.slenderness * self.slenderness);
        let s2 = r2 * 2.0 * (1.0 + self.poissons_ratio) / self.shear_correction;
        let b2 = b * b;
        #[rustfmt::skip]
        let rates = Matrix4::new(
            0.0, 1.0, 0.0, s2,
            0.0, 0.0, 1.0, 0.0,
            0.0, -b2 * r2, 0.0, -1.0,
            -b2, 0.0, 0.0, 0.0,
        );
        let transfer = rates.exp();
        let (rows, columns) = (self.ends[1].zero(), self.ends[0].open());
        Matrix2::from_fn(|i, j| transfer[(rows[i], columns[j])]).determinant()
    }

    /// The `count` lowest ω √(ρAL⁴/EI), elastic ones.
    pub fn frequencies(&self, count: usize) -> Vec<f64> {
        let step = 0.05;
        let mut found = Vec::new();
        let (mut low, mut at_low) = (step, self.determinant(step));
        while found.len() < count && low < 1e4 {
            let high = low + step;
            let at_high = self.determinant(high);
            if at_low * at_high <= 0.0 {
                let (mut a, mut b) = (low, high);
                for _ in 0..60 {
                    let middle = 0.5 * (a + b);
                    if self.determinant(middle) * at_low > 0.0 { a = middle } else { b = middle }
                }
                found.push(0.5 * (a + b));
            }
            (low, at_low) = (high, at_high);
        }
        found
    }
}
