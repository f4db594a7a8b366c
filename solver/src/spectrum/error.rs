//! What can go wrong between a pencil (K, M) and its modes.

/// Why a spectrum could not be computed. Rows, columns and unknowns are numbered from 0, as the caller gave them.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpectrumError {
    /// K, M or the groups do not have one size, or there is no unknown at all.
    #[error(
        "K is {k_rows} x {k_columns}, M is {m_rows} x {m_columns}, {groups} group numbers: sizes must agree and not be zero"
    )]
    Shape {
        /// Rows of K.
        k_rows: usize,
        /// Columns of K.
        k_columns: usize,
        /// Rows of M.
        m_rows: usize,
        /// Columns of M.
        m_columns: usize,
        /// Number of group numbers (the number of unknowns if none were given).
        groups: usize,
    },
    /// The matrices or their factor have more entries than 32-bit indices reach.
    #[error("the system is too large: {entries} entries, at most 4294967295 can be indexed")]
    TooLarge {
        /// Entries needed.
        entries: usize,
    },
    /// An entry is NaN or infinite.
    #[error("entry ({row}, {column}) of {matrix} is not finite")]
    NotFinite {
        /// "K" or "M".
        matrix: &'static str,
        /// Row of the entry.
        row: usize,
        /// Column of the entry.
        column: usize,
    },
    /// An entry differs from its mirror image by more than round-off.
    #[error("{matrix} is not symmetric: entry ({row}, {column}) is {value}, its mirror image {mirror}")]
    NotSymmetric {
        /// "K" or "M".
        matrix: &'static str,
        /// Row of the entry.
        row: usize,
        /// Column of the entry.
        column: usize,
        /// Value at (row, column).
        value: f64,
        /// Value at (column, row).
        mirror: f64,
    },
    /// A diagonal entry of M is not positive: an unknown without mass.
    #[error("unknown {unknown} has no mass: M({unknown}, {unknown}) = {value}")]
    NoMass {
        /// The unknown.
        unknown: usize,
        /// Its diagonal entry of M.
        value: f64,
    },
    /// M is not positive definite.
    #[error("M is not positive definite")]
    MassNotPositive,
    /// K has negative eigenvalues: the part is pulled in or buckled.
    #[error("K has {negatives} negative eigenvalue(s), the part is pulled in or buckled")]
    Indefinite {
        /// Number of negative eigenvalues.
        negatives: usize,
    },
    /// No usable factor of K - shift M was found, even after moving the shift.
    #[error("K - shift M could not be factored near shift = {shift}")]
    Singular {
        /// The last shift tried.
        shift: f64,
    },
    /// Modes are missing: the count says more than were found.
    #[error("{found} modes found but {counted} counted below lambda = {lambda}")]
    Incomplete {
        /// Modes found.
        found: usize,
        /// Modes counted from the factor.
        counted: usize,
        /// Where they were counted.
        lambda: f64,
    },
    /// More modes than are looked for among so many unknowns; the search was not begun.
    #[error("{asked} modes are too many for {unknowns} unknowns: no more than {most} are looked for")]
    TooMany {
        /// Modes asked for, or counted in the band asked for.
        asked: usize,
        /// Unknowns.
        unknowns: usize,
        /// See [`super::most_modes`].
        most: usize,
    },
    /// The iteration did not converge.
    #[error("{converged} of {wanted} modes converged after {solves} solves")]
    NotConverged {
        /// Modes converged.
        converged: usize,
        /// Modes needed.
        wanted: usize,
        /// Solves with blocks of vectors.
        solves: usize,
    },
    /// The wanted set makes no sense: nothing asked, a band upside down, a number that is not finite.
    #[error("what is wanted makes no sense: {reason}")]
    Wanted {
        /// What is wrong with it.
        reason: &'static str,
    },
    /// The fill-reducing ordering or the dense eigensolver failed inside.
    #[error("{stage} failed: {reason}")]
    Inner {
        /// What was being done.
        stage: &'static str,
        /// The message from inside.
        reason: String,
    },
}
