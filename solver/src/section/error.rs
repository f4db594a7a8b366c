//! Why a section cannot be made. Out: sizes and corners at fault, SI.

/// Why a section cannot be made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SectionError {
    /// A width or thickness that is not positive and finite.
    #[error("a section {:.4} µm wide and {:.4} µm thick has no area: both must be positive", width_m * 1e6, thickness_m * 1e6)]
    Size {
        /// Width, m.
        width_m: f64,
        /// Thickness, m.
        thickness_m: f64,
    },
    /// Corners that do not go round a convex quadrilateral anticlockwise.
    #[error(
        "the section's corners must go round a convex quadrilateral anticlockwise, seen with y right and z up; corner {0} does not"
    )]
    NotConvex(usize),
    /// A stiffness or mass that some motion meets with no resistance.
    #[error("the section's stiffness or mass is not positive definite: check its constants")]
    NotPositiveDefinite,
}
