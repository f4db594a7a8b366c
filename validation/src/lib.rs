//! Shared helpers of the validation tests: benchmark meshes, independent references, rate fits, a comparator element.

pub mod bars;
pub mod beam;
pub mod bench;
pub mod drawn;
pub mod fit;
pub mod frame;
pub mod mitc3;
pub mod outlines;
pub mod shape;
