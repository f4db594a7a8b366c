//! Mask layouts of planar suspended structures: shapes and GDSII to outlines and triangle meshes.

pub mod boolean;
pub mod drawing;
pub mod geometry;
pub mod layout;
pub mod mesh;
pub mod outline;
