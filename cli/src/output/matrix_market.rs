//! Sparse symmetric matrices in the Matrix Market exchange format, `coordinate real symmetric`.
//!
//! In: a symmetric matrix with both triangles stored, and what it is with its units. Out: the bytes of a `.mtx` file: the lower
//! triangle column by column, counted from 1, every number with the digits that bring the same double back. Source: R. F.
//! Boisvert, R. Pozo, K. A. Remington, "The Matrix Market Exchange Formats: Initial Design", NISTIR 5935, 1996.

use nalgebra_sparse::CscMatrix;
use std::fmt::Write as _;

/// A symmetric matrix as text; entries above the diagonal are left out. Each line of `what` becomes a comment.
///
/// ```
/// use modalith::output::matrix_market::write;
/// use nalgebra_sparse::{CooMatrix, CscMatrix};
/// let coo = CooMatrix::try_from_triplets(2, 2, vec![0, 1, 0, 1], vec![0, 0, 1, 1], vec![2.0, -0.1, -0.1, 3.0])?;
/// let text = String::from_utf8(write(&CscMatrix::from(&coo), "stiffness, N/m"))?;
/// assert_eq!(text, "%%MatrixMarket matrix coordinate real symmetric\n% stiffness, N/m\n2 2 3\n1 1 2e0\n2 1 -1e-1\n2 2 3e0\n");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Limits
/// The caller vouches for the symmetry; a number that is not finite is written as `NaN` or `inf`.
pub fn write(matrix: &CscMatrix<f64>, what: &str) -> Vec<u8> {
    let lower = || matrix.triplet_iter().filter(|(row, column, _)| row >= column);
    let mut out = String::from("%%MatrixMarket matrix coordinate real symmetric\n");
    for line in what.lines() {
        let _ = writeln!(out, "% {line}");
    }
    let _ = writeln!(out, "{} {} {}", matrix.nrows(), matrix.ncols(), lower().count());
    for (row, column, value) in lower() {
        let _ = writeln!(out, "{} {} {value:e}", row + 1, column + 1);
    }
    out.into_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra_sparse::CooMatrix;

    #[test]
    fn reads_back_to_the_last_bit() {
        let values = [0.1 + 0.2, 1.0 / 3.0, -1.234_567_890_123_456_7e-300, f64::MIN_POSITIVE, 6.02e23, 5e-324];
        let mut coo = CooMatrix::new(4, 4);
        for (k, &(i, j)) in [(0, 0), (1, 0), (2, 1), (3, 3), (3, 0), (2, 2)].iter().enumerate() {
            coo.push(i, j, values[k]);
            if i != j {
                coo.push(j, i, values[k]);
            }
        }
        let matrix = CscMatrix::from(&coo);
        let read: CooMatrix<f64> = read_back(&write(&matrix, "mass, kg\nsecond line"));
        assert_eq!(CscMatrix::from(&read), matrix);
    }

    /// A reader after the format's description.
    fn read_back(bytes: &[u8]) -> CooMatrix<f64> {
        let text = std::str::from_utf8(bytes).unwrap();
        assert!(text.starts_with("%%MatrixMarket matrix coordinate real symmetric\n"));
        let mut lines = text.lines().filter(|l| !l.starts_with('%'));
        let size: Vec<usize> = lines.next().unwrap().split(' ').map(|n| n.parse().unwrap()).collect();
        let mut coo = CooMatrix::new(size[0], size[1]);
        let mut entries = 0;
        for line in lines {
            let words: Vec<&str> = line.split(' ').collect();
            let (i, j): (usize, usize) = (words[0].parse().unwrap(), words[1].parse().unwrap());
            assert!(i >= j && j >= 1);
            let value: f64 = words[2].parse().unwrap();
            coo.push(i - 1, j - 1, value);
            if i != j {
                coo.push(j - 1, i - 1, value);
            }
            entries += 1;
        }
        assert_eq!(entries, size[2]);
        coo
    }
}
