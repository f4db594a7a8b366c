//! Vibration modes of planar suspended structures: elements, systems, spectrum, modes.

pub mod element;
pub mod frame;
pub mod material;
pub mod modal;
pub mod mode;
pub mod rigid;
pub mod section;
pub mod spectrum;
pub mod system;
