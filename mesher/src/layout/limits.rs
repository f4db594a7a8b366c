//! Bounds of what is drawn, and how fine curves are.

/// Chord error of faceted curves unless stated otherwise, µm.
pub const CHORD_ERROR_UM: f64 = 0.001;

/// Largest coordinate, width or radius, µm: a metre, far beyond any wafer.
pub const LARGEST_UM: f64 = 1e6;

/// Most corners of everything that one device draws: shapes with all their copies and images, and what is taken of a stream.
/// The outline of half as many takes eleven seconds and 0.3 GB; meshes end earlier.
pub const MOST_CORNERS: u64 = 2_000_000;
