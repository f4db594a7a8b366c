//! Mask layouts of planar suspended structures: shapes and GDSII to outlines and triangle meshes.

pub mod drawing;
pub mod gdsii;
pub mod geometry;
pub mod mesh;
pub mod outline;
