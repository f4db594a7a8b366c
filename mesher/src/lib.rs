//! Mask layouts of planar suspended structures: shapes and GDSII to outlines and triangle meshes.

pub mod boolean;
pub mod comb;
pub mod curve;
pub mod drawing;
pub mod flexure;
pub mod gdsii;
pub mod geometry;
pub mod half;
pub mod layout;
pub mod locate;
pub mod mesh;
pub mod mirror;
pub mod motion;
pub mod outline;
pub mod quality;
pub mod refine;
pub mod singular;
pub mod sizing;
pub mod triangulate;
mod walls;
pub mod width;
