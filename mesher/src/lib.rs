//! Mask layouts of planar suspended structures: shapes and GDSII to outlines and triangle meshes.

pub mod curve;
pub mod drawing;
pub mod geometry;
mod locate;
pub mod mesh;
pub mod outline;
pub mod quality;
pub mod sizing;
pub mod triangulate;
