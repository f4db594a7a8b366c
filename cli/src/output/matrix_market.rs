//! Sparse symmetric matrices in the Matrix Market exchange format, `coordinate real symmetric`.
//!
//! In: a symmetric matrix with both triangles stored, and what it is with its units. Out: the bytes of a `.mtx` file: the lower
//! triangle column by column, counted from 1, every number with the digits that bring the same double back. Source: R. F.
//! Boisvert, R. Pozo, K. A. Remington, "The Matrix Market Exchange Formats: Initial Design", NISTIR 5935, 1996.

use super::OutputError;
use nalgebra_sparse::{CscMatrix, SparseEntry};
use std::fmt::Write as _;

/// A symmetric matrix as text; entries above the diagonal must mirror those below and are left out. Each line of `what` becomes a comment.
///
/// ```
/// use modalith::output::matrix_market::write;
/// use nalgebra_sparse::{CooMatrix, CscMatrix};
/// let coo = CooMatrix::try_from_triplets(2, 2, vec![0, 1, 0, 1], vec![0, 0, 1, 1], vec![2.0, -0.1, -0.1, 3.0])?;
/// let text = String::from_utf8(write(&CscMatrix::from(&coo), "stiffness, N/m")?)?;
/// assert_eq!(text, "%%MatrixMarket matrix coordinate real symmetric\n% stiffness, N/m\n2 2 3\n1 1 2e0\n2 1 -1e-1\n2 2 3e0\n");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// [`OutputError::NotSymmetric`] at the first entry without an equal across the diagonal (to 1e-12 of the largest entry), which
/// is also what a matrix with one triangle only, or a number that is not finite, comes to.
pub fn write(matrix: &CscMatrix<f64>, what: &str) -> Result<Vec<u8>, OutputError> {
    let largest = matrix.values().iter().fold(0.0, |most: f64, v| most.max(v.abs()));
    for (row, column, value) in matrix.triplet_iter() {
        let across = match matrix.get_entry(column, row) {
            Some(SparseEntry::NonZero(v)) => *v,
            // What is not stored is zero, beside which rounding may stand across the diagonal.
            _ => 0.0,
        };
        let differs = (value - across).abs();
        if differs.is_nan() || differs > 1e-12 * largest {
            return Err(OutputError::NotSymmetric { row, column });
        }
    }
    let lower = || matrix.triplet_iter().filter(|(row, column, _)| row >= column);
    let mut out = String::from("%%MatrixMarket matrix coordinate real symmetric\n");
    for line in what.lines() {
        let _ = writeln!(out, "% {line}");
    }
    let _ = writeln!(out, "{} {} {}", matrix.nrows(), matrix.ncols(), lower().count());
    for (row, column, value) in lower() {
        let _ = writeln!(out, "{} {} {value:e}", row + 1, column + 1);
    }
    Ok(out.into_bytes())
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
        let read: CooMatrix<f64> = read_back(&write(&matrix, "mass, kg\nsecond line").unwrap());
        assert_eq!(CscMatrix::from(&read), matrix);
    }

    #[test]
    fn one_triangle_or_unequal_entries_are_refused() {
        let with = |upper: Option<f64>| {
            let mut coo = CooMatrix::new(2, 2);
            coo.push(0, 0, 2.0);
            coo.push(1, 0, 1.0);
            upper.into_iter().for_each(|v| coo.push(0, 1, v));
            write(&CscMatrix::from(&coo), "")
        };
        assert!(with(Some(1.0)).is_ok());
        assert!(with(Some(1.0 + 1e-13)).is_ok());
        for upper in [None, Some(1.0 + 1e-11), Some(f64::NAN)] {
            assert!(matches!(with(upper), Err(OutputError::NotSymmetric { row: 1, column: 0 })), "{upper:?}");
        }
    }

    /// A lumped model of a symmetric layout: one of two entries comes out as zero and is not stored.
    #[test]
    fn rounding_beside_an_entry_that_is_not_stored_is_no_fault() {
        let mut coo = CooMatrix::new(2, 2);
        coo.push(0, 0, 2.0);
        coo.push(1, 0, 1e-17);
        coo.push(1, 1, 2.0);
        assert!(write(&CscMatrix::from(&coo), "").is_ok());
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
