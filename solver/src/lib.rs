//! Vibration modes of planar suspended structures: elements, systems, spectrum, modes.

pub mod element;
pub mod lumped;
pub mod material;
pub mod modal;
pub mod mode;
pub mod spectrum;
pub mod system;
